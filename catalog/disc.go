package catalog

import (
	"fmt"

	"limbwatch/coords"
)

// Disc is where the Sun lies in a frame. A frame has at most one; north is kept
// apart from it, because one is often put right without the other.
//
//	Limb       the edge, with its error
//	Layer      which height above the photosphere that edge is
//	LayerFrom  how that is known
//	Method     how the edge was found
//	RMSPx      rms of the points round the fit; with WidthPx, the width of the edge,
//	           and ArcDeg, the arc it covers, 0 when not known
//	Rejected   points left out of the fit
//	Accepted   the observer looked at it and found it right
type Disc struct {
	Record
	ID               DiscID
	Frame            FrameID
	Limb             coords.Limb
	Layer            coords.Layer
	LayerFrom        LayerSource
	Method           DiscMethod
	RMSPx, WidthPx   float64
	ArcDeg           float64
	Points, Rejected int
	Accepted         bool
	Note             string
}

// Confirmed says whether a person stands for the disc: laid it, clicked its limb, or
// looked at it and found it right.
func (d Disc) Confirmed() bool {
	return d.Accepted || d.Method == DiscTyped || d.Method == DiscPoints
}

// ArcsecPerPx is the scale of the picture: the limb's radius in the sky, when the
// photosphere's has the semidiameter, over its radius in pixels.
func (d Disc) ArcsecPerPx(semidiameter coords.Angle) float64 {
	return semidiameter.Arcseconds() * (1 + d.Layer.HeightMm/coords.SolarRadiusMm) / d.Limb.RadiusPx
}

// Validate says what is wrong with the disc, or nil.
func (d Disc) Validate() error {
	l := d.Limb
	if d.Frame <= 0 {
		return fmt.Errorf("disc without a frame")
	}
	if !finite(l.Centre.X, l.Centre.Y, l.RadiusPx, l.Flattening, float64(l.ShortAxis),
		l.Cov.XX, l.Cov.YY, l.Cov.RR, l.Cov.XY, l.Cov.XR, l.Cov.YR) {
		return fmt.Errorf("disc at (%g, %g) px, radius %g px: a figure is no number", l.Centre.X, l.Centre.Y, l.RadiusPx)
	}
	if err := within("radius of the disc", "px", l.RadiusPx, 3, 100_000); err != nil {
		return err
	}
	if err := within("flattening of the disc", "", l.Flattening, 0, 0.5); err != nil {
		return err
	}
	// A disc whose centre is this far off cannot have been seen.
	reach := 200_000.0
	if err := within("centre of the disc, x", "px", l.Centre.X, -reach, reach); err != nil {
		return err
	}
	if err := within("centre of the disc, y", "px", l.Centre.Y, -reach, reach); err != nil {
		return err
	}
	if l.Cov.XX < 0 || l.Cov.YY < 0 || l.Cov.RR < 0 {
		return fmt.Errorf("disc with a negative variance: %g, %g, %g square px", l.Cov.XX, l.Cov.YY, l.Cov.RR)
	}
	if !l.Cov.Possible() {
		return fmt.Errorf("disc with errors that cannot be: variances %g, %g, %g and covariances %g, %g, %g square px are of no scatter (not positive semi-definite)",
			l.Cov.XX, l.Cov.YY, l.Cov.RR, l.Cov.XY, l.Cov.XR, l.Cov.YR)
	}
	for _, variance := range []float64{l.Cov.XX, l.Cov.YY, l.Cov.RR} {
		if err := within("variance of the disc", "square px", variance, 0, 1e10); err != nil {
			return err
		}
	}
	if d.Method == 0 || int(d.Method) >= len(discMethodNames) {
		return fmt.Errorf("disc without a method")
	}
	if d.LayerFrom == 0 || int(d.LayerFrom) >= len(layerSourceNames) {
		return fmt.Errorf("disc that does not say how its limb is known")
	}
	if err := validateLayer(d.Layer); err != nil {
		return err
	}
	return validateText("note", d.Note)
}

// DiscMethod is how a disc was found. Its zero is refused.
type DiscMethod uint8

// The ways to a disc: found in the picture; fitted to limb points that the
// observer clicked; a circle that was typed; written in the picture's header.
const (
	DiscFitted DiscMethod = iota + 1
	DiscPoints
	DiscTyped
	DiscHeader
)

var discMethodNames = []string{"", "fitted", "points", "typed", "header"}

// String is the method's name as it stands in SQL and JSON.
func (m DiscMethod) String() string { return nameOf(discMethodNames, uint8(m), "DiscMethod") }

// ParseDiscMethod reads a method's name.
func ParseDiscMethod(text string) (DiscMethod, error) {
	return namedNonZero[DiscMethod](discMethodNames, text, "method of a disc", "fitted, points, typed or header")
}

// MarshalText writes the method's name.
func (m DiscMethod) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// LayerSource is how the height of a limb is known. Its zero is refused.
type LayerSource uint8

// The ways to the height of a limb: named by the observer; the prior of the
// passband and the exposure's role; measured for the set-up and role; written in
// the picture's header.
const (
	LayerNamed LayerSource = iota + 1
	LayerPrior
	LayerMeasured
	LayerHeader
)

var layerSourceNames = []string{"", "named", "prior", "measured", "header"}

// String is the source's name as it stands in SQL and JSON.
func (s LayerSource) String() string { return nameOf(layerSourceNames, uint8(s), "LayerSource") }

// ParseLayerSource reads a source's name.
func ParseLayerSource(text string) (LayerSource, error) {
	return namedNonZero[LayerSource](layerSourceNames, text, "source of a limb's height", "named, prior, measured or header")
}

// MarshalText writes the source's name.
func (s LayerSource) MarshalText() ([]byte, error) { return []byte(s.String()), nil }
