package store

import (
	"errors"
	"fmt"

	"github.com/mattn/go-sqlite3"

	"limbwatch/catalog"
)

// NotFoundError says that there is no such thing in the catalogue.
type NotFoundError struct {
	Noun, ID string // "mark" and "M12", or a name
	Removed  bool   // it was there and was removed
}

func (e *NotFoundError) Error() string {
	if e.Removed {
		return fmt.Sprintf("%s %s was removed", e.Noun, e.ID)
	}
	return fmt.Sprintf("no %s %s", e.Noun, e.ID)
}

// InvalidError refuses what cannot be: a value that makes no sense, or a word about
// a thing that does not stand so. Its text is that of Err.
type InvalidError struct{ Err error }

func (e *InvalidError) Error() string { return e.Err.Error() }
func (e *InvalidError) Unwrap() error { return e.Err }

// StaleError refuses an edit made from a version that is no longer the newest.
// Yours is what was to be written, nil for a removal, Theirs what stands in the
// catalogue; both are of the noun's type. Different are the columns in which Theirs
// (here) and Yours (there) differ.
type StaleError struct {
	Noun, ID     string
	Yours        any
	Theirs       any
	Different    []Difference
	YourRevision int64
	NewRevision  int64
}

func (e *StaleError) Error() string {
	return fmt.Sprintf("%s %s was changed meanwhile: yours was made from revision %d, it stands at %d",
		e.Noun, e.ID, e.YourRevision, e.NewRevision)
}

// InUseError refuses to remove what something else still hangs on.
type InUseError struct {
	Noun, ID     string
	ByNoun, ByID string
}

func (e *InUseError) Error() string {
	return fmt.Sprintf("%s %s is still used by %s %s", e.Noun, e.ID, e.ByNoun, e.ByID)
}

// TakenError refuses a name, a file or a place that something else already has.
type TakenError struct {
	What string // "site name", say
	By   string // what has it, when that is known
	Err  error
}

func (e *TakenError) Error() string {
	if e.By != "" {
		return fmt.Sprintf("%s already taken by %s", e.What, e.By)
	}
	return e.What + " already taken"
}
func (e *TakenError) Unwrap() error { return e.Err }

// NothingToUndoError says that an origin has nothing to take back, or to do again.
type NothingToUndoError struct {
	Origin catalog.Origin
	Redo   bool
}

func (e *NothingToUndoError) Error() string {
	if e.Redo {
		return fmt.Sprintf("nothing to redo for %s", e.Origin)
	}
	return fmt.Sprintf("nothing to undo for %s", e.Origin)
}

// ConflictError says that an operation cannot be taken back, or done again,
// because a later change stands in the way.
//
//	Operation  that was to be undone or redone
//	Noun, ID   the thing that was changed since
//	Later      the operation that changed it, zero when it is not one but the
//	           absence of something
//	Gone       the thing is not there: Later took back what had added it
type ConflictError struct {
	Operation catalog.Operation
	Redo      bool
	Noun, ID  string
	Later     catalog.Operation
	Gone      bool
	Err       error // the cause, when it is another error
}

func (e *ConflictError) Error() string {
	verb := "undo"
	if e.Redo {
		verb = "redo"
	}
	what := fmt.Sprintf("cannot %s %s %q", verb, e.Operation.ID, e.Operation.Title)
	switch {
	case e.Err != nil:
		return fmt.Sprintf("%s: a later change stands in the way: %v", what, e.Err)
	case e.Gone:
		return fmt.Sprintf("%s: %s %s is not there: %s %q of %s took it away",
			what, e.Noun, e.ID, e.Later.ID, e.Later.Title, e.Later.Origin)
	case e.Later.ID != 0:
		return fmt.Sprintf("%s: %s %s was changed later by %s %q of %s",
			what, e.Noun, e.ID, e.Later.ID, e.Later.Title, e.Later.Origin)
	}
	return fmt.Sprintf("%s: %s %s was changed later", what, e.Noun, e.ID)
}

func (e *ConflictError) Unwrap() error { return e.Err }

// BusyError says that another program was writing for longer than one waits.
type BusyError struct{ Err error }

func (e *BusyError) Error() string {
	return fmt.Sprintf("another program has been writing to the catalogue for %s", busyTimeout)
}
func (e *BusyError) Unwrap() error { return e.Err }

// NewerError refuses a catalogue that a newer limbwatch has written.
type NewerError struct{ Have, Know int64 }

func (e *NewerError) Error() string {
	return fmt.Sprintf("written by a newer limbwatch (schema %d, this one knows up to %d)", e.Have, e.Know)
}

// OlderError refuses a catalogue of an older limbwatch where it cannot be brought up to
// date, since nothing is written there.
type OlderError struct{ Have, Know int64 }

func (e *OlderError) Error() string {
	return fmt.Sprintf("written by an older limbwatch (schema %d, this one reads %d)", e.Have, e.Know)
}

// ForeignError refuses a file that is no catalogue of limbwatch.
type ForeignError struct{ Why string }

func (e *ForeignError) Error() string { return "is no catalogue of limbwatch: " + e.Why }

// ReplacedError refuses to go on with a catalogue of which the file was moved away,
// removed or written over while it was open.
type ReplacedError struct {
	Path string
	Gone bool // there is none at its path now
}

func (e *ReplacedError) Error() string {
	if e.Gone {
		return "the catalogue's file was moved or removed while it was open: " + e.Path
	}
	return "another file was put in the place of the catalogue while it was open: " + e.Path
}

// StrangeLogError refuses a catalogue beside which lies the log of changes of another file:
// of the one, most likely, that stood there before it. Opened together they would be mixed.
type StrangeLogError struct{ Path string }

func (e *StrangeLogError) Error() string {
	return fmt.Sprintf("%s-wal holds changes of another file than the one that stands here now", e.Path)
}

// ReadOnlyError says that a file, or its folder, may not be read or written. Path is the
// one in the way, where that is known.
type ReadOnlyError struct {
	Path string
	Err  error
}

func (e *ReadOnlyError) Error() string {
	if e.Path != "" {
		return fmt.Sprintf("%s may not be read and written here: %v", e.Path, e.Err)
	}
	return fmt.Sprintf("may not be read and written here: %v", e.Err)
}
func (e *ReadOnlyError) Unwrap() error { return e.Err }

// DamagedError says that the file was a catalogue and is no longer whole.
type DamagedError struct{ Err error }

func (e *DamagedError) Error() string { return fmt.Sprintf("is damaged: %v", e.Err) }
func (e *DamagedError) Unwrap() error { return e.Err }

// FullError says that a disk has no room left; what was begun was not kept.
type FullError struct{ Err error }

func (e *FullError) Error() string { return "no room is left where the catalogue lies" }
func (e *FullError) Unwrap() error { return e.Err }

// asBusy names what has nothing to do with what the catalogue holds: others that
// write to it, rights that are missing, a file that is no longer whole.
func asBusy(err error) error {
	e, ok := errors.AsType[sqlite3.Error](err)
	if !ok {
		return err
	}
	switch e.Code {
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		return &BusyError{Err: err}
	case sqlite3.ErrReadonly, sqlite3.ErrCantOpen, sqlite3.ErrPerm:
		return &ReadOnlyError{Err: err}
	case sqlite3.ErrFull:
		return &FullError{Err: err}
	case sqlite3.ErrCorrupt:
		return &DamagedError{Err: err}
	}
	return err
}

// asTaken names what a violated unique index keeps.
func asTaken(err error) error {
	e, ok := errors.AsType[sqlite3.Error](err)
	if !ok || e.ExtendedCode != sqlite3.ErrConstraintUnique {
		return err
	}
	for columns, what := range map[string]string{
		"observers.name":                    "observer name",
		"sites.name":                        "site name",
		"instruments.name":                  "instrument name",
		"setups.instrument_id, setups.name": "set-up name",
		"passages.name":                     "passage name",
		"frames.sha256":                     "picture",
		"discs.frame_id":                    "disc of the frame",
		"norths.frame_id":                   "north of the frame",
		"joins.mark_id":                     "passage of the mark",
		"joins.mark_id, joins.passage_id":   "join of the mark with the passage",
		"counts.sitting_id, counts.tally":   "count of the sitting",
	} {
		if e.Error() == "UNIQUE constraint failed: "+columns {
			return &TakenError{What: what, Err: err}
		}
	}
	return err
}
