package desk

import (
	"encoding/binary"
	"math"
	"slices"

	"limbwatch/coords"
	"limbwatch/coords/picture"
)

// level is a picture, or a fraction of it, in the 16 bits that the page takes.
type level struct {
	width, height int
	grey          []uint16
}

// firstSight is the level that is shown while the full one is on its way: a
// quarter in each direction.
const firstSight = 2

// depth brings a picture's grey levels to 16 bits without losing one of them:
// 16-bit files as they are, 8-bit ones spread, so that blending between pixels has
// room; what is deeper or real is scaled from its range.
//
//	level = (grey − Zero) · Scale
type depth struct {
	Zero, Scale float64
}

func depthOf(pic *picture.Picture) depth {
	if !pic.Depth.Float && pic.Depth.Bits <= 8 {
		return depth{Scale: 256}
	}
	low, high := rangeOf(pic.Grey)
	if !pic.Depth.Float && pic.Depth.Bits <= 16 && low >= 0 && high <= 65535 {
		return depth{Scale: 1}
	}
	if high <= low {
		return depth{Zero: low, Scale: 1}
	}
	return depth{Zero: low, Scale: 65535 / (high - low)}
}

func rangeOf(grey []float32) (low, high float64) {
	if len(grey) == 0 {
		return 0, 0
	}
	return float64(slices.Min(grey)), float64(slices.Max(grey))
}

// of gives the level of a grey value, rounded and bounded.
func (d depth) of(grey float32) uint16 {
	v := (float64(grey)-d.Zero)*d.Scale + 0.5
	switch {
	case v <= 0:
		return 0
	case v >= 65535:
		return 65535
	}
	return uint16(v)
}

func fullLevel(pic *picture.Picture, d depth) level {
	l := level{width: pic.Width, height: pic.Height, grey: make([]uint16, len(pic.Grey))}
	for i, v := range pic.Grey {
		l.grey[i] = d.of(v)
	}
	return l
}

// halved averages two by two pixels; an odd last row or column is left out, as
// the page does it.
func (l level) halved() level {
	w, h := l.width/2, l.height/2
	if w == 0 || h == 0 {
		return l
	}
	half := level{width: w, height: h, grey: make([]uint16, w*h)}
	for y := range h {
		upper, lower := l.grey[2*y*l.width:], l.grey[(2*y+1)*l.width:]
		row := half.grey[y*w : (y+1)*w]
		for x := range row {
			sum := uint32(upper[2*x]) + uint32(upper[2*x+1]) + uint32(lower[2*x]) + uint32(lower[2*x+1])
			row[x] = uint16((sum + 2) / 4)
		}
	}
	return half
}

// littleEndian are grey levels as they go to the page.
func littleEndian(grey []uint16) []byte {
	out := make([]byte, 2*len(grey))
	for i, v := range grey {
		binary.LittleEndian.PutUint16(out[2*i:], v)
	}
	return out
}

// light is which levels the page shows dark and bright to begin with.
//
//	Black, White  of the disc
//	Sky, Bright   the faint sky beyond the limb, and the brightest that stands there
type light struct {
	Black  float64 `json:"black"`
	White  float64 `json:"white"`
	Sky    float64 `json:"sky"`
	Bright float64 `json:"bright"`
}

// lightOf reads a level's histogram. Without a limb the whole picture counts as
// both disc and sky.
func lightOf(l level, limb *coords.Limb) light {
	var disc, beyond [65536]int32
	discs, beyonds := 0, 0
	step := max(1, int(math.Sqrt(float64(l.width*l.height)/400_000))) // some 400 000 samples suffice
	for y := 0; y < l.height; y += step {
		for x := 0; x < l.width; x += step {
			v := l.grey[y*l.width+x]
			if limb == nil {
				disc[v]++
				beyond[v]++
				discs, beyonds = discs+1, beyonds+1
				continue
			}
			u, w := limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
			switch r := math.Hypot(u, w); {
			case r < 0.99:
				disc[v]++
				discs++
			case r > 1.008 && r < 1.5:
				beyond[v]++
				beyonds++
			}
		}
	}
	out := light{White: 65535, Bright: 65535}
	if discs > 0 {
		out.White = quantile(&disc, discs, 0.9995) * 1.04
	}
	if beyonds > 0 {
		out.Sky = quantile(&beyond, beyonds, 0.5)
		out.Bright = quantile(&beyond, beyonds, 0.998)
		out.Black = min(quantile(&beyond, beyonds, 0.01), quantile(&disc, max(1, discs), 0.001))
	}
	if limb == nil {
		out.Sky = quantile(&beyond, beyonds, 0.02)
	}
	out.White = max(out.White, out.Black+16)
	out.Bright = max(out.Bright, out.Sky+max(16, 0.02*(out.White-out.Black)))
	return out
}

// quantile is the level below which a part of the counted pixels lie.
func quantile(counts *[65536]int32, total int, part float64) float64 {
	want := int(part * float64(total))
	for v, n := range counts {
		if want -= int(n); want < 0 {
			return float64(v)
		}
	}
	return 65535
}

// darkeningSteps is the number of gains of a flattened disc, at equal steps of r².
const darkeningSteps = 256

// gains says by what to multiply a pixel of the disc, at equal steps of r² from 0
// to 1, to take limb darkening out: the median level of the middle over that of the
// ring. It is a way to look, not a measurement.
func gains(l level, limb coords.Limb) []float64 {
	const rings = 64
	samples := make([][]uint16, rings)
	step := max(1, int(math.Sqrt(float64(l.width*l.height)/600_000)))
	for y := 0; y < l.height; y += step {
		for x := 0; x < l.width; x += step {
			u, w := limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
			if rr := u*u + w*w; rr < 1 {
				ring := int(rr * rings)
				samples[ring] = append(samples[ring], l.grey[y*l.width+x])
			}
		}
	}
	medians := make([]float64, rings)
	for i, s := range samples {
		if len(s) > 0 {
			slices.Sort(s)
			medians[i] = float64(s[len(s)/2])
		} else if i > 0 {
			medians[i] = medians[i-1]
		}
	}
	middle := (medians[0] + medians[1] + medians[2]) / 3
	out := make([]float64, darkeningSteps)
	for i := range out {
		at := float64(i)/(darkeningSteps-1)*rings - 0.5
		a := min(rings-1, max(0, int(math.Floor(at))))
		b := min(rings-1, a+1)
		f := min(1, max(0, at-float64(a)))
		ring := medians[a] + (medians[b]-medians[a])*f
		out[i] = 1
		if ring > 0 && middle > 0 {
			out[i] = min(8, max(0.25, middle/ring)) // bounded, so that a dark rim does not become noise
		}
	}
	return out
}
