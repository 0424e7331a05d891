package limb

import (
	"cmp"
	"math"
	"slices"

	"limbwatch/coords"
)

// A limb in light as bright as itself has no step along which one could see it, row by
// row. But it is a circle, and all of its rows together tell: what each is fainter than
// its noise adds up. So about an edge that is to be taken for the Sun's, a faint circle
// within is looked for; on the Sun itself there is none.
const (
	// faintFrom and faintTo, in radii, is how far within an edge: less is the limb itself,
	// its darkening and the chromosphere; more no stop stands off. The light is looked at
	// from faintRim inward, in a view a little wider.
	faintFrom, faintTo         = 0.04, 0.2
	faintRim                   = 0.035
	faintViewFrom, faintViewTo = 0.02, 0.3
	// leastFaint is the clearness from which a faint circle counts, and leastTaken how much
	// of the light it must take. Of the limbs that a stop's edge outshone in 1800 painted
	// halos, twelve, one stood at 3.9 and the others at 4.2 to 15, at 0.012 to 0.05. On 180
	// other painted and real discs with a circle that takes as much one stood at 4.0 and the
	// others at 3.4 at most.
	leastFaint, leastTaken = 4.1, 0.01
	// faintRows is the share of the directions that must show it.
	faintRows = 0.6
	// faintSigma is how well, in radii, such a circle is known (from those twelve).
	faintSigma = 0.03
)

// faint is a circle along which no single direction shows an edge.
//
//	clear  mean of its steepness, in standard deviations of that of all circles; without
//	       the sectors that hold most of it: a filament along it is no circle
//	share  of the light within, that falls (or rises) across it beyond the darkening
type faint struct {
	circle
	clear, share float64
}

// faintWithin gives the clearest faint circle within the outline of an unrolled picture.
func (s *surround) faintWithin() faint {
	steep, sigma, first, last := s.beyondDarkening()
	if steep == nil {
		return faint{}
	}
	// Circles are so far apart here that of three neighbouring columns one meets the edge.
	const apart, mostSettled = 3, 12
	var all []faint
	var sizes []float64
	for in := faintFrom; in < faintTo; in += 2 * s.step / s.r {
		most := in * s.r
		for dx := -most; dx <= most; dx += apart * s.step {
			for dy := -most; dy <= most; dy += apart * s.step {
				if math.Hypot(dx, dy) > most {
					continue
				}
				q := circle{s.x + dx, s.y + dy, (1 - in) * s.r}
				if v, ok := s.steepnessAlong(q, steep, first, last, 2); ok {
					all = append(all, faint{circle: q, clear: math.Abs(v)})
					sizes = append(sizes, math.Abs(v))
				}
			}
		}
	}
	typical := 1.4826 * medianOf(sizes)
	if len(all) < 100 || !(typical > 0) {
		return faint{}
	}
	slices.SortFunc(all, func(a, b faint) int { return cmp.Compare(b.clear, a.clear) })
	light := medianOf(s.levels(first, last))
	var best faint
	for _, q := range all[:mostSettled] {
		q.clear = 0
		for moved := true; moved; {
			moved = false
			for _, by := range [...][3]float64{{}, {1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}, {0, 0, -1}} {
				c := circle{q.x + by[0]*s.step, q.y + by[1]*s.step, q.r + by[2]*s.step}
				if v, ok := s.steepnessAlong(c, steep, first, last, 1); ok && math.Abs(v) > q.clear {
					q, moved = faint{circle: c, clear: math.Abs(v)}, true
				}
			}
		}
		sum := q.clear
		q.clear *= s.evenness(q.circle, steep, first, last) / typical
		q.share = sum * sigma / math.Sqrt(float64(s.n)) / light
		if q.clear > best.clear {
			best = q
		}
	}
	return best
}

// beyondDarkening is how much steeper, in standard deviations, brightness falls at each
// cell than the darkening toward the outline lets it, with its neighbours along the row;
// for the columns from first to last. What is far steeper (a spot, a filament) is cut off.
// It is nil where too little of the picture is there.
func (s *surround) beyondDarkening() (steep []float32, sigma float64, first, last int) {
	const mostSigmas = 2.5
	first, last = 2, min(s.cols-3, int((-faintRim*s.r-s.from)/s.step))
	// The darkening's slope, whose leading term is the root of the depth, and what else
	// varies slowly.
	terms := func(k int) []float64 {
		depth := -s.rho(float64(k)) / s.r
		return []float64{1, 1 / math.Sqrt(depth), depth, 0.01 / (depth * math.Sqrt(depth))}
	}
	n := newNormal(4)
	for k := first; k <= last; k++ {
		var v []float64
		for i, valid := range s.valid {
			if valid {
				v = append(v, float64(s.slope[i*s.cols+k]))
			}
		}
		if float64(len(v)) < faintRows*float64(s.n) {
			return nil, 0, 0, 0
		}
		n.add(terms(k), medianOf(v))
	}
	x, _, ok := n.solve(1e-9)
	if !ok {
		return nil, 0, 0, 0
	}
	trend := make([]float64, s.cols)
	var size []float64
	for k := first; k <= last; k++ {
		for j, v := range terms(k) {
			trend[k] += x[j] * v
		}
		for i := k % 3; i < s.n; i += 3 {
			if s.valid[i] {
				size = append(size, math.Abs(float64(s.slope[i*s.cols+k])-trend[k]))
			}
		}
	}
	sigma = 1.4826 * medianOf(size)
	if !(sigma > 0) {
		return nil, 0, 0, 0
	}
	steep = make([]float32, len(s.slope))
	for i, valid := range s.valid {
		for k := first + 1; valid && k < last; k++ {
			for j := k - 1; j <= k+1; j++ {
				steep[i*s.cols+k] += float32(clamp((float64(s.slope[i*s.cols+j])-trend[j])/sigma, mostSigmas))
			}
		}
	}
	return steep, sigma, first, last
}

// levels are some of the brightnesses in the columns.
func (s *surround) levels(first, last int) []float64 {
	var v []float64
	for i, valid := range s.valid {
		for k := first + i%7; valid && k <= last; k += 7 {
			v = append(v, math.Abs(float64(s.v[i*s.cols+k])))
		}
	}
	return v
}

// steepnessAlong sums the steepness along a circle over every so many rows, in the
// standard deviations of a sum; false where too little of it lies in the columns.
func (s *surround) steepnessAlong(c circle, steep []float32, first, last, every int) (float64, bool) {
	sum, n := float32(0), 0
	dx, dy := c.x-s.x, c.y-s.y
	apart2 := dx*dx + dy*dy
	// Where the circle meets a row, as cut gives it, by the root's series: within a tenth of
	// a step for centres that lie so near.
	second, fourth := 1/(2*c.r), 1/(8*c.r*c.r*c.r)
	from, perStep := s.r+s.from-c.r-0.5*s.step, 1/s.step
	for i := 0; i < s.n; i += every {
		along := dx*s.cos[i] + dy*s.sin[i]
		across2 := apart2 - along*along
		k := int((along - across2*(second+across2*fourth) - from) * perStep)
		if k > first && k < last && s.valid[i] {
			sum += steep[i*s.cols+k]
			n++
		}
	}
	if float64(n*every) < faintRows*float64(s.n) {
		return 0, false
	}
	return float64(sum) * math.Sqrt(float64(every)/float64(n)), true
}

// evenness is how much of the mean steepness along a circle is left without the two of its
// eight sectors that hold most, for those that lie in the columns.
func (s *surround) evenness(c circle, steep []float32, first, last int) float64 {
	const sectors, leftOut = 8, 2
	var sums [sectors]float64
	var seen [sectors]int
	total, n := 0.0, 0
	for i := range s.n {
		rho, ok := s.cut(c, i)
		if k := int((rho-s.from)/s.step + 0.5); ok && k > first && k < last && s.valid[i] {
			v := float64(steep[i*s.cols+k])
			sums[i*sectors/s.n] += v
			seen[i*sectors/s.n]++
			total, n = total+v, n+1
		}
	}
	var means []float64
	for j, sum := range sums {
		if seen[j] > s.n/sectors/2 {
			means = append(means, sum/float64(seen[j])/(total/float64(n)))
		}
	}
	if len(means) <= leftOut {
		return 0
	}
	slices.Sort(means)
	rest := 0.0
	for _, v := range means[:len(means)-leftOut] {
		rest += v
	}
	return rest / float64(len(means)-leftOut)
}

// unlessFaint refuses a fit within which a faint circle is seen. It is asked where no other
// edge was: of several the odds have told.
func (f finder) unlessFaint(fit Fit) (Fit, error) {
	if len(fit.Rivals) > 0 {
		return fit, nil
	}
	taken := circle{fit.Limb.Centre.X, fit.Limb.Centre.Y, fit.Limb.RadiusPx}
	sign := 1.0
	if fit.Negative {
		sign = -1
	}
	q := f.p.slopesAbout(taken, sign, faintViewTo, -faintViewFrom, -faintViewFrom).faintWithin()
	if q.clear < leastFaint || q.share < leastTaken {
		return fit, nil
	}
	// A radius that is known beforehand decides where it fits the edge and not the circle.
	if known := f.opts.Expected; known.fits(taken.r) && !known.fits(q.r*(1+faintSigma)) {
		return fit, nil
	}
	inner, err := Typed(coords.Pixel{X: q.x, Y: q.y}, q.r, max(1, faintSigma*q.r))
	if err != nil {
		return fit, err
	}
	refused := refuse(taken, "within the edge of radius %.0f px a faint circle of radius %.0f px is seen: light as bright as the Sun may hide its limb, and nothing tells which it is", taken.r, q.r)
	refused.Rivals = []Rival{{Fit: inner}, {Fit: fit}} // how likely each is nothing tells
	return Fit{}, refused
}
