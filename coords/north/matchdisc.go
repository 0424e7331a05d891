package north

import (
	"math"
	"slices"

	"limbwatch/coords"
	"limbwatch/coords/picture"
)

// A pattern is kept on a square of cells over the disc, so that pictures of all
// sizes and of flattened discs are compared alike: cell 0.005 radii, 0.3° at the
// disc's middle.
const (
	cellsPerRadius = 200
	patternSize    = 2*cellsPerRadius + 1
	shadeCells     = 20.0 // sigma of what counts as a shade, 6° at the middle
	fineCells      = 2.0  // sigma of the blur against noise and what lives for hours
	patternEdge    = 0.97 // radii; the limb itself is no pattern
)

// pattern is the disc with all shades taken out: deviations of brightness from
// the surroundings, relative to them.
type pattern struct {
	value []float32 // row-major, x right, y down, from −1 to 1 radii
	known []float32 // 1 where there is a value, 0 elsewhere
}

// flatten samples a picture over its disc and takes out darkening to the limb
// and all that is larger than some 12°. A negative is turned into a positive.
func flatten(pic *picture.Picture, limb coords.Limb) *pattern {
	p := &pattern{value: make([]float32, patternSize*patternSize), known: make([]float32, patternSize*patternSize)}
	p.sample(pic, limb)
	if negative(pic, limb) {
		p.turnOver(slices.Max(pic.Grey))
	}
	p.takeOutDarkening()
	shade := p.blurred(shadeCells)
	for i, s := range shade {
		if p.known[i] > 0 {
			p.value[i] = p.value[i]/max(s, 0.05) - 1
		}
	}
	p.value = p.blurred(fineCells)
	p.clip()
	return p
}

// sample averages the picture over each cell of the disc.
func (p *pattern) sample(pic *picture.Picture, limb coords.Limb) {
	sub := max(1, min(8, int(math.Round(limb.RadiusPx/cellsPerRadius))))
	step := 1 / (float64(sub) * cellsPerRadius)
	for iy := range patternSize {
		for ix := range patternSize {
			u, v := unitOf(ix), unitOf(iy)
			if math.Hypot(u, v) > patternEdge {
				continue
			}
			sum, inside := float32(0), true
			for sy := 0; sy < sub && inside; sy++ {
				for sx := range sub {
					dx, dy := float64(sx)-float64(sub-1)/2, float64(sy)-float64(sub-1)/2
					g, ok := bilinear(pic, limb.At(u+dx*step, v+dy*step))
					if !ok {
						inside = false
						break
					}
					sum += g
				}
			}
			if inside {
				i := iy*patternSize + ix
				p.value[i], p.known[i] = sum/float32(sub*sub), 1
			}
		}
	}
}

// negative says whether the sky beside the disc is brighter than the disc near its edge.
func negative(pic *picture.Picture, limb coords.Limb) bool {
	level := func(radii float64) (float32, bool) {
		const directions = 180
		var seen []float32
		for i := range directions {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / directions)
			if g, ok := bilinear(pic, limb.At(radii*cos, radii*sin)); ok {
				seen = append(seen, g)
			}
		}
		if len(seen) == 0 {
			return 0, false
		}
		slices.Sort(seen)
		return seen[len(seen)/2], true
	}
	disc, _ := level(0.9)
	sky, seen := level(1.06)
	return seen && sky > disc
}

// turnOver makes a negative, whose sky is as bright as white, a positive.
func (p *pattern) turnOver(white float32) {
	for i := range p.value {
		if p.known[i] > 0 {
			p.value[i] = white - p.value[i]
		}
	}
}

// unitOf is the coordinate, in radii, of a column or row of cells.
func unitOf(i int) float64 { return float64(i-cellsPerRadius) / cellsPerRadius }

// bilinear is the grey level at a point of a picture; false outside.
func bilinear(pic *picture.Picture, at coords.Pixel) (float32, bool) {
	x0, y0 := math.Floor(at.X), math.Floor(at.Y)
	x, y := int(x0), int(y0)
	if x < 0 || y < 0 || x+1 >= pic.Width || y+1 >= pic.Height {
		return 0, false
	}
	fx, fy := float32(at.X-x0), float32(at.Y-y0)
	top, low := pic.Row(y), pic.Row(y+1)
	a := top[x] + fx*(top[x+1]-top[x])
	b := low[x] + fx*(low[x+1]-low[x])
	return a + fy*(b-a), true
}

// takeOutDarkening divides by the median brightness at each distance from the
// centre.
func (p *pattern) takeOutDarkening() {
	const rings = 48
	levels := make([][]float32, rings+1)
	ringAt := func(i int) float64 {
		return math.Hypot(unitOf(i%patternSize), unitOf(i/patternSize)) * rings
	}
	for i, v := range p.value {
		if p.known[i] > 0 {
			k := int(ringAt(i) + 0.5)
			levels[k] = append(levels[k], v)
		}
	}
	var median [rings + 2]float32
	for k, l := range levels {
		if len(l) == 0 { // beyond the edge, or outside the picture
			median[k] = median[max(k-1, 0)]
			continue
		}
		slices.Sort(l)
		median[k] = l[len(l)/2]
	}
	for i := range p.value {
		if p.known[i] == 0 {
			continue
		}
		at := ringAt(i)
		k := int(at)
		f := float32(at - float64(k))
		level := median[k] + f*(median[k+1]-median[k])
		if level <= 0 {
			p.value[i], p.known[i] = 0, 0
			continue
		}
		p.value[i] /= level
	}
}

// blurred is the pattern under a Gaussian of sigma cells (three box means, which
// come close to it), unknown cells left out.
func (p *pattern) blurred(sigma float64) []float32 {
	value, weight := make([]float32, len(p.value)), slices.Clone(p.known)
	for i, v := range p.value {
		value[i] = v * p.known[i]
	}
	half := max(1, int(math.Round((math.Sqrt(4*sigma*sigma+1)-1)/2)))
	for range 3 {
		boxMean(value, half)
		boxMean(weight, half)
	}
	for i := range value {
		if p.known[i] > 0 && weight[i] > 1e-6 {
			value[i] /= weight[i]
		} else {
			value[i] = 0
		}
	}
	return value
}

// boxMean replaces each cell by the mean over a square of 2 half + 1 cells;
// outside the square there is nothing, 0.
func boxMean(cells []float32, half int) {
	line, out := make([]float32, patternSize), make([]float32, patternSize)
	for _, stride := range [2]int{1, patternSize} {
		across := patternSize
		if stride == patternSize {
			across = 1
		}
		for k := range patternSize {
			start := k * across
			for i := range line {
				line[i] = cells[start+i*stride]
			}
			slideMean(out, line, half)
			for i, v := range out {
				cells[start+i*stride] = v
			}
		}
	}
}

func slideMean(out, line []float32, half int) {
	sum := 0.0
	for i := range min(half, len(line)) {
		sum += float64(line[i])
	}
	width := float64(2*half + 1)
	for i := range out {
		if k := i + half; k < len(line) {
			sum += float64(line[k])
		}
		if k := i - half - 1; k >= 0 {
			sum -= float64(line[k])
		}
		out[i] = float32(sum / width)
	}
}

// clip bounds what few cells can say: the darkest spot counts as much as a
// thousandth of the disc does at its strongest.
func (p *pattern) clip() {
	var sizes []float32
	for i, v := range p.value {
		if p.known[i] > 0 {
			sizes = append(sizes, max(v, -v))
		}
	}
	if len(sizes) == 0 {
		return
	}
	slices.Sort(sizes)
	bound := sizes[len(sizes)*998/1000]
	for i, v := range p.value {
		p.value[i] = max(-bound, min(bound, v))
	}
}

// at is the pattern at a point (radii), and whether it is known there.
func (p *pattern) at(u, v float64) (float64, bool) {
	x, y := u*cellsPerRadius+cellsPerRadius, v*cellsPerRadius+cellsPerRadius
	x0, y0 := math.Floor(x), math.Floor(y)
	ix, iy := int(x0), int(y0)
	if ix < 0 || iy < 0 || ix+1 >= patternSize || iy+1 >= patternSize {
		return 0, false
	}
	i := iy*patternSize + ix
	if p.known[i] == 0 || p.known[i+1] == 0 || p.known[i+patternSize] == 0 || p.known[i+patternSize+1] == 0 {
		return 0, false
	}
	fx, fy := x-x0, y-y0
	a := float64(p.value[i])*(1-fx) + float64(p.value[i+1])*fx
	b := float64(p.value[i+patternSize])*(1-fx) + float64(p.value[i+patternSize+1])*fx
	return a*(1-fy) + b*fy, true
}

// nearest is the pattern's value in the cell of a point (radii), and whether it is known.
func (p *pattern) nearest(u, v float64) (float64, bool) {
	ix, iy := int(u*cellsPerRadius+cellsPerRadius+0.5), int(v*cellsPerRadius+cellsPerRadius+0.5)
	if ix < 0 || iy < 0 || ix >= patternSize || iy >= patternSize {
		return 0, false
	}
	i := iy*patternSize + ix
	return float64(p.value[i]), p.known[i] != 0
}
