package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"limbwatch/coords/picture/capture"
)

// parseInstant reads a typed time such as 2026-03-14T15:23:10Z. It must end in
// Z, "UTC", "UT" or an offset like +01:00; a time without a zone is refused,
// since an hour costs half a degree of longitude.
func parseInstant(text string) (time.Time, error) {
	return parseInstantIn(text, nil)
}

// parseInstantIn reads a typed time; one without a zone is read in the zone given.
func parseInstantIn(text string, zone *time.Location) (time.Time, error) {
	t, err := capture.ParseTyped(text, zone)
	if _, ok := errors.AsType[*capture.ZoneNeededError](err); ok {
		err = withHint(fmt.Errorf("time %q has no zone", text),
			"end it in Z for UTC, or in its offset, like %s+01:00", strings.ReplaceAll(strings.TrimSpace(text), " ", "T"))
	} else if e, ok := errors.AsType[*capture.TwiceError](err); ok {
		err = withHint(fmt.Errorf("time %q occurs twice in %s", text, e.Zone), "end it in its offset: %s or %s", e.Offsets[0], e.Offsets[1])
	} else if e, ok := errors.AsType[*capture.NeverError](err); ok {
		err = withHint(fmt.Errorf("time %q never was in %s, where the clocks went forward", text, e.Zone), "end it in the offset that the clock really had")
	}
	return t.UTC, err
}

// parseUTC reads a time from a column that is UTC by its name; Z or an offset
// may stand behind it.
func parseUTC(text string) (time.Time, error) { return parseInstantIn(text, time.UTC) }

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
