package catalog

import (
	"fmt"
	"time"
)

// WarningID names a warning, as in W4.
type WarningID int64

func (id WarningID) String() string { return shortID('W', int64(id)) }

// MarshalText writes the id as people say it.
func (id WarningID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }

// ParseWarningID reads an id such as W4.
func ParseWarningID(text string) (WarningID, error) {
	return parseID[WarningID](text, "warning", 'W')
}

// Warning is something odd about a frame: it belongs to the picture until a person has
// settled it.
//
//	Words    what is odd, for people
//	Basis    the figures it rests on, in any words: with others it is another warning,
//	         and what was settled of the one says nothing of it
//	Settled  who settled it and why; nil: nobody has
type Warning struct {
	Record
	ID           WarningID
	Frame        FrameID
	Cause        Cause
	Words, Basis string
	Settled      *Settlement
}

// Settlement is a person's word that a warning is no reason to doubt any more.
//
//	By   0: not known
//	Why  what was found when it was looked into
type Settlement struct {
	At  time.Time
	By  ObserverID
	Why string
}

// Open says whether nobody has settled it.
func (w Warning) Open() bool { return w.Settled == nil }

// Validate says what is wrong with the warning, or nil.
func (w Warning) Validate() error {
	if w.Frame <= 0 {
		return fmt.Errorf("warning without a frame")
	}
	if w.Cause == 0 || int(w.Cause) >= len(causeNames) {
		return fmt.Errorf("warning without a cause")
	}
	if w.Words == "" {
		return fmt.Errorf("warning without words")
	}
	if s := w.Settled; s != nil {
		if err := validateTime("time of settling", s.At); err != nil {
			return err
		}
		if s.Why == "" {
			return fmt.Errorf("a warning is settled for a reason")
		}
		if err := validateText("reason", s.Why); err != nil {
			return err
		}
	}
	return validateText("warning", w.Words)
}

// Cause is what a warning is about. Its zero is refused.
type Cause uint8

// The causes of warnings: something odd about the file, its header or its time; the Sun
// below the site's horizon at the frame's time; no limb that could be trusted; a disc of
// another size than the set-up's others; a north that contradicts a neighbour's.
const (
	CauseFile Cause = iota + 1
	CauseHorizon
	CauseLimb
	CauseSize
	CauseNorth
)

var causeNames = []string{"", "file", "horizon", "limb", "size", "north"}

// String is the cause's name as it stands in SQL and JSON.
func (c Cause) String() string { return nameOf(causeNames, uint8(c), "Cause") }

// ParseCause reads a cause's name.
func ParseCause(text string) (Cause, error) {
	return namedNonZero[Cause](causeNames, text, "cause of a warning", "file, horizon, limb, size or north")
}

// MarshalText writes the cause's name.
func (c Cause) MarshalText() ([]byte, error) { return []byte(c.String()), nil }
