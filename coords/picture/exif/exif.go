// Package exif reads the few EXIF tags that matter to a picture of the Sun: how
// it lies and when it was taken (EXIF 2.32, CIPA DC-008-2019).
//
// It is a reader of our own because the library at hand gives the decimals of the
// second as a number, so that .05 s and .5 s look the same.
package exif

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"iter"

	"limbwatch/coords/picture/ifd"
)

// Tags is what a file says. Empty text and zero mean that the tag is absent.
//
//	Orientation  1 to 8, as stored against as shown
//	Original     DateTimeOriginal, "2024:05:12 09:15:03": the camera's clock
//	SubSec       SubSecTimeOriginal: decimals of the second
//	Offset       OffsetTimeOriginal: the clock's zone, "+02:00"
//	ExposureS    ExposureTime, seconds
//
// Where a file has no DateTimeOriginal, the three times are those of
// DateTimeDigitized. DateTime alone is not used: editors rewrite it on saving.
type Tags struct {
	Orientation              int
	Original, SubSec, Offset string
	ExposureS                float64
}

// Tag numbers, EXIF 2.32 section 4.6.
const (
	tagOrientation     = 0x0112
	tagExifDirectory   = 0x8769
	tagExposureTime    = 0x829a
	tagOriginal        = 0x9003
	tagDigitized       = 0x9004
	tagOffsetOriginal  = 0x9011
	tagOffsetDigitized = 0x9012
	tagSubSecOriginal  = 0x9291
	tagSubSecDigitized = 0x9292
)

// Read reads the tags of a file in the named format, JPEG, PNG or TIFF, of size
// bytes. A file without EXIF gives zero Tags and no error. An error means damaged
// EXIF; the tags met before it are returned all the same.
func Read(r io.ReaderAt, size int64, format string) (Tags, error) {
	var block io.ReaderAt
	var err error
	switch format {
	case "JPEG":
		block = inJPEG(r, size)
	case "PNG":
		block, err = inPNG(r, size)
	case "TIFF":
		block = r
	default:
		return Tags{}, fmt.Errorf("EXIF of a %s file: want JPEG, PNG or TIFF", format)
	}
	if err != nil || block == nil {
		return Tags{}, err
	}
	tags, err := readTags(block)
	if err != nil {
		return tags, fmt.Errorf("EXIF: %w", err)
	}
	return tags, nil
}

func readTags(block io.ReaderAt) (Tags, error) {
	var t Tags
	file, err := ifd.Open(block)
	if err != nil {
		return t, err
	}
	main, err := file.First()
	if err != nil {
		return t, err
	}
	if v, ok := main.Uint(tagOrientation); ok && v >= 1 && v <= 8 {
		t.Orientation = int(v)
	}
	offset, ok := main.Uint(tagExifDirectory)
	if !ok {
		return t, nil
	}
	sub, err := file.At(int64(offset))
	if err != nil {
		return t, err
	}
	if v, ok := sub.Rational(tagExposureTime); ok && v > 0 {
		t.ExposureS = v
	}
	t.Original, _ = sub.Text(tagOriginal)
	t.SubSec, _ = sub.Text(tagSubSecOriginal)
	t.Offset, _ = sub.Text(tagOffsetOriginal)
	if t.Original == "" {
		t.Original, _ = sub.Text(tagDigitized)
		t.SubSec, _ = sub.Text(tagSubSecDigitized)
		t.Offset, _ = sub.Text(tagOffsetDigitized)
	}
	return t, nil
}

// inJPEG finds the EXIF block: segment APP1 that begins with "Exif" (EXIF 2.32,
// section 4.5.4). It lies before the scan; nil when there is none.
func inJPEG(r io.ReaderAt, size int64) io.ReaderAt {
	const app1 = 0xe1
	for marker, segment := range Segments(r, size) {
		var name [6]byte
		if n, _ := segment.ReadAt(name[:], 0); marker == app1 && n == len(name) && string(name[:]) == "Exif\x00\x00" {
			return io.NewSectionReader(segment, int64(len(name)), segment.Size()-int64(len(name)))
		}
	}
	return nil
}

// Segments gives the segments of a JPEG file that come before its first scan, by
// marker (ITU-T T.81, annex B). It stops at whatever is no segment.
func Segments(r io.ReaderAt, size int64) iter.Seq2[byte, *io.SectionReader] {
	const (
		startOfScan, endOfImage = 0xda, 0xd9
		mostSegments            = 2000
	)
	return func(yield func(byte, *io.SectionReader) bool) {
		at := int64(2) // behind the start of image
		for range mostSegments {
			var head [4]byte // marker and length
			if n, _ := r.ReadAt(head[:], at); n < len(head) || head[0] != 0xff || at >= size {
				return
			}
			if head[1] == 0xff { // a fill byte
				at++
				continue
			}
			length := int64(binary.BigEndian.Uint16(head[2:]))
			if head[1] == startOfScan || head[1] == endOfImage || length < 2 {
				return
			}
			if !yield(head[1], io.NewSectionReader(r, at+4, length-2)) {
				return
			}
			at += 2 + length
		}
	}
}

// inPNG finds the chunk eXIf (PNG specification, third edition, section 11.3.4.4);
// nil when there is none.
func inPNG(r io.ReaderAt, size int64) (io.ReaderAt, error) {
	const mostChunks = 200_000 // 8 kB each in a file of 1.6 GB
	at := int64(8)             // behind the signature
	for range mostChunks {
		var head [8]byte // length, type
		n, err := r.ReadAt(head[:], at)
		if n < len(head) {
			return nil, atEnd(err)
		}
		length := int64(binary.BigEndian.Uint32(head[:]))
		switch string(head[4:]) {
		case "eXIf":
			return io.NewSectionReader(r, at+8, length), nil
		case "IEND":
			return nil, nil
		}
		if at += 12 + length; at >= size {
			return nil, nil
		}
	}
	return nil, nil
}

// atEnd takes the end of the file for "no EXIF"; that it is cut short the decoder
// says.
func atEnd(err error) error {
	if err == nil || errors.Is(err, io.EOF) {
		return nil
	}
	return err
}
