package coords

import "math"

// Heliographic is a place on the Sun, in Carrington coordinates.
//
//	B  heliographic latitude, north positive, −90° ≤ B ≤ +90°
//	L  Carrington longitude, growing westward, 0° ≤ L < 360°
//
// It names a place on the Sun, not in the sky: a spot keeps its B and (but for
// differential rotation) its L from day to day, while its central meridian
// distance changes by some 13° a day. The zero value is a real place, B 0 L 0;
// "no place" is the absence of a Heliographic, never its zero.
type Heliographic struct {
	B, L Angle
}

// Vector gives the place as a unit vector in the frame that turns with the Sun:
// z to the north pole, x to L = 0, y to L = 90°.
func (h Heliographic) Vector() [3]float64 {
	sinB, cosB := h.B.Sincos()
	sinL, cosL := h.L.Sincos()
	return [3]float64{cosB * cosL, cosB * sinL, sinB}
}

// HeliographicOf is the place in the direction of the vector v, which need not
// have unit length. The zero vector gives B 0 L 0.
func HeliographicOf(v [3]float64) Heliographic {
	return Heliographic{
		B: Atan2(v[2], math.Hypot(v[0], v[1])),
		L: Atan2(v[1], v[0]).Wrap360(),
	}
}

// Distance is the great-circle angle between two places, 0° to 180°. It is
// exact for near and for opposite places alike (the arctangent form).
func (h Heliographic) Distance(o Heliographic) Angle {
	a, b := h.Vector(), o.Vector()
	cross := [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
	dot := a[0]*b[0] + a[1]*b[1] + a[2]*b[2]
	return Atan2(math.Sqrt(cross[0]*cross[0]+cross[1]*cross[1]+cross[2]*cross[2]), dot)
}

// Covariance is the error of a place, in latitude and in longitude itself (not
// times cos B), all in square radians.
type Covariance struct {
	BB, LL, BL float64
}

// SigmaB is the standard error in latitude.
func (c Covariance) SigmaB() Angle { return Angle(math.Sqrt(c.BB)) }

// SigmaL is the standard error in longitude.
func (c Covariance) SigmaL() Angle { return Angle(math.Sqrt(c.LL)) }

// Correlation between latitude and longitude, −1 to 1; 0 when either error is 0.
func (c Covariance) Correlation() float64 {
	if c.BB <= 0 || c.LL <= 0 {
		return 0
	}
	return max(-1, min(1, c.BL/math.Sqrt(c.BB*c.LL)))
}

// Plus adds the errors of an independent cause.
func (c Covariance) Plus(o Covariance) Covariance {
	return Covariance{BB: c.BB + o.BB, LL: c.LL + o.LL, BL: c.BL + o.BL}
}

// Measured is a place found by measurement, with its error.
type Measured struct {
	Heliographic
	Cov Covariance
}

// Face is the Sun as it is turned toward the observer at one instant.
//
//	P             position angle of the north pole, east positive, −26.3° to 26.3°
//	B0            latitude of the disc's centre, −7.25° to 7.25°
//	L0            Carrington longitude of the disc's centre, 0° to 360°, falling with time
//	Semidiameter  apparent radius of the photosphere
//	DistanceAU    distance of the Sun's centre, astronomical units
type Face struct {
	P, B0, L0    Angle
	Semidiameter Angle
	DistanceAU   float64
}

// CMD is the central meridian distance of a place, west positive, −180° to 180°.
func (f Face) CMD(h Heliographic) Angle { return (h.L - f.L0).Wrap180() }

// SolarRadiusMm is the nominal radius of the photosphere in megametres
// (IAU 2015 Resolution B3, arXiv:1510.07674).
const SolarRadiusMm = 695.7
