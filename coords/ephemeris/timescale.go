package ephemeris

import (
	"fmt"
	"math"
	"time"

	"github.com/soniakeys/meeus/v3/deltat"

	"limbwatch/coords/timescale"
)

const (
	secondsPerDay = 86400
	j2000         = 2451545.0 // Julian date of the epoch J2000.0, Terrestrial Time
	unixEpoch     = 2440587.5 // Julian date of 1970-01-01T00:00:00
)

// FirstYear and LastYear bound the years that this package answers for. Before
// 1620 delta T is not known from a telescope; the series for the Earth was cut
// for the centuries around 2000.
const (
	FirstYear = 1620
	LastYear  = 2200
)

// Check says whether t lies in the years that this package answers for. The
// other functions take any time, and grow wrong outside.
func Check(t time.Time) error {
	if year := t.UTC().Year(); year < FirstYear || year > LastYear {
		return fmt.Errorf("no ephemeris for the year %d: it covers %d to %d", year, FirstYear, LastYear)
	}
	return nil
}

// JulianDay is the Julian date of t, in the time scale of t (UTC, or UT before
// 1972). A float64 holds it to 0.04 ms.
func JulianDay(t time.Time) float64 {
	return unixEpoch + (float64(t.Unix())+float64(t.Nanosecond())*1e-9)/secondsPerDay
}

// JulianDayTT is the Julian date of t in Terrestrial Time.
func JulianDayTT(t time.Time) float64 {
	return JulianDay(t) + TTMinusUTC(t).Seconds()/secondsPerDay
}

// timeOfTT is the inverse of JulianDayTT, to a tenth of a millisecond.
func timeOfTT(jdeTT float64) time.Time {
	asTT := timeOfJulianDay(jdeTT)
	// The difference changes by seconds over years: one step back is enough,
	// save within a minute of a leap second, where the second step settles it.
	t := asTT.Add(-TTMinusUTC(asTT))
	return asTT.Add(-TTMinusUTC(t))
}

// timeOfJulianDay is the inverse of JulianDay.
func timeOfJulianDay(jd float64) time.Time {
	whole, fraction := math.Modf((jd - unixEpoch) * secondsPerDay)
	return time.Unix(int64(whole), int64(fraction*1e9)).UTC()
}

// TTMinusUTC is Terrestrial Time less UTC at t.
//
// From 1972 it is 32.184 s and the leap seconds announced so far; nobody knows
// the later ones. Before 1972 t is taken as UT and the difference is delta T, from
// the table of the Astronomical Almanac in Meeus, Astronomical Algorithms,
// table 10.A: to 0.5 s from 1900 on, some seconds around 1800, tens of seconds
// in the first decades of the table, which starts in 1620 and is held constant
// before. Ten seconds are 0.0015° of L0.
func TTMinusUTC(t time.Time) time.Duration {
	const ttMinusTAI = 32184 * time.Millisecond
	if ahead, ok := timescale.TAIMinusUTC(t); ok {
		return ttMinusTAI + ahead
	}
	return time.Duration(float64(deltat.Interp10A(max(JulianDay(t), firstDeltaT))) * float64(time.Second))
}

// firstDeltaT is 1620-01-01, where the table of delta T starts.
const firstDeltaT = 2312752.5
