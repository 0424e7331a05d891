package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"limbwatch/catalog/wholefile"
)

// A write-ahead log holds the newest pages of a file, and nothing in it says of which: laid
// beside another one, an earlier copy that was put back say, SQLite takes its pages for
// that one's. So a small file beside the catalogue, its owner, names the file to which the
// log belongs, by what the system knows it by; and it names itself in the same way, so that
// a folder that was copied as a whole, of which nothing is the same file any more, is told
// from one in which a single file was replaced.

// ownerPath is where the owner of a catalogue's log stands.
func ownerPath(path string) string { return path + "-owner" }

const ownerText = `limbwatch writes this: it names the file to which the log beside it belongs.
file %s
self %s
`

// ownLog refuses with a *StrangeLogError a log that belongs to another file, or a journal.
func (f *file) ownLog() error {
	head, err := f.header()
	if err != nil {
		return err
	}
	if !f.logInUse() && !f.journalInUse() {
		return nil
	}
	owner, inItsPlace := readOwner(f.path)
	mine := identity(f.handle)
	noneWritten := f.logInUse() && !head.journalled() // no log was ever written for it
	if noneWritten || mine != "" && owner != "" && owner != mine && inItsPlace {
		return &StrangeLogError{Path: f.path}
	}
	return nil
}

// claimLog lets the owner name this file, which is known to be a catalogue by now.
func (f *file) claimLog() error {
	mine := identity(f.handle)
	if owner, _ := readOwner(f.path); mine == "" || owner == mine || f.readOnly || !mayMakeFiles(filepath.Dir(f.path)) {
		return nil // where nothing can be made nothing will be written to the log either
	}
	return writeOwner(f.path, mine)
}

// logInUse says whether there is a log with anything in it.
func (f *file) logInUse() bool {
	info, err := os.Stat(f.path + "-wal")
	return err == nil && info.Size() > 0
}

// journalInUse says whether there is a journal with anything in it. SQLite writes one, to
// take a change back that was not ended, only while it turns a file that has no log, as
// a copy that was just put in place, into one that has.
func (f *file) journalInUse() bool {
	info, err := os.Stat(f.path + "-journal")
	return err == nil && info.Size() > 0
}

// takeBack lets SQLite take back what a killed program had begun, which who only reads
// cannot.
func (f *file) takeBack(ctx context.Context) error {
	if !f.journalInUse() {
		return nil
	}
	db := connect(f.path, "", 1, nil)
	defer db.Close()
	var tables int
	return asForeign(db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_master").Scan(&tables))
}

// readOwner reads which file the log belongs to, empty where nothing says so, and whether
// that was written where it stands, not copied there.
func readOwner(path string) (owner string, inItsPlace bool) {
	at, err := os.Open(ownerPath(path))
	if err != nil {
		return "", false
	}
	defer at.Close()
	text := make([]byte, 1000)
	n, _ := at.Read(text) // what cannot be read says nothing
	var self string
	for line := range strings.Lines(string(text[:n])) {
		switch word, rest, _ := strings.Cut(strings.TrimSpace(line), " "); word {
		case "file":
			owner = rest
		case "self":
			self = rest
		}
	}
	return owner, self == identity(at)
}

// writeOwner names the file to which the log belongs from now on.
func writeOwner(path, owner string) error {
	to, err := wholefile.Over(ownerPath(path))
	if err != nil {
		return err
	}
	defer to.Discard()
	self, err := os.Open(to.Name())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(to, ownerText, owner, identity(self))
	if err := errors.Join(err, self.Close()); err != nil {
		return err
	}
	return to.Keep()
}
