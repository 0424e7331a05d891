package capture

import (
	"fmt"
	"strings"
	"time"
)

// NoTimeError reports that no source has a usable time. Notes says what was seen
// and why it didn't do.
type NoTimeError struct{ Notes []string }

func (e *NoTimeError) Error() string {
	text := "no capture time in a FITS header, EXIF, a text file beside the picture or the file's name"
	if len(e.Notes) > 0 {
		text += " (" + strings.Join(e.Notes, "; ") + ")"
	}
	return text
}

// ZoneNeededError reports a time that was written without its zone, while no zone
// was given.
type ZoneNeededError struct{ Stamp Stamp }

func (e *ZoneNeededError) Error() string {
	return fmt.Sprintf("time %s has no zone: name it, as Europe/Prague, +02:00 or UTC", e.Stamp.quoted())
}

// TwiceError reports a time of the hour that occurs twice when clocks are put
// back. Offsets are the two to choose from, the earlier instant first.
type TwiceError struct {
	Stamp   Stamp
	Zone    string
	Offsets [2]string
}

func (e *TwiceError) Error() string {
	return fmt.Sprintf("time %s occurs twice in %s: name its offset, %s or %s",
		e.Stamp.quoted(), e.Zone, e.Offsets[0], e.Offsets[1])
}

// NeverError reports a time of the hour that is left out when clocks are put
// forward.
type NeverError struct {
	Stamp Stamp
	Zone  string
}

func (e *NeverError) Error() string {
	return fmt.Sprintf("time %s does not occur in %s, where clocks were put forward over it: name the offset the clock really had",
		e.Stamp.quoted(), e.Zone)
}

// NoLeapSecondError reports a second that was written as 60 where there was no leap
// second.
type NoLeapSecondError struct{ Stamp Stamp }

func (e *NoLeapSecondError) Error() string {
	return fmt.Sprintf("time %q has a second 60, and there was no leap second then", e.Stamp.Written)
}

// AmbiguousDateError reports a date that can be read in more than one way.
type AmbiguousDateError struct {
	Written  string
	Source   Source
	Readings []time.Time
}

func (e *AmbiguousDateError) Error() string {
	readings := make([]string, len(e.Readings))
	for i, r := range e.Readings {
		readings[i] = r.Format("2006-01-02")
	}
	return fmt.Sprintf("date %q (%s) may be %s", e.Written, e.Source, strings.Join(readings, " or "))
}
