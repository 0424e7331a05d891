package catalog

import (
	"fmt"
	"math"

	"limbwatch/coords"
)

// Instrument is a telescope.
//
//	ApertureMm, FocalMm  0 when not known
type Instrument struct {
	Record
	ID                  InstrumentID
	Name                string
	ApertureMm, FocalMm float64
	Note                string
}

// Validate says what is wrong with the instrument, or nil.
func (i Instrument) Validate() error {
	if err := validateName("instrument", i.Name); err != nil {
		return err
	}
	if err := within("aperture", "mm", i.ApertureMm, 0, 10_000); err != nil {
		return err
	}
	return within("focal length", "mm", i.FocalMm, 0, 200_000)
}

// Setup is an instrument with its filters and its camera as they are used
// together: single and double stack are two set-ups of one instrument. Zero
// numbers are not known, but for Reflections, which are counted when
// ReflectionsKnown.
//
//	WavelengthA, PassbandA  of the filter, in angstrom: 6562.8 and 0.7, say
//	Stacked                 number of narrow-band filters behind one another
//	Reflections             mirrors between the Sun and the camera: an odd number mirrors
//	PixelUm                 side of a camera pixel in micrometres, binning counted in
//	WidthPx, HeightPx       of the frames it makes
//	Surface, Edge           which limb its surface and its limb exposures show, once
//	                        measured; nil: the prior of passband and role
//	Default                 meant when none is named
type Setup struct {
	Record
	ID                     SetupID
	Instrument             InstrumentID
	Name                   string
	WavelengthA, PassbandA float64
	Stacked                int
	Reflections            int
	ReflectionsKnown       bool
	PixelUm                float64
	WidthPx, HeightPx      int
	Surface, Edge          *coords.Layer
	Default                bool
	Note                   string
}

// HAlphaA is the wavelength of the line H-alpha in air, angstrom. A filter whose centre
// lies within LineReachA of a line looks at it; one that is wider sees no single line.
const (
	HAlphaA    = 6562.8
	LineReachA = 5.0
)

// NarrowBand says whether what is known of the filter tells that it shows one line, and
// not white light.
func (s Setup) NarrowBand() bool {
	return s.PassbandA > 0 && s.PassbandA <= LineReachA || s.PassbandA == 0 && s.Stacked > 0
}

// InHAlpha says whether that line is H-alpha; a narrow filter without a wavelength is
// taken for one in it.
func (s Setup) InHAlpha() bool {
	return s.NarrowBand() && (s.WavelengthA == 0 || math.Abs(s.WavelengthA-HAlphaA) <= LineReachA)
}

// Validate says what is wrong with the set-up, or nil.
func (s Setup) Validate() error {
	if s.Instrument <= 0 {
		return fmt.Errorf("set-up %q without an instrument", s.Name)
	}
	if err := validateName("set-up", s.Name); err != nil {
		return err
	}
	for _, q := range []struct {
		what, unit  string
		value, high float64
	}{
		{"wavelength", "angstrom", s.WavelengthA, 100_000},
		{"passband", "angstrom", s.PassbandA, 10_000},
		{"stacked filters", "", float64(s.Stacked), 5},
		{"reflections", "", float64(s.Reflections), 20},
		{"camera pixel", "micrometres", s.PixelUm, 1000},
		{"frame width", "px", float64(s.WidthPx), 100_000},
		{"frame height", "px", float64(s.HeightPx), 100_000},
	} {
		if err := within(q.what, q.unit, q.value, 0, q.high); err != nil {
			return err
		}
	}
	for _, layer := range []*coords.Layer{s.Surface, s.Edge} {
		if layer != nil {
			if err := validateLayer(*layer); err != nil {
				return err
			}
		}
	}
	return nil
}

// ScaleArcsec is what the focal length and the pixel promise, in arcseconds a
// pixel; false when one of them is not known.
func ScaleArcsec(i Instrument, s Setup) (float64, bool) {
	if i.FocalMm <= 0 || s.PixelUm <= 0 {
		return 0, false
	}
	return coords.Atan2(s.PixelUm/1000, i.FocalMm).Arcseconds(), true
}

// Limb gives the limb measured for a role, nil when none was.
func (s Setup) Limb(role Role) *coords.Layer {
	if role == RoleLimb {
		return s.Edge
	}
	return s.Surface
}

// validateLayer allows heights that any limb seen in the visible can have.
func validateLayer(l coords.Layer) error {
	if err := within("height of the limb", "Mm", l.HeightMm, -5, 100); err != nil {
		return err
	}
	return within("error of the height of the limb", "Mm", l.SigmaMm, 0, 100)
}
