package capture

import (
	"fmt"
	"strings"
	"time"

	"limbwatch/coords/timescale"
)

// Typed is a time that somebody typed, or that stands in a column of a table.
//
//	UTC      the instant
//	EastS    by how much the clock was ahead of UTC, seconds
//	Zoned    it has a zone of its own
//	DayOnly  it has no time of day: UTC is the day's beginning
type Typed struct {
	UTC            time.Time
	EastS          int
	Zoned, DayOnly bool
}

// ParseTyped reads the whole of a text as an instant: day and time of day as
// 2026-03-14T15:23:10, and the zone behind them (Z, UTC, +02:00 or a name like
// Europe/Prague). Without one it is read in the zone given. Errors: *ZoneNeededError
// when that is nil, *TwiceError, *NeverError, *NoLeapSecondError, or a text that is no
// such time.
func ParseTyped(text string, zone *time.Location) (Typed, error) {
	text = strings.TrimSpace(text)
	clock, hasTime, behind, err := timescale.ParseClock(text)
	if err != nil {
		return Typed{}, err
	}
	read, err := readTail(behind)
	if err != nil {
		return Typed{}, fmt.Errorf("time %q: %w", text, err)
	}
	if read.local {
		return Typed{}, fmt.Errorf("time %q: of which zone is that? want an offset like +02:00, or UTC", text)
	}
	s := Stamp{Clock: clock.Reading, Written: text, Zone: read.zone, ResolutionS: 1e-9}
	if clock.Leap {
		s.leaps = []time.Time{s.Clock}
	}
	if s.Zone != "" {
		if zone, err = ParseZone(s.Zone); err != nil {
			return Typed{}, err
		}
	}
	if zone == nil {
		return Typed{}, &ZoneNeededError{Stamp: s}
	}
	utc, err := s.in(zone)
	if err != nil {
		return Typed{}, err
	}
	_, east := utc.In(zone).Zone()
	return Typed{UTC: utc, EastS: east, Zoned: s.Zone != "", DayOnly: !hasTime}, nil
}
