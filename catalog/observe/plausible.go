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
// up to a radius or so above the limb. What stands so far behind the limb in longitude
// is hidden at any tilt of the axis.
const (
	farthestR   = 2.5
	insideLimbR = 0.995
	hiddenCMD   = 100 * coords.Degree
)

// Plausible tells what is odd about figures that were typed, as an *ImplausibleError;
// nil when nothing is. Where pixels lie it does not ask: that hangs on the frame's disc.
func Plausible(m catalog.Mark) error {
	odd := func(format string, args ...any) error { return &ImplausibleError{fmt.Sprintf(format, args...)} }
	top := 0.0
	for _, p := range m.Geometry.Polar {
		top = max(top, p.R)
	}
	switch {
	case top > farthestR:
		return odd("%g radii from the centre: nothing is seen beyond %g", top, farthestR)
	case top > 0 && top < insideLimbR && m.Kind == catalog.Prominence:
		return odd("a prominence whose top lies inside the limb, %g radii from the centre: on the disc it is a filament", top)
	}
	switch pixels := m.Geometry.Pixels; {
	case m.Geometry.Shape == catalog.Line && len(pixels) > 1 && allOne(pixels):
		return odd("a line without a length: all of its points are %g, %g", pixels[0].X, pixels[0].Y)
	case m.Geometry.Shape == catalog.Outline && crossesItself(pixels):
		return odd("an outline that crosses itself: it has no inside, and no middle")
	}
	for _, p := range m.Geometry.Places {
		if cmd := p.Lon.Wrap180(); p.ByCMD && cmd.Abs() > hiddenCMD {
			return odd("%.0f° from the central meridian: that is behind the Sun", cmd.Abs().Degrees())
		}
	}
	return nil
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
