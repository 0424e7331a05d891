package catalog

import (
	"fmt"
	"regexp"
	"time"
)

// Frame is one picture of the Sun with its time, or, without a file, just an
// instant at which something was seen and marked by figures.
//
//	Sitting           zero for records from elsewhere
//	Path, SHA256      the file as last seen, and what it holds (64 hexadecimal
//	                  digits): a file that moved is known again by it. Both empty
//	                  when there is no file
//	Channel           which colour channel is read; empty: the reader's default
//	Role              what the exposure was made for
//	Taken             the time written with the picture, in UTC, to the millisecond
//	Moment            of the exposure to which Taken belongs
//	ExposureS         length of the exposure (or of the stack); 0 when not known
//	SigmaS            standard error of the instant, seconds
//	TimeSource, Zone  where the time was found, and how it was brought to UTC
//	WidthPx, HeightPx 0 without a file
//	Reference         a picture from elsewhere, for north only; never counted as
//	                  one's own observation
type Frame struct {
	Record
	ID                FrameID
	Sitting           SittingID
	Path, SHA256      string
	Channel           string
	Role              Role
	Taken             time.Time
	Moment            Moment
	ExposureS         float64
	SigmaS            float64
	TimeSource, Zone  string
	WidthPx, HeightPx int
	Reference         bool
	Note              string
}

// HasFile says whether a picture belongs to the frame.
func (f Frame) HasFile() bool { return f.SHA256 != "" }

// Middle is the instant for which the Sun is computed: the middle of the
// exposure, on a clock put right by the sitting's correction.
func (f Frame) Middle(clockCorrectionS float64) time.Time {
	seconds := clockCorrectionS
	switch f.Moment {
	case MomentStart:
		seconds += f.ExposureS / 2
	case MomentEnd:
		seconds -= f.ExposureS / 2
	}
	return f.Taken.Add(time.Duration(seconds * float64(time.Second))).Round(time.Millisecond)
}

var sha256Text = regexp.MustCompile(`^[0-9a-f]{64}$`)

// Validate says what is wrong with the frame, or nil.
func (f Frame) Validate() error {
	if f.Taken.IsZero() {
		return fmt.Errorf("frame without a time")
	}
	if err := validateTime("time of a frame", f.Taken); err != nil {
		return err
	}
	if f.Role > RoleBoth {
		return fmt.Errorf("exposure role %d has no name", uint8(f.Role))
	}
	if f.Moment > MomentEnd {
		return fmt.Errorf("moment of the exposure %d has no name", uint8(f.Moment))
	}
	if err := within("exposure", "s", f.ExposureS, 0, 86400); err != nil {
		return err
	}
	if err := within("error of the time", "s", f.SigmaS, 0, 30*86400); err != nil {
		return err
	}
	if (f.Path == "") != (f.SHA256 == "") {
		return fmt.Errorf("frame with path %q and SHA-256 %q: want both or neither", f.Path, f.SHA256)
	}
	if f.HasFile() {
		if !sha256Text.MatchString(f.SHA256) {
			return fmt.Errorf("SHA-256 %q: want 64 hexadecimal digits", f.SHA256)
		}
		if f.WidthPx < 1 || f.HeightPx < 1 {
			return fmt.Errorf("frame of %d × %d px", f.WidthPx, f.HeightPx)
		}
	} else if f.WidthPx != 0 || f.HeightPx != 0 {
		return fmt.Errorf("frame of %d × %d px without a file", f.WidthPx, f.HeightPx)
	}
	return validateText("note", f.Note)
}

// validateTime keeps to the years that four digits and the ephemeris can hold.
func validateTime(what string, t time.Time) error {
	if y := t.UTC().Year(); y < 1620 || y > 2200 {
		return fmt.Errorf("%s %s: want a year from 1620 to 2200", what, t.UTC().Format(time.RFC3339))
	}
	return nil
}

// Role is what an exposure was made for: one cannot serve surface and edge at
// once, except where a composite has both. Its zero is not known.
type Role uint8

// The roles of an exposure.
const (
	RoleUnknown Role = iota
	RoleSurface
	RoleLimb
	RoleBoth
)

var roleNames = []string{"", "surface", "limb", "both"}

// String is the role's name as it stands in SQL, JSON and on the screen, empty
// when it is not known.
func (r Role) String() string { return nameOf(roleNames, uint8(r), "Role") }

// ParseRole reads a role's name.
func ParseRole(text string) (Role, error) {
	return named[Role](roleNames, text, "exposure role", "surface, limb or both")
}

// MarshalText writes the role's name.
func (r Role) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText reads the role's name.
func (r *Role) UnmarshalText(text []byte) (err error) {
	*r, err = ParseRole(string(text))
	return err
}

// Moment is the part of an exposure to which its written time belongs. Its zero
// is not known: the time is then taken as the middle.
type Moment uint8

// The moments of an exposure.
const (
	MomentUnknown Moment = iota
	MomentStart
	MomentMiddle
	MomentEnd
)

var momentNames = []string{"", "start", "middle", "end"}

// String is the moment's name as it stands in SQL and JSON, empty when it is not
// known.
func (m Moment) String() string { return nameOf(momentNames, uint8(m), "Moment") }

// ParseMoment reads a moment's name.
func ParseMoment(text string) (Moment, error) {
	return named[Moment](momentNames, text, "moment of the exposure", "start, middle or end")
}

// MarshalText writes the moment's name.
func (m Moment) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads the moment's name.
func (m *Moment) UnmarshalText(text []byte) (err error) {
	*m, err = ParseMoment(string(text))
	return err
}
