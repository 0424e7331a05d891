package picture

import (
	"fmt"
	"io"

	"limbwatch/coords/picture/ifd"
)

// Tags of TIFF 6.0 that decide whether a file is read.
const (
	tagWidth         = 256
	tagHeight        = 257
	tagBitsPerSample = 258
	tagCompression   = 259
	tagSamples       = 277
	tagPlanar        = 284
	tagSampleFormat  = 339
)

// expands is how many bytes one byte of the file can become at most, by
// compression. LZW's longest string is 4096 bytes in a code of 12 bits.
var expands = map[uint32]float64{1: 1, 5: 4096 / 1.5, 8: deflateAtBest, 32946: deflateAtBest, 32773: 64}

// checkTIFF looks into the first directory of a TIFF: it refuses in plain words
// what the decoder cannot do or would misread, and holds the claimed size against
// the length of the file.
func (in input) checkTIFF(header *Header) error {
	file, err := ifd.Open(in)
	if err != nil {
		return in.explain("TIFF", err)
	}
	directory, err := file.First()
	if err != nil {
		return in.explain("TIFF", err)
	}
	first := func(tag uint16, absent uint32) uint32 {
		if v, ok := directory.Uint(tag); ok {
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
	compression := first(tagCompression, 1)
	atBest, known := expands[compression]
	if !known {
		return unsupported("compression %d", compression)
	}
	width, height := float64(first(tagWidth, 0)), float64(first(tagHeight, 0))
	need := width * height * float64(samples) * float64(bits) / 8
	if width*height <= float64(in.opts.maxPixels()) && need > atBest*float64(in.size) {
		return fmt.Errorf("TIFF: %.0f x %.0f pixels can't be in a file of %d bytes: %w", width, height, in.size, io.ErrUnexpectedEOF)
	}
	if directory.Next != 0 {
		header.Warnings = append(header.Warnings, "the TIFF has more than one page; the first is read")
	}
	return nil
}
