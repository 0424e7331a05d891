package limb

import (
	"cmp"
	"math"
	"slices"
)

// How far two round edges may lie apart, in radii, to be one thing.
const (
	// sameEdge: the two limbs of a single filter; the steps of a soft edge.
	sameEdge = 0.015
	// sameSoft: pieces of one soft or uneven edge, of circles that cross each other.
	sameSoft = 0.06
	// sameRing: the rise and the fall of a bright ring along the limb; sameLane: the fall
	// into the dark lane within it, which sharpening makes, and the limb.
	sameRing = 0.035
	sameLane = 0.03
)

// leastContrast of what a round edge parts, as a share of all there is, and leastRim of
// a bright ring along it.
const (
	leastContrast = 0.04
	leastRim      = 0.05
	// The same for a fall that is not seen all round: in a large picture the Sun's own
	// pattern and its darkening toward the limb make faint ones by chance.
	partContrast = 0.07
	partRim      = 0.07
)

// deviation is the most that two circles lie apart.
func (c circle) deviation(o circle) float64 {
	return math.Abs(c.r-o.r) + math.Hypot(c.x-o.x, c.y-o.y)
}

// chosen is the circle that was taken for the limb in the shrunk picture, and how well it
// is known there; its radius is 0 when none was.
type chosen struct {
	circle
	offPx float64
}

// rivals are the round edges about a circle that may be the limb, described.
func (s *surround) rivals(was chosen) []rival {
	var all []rival
	add := func(q ring) {
		r := rival{ring: q, cut: s.cutsOf(q.circle)}
		r.in, r.out = s.sides(&r)
		r.rim, r.peak = s.rimOf(&r, nil)
		all = append(all, r)
	}
	for _, q := range s.rings() {
		add(q)
	}
	if was.r > 0 {
		nearest, apart := -1, math.Inf(1)
		for i, o := range all {
			if d := o.deviation(was.circle); o.polarity == 0 && d < apart {
				nearest, apart = i, d
			}
		}
		switch {
		case apart < sameRing*s.r:
			all[nearest].chosen = true
		case apart > sameSoft*s.r: // else it mixes two edges that the shrunk picture does not part
			q := ring{circle: was.circle}
			s.weigh(&q, 1)
			add(q)
			all[len(all)-1].chosen = true
		}
	}
	all = s.sift(all)
	if len(all) > 1 || was.r == 0 { // a single one is not weighed
		s.describe(all)
	}
	return all
}

// sift leaves of the round edges those that may be the limb.
func (s *surround) sift(all []rival) []rival {
	low, high := math.Inf(1), math.Inf(-1)
	for _, q := range all {
		low, high = min(low, q.in, q.out), max(high, q.in, q.out)
	}
	contrast := high - low
	all = slices.DeleteFunc(all, func(q rival) bool {
		step := q.in - q.out
		if q.polarity == 1 {
			step = -step
		}
		if q.polarity == 1 && q.allRound() {
			return false // a limb beside brighter light, though the disc's darkening outweighs the rise
		}
		least, rim := leastContrast, leastRim
		if q.polarity == 0 && !q.allRound() && !q.chosen {
			least, rim = partContrast, partRim
		}
		return step < least*contrast && q.rim < rim*contrast || !s.standsOut(q)
	})
	part := func(q, o rival) bool {
		apart := q.deviation(o.circle)
		switch {
		case q.polarity == 0 && o.polarity == 0 && apart < sameEdge*s.r:
			return o.better(q)
		case q.polarity == 0 && o.polarity == 0 && q.pieceOf(o, s.r):
			return o.better(q)
		case q.polarity == 1 && o.polarity == 0 && apart < sameRing*s.r:
			return o.support > 0.6*q.support
		case q.polarity == 0 && o.polarity == 0 && q.r < o.r && apart < sameLane*s.r:
			// A dark lane within the limb: the brightness rises between the two, to a ring
			// no darker than the disc. A stop's rim rises to less.
			return o.peak-low > 0.9*(q.in-low) && slices.ContainsFunc(all, func(u rival) bool {
				return u.polarity == 1 && u.r > q.r && u.r < o.r && u.deviation(o.circle) < sameRing*s.r
			})
		}
		return false
	}
	var kept []rival
	for i, q := range all {
		for _, o := range all {
			if q.polarity == 0 && o.polarity == 0 && o.circle != q.circle && q.pieceOf(o, s.r) && q.better(o) {
				q.spread = max(q.spread, q.deviation(o.circle)/2)
			}
		}
		if !slices.ContainsFunc(all, func(o rival) bool { return o.circle != all[i].circle && part(q, o) }) {
			kept = append(kept, q)
		}
	}
	return kept
}

// allRound says whether an edge is seen on all sides. Nothing on the Sun makes such a one but
// the limb, however faint it is beside light as bright.
func (q ring) allRound() bool { return q.support > 0.7 && q.arc > 0.9 }

// pieceOf says whether two circles cross so near to each other that they are pieces of one
// soft or uneven edge.
func (q rival) pieceOf(o rival, radiusPx float64) bool {
	return q.deviation(o.circle) < sameSoft*radiusPx && math.Hypot(q.x-o.x, q.y-o.y) > math.Abs(q.r-o.r)
}

// height of an edge: of its step, or of the ring along it.
func (q rival) height() float64 { return max(math.Abs(q.in-q.out), q.rim) }

// better says which of two rivals stands for both: the one that was chosen before, or the
// one that is seen better.
func (q rival) better(o rival) bool {
	if q.chosen != o.chosen {
		return q.chosen
	}
	return q.evidence*math.Sqrt(q.height()) > o.evidence*math.Sqrt(o.height())
}

// standsOut says whether brightness falls (or rises) more steeply at an edge than about
// it: in the darkening toward a limb it falls everywhere.
func (s *surround) standsOut(q rival) bool {
	const from, to = 4, 12
	sign := signOf(q.polarity)
	steep := func(j int) float64 {
		var v []float64
		for i := range s.n {
			k := int((q.cut[i]-s.from)/s.step+0.5) + j
			if !s.valid[i] || q.cut[i] != q.cut[i] || k < 0 || k >= s.cols {
				continue
			}
			v = append(v, float64(sign*s.slope[i*s.cols+k]))
		}
		return median(v)
	}
	within, beyond := math.Inf(1), math.Inf(1)
	for j := from; j <= to; j++ {
		within, beyond = min(within, math.Abs(steep(-j))), min(beyond, math.Abs(steep(j)))
	}
	return max(steep(-1), steep(0), steep(1)) > 2*max(within, beyond)
}

// sides are the levels close by an edge.
func (s *surround) sides(q *rival) (in, out float64) {
	near := func(from, to float64) float64 {
		v, _ := s.level(func(i int) (span, bool) {
			return span{q.cut[i] + from*s.r, q.cut[i] + to*s.r}, q.cut[i] == q.cut[i]
		})
		return v
	}
	return near(-0.03, -0.012), near(0.012, 0.03)
}

// odds gives the probability of each rival to be the limb, by what speaks for one of
// each two of them.
func odds(rivals []rival) []float64 {
	score := make([]float64, len(rivals))
	for i := range rivals {
		for j := range rivals {
			if i < j {
				x := speaksFor(&rivals[i], &rivals[j])
				score[i] += x / float64(len(rivals))
				score[j] -= x / float64(len(rivals))
			}
		}
	}
	best := slices.Max(score)
	sum := 0.0
	p := make([]float64, len(rivals))
	for i := range score {
		p[i] = math.Exp(score[i] - best)
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

// speaksFor is the logarithm of the odds that the first of two round edges is the limb,
// were it one of them.
func speaksFor(a, b *rival) float64 {
	if a.r > b.r {
		return -speaksFor(b, a)
	}
	x := 1.0 // a stop that is seen lies about the disc
	// Nothing on the Sun makes an edge that is seen on all sides.
	x += 1.5 * min(1, max(0, (a.arc-0.8)/0.15))
	x += a.textured()
	dark := b.out
	if lit := a.in - dark; lit > 0 && a.cellsOut > fewestCells {
		switch share := (a.out - dark) / lit; {
		case share < 0.5:
			x += 3
		case share < 0.7:
			x += 1.5
		case share > 0.85:
			x--
		}
	}
	x += clamp(2*math.Log((a.support+0.05)/(b.support+0.05)), 2)
	if a.arc < 0.55 && b.allRound() {
		x-- // half an edge within a whole one is seldom the limb: the Sun's own pattern makes such
	}
	x += clamp(6*(a.ringShare()-b.ringShare()), 2.5)
	if a.stands > 0.01 && b.stands < 0.003 {
		x++
	}
	if a.polarity == 1 {
		x -= 1.5
	}
	if b.polarity == 1 {
		x += 1.5
	}
	return x
}

// ringShare is how high the ring along an edge is for its step.
func (q *rival) ringShare() float64 {
	if h := math.Abs(q.in-q.out) + q.rim; q.polarity == 0 && h > 0 {
		return q.rim / h
	}
	return 0
}

// fewestCells are needed to say what an edge bounds.
const fewestCells = 120

// textured says by texture whether the Sun ends at an edge (positive) or goes on beyond
// it (negative). Noise tells neither, but where it ends there is less of it.
func (q *rival) textured() float64 {
	if q.cellsOut < fewestCells || !(q.texIn > 0) {
		return 0
	}
	share := q.texOut / q.texIn
	real := q.texIn*q.texIn - sampled*q.grainIn*q.grainIn
	if real > 0.25*q.texIn*q.texIn {
		rest := max(0, q.texOut*q.texOut-sampled*q.grainOut*q.grainOut)
		share = (share + math.Sqrt(rest/real)) / 2
	}
	x := (0.55 - share) / 0.1
	if x < 0 && real < 0.25*q.texIn*q.texIn {
		return 0
	}
	return max(-3, min(3.5, x))
}

// sampled is how much more white noise scatters, squared, between rows than between the
// samples of one, which lie so near to each other that they share pixels.
const sampled = 1.5

func clamp(x, most float64) float64 { return max(-most, min(most, x)) }

// weighed is a rival with its odds.
//
//	sign   of the edge: +1 where brightness falls outward
//	start  circle to follow it from, and how well that is known
type weighed struct {
	rival
	odds, sign float64
	start      circle
	offPx      float64
}

// weighed gives the rivals with their odds, the likeliest first. The one that was chosen
// in the shrunk picture is followed from there: a soft limb is seen better in it.
func (s *surround) weighed(was chosen) []weighed {
	rivals := s.rivals(was)
	if len(rivals) == 0 {
		return nil
	}
	var all []weighed
	for i, p := range odds(rivals) {
		q := weighed{rivals[i], p, s.sign * float64(signOf(rivals[i].polarity)), rivals[i].circle, s.step}
		if q.chosen {
			q.start, q.offPx = was.circle, was.offPx
		}
		all = append(all, q)
	}
	slices.SortStableFunc(all, func(a, b weighed) int { return cmp.Compare(b.odds, a.odds) })
	return all
}
