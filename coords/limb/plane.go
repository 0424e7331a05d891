package limb

import "math"

// plane is a grey picture as the search sees it. A sample that is not a number
// (blanked sky in FITS files) counts as floor, the darkest finite level.
// white, when it is not 0, is the level at which the picture is clipped.
type plane struct {
	w, h         int
	v            []float32
	floor, white float32
}

// ceiling is the level at which the brighter side of a limb is burnt out, +Inf
// when there is none: white, or black in a negative.
func (p *plane) ceiling(sign float64) float64 {
	switch {
	case sign < 0 && p.floor == 0:
		return 0
	case sign < 0:
		return math.Inf(1)
	case p.white != 0:
		return float64(p.white)
	}
	return math.Inf(1)
}

// inside says whether bilinear sampling is possible at (x, y) with a margin of
// whole pixels kept to the frame's edge.
func (p *plane) inside(x, y, margin float64) bool {
	return x >= margin && y >= margin && x <= float64(p.w-1)-margin && y <= float64(p.h-1)-margin
}

// at samples bilinearly; (x, y) must be inside with margin 0.
func (p *plane) at(x, y float64) float32 {
	i, j := int(x), int(y)
	if i >= p.w-1 {
		i = p.w - 2
	}
	if j >= p.h-1 {
		j = p.h - 2
	}
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	k := j*p.w + i
	top := p.v[k] + fx*(p.v[k+1]-p.v[k])
	bottom := p.v[k+p.w] + fx*(p.v[k+p.w+1]-p.v[k+p.w])
	v := top + fy*(bottom-top)
	if v != v {
		return p.floor
	}
	return v
}

// shrink takes means over blocks of f by f pixels; a block's centre lies at
// f·i + (f−1)/2 of the large picture. Incomplete blocks at the right and lower
// edge are left out. A block without any finite sample takes the darkest level.
func (p *plane) shrink(f int) *plane {
	s := &plane{w: p.w / f, h: p.h / f}
	s.v = make([]float32, s.w*s.h)
	scale := 1 / float32(f*f)
	blank := false
	for j := 0; j < s.h; j++ {
		row := s.v[j*s.w : (j+1)*s.w]
		for y := j * f; y < (j+1)*f; y++ {
			src := p.v[y*p.w : y*p.w+s.w*f]
			for i := range row {
				block := src[i*f : i*f+f]
				// Two sums, since one waits for itself at every addition.
				var even, odd float32
				k := 0
				for ; k+1 < len(block); k += 2 {
					even += block[k]
					odd += block[k+1]
				}
				if k < len(block) {
					even += block[k]
				}
				row[i] += even + odd
			}
		}
		for i := range row {
			row[i] *= scale
			if !finite(row[i]) {
				row[i] = p.finiteMean(i*f, j*f, f)
				blank = true
			}
		}
	}
	s.fillFloor(blank)
	p.floor = s.floor
	return s
}

// finiteMean is the mean of the finite samples of a block, NaN without any.
func (p *plane) finiteMean(x0, y0, f int) float32 {
	var sum float32
	n := 0
	for y := y0; y < y0+f; y++ {
		for _, v := range p.v[y*p.w+x0 : y*p.w+x0+f] {
			if finite(v) {
				sum += v
				n++
			}
		}
	}
	if n == 0 {
		return float32(math.NaN())
	}
	return sum / float32(n)
}

// fillFloor finds the darkest finite level and, if need be, fills blanks with it.
func (p *plane) fillFloor(blank bool) {
	lowest := float32(math.Inf(1))
	for _, v := range p.v {
		if v < lowest {
			lowest = v
		}
	}
	if math.IsInf(float64(lowest), 0) {
		lowest = 0
	}
	p.floor = lowest
	if !blank {
		return
	}
	for i, v := range p.v {
		if !finite(v) {
			p.v[i] = lowest
		}
	}
}

// smooth applies the binomial kernel 1 4 6 4 1 in both directions (a standard
// deviation of one pixel); the frame's edge is continued outward.
func (p *plane) smooth() *plane {
	s := &plane{w: p.w, h: p.h, v: make([]float32, len(p.v)), floor: p.floor}
	tmp := make([]float32, len(p.v))
	for y := 0; y < p.h; y++ {
		row, out := p.v[y*p.w:(y+1)*p.w], tmp[y*p.w:(y+1)*p.w]
		for x := range row {
			l2, l1, r1, r2 := max(x-2, 0), max(x-1, 0), min(x+1, p.w-1), min(x+2, p.w-1)
			out[x] = (row[l2] + row[r2] + 4*(row[l1]+row[r1]) + 6*row[x]) / 16
		}
	}
	for y := 0; y < p.h; y++ {
		u2, u1, d1, d2 := max(y-2, 0)*p.w, max(y-1, 0)*p.w, min(y+1, p.h-1)*p.w, min(y+2, p.h-1)*p.w
		for x := 0; x < p.w; x++ {
			s.v[y*p.w+x] = (tmp[u2+x] + tmp[d2+x] + 4*(tmp[u1+x]+tmp[d1+x]) + 6*tmp[y*p.w+x]) / 16
		}
	}
	return s
}

func finite(v float32) bool { return v-v == 0 }
