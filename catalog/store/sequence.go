package store

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"io"
	"os"
	"time"
)

// A file that is written over keeps its inode, and an earlier copy of a catalogue is as
// good a catalogue as the one that it was written over. What tells them apart is a number
// that only grows: that of the newest operation, which SQLite keeps in its table
// sqlite_sequence. The file itself, read without its log, has the number up to which the log
// was brought into it, and that never goes back either.
//
// It tells an earlier copy of the same catalogue, and not one that has the same number:
// such a copy is the file byte for byte, as long as nothing but operations is brought into
// it. (Positions that are derived anew are the exception: they may stay as of the older
// way until the catalogue is opened next.) A copy of another catalogue with higher numbers
// is not told by it.

// file format: https://www.sqlite.org/fileformat2.html, sections 1.6 (b-tree pages),
// 2.1 (records) and 4.1 (the log).
const (
	leafOfTable    = 13
	logHeaderBytes = 32
	logFrameBytes  = 24
)

// sequencePage is the page of the file on which sqlite_sequence stands, where it stays; 0
// where there is no such table.
func sequencePage(ctx context.Context, db querier) (page int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT rootpage FROM sqlite_master WHERE name = 'sqlite_sequence'").Scan(&page)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, asForeign(err)
	}
	return page, nil
}

// watch lets wentBack look at the file from now on.
func (f *file) watch(page int64) {
	f.sequence.Lock()
	defer f.sequence.Unlock()
	if page == 0 {
		return
	}
	if _, known := f.newestHeld(page); known {
		f.sequence.page = page
	}
}

// newestHeld is the newest operation that the file holds without its log; 0 for none.
// known is false where the page is not what it should be.
func (f *file) newestHeld(page int64) (operation int64, known bool) {
	head, err := f.header()
	if err != nil {
		return 0, false
	}
	content := make([]byte, head.pageBytes())
	if _, err := f.handle.ReadAt(content, (page-1)*int64(len(content))); err != nil {
		return 0, false
	}
	return newestOperation(content)
}

// wentBack says whether the file holds less than it has held: another was written into it.
func (f *file) wentBack() bool {
	f.sequence.Lock()
	defer f.sequence.Unlock()
	if f.sequence.page == 0 {
		return false
	}
	for range 3 { // another program may be writing just this page
		operation, known := f.newestHeld(f.sequence.page)
		if known && operation >= f.sequence.newest {
			f.sequence.newest = operation
			return false
		}
		time.Sleep(time.Millisecond)
	}
	return true
}

// logFits refuses with a *StrangeLogError a log that was begun on a later state of the file
// than the one that stands there: what lies between would be missing, and pages of both
// would be mixed.
func (f *file) logFits(ctx context.Context) error {
	if !f.logInUse() {
		return nil
	}
	reads := connect(f.path, "mode=ro", 1, nil)
	defer reads.Close()
	page, err := sequencePage(ctx, reads)
	if err != nil || page == 0 {
		return err
	}
	// In this order: meanwhile the file may get newer, and never older.
	begins, known := f.firstInLog(page)
	held, alsoKnown := f.newestHeld(page)
	if known && alsoKnown && held < begins-1 {
		return &StrangeLogError{Path: f.path}
	}
	return nil
}

// firstInLog is the first operation of which the log holds the number.
func (f *file) firstInLog(page int64) (operation int64, known bool) {
	log, err := os.Open(f.path + "-wal")
	if err != nil {
		return 0, false
	}
	defer log.Close()
	var head [logHeaderBytes]byte
	if _, err := log.ReadAt(head[:], 0); err != nil {
		return 0, false
	}
	bytes, salt := int64(binary.BigEndian.Uint32(head[8:])), string(head[16:24])
	if bytes < 512 || bytes > 65536 {
		return 0, false
	}
	var frame [logFrameBytes]byte
	for at := int64(logHeaderBytes); ; at += logFrameBytes + bytes {
		if _, err := log.ReadAt(frame[:], at); err != nil || string(frame[8:16]) != salt {
			return 0, false // the end, or what is left of an earlier log
		}
		if int64(binary.BigEndian.Uint32(frame[:])) != page {
			continue
		}
		content := make([]byte, bytes)
		if _, err := log.ReadAt(content, at+logFrameBytes); err != nil && err != io.EOF {
			return 0, false
		}
		return newestOperation(content)
	}
}

// newestOperation reads the number of operations in a page of sqlite_sequence, whose rows
// are a table's name and the highest id that it ever gave.
func newestOperation(page []byte) (operation int64, known bool) {
	if len(page) < 8 || page[0] != leafOfTable {
		return 0, false
	}
	rows := int(binary.BigEndian.Uint16(page[3:]))
	if 8+2*rows > len(page) {
		return 0, false
	}
	for i := range rows {
		at := int(binary.BigEndian.Uint16(page[8+2*i:]))
		if at >= len(page) {
			return 0, false
		}
		table, highest, ok := sequenceRow(page[at:])
		if !ok {
			return 0, false
		}
		if table == "operations" {
			return highest, true
		}
	}
	return 0, true
}

// sequenceRow reads a text and a whole number.
func sequenceRow(cell []byte) (table string, highest int64, ok bool) {
	cell = cell[:min(len(cell), 100)]
	var numbers [5]int // of the row's bytes, its id, the bytes of its head, its two types
	at, head := 0, 0
	for i := range numbers {
		if i == 2 {
			head = at
		}
		for n := 0; ; n++ {
			if at >= len(cell) || n == 9 {
				return "", 0, false
			}
			b := cell[at]
			at++
			numbers[i] = numbers[i]<<7 | int(b&0x7f)
			if b < 0x80 {
				break
			}
		}
	}
	text, whole := (numbers[3]-13)/2, numbers[4]
	if numbers[3] < 13 || numbers[3]%2 == 0 || at != head+numbers[2] || at+text > len(cell) {
		return "", 0, false
	}
	table, cell = string(cell[at:at+text]), cell[at+text:]
	switch whole {
	case 8, 9:
		return table, int64(whole - 8), true
	case 1, 2, 3, 4, 5, 6:
		bytes := [...]int{0, 1, 2, 3, 4, 6, 8}[whole]
		if bytes > len(cell) {
			return "", 0, false
		}
		highest = int64(int8(cell[0]))
		for _, b := range cell[1:bytes] {
			highest = highest<<8 | int64(b)
		}
		return table, highest, true
	}
	return "", 0, false
}
