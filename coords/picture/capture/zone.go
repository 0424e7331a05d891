package capture

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // IANA zones on machines that have none

	"limbwatch/coords/timescale"
)

var offsetPattern = regexp.MustCompile(`^(?:UTC|GMT|UT)?([+\-−])(\d{1,2})(?::?(\d{2}))?$`)

// ParseZone reads a zone: an IANA name ("Europe/Prague"), an offset ("+02:00",
// "-0330", "+2", "UTC+2"; east positive), or UTC, UT, GMT, Z.
//
// "Local" is refused: it would mean another zone on another machine. So are the
// abbreviations (CET, EST, IST), which mean several.
func ParseZone(text string) (*time.Location, error) {
	text = strings.TrimSpace(text)
	switch strings.ToUpper(text) {
	case "UTC", "UT", "GMT", "Z":
		return time.UTC, nil
	}
	if m := offsetPattern.FindStringSubmatch(strings.ToUpper(text)); m != nil {
		hours, _ := strconv.Atoi(m[2])
		minutes, _ := strconv.Atoi("0" + m[3])
		if hours > 14 || minutes > 59 || hours*60+minutes > 14*60 {
			return nil, fmt.Errorf("zone %q: offsets run from -12:00 to +14:00", text)
		}
		seconds := hours*3600 + minutes*60
		if m[1] != "+" {
			if seconds > 12*3600 {
				return nil, fmt.Errorf("zone %q: offsets run from -12:00 to +14:00", text)
			}
			seconds = -seconds
		}
		if seconds == 0 {
			return time.UTC, nil
		}
		return time.FixedZone(offsetText(seconds), seconds), nil
	}
	if strings.Contains(text, "/") {
		if loc, err := time.LoadLocation(text); err == nil {
			return loc, nil
		}
	}
	return nil, fmt.Errorf("zone %q: want a name like Europe/Prague, an offset like +02:00, or UTC", text)
}

// sameZone says whether clocks of two zones that can be read show the same at a time.
func sameZone(a, b string, at time.Time) bool {
	one, err := ParseZone(a)
	other, otherErr := ParseZone(b)
	if err != nil || otherErr != nil {
		return false
	}
	_, x := at.In(one).Zone()
	_, y := at.In(other).Zone()
	return x == y
}

// offsetText writes an offset in seconds east as "+02:00".
func offsetText(seconds int) string {
	sign := '+'
	if seconds < 0 {
		sign, seconds = '-', -seconds
	}
	text := fmt.Sprintf("%c%02d:%02d", sign, seconds/3600, seconds/60%60)
	if rest := seconds % 60; rest != 0 { // local mean time of old dates
		text += fmt.Sprintf(":%02d", rest)
	}
	return text
}

// in is the instant at which a clock of the zone showed the stamp's reading. It
// refuses readings that occur twice or never, and leap seconds that were none.
func (s Stamp) in(zone *time.Location) (time.Time, error) {
	var instants []time.Time
	// No zone changes twice within a day, so that one of these offsets holds.
	for _, near := range []time.Duration{-24 * time.Hour, 0, 24 * time.Hour} {
		_, offset := s.Clock.Add(near).In(zone).Zone()
		t := s.Clock.Add(-time.Duration(offset) * time.Second)
		_, there := t.In(zone).Zone()
		if there == offset && !slices.ContainsFunc(instants, t.Equal) {
			instants = append(instants, t)
		}
	}
	slices.SortFunc(instants, time.Time.Compare)
	switch len(instants) {
	case 0:
		return time.Time{}, &NeverError{Stamp: s, Zone: zone.String()}
	case 1:
		utc := instants[0].UTC()
		for _, reading := range s.leaps {
			if !timescale.EndsLeapSecond(utc.Add(reading.Sub(s.Clock))) {
				return time.Time{}, &NoLeapSecondError{Stamp: s}
			}
		}
		return utc, nil
	}
	_, first := instants[0].In(zone).Zone()
	_, second := instants[1].In(zone).Zone()
	return time.Time{}, &TwiceError{Stamp: s, Zone: zone.String(), Offsets: [2]string{offsetText(first), offsetText(second)}}
}

// zoneText tells how a clock in the zone was read at an instant.
func zoneText(zone *time.Location, at time.Time) string {
	if zone == time.UTC {
		return "UTC"
	}
	_, offset := at.In(zone).Zone()
	if zone.String() == offsetText(offset) {
		return zone.String()
	}
	return fmt.Sprintf("%s (%s)", zone, offsetText(offset))
}
