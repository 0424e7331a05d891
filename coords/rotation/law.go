package rotation

import (
	"cmp"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// Law is a law of rotation, ω = A + B sin²(lat) + C sin⁴(lat).
//
//	Name     what one types to choose it
//	Tracer   what turns so: sunspot, plage, filament, magnetic, plasma, handbook, frame; empty for a typed law
//	Source   who measured it on what, and how the figures reached us; empty where no
//	         source that could be read bears them out
//	A, B, C  degrees a day of 86400 s, sidereal
//	SigmaA…  their published standard errors; 0 where none was printed
type Law struct {
	Name, Tracer, Source   string
	A, B, C                float64
	SigmaA, SigmaB, SigmaC float64
}

// Cited is the source as it is printed: where there is none, it says so.
func (l Law) Cited() string { return cmp.Or(l.Source, "no source that could be read") }

// SiderealDegPerDay is the rate against the stars at a latitude.
func (l Law) SiderealDegPerDay(lat coords.Angle) float64 {
	sin := lat.Sin()
	s2 := sin * sin
	return l.A + s2*(l.B+s2*l.C)
}

// CarringtonDriftDegPerDay is the rate in Carrington longitude at a latitude:
// positive to the west, faster than the frame.
func (l Law) CarringtonDriftDegPerDay(lat coords.Angle) float64 {
	return l.SiderealDegPerDay(lat) - ephemeris.CarringtonDegPerDay
}

// shear is how the rate changes with latitude, radians a day per radian.
func (l Law) shear(lat coords.Angle) float64 {
	sin, cos := lat.Sincos()
	perDay := 2 * sin * cos * (l.B + 2*l.C*sin*sin) // degrees a day per radian
	return perDay * float64(coords.Degree)
}

// SigmaDegPerDay is how well the law is known at a latitude: its published
// standard error or, where that is larger, how far it lies from the other
// published laws of the same tracer (root mean square). Their authors disagree
// by more than they claim. It is 0 for a typed law and for the frame.
func (l Law) SigmaDegPerDay(lat coords.Angle) float64 {
	sin := lat.Sin()
	s2 := sin * sin
	printed := math.Sqrt(coords.Square(l.SigmaA) + coords.Square(s2*l.SigmaB) + coords.Square(s2*s2*l.SigmaC))
	return max(printed, l.disagreement(lat))
}

// disagreement is the root mean square distance to the published laws of the
// same tracer.
func (l Law) disagreement(lat coords.Angle) float64 {
	if l.Tracer == "" {
		return 0
	}
	rate, sum, others := l.SiderealDegPerDay(lat), 0.0, 0
	for i := range published {
		if other := &published[i]; other.Tracer == l.Tracer && other.Name != l.Name {
			sum += coords.Square(other.SiderealDegPerDay(lat) - rate)
			others++
		}
	}
	if others == 0 {
		return 0
	}
	return math.Sqrt(sum / float64(others))
}
