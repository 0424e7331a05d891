package timescale

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Clock is what a clock showed, whatever its zone.
//
//	Reading  kept in a time.Time in UTC; a second that was written as 60 is kept as
//	         the 0 of the next minute
//	Leap     the second was written as 60
type Clock struct {
	Reading time.Time
	Leap    bool
	written string
}

// NoLeapSecondError reports a second 60 where there was no leap second.
type NoLeapSecondError struct{ Written string }

func (e *NoLeapSecondError) Error() string {
	return fmt.Sprintf("time %q has a second 60, and there was no leap second then", e.Written)
}

// At is the instant at which a clock that is set east of UTC by so much showed this.
// A leap second has no instant of its own: it is the second after it. Errors:
// *NoLeapSecondError.
func (c Clock) At(east time.Duration) (time.Time, error) {
	utc := c.Reading.Add(-east)
	if c.Leap && !EndsLeapSecond(utc) {
		return time.Time{}, &NoLeapSecondError{Written: c.written}
	}
	return utc, nil
}

// clockText is a day with, behind a T or a blank, a time of day (ISO 8601).
var clockText = regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})(?:[T ](\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?)?`)

// ParseClock reads a day and a time of day at the beginning of text, as
// 2026-03-14T15:23:10.5; T may be a blank, and the decimals, the seconds or the whole
// time of day (which is then 0 h) may be left out. 24:00:00 is the end of that day (ISO
// 8601): it is read as the day's last millisecond, so that it stays in the day that it
// was written for. Tail is the zone, or whatever else
// stands behind, which the caller must read or refuse.
func ParseClock(text string) (c Clock, hasTime bool, tail string, err error) {
	m := clockText.FindStringSubmatch(text)
	if m == nil {
		return Clock{}, false, "", fmt.Errorf("time %q: want it as 2026-03-14T15:23:10Z", text)
	}
	number := func(i int) int {
		n, _ := strconv.Atoi(m[i]) // digits, or nothing
		return n
	}
	year, month, dayOf, hour, minute, second := number(1), number(2), number(3), number(4), number(5), number(6)
	date := time.Date(year, time.Month(month), dayOf, 0, 0, 0, 0, time.UTC)
	switch {
	case month < 1 || month > 12 || dayOf < 1 || date.Day() != dayOf:
		return Clock{}, false, "", fmt.Errorf("time %q: there is no day %s", text, m[0][:10])
	case hour > 23 && !endOfDay(hour, minute, second, m[7]) || minute > 59 || second > 60:
		return Clock{}, false, "", fmt.Errorf("time %q: there is no time of day %s", text, m[0][11:])
	}
	nanoseconds, _ := strconv.Atoi((m[7] + "000000000")[:9])
	c.Reading = date.Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute +
		time.Duration(second)*time.Second + time.Duration(nanoseconds))
	if hour == 24 {
		c.Reading = c.Reading.Add(-time.Millisecond)
	}
	c.Leap, c.written = second == 60, text
	return c, m[4] != "", text[len(m[0]):], nil
}

// endOfDay says that a time of day is 24 h and nothing more.
func endOfDay(hour, minute, second int, decimals string) bool {
	return hour == 24 && minute == 0 && second == 0 && strings.Trim(decimals, "0") == ""
}
