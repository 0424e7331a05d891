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
// nil when nothing is. Of pixels it says nothing: they hang on the frame's disc.
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
	for _, p := range m.Geometry.Places {
		if cmd := p.Lon.Wrap180(); p.ByCMD && cmd.Abs() > hiddenCMD {
			return odd("%.0f° from the central meridian: that is behind the Sun", cmd.Abs().Degrees())
		}
	}
	return nil
}
