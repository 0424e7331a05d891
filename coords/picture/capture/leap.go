package capture

import "time"

// leapDays are the days after which, at 0h UTC, TAI − UTC grew by a second; it
// was 10 s in January 1972 (IERS Bulletin C; none has come since 2017). The
// package cannot take them from the ephemeris, which stands beside it.
var leapDays = [...]string{
	"1972-07-01", "1973-01-01", "1974-01-01", "1975-01-01", "1976-01-01", "1977-01-01",
	"1978-01-01", "1979-01-01", "1980-01-01", "1981-07-01", "1982-07-01", "1983-07-01",
	"1985-07-01", "1988-01-01", "1990-01-01", "1991-01-01", "1992-07-01", "1993-07-01",
	"1994-07-01", "1996-01-01", "1997-07-01", "1999-01-01", "2006-01-01", "2009-01-01",
	"2012-07-01", "2015-07-01", "2017-01-01",
}

// utcOfTAI brings International Atomic Time to UTC; false before 1972.
func utcOfTAI(tai time.Time) (time.Time, bool) {
	utc := tai.Add(-10 * time.Second)
	if utc.Year() < 1972 {
		return time.Time{}, false
	}
	for _, day := range leapDays {
		at, err := time.Parse(time.DateOnly, day)
		if err != nil {
			panic(err) // a misprint in the table above
		}
		if next := utc.Add(-time.Second); !next.Before(at) {
			utc = next
		}
	}
	return utc, true
}
