package main

import (
	"fmt"
	"io"
	"strings"
	"time"
)

// instantLayouts are the ways in which a time may be typed, zone apart.
var instantLayouts = []string{
	"2006-01-02T15:04:05.999999999",
	"2006-01-02 15:04:05.999999999",
	"2006-01-02T15:04",
	"2006-01-02 15:04",
	"2006-01-02",
}

// errNoZone is a time of day that could be anybody's.
var errNoZone = fmt.Errorf("has no zone")

// parseInstant reads a typed time such as 2026-03-14T15:23:10Z. It must end in
// Z, "UTC", "UT" or an offset like +01:00; a time without a zone is refused,
// since an hour costs half a degree of longitude.
func parseInstant(text string) (time.Time, error) {
	t, zoned, err := parseClock(text)
	if err != nil {
		return time.Time{}, err
	}
	if !zoned {
		return time.Time{}, withHint(fmt.Errorf("time %q %w", text, errNoZone),
			"end it in Z for UTC, or in its offset, like %s+01:00", strings.ReplaceAll(text, " ", "T"))
	}
	return t, nil
}

// parseUTC reads a time from a column that is UTC by its name; Z or an offset
// may stand behind it.
func parseUTC(text string) (time.Time, error) {
	t, _, err := parseClock(text)
	return t, err
}

// parseClock reads a time and says whether it carried a zone; one that did not
// is read as UTC.
func parseClock(text string) (t time.Time, zoned bool, err error) {
	text = strings.TrimSpace(text)
	body, zone := text, time.UTC
	switch {
	case strings.HasSuffix(body, "Z") || strings.HasSuffix(body, "z"):
		body, zoned = body[:len(body)-1], true
	case strings.HasSuffix(body, "UTC"):
		body, zoned = strings.TrimSpace(body[:len(body)-3]), true
	case strings.HasSuffix(body, "UT"):
		body, zoned = strings.TrimSpace(body[:len(body)-2]), true
	case len(body) > 16 && (body[len(body)-6] == '+' || body[len(body)-6] == '-') && body[len(body)-3] == ':':
		offset, perr := time.Parse("-07:00", body[len(body)-6:])
		if perr != nil {
			return time.Time{}, false, fmt.Errorf("time %q: offset %q is no hh:mm", text, body[len(body)-6:])
		}
		zone, zoned = offset.Location(), true
		body = strings.TrimSpace(body[:len(body)-6])
	}
	for _, layout := range instantLayouts {
		if t, err := time.ParseInLocation(layout, body, zone); err == nil {
			return t.UTC(), zoned, nil
		}
	}
	return time.Time{}, false, fmt.Errorf("time %q: want it as 2026-03-14T15:23:10Z", text)
}

// farAhead is how far in the future a time must lie to be told: a clock may be a little
// wrong, a year that is typed wrongly is farther off.
const farAhead = 366 * 24 * time.Hour

// noteFuture tells of a thing that cannot have been seen yet.
func noteFuture(stderr io.Writer, what string, at, now time.Time) {
	if at.Sub(now) > farAhead {
		fmt.Fprintf(stderr, "limbwatch: note: %s is of %s, which lies in the future: check the year\n", what, at.Format(time.DateOnly))
	}
}

// formatUTC writes an instant with its zone, to the digits that it has.
func formatUTC(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }
