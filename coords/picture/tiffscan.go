package picture

import (
	"encoding/binary"
	"fmt"
	"io"
)

// Tags of TIFF 6.0 that decide whether a file is read, and how it lies.
const (
	tagWidth         = 256
	tagHeight        = 257
	tagBitsPerSample = 258
	tagCompression   = 259
	tagOrientation   = 274
	tagSamples       = 277
	tagPlanar        = 284
	tagSampleFormat  = 339
)

// checkTIFF looks into the first directory of a TIFF: it refuses in plain words
// what the decoder cannot do or would misread, holds the claimed size against the
// length of the file, and notes the orientation.
func (in input) checkTIFF(header *Header) error {
	tags, more, err := in.tiffTags()
	if err != nil {
		return in.explain("TIFF", err)
	}
	first := func(tag, absent uint32) uint32 {
		if v, ok := tags[uint16(tag)]; ok {
			return v
		}
		return absent
	}
	bits, samples := first(tagBitsPerSample, 1), first(tagSamples, 1)
	unsupported := func(format string, args ...any) error {
		return &UnsupportedError{What: "TIFF with " + fmt.Sprintf(format, args...), Advice: "save it as 16-bit TIFF, PNG or FITS"}
	}
	switch format := first(tagSampleFormat, 1); {
	case format == 3:
		return unsupported("%d-bit float samples", bits)
	case format == 2:
		return unsupported("signed integer samples")
	case bits > 16:
		return unsupported("%d-bit samples", bits)
	case first(tagPlanar, 1) == 2 && samples > 1:
		return unsupported("colours in separate planes")
	}
	// How many bytes one byte of the file can become at most; LZW's longest
	// string is 4096 bytes in a code of 12 bits.
	expands := map[uint32]float64{1: 1, 5: 4096 / 1.5, 8: deflateAtBest, 32946: deflateAtBest, 32773: 64}
	compression := first(tagCompression, 1)
	atBest, known := expands[compression]
	if !known {
		return unsupported("compression %d", compression)
	}
	width, height := first(tagWidth, 0), first(tagHeight, 0)
	need := float64(width) * float64(height) * float64(samples) * float64(bits) / 8
	if pixels := float64(width) * float64(height); pixels <= float64(in.opts.maxPixels()) && need > atBest*float64(in.size) {
		return fmt.Errorf("TIFF: %d x %d pixels can't be in a file of %d bytes: %w", width, height, in.size, io.ErrUnexpectedEOF)
	}
	header.Orientation = Orientation(first(tagOrientation, 1))
	if more {
		header.Warnings = append(header.Warnings, "the TIFF has more than one page; the first is read")
	}
	return nil
}

// tiffTags gives the first value of every byte, short or long tag of the first
// directory, and whether another directory follows.
func (in input) tiffTags() (tags map[uint16]uint32, more bool, err error) {
	var head [8]byte
	if _, err := in.ReadAt(head[:], 0); err != nil {
		return nil, false, err
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	at := int64(order.Uint32(head[4:]))
	var count [2]byte
	if _, err := in.ReadAt(count[:], at); err != nil {
		return nil, false, err
	}
	entries := make([]byte, 12*int(order.Uint16(count[:]))+4)
	n, err := in.ReadAt(entries, at+2)
	if n < len(entries)-4 {
		return nil, false, err
	}
	tags = make(map[uint16]uint32)
	for e := entries[:len(entries)-4]; len(e) >= 12; e = e[12:] {
		kind, values := order.Uint16(e[2:]), order.Uint32(e[4:])
		size := map[uint16]uint32{1: 1, 3: 2, 4: 4}[kind]
		if size == 0 || values == 0 {
			continue
		}
		raw := e[8:12]
		if uint64(size)*uint64(values) > 4 { // the values stand elsewhere
			var there [4]byte
			if _, err := in.ReadAt(there[:size], int64(order.Uint32(raw))); err != nil {
				return nil, false, err
			}
			raw = there[:]
		}
		switch kind {
		case 1:
			tags[order.Uint16(e)] = uint32(raw[0])
		case 3:
			tags[order.Uint16(e)] = uint32(order.Uint16(raw))
		case 4:
			tags[order.Uint16(e)] = order.Uint32(raw)
		}
	}
	return tags, n == len(entries) && order.Uint32(entries[len(entries)-4:]) != 0, nil
}
