package catalog

import (
	"fmt"
	"strings"
	"time"
)

// Operation is one entry of the history: something done, as a whole, by a
// command or a page; an import of a million marks is one. Taking one back and
// doing it again are entries of their own: the history only grows.
//
//	Act      done, undone or redone
//	Of       what was undone or redone; the operation itself when it was done
//	Title    in a few words: "mark add M12"
//	Origin   who did it: the terminal, or a page by its token
//	At       when, UTC
//	Undone   whether it stands taken back now
type Operation struct {
	Record
	ID     OperationID
	Act    Act
	Of     OperationID
	Title  string
	Origin Origin
	At     time.Time
	Undone bool
}

// Act is what an entry of the history did.
type Act uint8

// The acts of the history.
const (
	Done Act = iota + 1
	Undone
	Redone
)

var actNames = []string{"", "done", "undone", "redone"}

// String is the act's name as it stands in SQL and JSON.
func (a Act) String() string { return nameOf(actNames, uint8(a), "Act") }

// ParseAct reads an act's name.
func ParseAct(text string) (Act, error) {
	return namedNonZero[Act](actNames, text, "act", "done, undone or redone")
}

// MarshalText writes the act's name.
func (a Act) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// Origin names whose operations undo and redo go through: each undoes its own.
type Origin string

// Terminal is the origin of all commands.
const Terminal Origin = "terminal"

// Desk is the origin of one page.
func Desk(pageToken string) Origin { return Origin("desk:" + pageToken) }

// Validate says what is wrong with the origin, or nil.
func (o Origin) Validate() error {
	if o == Terminal {
		return nil
	}
	if token, ok := strings.CutPrefix(string(o), "desk:"); ok && token != "" && len(token) <= 100 {
		return nil
	}
	return fmt.Errorf("origin %q: want terminal or desk:TOKEN", string(o))
}
