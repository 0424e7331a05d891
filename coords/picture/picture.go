package picture

import (
	"fmt"
	"math"
)

// Picture is a picture in grey, at the depth of its file.
//
//	Grey             row-major, row 0 at the top as shown; in the file's own units
//	                 (0 to 255, 0 to 65535, or a FITS file's physical values)
//	Depth            what a sample of the file is
//	Colour           the file has three channels that differ
//	Channel, Why     which of them Grey is, and the reason in words
//	SaturationLevel  grey level at and above which pixels are clipped; 0 unknown
//	Saturated        number of pixels at or above it
//	Blank            number of pixels without a value (FITS BLANK or NaN). They
//	                 hold 0, or the lowest value when that is negative
//
// Grey has no NaN and no infinity.
type Picture struct {
	Width, Height   int
	Grey            []float32
	Depth           Depth
	Colour          bool
	Channel         Channel
	Why             string
	SaturationLevel float32
	Saturated       int
	Blank           int
}

// Depth is the kind of number that a file's samples are.
type Depth struct {
	Bits  int
	Float bool
}

// String gives "16 bit" or "32-bit float".
func (d Depth) String() string {
	if d.Float {
		return fmt.Sprintf("%d-bit float", d.Bits)
	}
	return fmt.Sprintf("%d bit", d.Bits)
}

// At is the grey level of the pixel in column x, row y. It panics outside the
// picture, as a slice does.
func (p *Picture) At(x, y int) float32 { return p.Grey[y*p.Width+x] }

// Row is one row of grey levels, shared with the picture.
func (p *Picture) Row(y int) []float32 { return p.Grey[y*p.Width : (y+1)*p.Width] }

// New makes a picture out of grey levels that a program computed. It keeps grey;
// width times height must be its length.
func New(width, height int, grey []float32, depth Depth) (*Picture, error) {
	if width <= 0 || height <= 0 || width > len(grey) || height > len(grey) || width*height != len(grey) {
		return nil, fmt.Errorf("picture of %d x %d with %d grey levels", width, height, len(grey))
	}
	p := &Picture{Width: width, Height: height, Grey: grey, Depth: depth, Channel: Grey, Why: "made in grey"}
	p.finish(fullScale(depth))
	return p, nil
}

// fullScale is the largest value of an unsigned integer sample, NaN for floats.
func fullScale(d Depth) float64 {
	if d.Float || d.Bits <= 0 {
		return math.NaN()
	}
	return math.Ldexp(1, d.Bits) - 1
}

// finish fills blanks and finds the saturation level. ceiling is the largest
// value the file could hold, NaN when it has none.
func (p *Picture) finish(ceiling float64) {
	low, high := float32(math.Inf(1)), float32(math.Inf(-1))
	for _, v := range p.Grey {
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
		if v-v != 0 { // NaN or infinite
			p.Blank++
		}
	}
	if p.Blank > 0 {
		low, high = p.fillBlanks()
	}
	if low > high { // nothing but blanks
		return
	}
	p.SaturationLevel, p.Saturated = p.saturation(high, ceiling)
}

// fillBlanks writes 0, or the lowest value if that is negative, where there is
// no value, and gives the range of the others.
func (p *Picture) fillBlanks() (low, high float32) {
	low, high = float32(math.Inf(1)), float32(math.Inf(-1))
	for _, v := range p.Grey {
		if v-v == 0 {
			low, high = min(low, v), max(high, v)
		}
	}
	fill := min(0, low)
	for i, v := range p.Grey {
		if v-v != 0 {
			p.Grey[i] = fill
		}
	}
	return low, high
}

// saturation finds the level at which the picture is clipped, and how many
// pixels are. Cameras of 12 and 14 bit and stacking programs clip below the
// file's ceiling; they are known by a plateau, more pixels at the very top value
// than in the 2 % below it (common practice, no source).
func (p *Picture) saturation(high float32, ceiling float64) (level float32, count int) {
	if high <= 0 {
		return 0, 0
	}
	var top, below int
	near := high - 0.02*high
	for _, v := range p.Grey {
		if v > near {
			if v == high {
				top++
			} else {
				below++
			}
		}
	}
	const fewest = 30 // hot pixels are no plateau
	switch {
	case float64(high) >= ceiling:
		return high, top
	case top >= fewest && top > below && float64(top) < 0.95*float64(len(p.Grey)):
		return high, top
	case math.IsNaN(ceiling) || ceiling <= 0:
		return 0, 0
	}
	return float32(ceiling), 0
}
