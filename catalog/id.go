package catalog

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/google/uuid"
)

// The ids that people type and say: a letter and a number that counts from 1
// within one catalogue and is never given again, not even after a removal. Zero
// is no id. The letters are those of the table below; case does not matter when
// one is read.
//
//	O observer   L site (location)   I instrument   U set-up
//	S sitting    F frame             D disc         N north
//	M mark       P passage           J join         R return or other link
//	C count on paper   W warning   H operation of the history
//
// A number is good in its own catalogue only; between catalogues the UUID of the
// Record says what is what.
type (
	ObserverID   int64
	SiteID       int64
	InstrumentID int64
	SetupID      int64
	SittingID    int64
	FrameID      int64
	DiscID       int64
	NorthID      int64
	MarkID       int64
	PassageID    int64
	JoinID       int64
	LinkID       int64
	OperationID  int64
)

func (id ObserverID) String() string   { return shortID('O', int64(id)) }
func (id SiteID) String() string       { return shortID('L', int64(id)) }
func (id InstrumentID) String() string { return shortID('I', int64(id)) }
func (id SetupID) String() string      { return shortID('U', int64(id)) }
func (id SittingID) String() string    { return shortID('S', int64(id)) }
func (id FrameID) String() string      { return shortID('F', int64(id)) }
func (id DiscID) String() string       { return shortID('D', int64(id)) }
func (id NorthID) String() string      { return shortID('N', int64(id)) }
func (id MarkID) String() string       { return shortID('M', int64(id)) }
func (id PassageID) String() string    { return shortID('P', int64(id)) }
func (id JoinID) String() string       { return shortID('J', int64(id)) }
func (id LinkID) String() string       { return shortID('R', int64(id)) }
func (id OperationID) String() string  { return shortID('H', int64(id)) }

// MarshalText writes the id as people say it, so that JSON shows "M12".
func (id ObserverID) MarshalText() ([]byte, error)   { return []byte(id.String()), nil }
func (id SiteID) MarshalText() ([]byte, error)       { return []byte(id.String()), nil }
func (id InstrumentID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }
func (id SetupID) MarshalText() ([]byte, error)      { return []byte(id.String()), nil }
func (id SittingID) MarshalText() ([]byte, error)    { return []byte(id.String()), nil }
func (id FrameID) MarshalText() ([]byte, error)      { return []byte(id.String()), nil }
func (id DiscID) MarshalText() ([]byte, error)       { return []byte(id.String()), nil }
func (id NorthID) MarshalText() ([]byte, error)      { return []byte(id.String()), nil }
func (id MarkID) MarshalText() ([]byte, error)       { return []byte(id.String()), nil }
func (id PassageID) MarshalText() ([]byte, error)    { return []byte(id.String()), nil }
func (id JoinID) MarshalText() ([]byte, error)       { return []byte(id.String()), nil }
func (id LinkID) MarshalText() ([]byte, error)       { return []byte(id.String()), nil }
func (id OperationID) MarshalText() ([]byte, error)  { return []byte(id.String()), nil }

// ParseMarkID reads an id such as M12.
func ParseMarkID(text string) (MarkID, error) { return parseID[MarkID](text, "mark", 'M') }

// ParseFrameID reads an id such as F3.
func ParseFrameID(text string) (FrameID, error) { return parseID[FrameID](text, "frame", 'F') }

// ParsePassageID reads an id such as P7.
func ParsePassageID(text string) (PassageID, error) {
	return parseID[PassageID](text, "passage", 'P')
}

// ParseSittingID reads an id such as S2.
func ParseSittingID(text string) (SittingID, error) {
	return parseID[SittingID](text, "sitting", 'S')
}

// ParseObserverID reads an id such as O1.
func ParseObserverID(text string) (ObserverID, error) {
	return parseID[ObserverID](text, "observer", 'O')
}

// ParseSiteID reads an id such as L1.
func ParseSiteID(text string) (SiteID, error) { return parseID[SiteID](text, "site", 'L') }

// ParseInstrumentID reads an id such as I1.
func ParseInstrumentID(text string) (InstrumentID, error) {
	return parseID[InstrumentID](text, "instrument", 'I')
}

func shortID(letter byte, n int64) string {
	return string(letter) + strconv.FormatInt(n, 10)
}

func parseID[ID ~int64](text, noun string, letter byte) (ID, error) {
	refused := fmt.Errorf("%s %q: want %c and a number, as in %c12", noun, text, letter, letter)
	if len(text) < 2 || !strings.EqualFold(text[:1], string(letter)) {
		return 0, refused
	}
	for _, digit := range text[1:] { // ParseInt would take +12
		if digit < '0' || digit > '9' {
			return 0, refused
		}
	}
	n, err := strconv.ParseInt(text[1:], 10, 64)
	if err != nil || n < 1 {
		return 0, refused
	}
	return ID(n), nil
}

// Record is what every kept thing has beside its content.
//
//	UUID      names it in every catalogue that will ever hold it (version 7)
//	Revision  counts its changes from 1; an edit names the revision it was made
//	          from, and is refused when that is no longer the newest
type Record struct {
	UUID     uuid.UUID
	Revision int64
}

// NewUUID makes a new identity: a UUID of version 7 (RFC 9562), which sorts by
// the time of its making.
func NewUUID() uuid.UUID {
	id, err := uuid.NewV7()
	if err != nil {
		panic(fmt.Sprintf("the system gives no random numbers: %v", err)) // nothing to go on with
	}
	return id
}
