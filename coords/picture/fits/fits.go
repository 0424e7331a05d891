// Package fits reads the first image of a FITS file (FITS standard 4.0, Pence et
// al. 2010, A&A 524, A42, and fits.gsfc.nasa.gov) into float32 and keeps the
// cards of its header.
//
// It reads 8, 16, 32 and 64-bit integers and 32 and 64-bit floats, with BSCALE,
// BZERO and BLANK, as one plane or three (red, green, blue, in this order). It
// does not read tile-compressed images, data cubes of other depths, random
// groups or tables, and says which of these it met.
//
// A header is believed only after it has been checked against the limits and the
// length of the file, so that a lying one costs no memory.
package fits

import (
	"errors"
	"fmt"
	"io"
	"math"
)

// Image is the first image of a file, turned so that FITS row 1 is at the bottom.
//
//	Planes   one slice or three (red, green, blue), row-major, top row first,
//	         physical values (BSCALE and BZERO applied); NaN where blank
//	Bitpix   8, 16, 32, 64, −32 or −64, as in the header
//	Ceiling  largest value that an integer file can hold; NaN for floats
//	Blank    number of blank (NaN, infinite or BLANK) values over all planes
//
// A 32-bit integer beyond 2²⁴ loses its last bits in float32.
type Image struct {
	Header        Header
	Width, Height int
	Planes        [][]float32
	Bitpix        int
	Ceiling       float64
	Blank         int
}

// Limits bounds what Read is ready to take. Zero means no limit.
type Limits struct {
	Pixels int64 // width times height
	Bytes  int64 // memory for the planes
}

// Errors that a caller can tell apart; each is wrapped with what was met.
var (
	// ErrNotFITS says that the file does not begin as a FITS file does.
	ErrNotFITS = errors.New("not a FITS file")
	// ErrTruncated says that the file ends before its header says it does.
	ErrTruncated = errors.New("the file is cut short")
	// ErrTooLarge says that the image exceeds the limits.
	ErrTooLarge = errors.New("image too large")
	// ErrUnsupported says that the file is sound but of a kind that is not read.
	ErrUnsupported = errors.New("not supported")
	// ErrMalformed says that the header contradicts the standard.
	ErrMalformed = errors.New("malformed header")
)

const (
	blockLength = 2880 // FITS standard 4.0, section 3.1
	// Generous bounds; real headers have a few hundred cards, real files a few HDUs.
	maxHeaderBlocks = 1000
	maxHDUs         = 200
)

// Read finds the first HDU with an image and reads it. r is of the given size in
// bytes.
//
// Errors wrap one of the package's errors; no image at all is ErrUnsupported.
func Read(r io.ReaderAt, size int64, limits Limits) (*Image, error) {
	var offset int64
	var met string // what stood in place of an image
	for hdu := range maxHDUs {
		if hdu > 0 && offset >= size {
			break
		}
		header, length, err := readHeader(r, size, offset, hdu == 0)
		if err != nil {
			if hdu > 0 && errors.Is(err, ErrMalformed) {
				break // special records or junk after the last HDU are allowed to stand there
			}
			return nil, err
		}
		shape, err := shapeOf(header)
		if err != nil {
			return nil, err
		}
		if shape.image {
			return readImage(r, size, offset+length, header, shape, limits)
		}
		if shape.why != "" {
			met = ", but " + shape.why
		}
		bytes := (shape.bytes + blockLength - 1) / blockLength * blockLength
		if bytes > size-offset-length {
			break
		}
		offset += length + bytes
	}
	return nil, fmt.Errorf("FITS: no image found%s: %w", met, ErrUnsupported)
}

// readHeader reads the cards from offset on; length counts whole blocks.
func readHeader(r io.ReaderAt, size, offset int64, primary bool) (h Header, length int64, err error) {
	var text []byte
	block := make([]byte, blockLength)
	for range maxHeaderBlocks {
		n, err := r.ReadAt(block, offset+length)
		if err != nil && err != io.EOF {
			return Header{}, 0, fmt.Errorf("FITS: reading the header: %w", err)
		}
		if length == 0 && !beginsHeader(block[:n], primary) {
			if primary {
				return Header{}, 0, fmt.Errorf("FITS: no SIMPLE card: %w", ErrNotFITS)
			}
			return Header{}, 0, fmt.Errorf("FITS: no XTENSION card at byte %d: %w", offset, ErrMalformed)
		}
		text = append(text, block[:n]...)
		length += blockLength
		if hasEnd(block[:n]) {
			return ParseCards(text), length, nil
		}
		if n < blockLength {
			return Header{}, 0, fmt.Errorf("FITS: header without END in %d bytes: %w", size, ErrTruncated)
		}
	}
	return Header{}, 0, fmt.Errorf("FITS: header without END in %d cards: %w", maxHeaderBlocks*blockLength/cardLength, ErrMalformed)
}

func beginsHeader(block []byte, primary bool) bool {
	if len(block) < cardLength {
		return false
	}
	if primary {
		return string(block[:9]) == "SIMPLE  ="
	}
	return string(block[:9]) == "XTENSION="
}

func hasEnd(block []byte) bool {
	for ; len(block) >= 8; block = block[min(cardLength, len(block)):] {
		if string(block[:8]) == "END     " {
			return true
		}
	}
	return false
}

// shape is what a header says about the data that follow it.
type shape struct {
	image                 bool
	width, height, planes int64
	bitpix                int64
	bytes                 int64  // of the data, without padding
	why                   string // why it is no image, when that is worth a word
}

// maxAxis bounds one axis: with it a product of three axes and 8 bytes cannot overflow.
const maxAxis = 1 << 20

// shapeOf reads NAXISn and BITPIX.
func shapeOf(h Header) (shape, error) {
	var s shape
	bitpix, ok := h.Int("BITPIX")
	naxis, okAxes := h.Int("NAXIS")
	if !ok || !okAxes || naxis < 0 || naxis > 999 {
		return s, fmt.Errorf("FITS: BITPIX or NAXIS is missing or no number: %w", ErrMalformed)
	}
	switch bitpix {
	case 8, 16, 32, 64, -32, -64:
	default:
		return s, fmt.Errorf("FITS: BITPIX %d, want 8, 16, 32, 64, -32 or -64: %w", bitpix, ErrMalformed)
	}
	s.bitpix = bitpix
	axes := make([]int64, naxis)
	elements := 1.0
	for i := range axes {
		key := fmt.Sprintf("NAXIS%d", i+1)
		if axes[i], ok = h.Int(key); !ok || axes[i] < 0 {
			return s, fmt.Errorf("FITS: %s is missing or no count: %w", key, ErrMalformed)
		}
		elements *= float64(axes[i])
	}
	if naxis == 0 {
		return s, nil
	}
	// PCOUNT and GCOUNT matter to extensions only: FITS standard 4.0, equation 2.
	pcount, gcount := 0.0, 1.0
	if v, ok := h.Float("PCOUNT"); ok {
		pcount = max(0, v)
	}
	if v, ok := h.Float("GCOUNT"); ok {
		gcount = max(1, v)
	}
	bytes := math.Abs(float64(bitpix)) / 8 * gcount * (pcount + elements)
	if bytes > 1<<60 {
		return s, fmt.Errorf("FITS: the axes multiply to %.3g bytes: %w", bytes, ErrTooLarge)
	}
	s.bytes = int64(bytes)
	if extension, ok := h.Text("XTENSION"); ok && extension != "IMAGE" {
		// A primary header may carry a stray XTENSION: SIMPLE tells it.
		if _, primary := h.Bool("SIMPLE"); !primary {
			if compressed, _ := h.Bool("ZIMAGE"); compressed {
				s.why = "the picture is tile-compressed; save it uncompressed"
			}
			return s, nil
		}
	}
	return imageShape(s, axes)
}

// imageShape decides whether the axes make one plane or three.
func imageShape(s shape, axes []int64) (shape, error) {
	for len(axes) > 2 && axes[len(axes)-1] == 1 {
		axes = axes[:len(axes)-1]
	}
	for _, n := range axes {
		if n == 0 {
			return s, nil // an empty primary, as before extensions
		}
		if n > maxAxis {
			return s, fmt.Errorf("FITS: an axis of %d pixels: %w", n, ErrTooLarge)
		}
	}
	switch {
	case len(axes) < 2:
		s.why = "one of its arrays has a single axis"
		return s, nil
	case len(axes) == 3 && axes[2] == 3:
		s.planes = 3
	case len(axes) == 2:
		s.planes = 1
	default:
		return s, fmt.Errorf("FITS: a cube of axes %v, want one plane or three: %w", axes, ErrUnsupported)
	}
	s.image, s.width, s.height = true, axes[0], axes[1]
	return s, nil
}
