package fits

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// scaling turns stored numbers into physical ones: zero + scale × stored
// (FITS standard 4.0, section 5.3). blank is the stored integer that means "no
// value".
type scaling struct {
	zero, scale float64
	blank       int64
	hasBlank    bool
}

func scalingOf(h Header, bitpix int64) scaling {
	s := scaling{scale: 1}
	if v, ok := h.Float("BSCALE"); ok && v != 0 { // BSCALE 0 would flatten the picture
		s.scale = v
	}
	if v, ok := h.Float("BZERO"); ok {
		s.zero = v
	}
	if v, ok := h.Int("BLANK"); ok && bitpix > 0 { // by standard it means nothing for floats
		low, high := storedRange(bitpix)
		s.blank, s.hasBlank = v, float64(v) >= low && float64(v) <= high
	}
	return s
}

// readImage reads the planes that begin at offset, after all checks.
func readImage(r io.ReaderAt, size, offset int64, h Header, s shape, limits Limits) (*Image, error) {
	pixels := s.width * s.height
	if limits.Pixels > 0 && pixels > limits.Pixels {
		return nil, fmt.Errorf("FITS: %d x %d pixels, more than the %d allowed: %w", s.width, s.height, limits.Pixels, ErrTooLarge)
	}
	if memory := 4 * pixels * s.planes; limits.Bytes > 0 && memory > limits.Bytes {
		return nil, fmt.Errorf("FITS: %d x %d x %d needs %d bytes, more than the %d allowed: %w", s.width, s.height, s.planes, memory, limits.Bytes, ErrTooLarge)
	}
	sample := max(s.bitpix, -s.bitpix) / 8
	if need := pixels * s.planes * sample; need > size-offset {
		return nil, fmt.Errorf("FITS: the header promises %d bytes of data, %d are there: %w", need, max(0, size-offset), ErrTruncated)
	}
	img := &Image{Header: h, Width: int(s.width), Height: int(s.height), Bitpix: int(s.bitpix)}
	scale := scalingOf(h, s.bitpix)
	img.Ceiling = ceiling(s.bitpix, scale)
	data := io.NewSectionReader(r, offset, pixels*s.planes*sample)
	for range s.planes {
		plane := make([]float32, pixels)
		if err := readPlane(data, plane, img.Width, img.Bitpix, scale); err != nil {
			return nil, fmt.Errorf("FITS: reading the pixels: %w", err)
		}
		img.Blank += markNonFinite(plane)
		img.Planes = append(img.Planes, plane)
	}
	return img, nil
}

// readPlane fills plane, whose row 0 is the top, from data, whose first row is
// the bottom.
func readPlane(data io.Reader, plane []float32, width, bitpix int, s scaling) error {
	rowLength := width * max(bitpix, -bitpix) / 8
	const chunk = 256 << 10
	rows := max(1, chunk/rowLength)
	buffer := make([]byte, rows*rowLength)
	for top := len(plane) / width; top > 0; {
		n := min(rows, top)
		if _, err := io.ReadFull(data, buffer[:n*rowLength]); err != nil {
			return err
		}
		for i := range n {
			top--
			convert(plane[top*width:(top+1)*width], buffer[i*rowLength:(i+1)*rowLength], bitpix, s)
		}
	}
	return nil
}

// convert turns one row of big-endian numbers into physical values.
func convert(row []float32, raw []byte, bitpix int, s scaling) {
	switch bitpix {
	case 8:
		raw = raw[:len(row)] // spares the bounds checks, here and below
		for i, b := range raw {
			row[i] = float32(s.zero + s.scale*float64(b))
		}
	case 16:
		raw = raw[:2*len(row)]
		for i := range row {
			row[i] = float32(s.zero + s.scale*float64(int16(binary.BigEndian.Uint16(raw[2*i:2*i+2]))))
		}
	case 32:
		for i := range row {
			row[i] = float32(s.zero + s.scale*float64(int32(binary.BigEndian.Uint32(raw[4*i:4*i+4]))))
		}
	case 64:
		for i := range row {
			row[i] = float32(s.zero + s.scale*float64(int64(binary.BigEndian.Uint64(raw[8*i:8*i+8]))))
		}
	case -32:
		for i := range row {
			row[i] = float32(s.zero + s.scale*float64(math.Float32frombits(binary.BigEndian.Uint32(raw[4*i:4*i+4]))))
		}
	case -64:
		for i := range row {
			row[i] = float32(s.zero + s.scale*math.Float64frombits(binary.BigEndian.Uint64(raw[8*i:8*i+8])))
		}
	}
	if s.hasBlank {
		s.blankOut(row, raw, bitpix/8)
	}
}

var notANumber = float32(math.NaN())

// blankOut marks the integers that stand for no value.
func (s scaling) blankOut(row []float32, raw []byte, length int) {
	var pattern [8]byte
	binary.BigEndian.PutUint64(pattern[:], uint64(s.blank))
	blank := pattern[8-length:]
	for i := range row {
		if bytes.Equal(raw[i*length:(i+1)*length], blank) {
			row[i] = notANumber
		}
	}
}

// markNonFinite turns infinities, also those that float32 made of large numbers,
// into NaN, and counts.
func markNonFinite(plane []float32) (count int) {
	for i, v := range plane {
		if v-v != 0 {
			plane[i] = notANumber
			count++
		}
	}
	return count
}

// storedRange is what an integer of the file can be.
func storedRange(bitpix int64) (low, high float64) {
	if bitpix == 8 { // the one unsigned kind
		return 0, 255
	}
	half := math.Ldexp(1, int(bitpix)-1)
	return -half, half - 1
}

// ceiling is the largest physical value of an integer file.
func ceiling(bitpix int64, s scaling) float64 {
	if bitpix < 0 {
		return math.NaN()
	}
	low, high := storedRange(bitpix)
	return s.zero + max(s.scale*low, s.scale*high)
}
