package limb

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"limbwatch/coords"
)

// How far about a circle others are looked for that may be the limb in its stead, in
// radii: a stop that leaves a ring of light free about the Sun, or cuts into it.
const (
	ringsWithin = 0.30
	ringsBeyond = 0.42
	// ringsApart is the most that their centres may lie apart.
	ringsApart = 0.2
)

// surround is the picture about a circle, unrolled, and how steeply brightness falls
// outward in it. Steps of the distance are some 1/260 of the radius, but at least a
// pixel.
//
//	sign    +1, or −1 where the levels are turned over, as in a negative
//	slope   fall per step, outward; as many as there are levels
//	noise   what a slope must exceed to count, by row: that of the texture about it
//	taken   cells that belong to a circle already, by polarity
type surround struct {
	*band
	p     *plane
	sign  float64
	n     int
	slope []float32
	noise float64
	taken [2][]bool
	spots [2][]spot
}

// spot is a place in a row where the slope is steepest along it.
type spot struct {
	row, col int
	v        float32
}

const (
	surroundRows = 360
	// sharpestSpots are looked at in a row, of each polarity.
	sharpestSpots = 7
)

// around unrolls the picture about a circle, and gathers where it is steep.
func (p *plane) around(c circle, sign float64) *surround {
	s := p.slopesAbout(c, sign, ringsWithin, ringsBeyond, -0.8*ringsWithin)
	steep := make([]float64, 0, len(s.v)/3)
	for i, valid := range s.valid {
		if !valid {
			continue
		}
		slope := s.slope[i*s.cols : (i+1)*s.cols]
		for k := 2; k < s.cols-2; k += 3 {
			if v := math.Abs(float64(slope[k])); v > 0 {
				steep = append(steep, v)
			}
		}
	}
	s.noise = median(steep)
	largest := 0.0
	for _, v := range steep {
		largest = max(largest, v)
	}
	s.noise = max(s.noise, 0.01*largest)
	for polarity := range s.spots {
		s.taken[polarity] = make([]bool, len(s.v))
		s.collect(polarity)
	}
	return s
}

// slopesAbout unrolls the picture about a circle, from so far within to so far beyond; a row
// must lie in the frame up to must. All three are shares of the radius.
func (p *plane) slopesAbout(c circle, sign, within, beyond, must float64) *surround {
	s := &surround{p: p, sign: sign, n: surroundRows}
	s.band = p.unroll(outline{circle: c}, sign, s.n, 3, reach{within * c.r, beyond * c.r, must * c.r, max(1, c.r/260)})
	s.slope = make([]float32, len(s.v))
	for i, valid := range s.valid {
		if !valid {
			continue
		}
		row, slope := s.row(i), s.slope[i*s.cols:(i+1)*s.cols]
		for k := 1; k < len(row)-1; k++ {
			slope[k] = (row[k-1] - row[k+1]) / 2
		}
	}
	return s
}

func signOf(polarity int) float32 { return 1 - 2*float32(polarity) }

// collect gathers the sharpest spots of each row.
func (s *surround) collect(polarity int) {
	sign := signOf(polarity)
	s.spots[polarity] = make([]spot, 0, s.n*sharpestSpots)
	var of []spot
	for i, valid := range s.valid {
		if !valid {
			continue
		}
		of = of[:0]
		slope := s.slope[i*s.cols : (i+1)*s.cols]
		for k := 2; k < s.cols-2; k++ {
			v := sign * slope[k]
			if float64(v) > s.noise && v >= sign*slope[k-1] && v > sign*slope[k+1] {
				of = append(of, spot{i, k, v})
			}
		}
		slices.SortFunc(of, func(a, b spot) int { return cmp.Compare(b.v, a.v) })
		s.spots[polarity] = append(s.spots[polarity], of[:min(len(of), sharpestSpots)]...)
	}
}

// place of a spot in the picture.
func (s *surround) place(q spot) coords.Pixel {
	x, y := s.at(s.sin[q.row], s.cos[q.row], s.rho(float64(q.col)))
	return coords.Pixel{X: x, Y: y}
}

// cut is where a circle meets a row, as a distance from the outline; false where it
// does not.
func (s *surround) cut(c circle, i int) (rho float64, ok bool) {
	dx, dy := c.x-s.x, c.y-s.y
	along := dx*s.cos[i] + dy*s.sin[i]
	across2 := dx*dx + dy*dy - along*along
	if across2 >= c.r*c.r {
		return 0, false
	}
	return along + math.Sqrt(c.r*c.r-across2) - s.r, true
}

// ring is a round edge.
//
//	polarity  0 where brightness falls outward, 1 where it rises
//	support   mean over directions within the frame, 0 to 1
//	arc       share of the directions within the frame that have the edge
//	evidence  support times how much of a full turn is within the frame
type ring struct {
	circle
	polarity               int
	support, arc, evidence float64
}

// weigh fills in how well an edge is seen along a circle, looking at every so many rows.
func (s *surround) weigh(q *ring, every int) {
	sign := signOf(q.polarity)
	within, held := 0, 0
	sum := 0.0
	for i := 0; i < s.n; i += every {
		if !s.valid[i] {
			continue
		}
		rho, ok := s.cut(q.circle, i)
		k := int((rho-s.from)/s.step + 0.5)
		if !ok || k < 2 || k >= s.cols-2 {
			continue
		}
		if x, y := s.at(s.sin[i], s.cos[i], rho+2*s.step); !s.p.inside(x, y, marginPx) {
			continue
		}
		within++
		cell := i*s.cols + k
		if s.taken[q.polarity][cell] {
			continue
		}
		// The edge may lie a step off, since air bends it.
		v := max(sign*s.slope[cell-1], sign*s.slope[cell], sign*s.slope[cell+1])
		around := max(sign*s.slope[cell-2], sign*s.slope[cell+2])
		if v <= 0 || around >= v {
			continue
		}
		u := float64(v) / (float64(v) + s.noise)
		sum += u
		if u > 0.5 {
			held++
		}
	}
	if within == 0 {
		q.support, q.arc, q.evidence = 0, 0, 0
		return
	}
	q.support = sum / float64(within)
	q.arc = float64(held) / float64(within)
	q.evidence = q.support * math.Sqrt(float64(within*every)/float64(s.n))
}

// settle moves a ring to where the slope is steepest about it.
func (s *surround) settle(q *ring) bool {
	sign := signOf(q.polarity)
	for _, reach := range []int{4, 3, 2} {
		var points []departure
		for i, valid := range s.valid {
			if !valid {
				continue
			}
			rho, ok := s.cut(q.circle, i)
			k := int((rho-s.from)/s.step + 0.5)
			if !ok || k-reach < 2 || k+reach >= s.cols-2 {
				continue
			}
			best := -1
			for j := k - reach; j <= k+reach; j++ {
				v := sign * s.slope[i*s.cols+j]
				if float64(v) > s.noise && (best < 0 || v > sign*s.slope[i*s.cols+best]) {
					best = j
				}
			}
			if best < 0 || best == k-reach || best == k+reach {
				continue
			}
			a, b, c := float64(sign*s.slope[i*s.cols+best-1]), float64(sign*s.slope[i*s.cols+best]), float64(sign*s.slope[i*s.cols+best+1])
			at := float64(best)
			if bend := 2*b - a - c; bend > 0 {
				at += max(-0.5, min(0.5, 0.5*(c-a)/bend))
			}
			x, y := s.at(s.sin[i], s.cos[i], s.rho(at))
			dx, dy := x-q.x, y-q.y
			r := math.Hypot(dx, dy)
			points = append(points, departure{dy / r, dx / r, r - q.r, 1})
		}
		if len(points) < s.n/10 {
			return false
		}
		d, _, ok := correct(points, circleTerms, 0.3*s.step)
		if !ok || math.Hypot(d[0], d[1]) > 0.1*s.r {
			return false
		}
		q.x, q.y, q.r = q.x+d[0], q.y+d[1], q.r+d[2]
	}
	s.weigh(q, 1)
	return s.plausible(q.circle)
}

// plausible says whether a circle may stand for the one about which it was looked for.
func (s *surround) plausible(c circle) bool {
	return c.r > (1-ringsWithin)*s.r && c.r < (1+ringsBeyond)*s.r && math.Hypot(c.x-s.x, c.y-s.y) < ringsApart*s.r
}

// leastRing is the least support of a round edge: texture supports one at up to 0.45.
const leastRing = 0.48

// rings gives the round edges about a circle, of both polarities, best seen first: those
// with its centre, and those through three steep spots far apart. Where brightness rises
// to a bright ring, its fall is asked less.
func (s *surround) rings() []ring {
	var all []ring
	rng := rand.New(rand.NewPCG(656, 28))
	for polarity := range s.spots {
		all = append(all, s.ringsOf(polarity, rng)...)
	}
	for _, q := range all {
		if q.polarity == 1 && q.support > leastRing {
			if o, ok := s.fallBeyond(q); ok {
				all = append(all, o)
			}
		}
	}
	slices.SortFunc(all, func(a, b ring) int { return cmp.Compare(b.evidence, a.evidence) })
	return all
}

func (s *surround) ringsOf(polarity int, rng *rand.Rand) []ring {
	const glances, every, mostTried, most = 2500, 5, 10, 5
	var drawn []ring
	try := func(c circle) {
		q := ring{circle: c, polarity: polarity}
		if s.weigh(&q, every); q.support > leastRing-0.15 {
			drawn = append(drawn, q)
		}
	}
	for k := 2; k < s.cols-2; k++ {
		try(circle{s.x, s.y, s.r + s.rho(float64(k))})
	}
	if spots := s.spots[polarity]; len(spots) > 30 {
		for range glances {
			a, b, c := spots[rng.IntN(len(spots))], spots[rng.IntN(len(spots))], spots[rng.IntN(len(spots))]
			if near(a.row, b.row, s.n) || near(b.row, c.row, s.n) || near(a.row, c.row, s.n) {
				continue
			}
			if c, ok := through(s.place(a), s.place(b), s.place(c)); ok && s.plausible(c) {
				try(c)
			}
		}
	}
	slices.SortFunc(drawn, func(a, b ring) int { return cmp.Compare(b.evidence, a.evidence) })
	var found []ring
	tried := 0
	for _, q := range drawn {
		if tried >= mostTried || len(found) >= most {
			break
		}
		if s.weigh(&q, every); q.support < leastRing-0.15 {
			continue
		}
		tried++
		if !s.settle(&q) || q.support < leastRing {
			continue
		}
		s.claim(q)
		found = append(found, q)
	}
	return found
}

// fallBeyond is the outer edge of a bright ring, when it was not found by itself.
func (s *surround) fallBeyond(q ring) (ring, bool) {
	const thickest = 5 // steps
	var best ring
	for k := 1; k <= thickest; k++ {
		o := ring{circle: circle{q.x, q.y, q.r + float64(k)*s.step}}
		if s.weigh(&o, 1); o.support > best.support {
			best = o
		}
	}
	if best.support < 0.6*leastRing || !s.settle(&best) || best.support < 0.75*leastRing || best.deviation(q.circle) > sameRing*s.r {
		return ring{}, false
	}
	s.claim(best)
	return best, true
}

// near says whether two rows lie within 30° of each other: too near to hold a circle.
func near(a, b, n int) bool {
	d := a - b
	if d < 0 {
		d = -d
	}
	return min(d, n-d) < n/12
}

// claim marks the cells along a ring as taken.
func (s *surround) claim(q ring) {
	for i := range s.n {
		rho, ok := s.cut(q.circle, i)
		k := int((rho-s.from)/s.step + 0.5)
		if !ok {
			continue
		}
		for j := max(0, k-2); j <= min(s.cols-1, k+2); j++ {
			s.taken[q.polarity][i*s.cols+j] = true
		}
	}
}

// through is the circle through three points.
func through(a, b, c coords.Pixel) (circle, bool) {
	bx, by, cx, cy := b.X-a.X, b.Y-a.Y, c.X-a.X, c.Y-a.Y
	d := 2 * (bx*cy - by*cx)
	if math.Abs(d) < 1e-6 {
		return circle{}, false
	}
	b2, c2 := bx*bx+by*by, cx*cx+cy*cy
	x, y := (cy*b2-by*c2)/d, (bx*c2-cx*b2)/d
	return circle{a.X + x, a.Y + y, math.Hypot(x, y)}, true
}
