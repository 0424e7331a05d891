package observe

import (
	"fmt"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// ImplausibleError says that a mark's figures can hardly be meant: a slip of the pen.
type ImplausibleError struct{ Reason string }

func (e *ImplausibleError) Error() string { return e.Reason }

// What is taken for a slip (common practice, no source). Eruptions are seen in H-alpha
// up to a radius or so above the limb; spots and plage end at it, but for the thickness
// of the limb itself and of a line drawn along it.
const (
	farthestR  = 2.5
	offLimbMm  = 7 // a hundredth of the radius
	insideMean = 5 * coords.Degree
)

// Plausible tells what cannot be meant about a mark that lies there, as an
// *ImplausibleError; nil when nothing is odd. It is one rule for all ways in which a mark
// comes: in pixels, by angle and radius, by its place.
func Plausible(m catalog.Mark, p catalog.Position) error {
	odd := func(format string, args ...any) error { return &ImplausibleError{fmt.Sprintf(format, args...)} }
	switch pixels := m.Geometry.Pixels; {
	case m.Geometry.Shape == catalog.Line && len(pixels) > 1 && allOne(pixels):
		return odd("a line without a length: all of its points are %g, %g", pixels[0].X, pixels[0].Y)
	case m.Geometry.Shape == catalog.Outline && crossesItself(pixels):
		return odd("an outline that crosses itself: it has no inside, and no middle")
	}
	top := 0.0
	for _, point := range m.Geometry.Polar {
		top = max(top, point.R)
	}
	if p.Polar != nil {
		top = max(top, p.Polar.R)
	}
	if top > farthestR {
		return odd("%.4g radii from the centre: nothing is seen beyond %g", top, farthestR)
	}
	switch m.Kind {
	case catalog.Prominence:
		if insideLimb(m, p) {
			return odd("a prominence whose top lies inside the limb, %.4g radii from the centre: on the disc it is a filament", p.Polar.R)
		}
	case catalog.Sunspot, catalog.Plage:
		if e := p.Edge; e != nil && p.Disc == nil && !e.WithinLimb && e.HeightMm-3*e.SigmaMm > offLimbMm {
			return odd("a %s %.0f Mm above the limb, %.4g radii from the centre: none is seen off the disc", m.Kind, e.HeightMm, p.Polar.R)
		}
	}
	return nil
}

// insideLimb says of a mark whether all of it lies on the disc, farther from the limb
// than three standard errors.
func insideLimb(m catalog.Mark, p catalog.Position) bool {
	if p.Edge != nil || p.Polar == nil || p.Disc == nil || p.Polar.R >= insideR || p.NearLimb {
		return false
	}
	if m.Geometry.Form() != catalog.FormPlaces {
		return true
	}
	return coords.Asin(p.Disc.Mu) > insideMean+3*sigmaOnSun(p.Disc.Measured)
}

// sigmaOnSun is the larger of the errors of a place along the two directions.
func sigmaOnSun(m coords.Measured) coords.Angle {
	return max(m.Cov.SigmaB(), coords.Angle(float64(m.Cov.SigmaL())*m.B.Cos()))
}

// BehindSun is how far beyond the limb something lay, as an angle on the Sun.
type BehindSun coords.Angle

// String says so in words.
func (b BehindSun) String() string {
	return fmt.Sprintf("it lay behind the Sun at that time, %.1f° beyond the limb: check its figures and the time", coords.Angle(b).Degrees())
}

// Hidden gives how far behind the limb a mark lay at its time, where that is more than
// three standard errors of its place and of its kind's height: a high filament is seen
// some way round it. It is 0 where the mark can have been seen. Tables carried to the end
// of a day hold such places, so they are no slip; but nobody saw them there.
func Hidden(m catalog.Mark, p catalog.Position) BehindSun {
	if m.Geometry.Form() != catalog.FormPlaces || p.Disc == nil || p.Disc.Mu >= 0 {
		return 0
	}
	height := HeightOf(m)
	top := coords.SolarRadiusMm + max(0, height.Mm+3*height.SigmaMm)
	dip := coords.Acos(coords.SolarRadiusMm / top)
	beyond := coords.Asin(-p.Disc.Mu)
	if beyond <= dip+3*sigmaOnSun(p.Disc.Measured) {
		return 0
	}
	return BehindSun(beyond)
}

// allOne says whether points are one and the same.
func allOne(points []coords.Pixel) bool {
	for _, p := range points {
		if p != points[0] {
			return false
		}
	}
	return true
}

// crossesItself says whether two sides of an outline, which is closed by itself, cross
// each other between their ends.
func crossesItself(outline []coords.Pixel) bool {
	corner := func(i int) coords.Pixel { return outline[i%len(outline)] }
	for i := range outline {
		for j := i + 2; j < len(outline); j++ {
			a, b, c, d := corner(i), corner(i+1), corner(j), corner(j+1)
			if side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0 {
				return true
			}
		}
	}
	return false
}

// side tells on which side of the line from a to b a point lies, by its sign.
func side(a, b, p coords.Pixel) float64 { return (b.X-a.X)*(p.Y-a.Y) - (b.Y-a.Y)*(p.X-a.X) }
