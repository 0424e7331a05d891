package exchange

import (
	"math"

	"limbwatch/coords"
)

// InDegrees is the number of degrees that gives an angle again to the last bit when
// it is turned into radians: the rounder one where several do. Angles that no number
// of degrees gives exactly are as near as can be.
func InDegrees(a coords.Angle) float64 {
	const steps = 1e11 // a tenth of a microarcsecond
	deg := a.Degrees()
	for _, candidate := range []float64{math.Round(deg*steps) / steps, deg,
		math.Nextafter(deg, math.Inf(1)), math.Nextafter(deg, math.Inf(-1))} {
		if coords.Angle(candidate)*coords.Degree == a {
			return candidate
		}
	}
	return deg
}
