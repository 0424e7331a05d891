package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"sync"
)

// file is the catalogue's file as it was found before SQLite opened it. SQLite goes on
// with a file that was moved away or written over, and says nothing; this notices.
//
// The file stays open as long as anybody in this program uses it: the system lets go of
// all locks that a program has on a file as soon as it closes any handle of it.
type file struct {
	path     string
	handle   *os.File
	info     fs.FileInfo
	readOnly bool
	users    int

	sequence struct {
		sync.Mutex
		page   int64 // where sqlite_sequence stands; 0: not known
		newest int64 // the newest operation that the file was seen to hold
	}
}

// files are those that this program has open.
var files struct {
	sync.Mutex
	list []*file
}

// openFile looks at the catalogue at path before SQLite does, and refuses what is none.
// release gives it back, once SQLite has let go of it.
func openFile(path string) (*file, error) {
	files.Lock()
	defer files.Unlock()
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, asClosed(path, err)
	case info.IsDir():
		return nil, &ForeignError{Why: "it is a folder"}
	case !info.Mode().IsRegular():
		return nil, &ForeignError{Why: "it is a device or a pipe, no file"}
	case info.Size() < headerBytes: // SQLite would take it for a new one, and write to it
		return nil, &ForeignError{Why: fmt.Sprintf("only %d bytes long, as if it had been cut off", info.Size())}
	}
	for _, f := range files.list {
		if f.path == path && os.SameFile(f.info, info) {
			f.users++
			return f, nil
		}
	}
	f := &file{path: path, users: 1}
	if f.handle, err = os.OpenFile(path, os.O_RDWR, 0); err != nil {
		f.readOnly = true
		if f.handle, err = os.Open(path); err != nil {
			return nil, asClosed(path, err)
		}
	}
	if f.info, err = f.handle.Stat(); err != nil {
		return nil, errors.Join(err, f.handle.Close())
	}
	files.list = append(files.list, f)
	return f, nil
}

// asClosed names what keeps a file from being opened.
func asClosed(path string, err error) error {
	if errors.Is(err, fs.ErrPermission) {
		return &ReadOnlyError{Path: path, Err: err}
	}
	return err
}

func (f *file) release() error {
	files.Lock()
	defer files.Unlock()
	if f.users--; f.users > 0 {
		return nil
	}
	files.list = slices.DeleteFunc(files.list, func(other *file) bool { return other == f })
	return f.handle.Close()
}

// inPlace refuses with a *ReplacedError when the file that is open is no longer the one at
// its path, or no longer what SQLite made of it.
func (f *file) inPlace() error {
	now, err := os.Stat(f.path)
	if errors.Is(err, fs.ErrNotExist) {
		return &ReplacedError{Path: f.path, Gone: true}
	}
	if err != nil {
		return asClosed(f.path, err)
	}
	if !os.SameFile(f.info, now) {
		return &ReplacedError{Path: f.path}
	}
	head, err := f.header()
	if err != nil || !head.journalled() || f.wentBack() { // a snapshot was written into it, nothing, or an earlier copy
		return &ReplacedError{Path: f.path}
	}
	return nil
}

// headerBytes is the length of the header of a SQLite file
// (https://www.sqlite.org/fileformat2.html#the_database_header).
const headerBytes = 100

// header is what the first bytes of a SQLite file say of it.
type header [headerBytes]byte

func (f *file) header() (head header, err error) {
	if _, err = f.handle.ReadAt(head[:], 0); errors.Is(err, io.EOF) {
		return head, &ForeignError{Why: "it is empty"}
	}
	if err == nil && string(head[:16]) != "SQLite format 3\x00" {
		return head, &ForeignError{Why: "it is no SQLite file"}
	}
	return head, err
}

// journalled says whether changes go to a write-ahead log beside the file. Every catalogue
// that was opened is so, and no snapshot is.
func (h header) journalled() bool { return h[18] == 2 && h[19] == 2 }

// size is how long the file must be; 0 when its header does not say.
func (h header) size() int64 {
	if binary.BigEndian.Uint32(h[24:]) != binary.BigEndian.Uint32(h[92:]) {
		return 0 // written by a SQLite that did not keep the number of pages
	}
	return h.pageBytes() * int64(binary.BigEndian.Uint32(h[28:]))
}

// pageBytes is how long a page of the file is.
func (h header) pageBytes() int64 {
	page := int64(binary.BigEndian.Uint16(h[16:]))
	if page == 1 {
		page = 65536
	}
	return page
}

// whole refuses a file that is shorter than its header says. Beside a log that holds
// changes nothing can be said: they may be what is missing.
func (f *file) whole() error {
	for {
		before := logBytes(f.path)
		head, err := f.header()
		if err != nil {
			return err
		}
		info, err := f.handle.Stat()
		if err != nil {
			return err
		}
		if before > 0 || info.Size() >= head.size() {
			return nil
		}
		if logBytes(f.path) == before { // else another program has just written
			return &DamagedError{Err: fmt.Errorf("%d bytes of %d are there", info.Size(), head.size())}
		}
	}
}

// logBytes is the length of the logs beside a catalogue, of what is to be written and of
// what is to be taken back.
func logBytes(path string) (n int64) {
	for _, end := range []string{"-wal", "-journal"} {
		if info, err := os.Stat(path + end); err == nil {
			n += info.Size()
		}
	}
	return n
}
