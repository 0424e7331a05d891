package coords

import "math"

// Angle is an angle in radians. Write it with a unit, like a time.Duration:
//
//	12.5 * coords.Degree
//
// The zero value is the zero angle. Conversion from degrees and back may differ
// in the last bit.
type Angle float64

// Units of Angle.
const (
	Radian    Angle = 1
	Degree          = math.Pi / 180 * Radian
	Arcminute       = Degree / 60
	Arcsecond       = Degree / 3600
)

// Degrees gives the angle in degrees, not wrapped.
func (a Angle) Degrees() float64 { return float64(a) * (180 / math.Pi) }

// ExactDegrees gives a number of degrees from which the angle comes again to the last
// bit, however often it goes there and back: as it was typed where that is so of what
// was typed (12.3° turned into radians and back can end a bit beside 12.3), else the
// nearest number of degrees that is. An angle that no number of degrees gives exactly
// comes as near as can be.
func (a Angle) ExactDegrees() float64 {
	const steps = 1e11 // a tenth of a microarcsecond
	deg := a.Degrees()
	for _, candidate := range []float64{math.Round(deg*steps) / steps, deg,
		math.Nextafter(deg, math.Inf(1)), math.Nextafter(deg, math.Inf(-1))} {
		if Angle(candidate)*Degree == a {
			return candidate
		}
	}
	return deg
}

// Arcseconds gives the angle in seconds of arc.
func (a Angle) Arcseconds() float64 { return float64(a) * (180 * 3600 / math.Pi) }

// Radians gives the angle in radians.
func (a Angle) Radians() float64 { return float64(a) }

// Sin, Cos and Tan are the trigonometric functions of the angle.
func (a Angle) Sin() float64 { return math.Sin(float64(a)) }

// Cos is the cosine of the angle.
func (a Angle) Cos() float64 { return math.Cos(float64(a)) }

// Tan is the tangent of the angle.
func (a Angle) Tan() float64 { return math.Tan(float64(a)) }

// Sincos gives sine and cosine together.
func (a Angle) Sincos() (sin, cos float64) { return math.Sincos(float64(a)) }

// Abs is the angle without its sign.
func (a Angle) Abs() Angle { return Angle(math.Abs(float64(a))) }

// Wrap360 brings the angle into 0° ≤ a < 360°.
func (a Angle) Wrap360() Angle {
	const turn = 2 * math.Pi
	w := float64(a)
	switch { // the remainder is dear, and within a turn either way not needed
	case w >= 0 && w < turn:
		return a
	case w >= turn && w < 2*turn:
		return Angle(w - turn)
	case !(w < 0 && w > -turn):
		w = math.Mod(w, turn)
	}
	if w < 0 {
		w += turn
		if w >= turn { // a tiny negative angle rounds up to a whole turn
			w = 0
		}
	}
	return Angle(w)
}

// Wrap180 brings the angle into −180° ≤ a < 180°. It is what the difference of
// two longitudes or position angles needs.
func (a Angle) Wrap180() Angle {
	const turn = 2 * math.Pi
	if a >= -math.Pi && a < math.Pi {
		return a
	}
	w := math.Mod(float64(a), turn)
	switch {
	case w >= math.Pi:
		w -= turn
	case w < -math.Pi:
		w += turn
	}
	return Angle(w)
}

// Square is v².
func Square(v float64) float64 { return v * v }

// Squared is the square of the angle, in square radians.
func (a Angle) Squared() float64 { return float64(a) * float64(a) }

// Atan2 is the angle whose tangent is y/x, in the right quadrant.
func Atan2(y, x float64) Angle { return Angle(math.Atan2(y, x)) }

// Asin is the angle whose sine is v; v a hair outside −1 to 1 (rounding) is
// taken as the end it passed. It is NaN when v is NaN.
func Asin(v float64) Angle { return Angle(math.Asin(max(-1, min(1, v)))) }

// Acos is the angle whose cosine is v, with the same forgiveness as Asin.
func Acos(v float64) Angle { return Angle(math.Acos(max(-1, min(1, v)))) }
