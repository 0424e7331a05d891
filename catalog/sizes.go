package catalog

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// Sizes are how large a thing is by the word of the record that it is from, where
// nothing was drawn of which the size could be measured here.
//
//	AreaMSH   millionths of the visible hemisphere, corrected for foreshortening
//	LengthKm  along a spine, kilometres
//	TiltDeg   lean against the parallel of latitude, degrees, positive when the eastern
//	          end lies nearer to the pole
type Sizes struct {
	AreaMSH  Given `json:"area_msh,omitzero"`
	LengthKm Given `json:"length_km,omitzero"`
	TiltDeg  Given `json:"tilt_deg,omitzero"`
}

// UnmarshalJSON reads sizes; those written before lengths were in kilometres too.
func (s *Sizes) UnmarshalJSON(text []byte) error {
	type plain Sizes
	read := struct {
		*plain
		LengthMm Given `json:"length_Mm"`
	}{plain: (*plain)(s)}
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&read); err != nil {
		return err
	}
	if old := read.LengthMm; old.Known {
		s.LengthKm = Given{Value: 1000 * old.Value, Sigma: 1000 * old.Sigma, Known: true}
	}
	return nil
}

// Given is a figure as somebody gave it, with its standard error, 0 when that is not
// known. The zero says nothing: no figure was given.
type Given struct {
	Value, Sigma float64
	Known        bool
}

// MarshalJSON writes [value] or [value, sigma].
func (g Given) MarshalJSON() ([]byte, error) {
	if g.Sigma == 0 {
		return json.Marshal([]float64{g.Value})
	}
	return json.Marshal([]float64{g.Value, g.Sigma})
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (g *Given) UnmarshalJSON(text []byte) error {
	var figures []float64
	if err := json.Unmarshal(text, &figures); err != nil {
		return err
	}
	if len(figures) != 1 && len(figures) != 2 {
		return fmt.Errorf("figure %s: want [value] or [value, sigma]", text)
	}
	*g = Given{Value: figures[0], Known: true}
	if len(figures) == 2 {
		g.Sigma = figures[1]
	}
	return nil
}

// Validate says what is wrong with the sizes, or nil.
func (s Sizes) Validate() error {
	for _, f := range []struct {
		what, unit string
		given      Given
		low, high  float64
	}{
		{"area", "millionths of the hemisphere", s.AreaMSH, 0, 1e6},
		{"length", "km", s.LengthKm, 0, 4_400_000},
		{"tilt", "degrees", s.TiltDeg, -180, 180},
	} {
		if err := within(f.what, f.unit, f.given.Value, f.low, f.high); err != nil {
			return err
		}
		if err := within("error of the "+f.what, f.unit, f.given.Sigma, 0, 1e6); err != nil {
			return err
		}
	}
	return nil
}
