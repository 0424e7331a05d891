// Package timescale keeps clocks apart: UTC with its leap seconds, and International
// Atomic Time. It holds the one table of leap seconds, and reads what a clock showed.
package timescale

import (
	"sort"
	"time"
)

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

// TAIMinusUTC is International Atomic Time less UTC; false before 1972, when UTC did
// not yet keep whole seconds from it. After the last leap second that was announced it
// stays: nobody knows the later ones.
func TAIMinusUTC(utc time.Time) (time.Duration, bool) {
	unix := utc.Unix()
	i := sort.Search(len(taiMinusUTC), func(i int) bool { return taiMinusUTC[i].from > unix })
	if i == 0 {
		return 0, false
	}
	return time.Duration(taiMinusUTC[i-1].seconds) * time.Second, true
}

// UTCOfTAI brings International Atomic Time to UTC; false before 1972. A leap second
// has no reading of its own in a time.Time: it is given as the second after it.
func UTCOfTAI(tai time.Time) (time.Time, bool) {
	for i := len(taiMinusUTC) - 1; i >= 0; i-- {
		at := time.Unix(taiMinusUTC[i].from, 0)
		if utc := tai.Add(-time.Duration(taiMinusUTC[i].seconds) * time.Second); !utc.Before(at) {
			return utc, true
		} else if i > 0 && !utc.Before(at.Add(-time.Second)) { // within the leap second
			return utc.Add(time.Second), true
		}
	}
	return time.Time{}, false
}

// EndsLeapSecond says whether the second before t, t cut to the second, was a leap
// second: 23:59:60 UTC.
func EndsLeapSecond(t time.Time) bool {
	unix := t.Unix()
	i := sort.Search(len(taiMinusUTC), func(i int) bool { return taiMinusUTC[i].from >= unix })
	return i > 0 && i < len(taiMinusUTC) && taiMinusUTC[i].from == unix // the first begins the table
}
