// Package ifd reads the directories of a TIFF structure (TIFF 6.0, section 2), in
// which TIFF files keep what they say about their pixels and cameras their EXIF.
//
// It reads numbers and short texts, one directory at a time, and nothing that the
// structure claims is allocated: a value is read when it is asked for.
package ifd

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
)

// ErrMalformed says that the structure contradicts the standard.
var ErrMalformed = errors.New("malformed TIFF structure")

// File is a TIFF structure.
type File struct {
	r     io.ReaderAt
	order binary.ByteOrder
	first int64
}

// Open reads the eight bytes in front.
func Open(r io.ReaderAt) (File, error) {
	var head [8]byte
	if _, err := r.ReadAt(head[:], 0); err != nil {
		return File{}, cutShort(err)
	}
	f := File{r: r}
	switch string(head[:4]) {
	case "II*\x00":
		f.order = binary.LittleEndian
	case "MM\x00*":
		f.order = binary.BigEndian
	default:
		return File{}, fmt.Errorf("it begins with % x: %w", head[:4], ErrMalformed)
	}
	f.first = int64(f.order.Uint32(head[4:]))
	return f, nil
}

// First is the first directory.
func (f File) First() (Directory, error) { return f.At(f.first) }

// At is the directory at an offset, of which another one told.
func (f File) At(offset int64) (Directory, error) {
	var count [2]byte
	if _, err := f.r.ReadAt(count[:], offset); err != nil {
		return Directory{}, cutShort(err)
	}
	const entryLength = 12
	raw := make([]byte, entryLength*int(f.order.Uint16(count[:]))) // 786 kB at most
	if _, err := f.r.ReadAt(raw, offset+2); err != nil && !(err == io.EOF && len(raw) == 0) {
		return Directory{}, cutShort(err)
	}
	d := Directory{file: f, fields: make(map[uint16]field)}
	for e := raw; len(e) >= entryLength; e = e[entryLength:] {
		tag := f.order.Uint16(e)
		if _, seen := d.fields[tag]; seen {
			continue
		}
		d.fields[tag] = field{kind: f.order.Uint16(e[2:]), count: f.order.Uint32(e[4:]), raw: [4]byte(e[8:12])}
	}
	var next [4]byte
	if _, err := f.r.ReadAt(next[:], offset+2+int64(len(raw))); err == nil {
		d.Next = int64(f.order.Uint32(next[:]))
	}
	return d, nil
}

// Directory is a set of fields, by tag. Next is the offset of the directory that
// follows, 0 for none.
type Directory struct {
	Next   int64
	file   File
	fields map[uint16]field
}

// field is one entry; raw is its value, if that has four bytes or less, else the
// value's offset.
type field struct {
	kind  uint16
	count uint32
	raw   [4]byte
}

// Types of values, TIFF 6.0 page 15, and their lengths.
const (
	typeByte, typeASCII, typeShort, typeLong, typeRational = 1, 2, 3, 4, 5
)

var lengths = map[uint16]int64{typeByte: 1, typeASCII: 1, typeShort: 2, typeLong: 4, typeRational: 8}

// first reads up to most bytes of a field's value.
func (d Directory) first(tag uint16, most int64, kinds ...uint16) (raw []byte, kind uint16, ok bool) {
	f, ok := d.fields[tag]
	if !ok || f.count == 0 {
		return nil, 0, false
	}
	for _, k := range kinds {
		if f.kind != k {
			continue
		}
		whole := lengths[k] * int64(f.count)
		n := min(whole, most)
		if whole <= 4 {
			return f.raw[:n], k, true
		}
		raw = make([]byte, n)
		if _, err := d.file.r.ReadAt(raw, int64(d.file.order.Uint32(f.raw[:]))); err != nil && err != io.EOF {
			return nil, 0, false
		}
		return raw, k, true
	}
	return nil, 0, false
}

// Uint is the first number of a field of bytes, shorts or longs; false when the
// field is absent or of another type.
func (d Directory) Uint(tag uint16) (uint32, bool) {
	raw, kind, ok := d.first(tag, 4, typeByte, typeShort, typeLong)
	switch {
	case !ok:
		return 0, false
	case kind == typeByte && len(raw) >= 1:
		return uint32(raw[0]), true
	case kind == typeShort && len(raw) >= 2:
		return uint32(d.file.order.Uint16(raw)), true
	case kind == typeLong && len(raw) >= 4:
		return d.file.order.Uint32(raw), true
	}
	return 0, false
}

// Text is a field of text, up to its first NUL and 200 bytes, without blanks
// around it.
func (d Directory) Text(tag uint16) (string, bool) {
	raw, _, ok := d.first(tag, 200, typeASCII)
	if !ok {
		return "", false
	}
	text, _, _ := strings.Cut(string(raw), "\x00")
	return strings.TrimSpace(text), true
}

// Rational is the first quotient of a field; false when it is absent or not
// finite.
func (d Directory) Rational(tag uint16) (float64, bool) {
	raw, _, ok := d.first(tag, 8, typeRational)
	if !ok || len(raw) < 8 {
		return 0, false
	}
	v := float64(d.file.order.Uint32(raw)) / float64(d.file.order.Uint32(raw[4:]))
	return v, !math.IsNaN(v) && !math.IsInf(v, 0)
}

// cutShort calls the end of the input by its name.
func cutShort(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
