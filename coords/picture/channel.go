package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Channel says which part of a colour picture becomes grey. As an option, Auto
// chooses by what the channels hold; see choose. In a Picture it is the choice
// that was made, and Grey means that there was none to make.
type Channel int

// The channels.
const (
	Auto Channel = iota
	Grey
	Luminance // 0.299 R + 0.587 G + 0.114 B (ITU-R BT.601), as in a JPEG's Y
	Red
	Green
	Blue
)

var channelNames = [...]string{"auto", "grey", "luminance", "red", "green", "blue"}

// String gives the lower-case name.
func (c Channel) String() string {
	if c < 0 || int(c) >= len(channelNames) {
		return fmt.Sprintf("Channel(%d)", int(c))
	}
	return channelNames[c]
}

// ParseChannel is the inverse of Channel.String for the channels that can be
// asked for: auto, luminance, red, green, blue.
func ParseChannel(name string) (Channel, error) {
	i := slices.Index(channelNames[:], name)
	if i < 0 || Channel(i) == Grey {
		return Auto, fmt.Errorf("channel %q: want auto, luminance, red, green or blue", name)
	}
	return Channel(i), nil
}

// weights are the parts of red, green and blue in a channel.
func (c Channel) weights() [3]float32 {
	switch c {
	case Red:
		return [3]float32{1, 0, 0}
	case Green:
		return [3]float32{0, 1, 0}
	case Blue:
		return [3]float32{0, 0, 1}
	}
	return [3]float32{0.299, 0.587, 0.114}
}

// levels is what a sample of the pixels says about the three channels.
type levels struct {
	rangeOf   [3]float64 // 99th less 2nd percentile
	saturated [3]float64 // share of the lit pixels at the ceiling, 0 to 1
	unequal   float64    // share of the lit pixels whose channels differ
	full      float64    // the file's full scale, or the largest sample
}

// Thresholds of choose (common practice, no source).
const (
	equalWithin     = 0.02 // of full scale: JPEG's chroma rounding stays below
	mayDiffer       = 0.03 // share of lit pixels, for a coloured caption on a grey picture
	dominates       = 1.5  // range over that of the next channel
	slightlyClipped = 0.01 // share of lit pixels
	blownOut        = 0.5  // share of lit pixels
	usefulRange     = 0.15 // of full scale
)

// choose picks the channel that carries the signal, and says why.
//
// Equal channels are a grey picture saved in colour. A channel that dominates
// (red behind an H-alpha filter, or in red false colour) is taken alone: the
// others add noise and, in false colour, bend the scale. Where it is clipped here
// and there, luminance goes on rising with the light, which the clipped channel
// doesn't; where it is blown out over most of the lit pixels, the best of the
// others has the disc.
func (l levels) choose() (Channel, string) {
	if l.unequal <= mayDiffer {
		return Luminance, "the three channels are equal: a grey picture saved in colour"
	}
	order := []int{0, 1, 2}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(l.rangeOf[b], l.rangeOf[a]) })
	best, next := order[0], order[1]
	name := func(i int) string { return (Red + Channel(i)).String() }
	clipped := l.saturated[best]
	switch {
	case clipped >= blownOut:
		for _, i := range order[1:] {
			if l.saturated[i] < slightlyClipped && l.rangeOf[i] >= usefulRange*l.full {
				return Red + Channel(i), fmt.Sprintf("%s is blown out (%.0f %% of the lit pixels), %s is not", name(best), 100*clipped, name(i))
			}
		}
	case l.rangeOf[best] < dominates*l.rangeOf[next]:
		return Luminance, "no channel alone carries the signal"
	case clipped < slightlyClipped:
		return Red + Channel(best), fmt.Sprintf("%s carries the signal and is not saturated", name(best))
	}
	if l.rangeOf[next] < usefulRange*l.full {
		return Red + Channel(best), fmt.Sprintf("%s is saturated in %.0f %% of the lit pixels, but the others hold too little", name(best), 100*clipped)
	}
	return Luminance, fmt.Sprintf("%s is saturated in %.0f %% of the lit pixels", name(best), 100*clipped)
}

// sampleLevels looks at some 40 000 pixels on a grid over the whole picture.
func sampleLevels(src raster, ceiling float64) levels {
	const wanted = 200 // rows, and columns
	width, height := src.size()
	stepX, stepY := max(1, width/wanted), max(1, height/wanted)
	rows := newRows(width)
	var samples [3][]float64
	for y := stepY / 2; y < height; y += stepY {
		src.row(y, rows)
		for x := stepX / 2; x < width; x += stepX {
			r, g, b := float64(rows[0][x]), float64(rows[1][x]), float64(rows[2][x])
			if sum := r + g + b; sum-sum != 0 { // a blank
				continue
			}
			for i, v := range [3]float64{r, g, b} {
				samples[i] = append(samples[i], v)
			}
		}
	}
	return levelsOf(samples, ceiling)
}

func levelsOf(samples [3][]float64, ceiling float64) levels {
	var l levels
	if len(samples[0]) == 0 {
		return l
	}
	var low [3]float64
	for i, s := range samples {
		sorted := slices.Clone(s)
		slices.Sort(sorted)
		n := len(sorted)
		low[i] = sorted[n*2/100]
		l.rangeOf[i] = sorted[(n-1)*99/100] - low[i]
		l.full = max(l.full, sorted[n-1])
	}
	if ceiling > 0 { // a float file has none; its largest sample stands in
		l.full = ceiling
	}
	widest := slices.Max(l.rangeOf[:])
	lit := 0
	for k := range samples[0] {
		r, g, b := samples[0][k], samples[1][k], samples[2][k]
		if max(r-low[0], g-low[1], b-low[2]) < 0.25*widest {
			continue
		}
		lit++
		for i, v := range [3]float64{r, g, b} {
			if v >= 0.995*l.full {
				l.saturated[i]++
			}
		}
		if max(math.Abs(r-g), math.Abs(g-b), math.Abs(r-b)) > equalWithin*l.full {
			l.unequal++
		}
	}
	if lit > 0 {
		for i := range l.saturated {
			l.saturated[i] /= float64(lit)
		}
		l.unequal /= float64(lit)
	}
	return l
}

// newRows makes buffers for one row of three channels.
func newRows(width int) *[3][]float32 {
	return &[3][]float32{make([]float32, width), make([]float32, width), make([]float32, width)}
}
