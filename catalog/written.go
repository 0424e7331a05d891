package catalog

import (
	"encoding/json"
	"fmt"

	"limbwatch/coords"
)

// The forms in which vertices are written, in SQL and in files, as pairs of numbers:
// pixels x, y; position angle and radii; latitude and either of the two longitudes.
const (
	writtenPixels     = "pixels"
	writtenPolar      = "polar"
	writtenCarrington = "carrington"
	writtenCMD        = "cmd"
)

// Pair is the two figures of a vertex as they are written.
type Pair [2]float64

// UnmarshalJSON reads exactly two numbers: one that is missing is no 0, and a third says
// that something else is meant. JSON knows no infinity.
func (p *Pair) UnmarshalJSON(text []byte) error {
	var figures []*float64
	if err := json.Unmarshal(text, &figures); err != nil || len(figures) != 2 || figures[0] == nil || figures[1] == nil {
		return fmt.Errorf("point %.60s: want exactly two numbers", text)
	}
	p[0], p[1] = *figures[0], *figures[1]
	return nil
}

// Written gives the vertices as pairs of numbers with their form: pixels (x, y), polar
// (position angle, radii), carrington (latitude, longitude) or cmd (latitude, distance
// from the central meridian). Angles are degrees, from which they come again to the
// last bit.
func (g Geometry) Written() (form string, pairs []Pair) {
	pairs = make([]Pair, 0, g.Vertices())
	for _, p := range g.Pixels {
		form, pairs = writtenPixels, append(pairs, Pair{p.X, p.Y})
	}
	for _, p := range g.Polar {
		form, pairs = writtenPolar, append(pairs, Pair{p.PA.ExactDegrees(), p.R})
	}
	for _, p := range g.Places {
		form, pairs = writtenCarrington, append(pairs, Pair{p.B.ExactDegrees(), p.Lon.ExactDegrees()})
		if p.ByCMD {
			form = writtenCMD
		}
	}
	return form, pairs
}

// SetWritten takes over vertices as Written gives them.
func (g *Geometry) SetWritten(form string, pairs []Pair) error {
	for _, p := range pairs {
		switch form {
		case writtenPixels:
			g.Pixels = append(g.Pixels, coords.Pixel{X: p[0], Y: p[1]})
		case writtenPolar:
			g.Polar = append(g.Polar, PolarPoint{PA: coords.Angle(p[0]) * coords.Degree, R: p[1]})
		case writtenCarrington, writtenCMD:
			g.Places = append(g.Places, PlacePoint{B: coords.Angle(p[0]) * coords.Degree, Lon: coords.Angle(p[1]) * coords.Degree, ByCMD: form == writtenCMD})
		default:
			return fmt.Errorf("form %q: want pixels, polar, carrington or cmd", form)
		}
	}
	return nil
}

// Reinterpret makes of vertices that were read as pixels what they are by a form that
// Written names.
func (g *Geometry) Reinterpret(form string) error {
	pairs := make([]Pair, len(g.Pixels))
	for i, p := range g.Pixels {
		pairs[i] = Pair{p.X, p.Y}
	}
	g.Pixels = nil
	return g.SetWritten(form, pairs)
}
