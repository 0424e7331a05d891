package ephemeris

import (
	"fmt"
	"math"
	"sort"
	"time"

	"github.com/soniakeys/meeus/v3/deltat"
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

// taiMinusUTC lists the leap seconds: from this day, 0h UTC, TAI − UTC is so
// many seconds. Source: IERS Bulletin C and its list of leap seconds; none was
// announced after 2017.
var taiMinusUTC = []struct {
	from    int64 // Unix time
	seconds int
}{
	{day(1972, 1), 10}, {day(1972, 7), 11}, {day(1973, 1), 12}, {day(1974, 1), 13},
	{day(1975, 1), 14}, {day(1976, 1), 15}, {day(1977, 1), 16}, {day(1978, 1), 17},
	{day(1979, 1), 18}, {day(1980, 1), 19}, {day(1981, 7), 20}, {day(1982, 7), 21},
	{day(1983, 7), 22}, {day(1985, 7), 23}, {day(1988, 1), 24}, {day(1990, 1), 25},
	{day(1991, 1), 26}, {day(1992, 7), 27}, {day(1993, 7), 28}, {day(1994, 7), 29},
	{day(1996, 1), 30}, {day(1997, 7), 31}, {day(1999, 1), 32}, {day(2006, 1), 33},
	{day(2009, 1), 34}, {day(2012, 7), 35}, {day(2015, 7), 36}, {day(2017, 1), 37},
}

// day is the Unix time of the first of a month.
func day(year int, month time.Month) int64 {
	return time.Date(year, month, 1, 0, 0, 0, 0, time.UTC).Unix()
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
	unix := t.Unix()
	if i := sort.Search(len(taiMinusUTC), func(i int) bool { return taiMinusUTC[i].from > unix }); i > 0 {
		return ttMinusTAI + time.Duration(taiMinusUTC[i-1].seconds)*time.Second
	}
	return time.Duration(float64(deltat.Interp10A(max(JulianDay(t), firstDeltaT))) * float64(time.Second))
}

// firstDeltaT is 1620-01-01, where the table of delta T starts.
const firstDeltaT = 2312752.5
