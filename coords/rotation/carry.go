package rotation

import (
	"math"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// Days is the time from one instant to another in days of 86400 s, leap seconds
// counted; negative when it runs back.
func Days(from, to time.Time) float64 {
	elapsed := to.Sub(from) + ephemeris.TTMinusUTC(to) - ephemeris.TTMinusUTC(from)
	return elapsed.Hours() / 24
}

// Carry is where a place on the Sun has turned to in a number of days, which may
// be negative. Its latitude stays.
func (l Law) Carry(h coords.Heliographic, days float64) coords.Heliographic {
	drift := coords.Angle(l.CarringtonDriftDegPerDay(h.B)*days) * coords.Degree
	return coords.Heliographic{B: h.B, L: (h.L + drift).Wrap360()}
}

// Carry is where a measured place of this kind has turned to in a number of
// days, which may be negative, with the error that it has then.
//
// The error of the latitude becomes one of the longitude by the shear of the
// law; the law itself and the feature's own rate add errors that grow with the
// days, the wandering of its middle one that grows with their square root. The
// ambiguity of the middle (CentreSigma) and the height are not in it: they
// belong to the measurement.
func (p Prior) Carry(m coords.Measured, days float64) coords.Measured {
	shear := p.Law.shear(m.B) * days
	c := m.Cov
	carried := coords.Covariance{
		BB: c.BB,
		BL: c.BL + shear*c.BB,
		LL: c.LL + 2*shear*c.BL + shear*shear*c.BB,
	}
	return coords.Measured{
		Heliographic: p.Law.Carry(m.Heliographic, days),
		Cov:          carried.Plus(p.Growth(m.B, days)),
	}
}

// Growth is the error that a number of days add to the place of a feature at a
// latitude, beside what the errors it had then become.
func (p Prior) Growth(lat coords.Angle, days float64) coords.Covariance {
	elapsed := math.Abs(days)
	rate := math.Hypot(p.RateSigmaDegPerDay, p.Law.SigmaDegPerDay(lat))
	return coords.Covariance{
		BB: square(p.DriftSigmaDegPerDay*elapsed) + square(p.WanderLatDeg)*elapsed,
		LL: square(rate*elapsed) + square(p.WanderLonDeg)*elapsed,
	}
}

// square is the square of an angle in degrees, in square radians.
func square(deg float64) float64 { return (coords.Angle(deg) * coords.Degree).Squared() }

// CMDMove is how far a place at a latitude moves in central meridian distance
// between two instants as seen from the Earth, west positive and not wrapped: a
// move of more than a turn stays above 360°.
func (l Law) CMDMove(lat coords.Angle, from, to time.Time) coords.Angle {
	drift := l.CarringtonDriftDegPerDay(lat) * Days(from, to)
	return coords.Angle(drift+meridianFall(from, to)) * coords.Degree
}

// meridianFall is by how many degrees L0 falls from one instant to another, not
// wrapped.
func meridianFall(from, to time.Time) float64 {
	return 360 * (ephemeris.Rotation(to) - ephemeris.Rotation(from))
}

// SynodicDegPerDay is the rate at a latitude as seen from the Earth at an
// instant.
func (l Law) SynodicDegPerDay(lat coords.Angle, at time.Time) float64 {
	return l.SiderealDegPerDay(lat) - EarthDegPerDay(at)
}

// EarthDegPerDay is how fast the Earth moves along the Sun's equator at an
// instant: 0.948° a day in June to 1.018° in January.
func EarthDegPerDay(at time.Time) float64 {
	const half = 6 * time.Hour
	from, to := at.Add(-half), at.Add(half)
	return ephemeris.CarringtonDegPerDay - meridianFall(from, to)/Days(from, to)
}
