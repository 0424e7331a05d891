package catalog

import (
	"fmt"
	"time"
)

// Sitting is one observer at one set-up and site on one day. One that runs over
// 0h UT stays one, under the day on which it began.
//
//	Observer, Setup, Site  zero when not known (records from elsewhere)
//	Day                    the UT day of its first frame, at 0h
//	Looked                 per kind: was it looked for, and was any seen; a kind that
//	                       is missing here was not looked for, and nothing is known of it
//	Seeing, Transparency   the value as the observer writes it, with its scale's name
//	ClockCorrectionS       seconds to add to a time of the camera to get UTC
//	Tuning                 notes on the tuning of the filter
type Sitting struct {
	Record
	ID                   SittingID
	Observer             ObserverID
	Setup                SetupID
	Site                 SiteID
	Day                  time.Time
	Looked               map[Kind]Look
	Seeing, Transparency Rating
	ClockCorrectionS     float64
	Tuning               string
	Note                 string
}

// Rating is a value on a named scale. Scales run in both directions, so a value
// without its scale's name says nothing and is refused.
type Rating struct {
	Value, Scale string
}

// Look says what a sitting can tell about a kind.
type Look uint8

// What a sitting can tell about a kind: nothing; it was looked for and the marks
// are what was seen; it was looked for and none was seen.
const (
	NotLooked Look = iota
	LookedFor
	NoneSeen
)

// String is the look's name as it stands in SQL and JSON.
func (l Look) String() string {
	switch l {
	case NotLooked:
		return "not looked"
	case LookedFor:
		return "looked"
	case NoneSeen:
		return "none"
	}
	return fmt.Sprintf("Look(%d)", uint8(l))
}

// ParseLook reads a look's name.
func ParseLook(text string) (Look, error) {
	for _, l := range []Look{NotLooked, LookedFor, NoneSeen} {
		if l.String() == text {
			return l, nil
		}
	}
	return 0, fmt.Errorf("look %q: want looked, none or not looked", text)
}

// MarshalText writes the look's name.
func (l Look) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads the look's name.
func (l *Look) UnmarshalText(text []byte) (err error) {
	*l, err = ParseLook(string(text))
	return err
}

// Validate says what is wrong with the sitting, or nil.
func (s Sitting) Validate() error {
	if s.Day.IsZero() {
		return fmt.Errorf("sitting without a day")
	}
	if !s.Day.Equal(DayOf(s.Day)) {
		return fmt.Errorf("day of a sitting %s: want 0h UT", s.Day.Format(time.RFC3339))
	}
	if err := validateTime("day of a sitting", s.Day); err != nil {
		return err
	}
	for kind, look := range s.Looked {
		if _, named := kindNames[kind]; !named || kind == Other {
			return fmt.Errorf("a sitting cannot say whether it looked for %s", kind)
		}
		if look > NoneSeen {
			return fmt.Errorf("look %d has no name", uint8(look))
		}
	}
	for i, rating := range []Rating{s.Seeing, s.Transparency} {
		if (rating.Value == "") != (rating.Scale == "") {
			return fmt.Errorf("%s %q on scale %q: want a value and the name of its scale",
				[]string{"seeing", "transparency"}[i], rating.Value, rating.Scale)
		}
	}
	if err := within("clock correction", "s", s.ClockCorrectionS, -MaxClockCorrectionS, MaxClockCorrectionS); err != nil {
		return err
	}
	if err := validateText("note on tuning", s.Tuning); err != nil {
		return err
	}
	return validateText("note", s.Note)
}

// MaxClockCorrectionS bounds a clock correction: a camera set to a wrong zone is
// hours off, one set to a wrong day is up to days off; more is a wrong date.
const MaxClockCorrectionS = 7 * 86400

// DayOf is 0h of the UT day of an instant.
func DayOf(t time.Time) time.Time {
	y, m, d := t.UTC().Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}
