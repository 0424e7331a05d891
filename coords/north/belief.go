package north

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// clue is what one feature says: the direction in which the mark is seen, the
// position angle at which it ought to be, and how far both agree in distance from
// the centre, which depends on neither north nor parity.
type clue struct {
	index         int
	direction     coords.Angle // counter-clockwise from up
	positionAngle coords.Angle
	r             float64
	turnSigma     float64 // of direction − position angle, radians, limb's centre apart
	radial        float64 // difference of the distances in standard errors
	// How the direction moves with the limb's centre, radians a pixel.
	perX, perY float64
}

// leastScatter is the least error of a listed place: lists are printed to whole
// degrees at worst and 0.1° at best, and speak of the middle of things.
const leastScatter = 0.1 * coords.Degree

// cluesOf turns features into clues. One on the far side tells nothing, one
// whose direction is uncertain by more than 30° next to nothing: unseen has the
// indices of such.
func cluesOf(view disc.View, features []Feature) (clues []clue, unseen []int, err error) {
	for i, m := range features {
		if !(m.SigmaPx > 0) {
			return nil, nil, fmt.Errorf("known features: error of mark %d is %g px, need more than 0", i+1, m.SigmaPx)
		}
		seen := view.ProjectPolar(m.Place.Heliographic, m.Height.Mm)
		u, v := view.Limb.Unit(m.Pixel)
		r := math.Hypot(u, v)
		if math.IsNaN(seen.R) || math.IsNaN(r) {
			return nil, nil, fmt.Errorf("known features: mark %d or the disc has no usable numbers", i+1)
		}
		across, along := placeErrors(view, m, seen)
		click := m.SigmaPx / view.Limb.RadiusPx
		c := clue{
			index:         i,
			direction:     coords.Atan2(-u, -v),
			positionAngle: seen.PositionAngle,
			r:             r,
			turnSigma:     math.Hypot(click/r, across/seen.R),
			radial:        (r - seen.R) / math.Sqrt(click*click+along*along+radiusVariance(view, m, r)),
		}
		if !seen.Visible || !(c.turnSigma < 30*math.Pi/180) {
			unseen = append(unseen, i)
			continue
		}
		// Moving the centre right moves the mark left against it.
		c.perX, c.perY = v/(r*r)/view.Limb.RadiusPx, -u/(r*r)/view.Limb.RadiusPx
		clues = append(clues, c)
	}
	return clues, unseen, nil
}

// radiusVariance is the variance of a mark's distance from the centre that disc,
// limb and the height of the thing make, in radii of the limb.
func radiusVariance(view disc.View, m Feature, r float64) float64 {
	centre := view.Limb.Cov.SigmaCentrePx() / view.Limb.RadiusPx
	limb := r * view.Limb.Cov.SigmaRadiusPx() / view.Limb.RadiusPx
	height := r * math.Hypot(m.Height.SigmaMm, view.Layer.SigmaMm) / coords.SolarRadiusMm
	return centre*centre + limb*limb + height*height
}

// placeErrors are the errors of a listed place as seen in the sky, across and
// along the radius, in radii of the limb.
func placeErrors(view disc.View, m Feature, seen disc.Polar) (across, along float64) {
	const step = 1e-5 // radians
	move := func(db, dl coords.Angle) (across, along float64) {
		h := m.Place.Heliographic
		h.B, h.L = h.B+db, h.L+dl
		p := view.ProjectPolar(h, m.Height.Mm)
		return (p.PositionAngle - seen.PositionAngle).Wrap180().Radians() * seen.R / step, (p.R - seen.R) / step
	}
	bAcross, bAlong := move(step, 0)
	lAcross, lAlong := move(0, step)
	c := m.Place.Cov
	least := leastScatter.Radians()
	c.BB += least * least
	c.LL += math.Pow(least/max(0.01, m.Place.B.Cos()), 2)
	square := func(b, l float64) float64 { return math.Sqrt(max(0, b*b*c.BB+2*b*l*c.BL+l*l*c.LL)) }
	return square(bAcross, lAcross), square(bAlong, lAlong)
}

// belief is what the clues say of north under one parity.
type belief struct {
	mirrored bool
	clues    []clue
	evidence float64 // probability of the clues, up to a factor common to both
	peak     coords.Angle
	sigma    coords.Angle
	inPeak   float64 // share of the evidence within 10° or so of the peak
}

// How errors are spread beyond what they claim: a clue is worth nothing (a mark
// matched to the wrong place) one time in ten, and the claims may be too small by
// a factor common to all.
const worthless = 0.1

var understated = []struct{ factor, chance float64 }{{1, 0.8}, {2, 0.15}, {4, 0.05}}

// weigh averages the likelihood of the clues over all directions of north: the
// sum over a fine grid is the evidence for the parity, its peak the answer.
func weigh(clues []clue, mirrored bool) belief {
	b := belief{mirrored: mirrored, clues: clues}
	finest := math.Pi
	for _, c := range clues {
		finest = min(finest, c.turnSigma)
	}
	n := int(2 * math.Pi / max(finest/3, 2e-4))
	likely := make([]float64, n)
	most := 0
	for i := range likely {
		likely[i] = likelihood(clues, coords.Angle(2*math.Pi*float64(i)/float64(n)), mirrored)
		b.evidence += likely[i] / float64(n)
		if likely[i] > likely[most] {
			most = i
		}
	}
	b.peak = coords.Angle(2 * math.Pi * float64(most) / float64(n))
	// Mean and spread about the peak, within a window that widens until it holds
	// the peak's flanks.
	total := b.evidence * float64(n)
	for _, window := range []float64{1, 3, 10} {
		half := int(window * math.Pi / 180 / (2 * math.Pi) * float64(n))
		var sum, first, second float64
		for k := -half; k <= half; k++ {
			w := likely[((most+k)%n+n)%n]
			x := 2 * math.Pi * float64(k) / float64(n)
			sum, first, second = sum+w, first+w*x, second+w*x*x
		}
		if sum <= 0 {
			continue
		}
		mean := first / sum
		b.inPeak = sum / total
		b.sigma = coords.Angle(math.Sqrt(max(0, second/sum-mean*mean)))
		if b.inPeak > 0.999 || window == 10 {
			b.peak += coords.Angle(mean)
			break
		}
	}
	b.peak = b.peak.Wrap180()
	return b
}

// likelihood of the clues for one north.
func likelihood(clues []clue, north coords.Angle, mirrored bool) float64 {
	sum := 0.0
	for _, u := range understated {
		product := u.chance
		for _, c := range clues {
			product *= c.likelihood(north, mirrored, u.factor)
		}
		sum += product
	}
	return sum
}

// likelihood of one clue: normal in both directions when it is right, flat over
// the disc when it is not.
func (c clue) likelihood(north coords.Angle, mirrored bool, factor float64) float64 {
	z := c.miss(north, mirrored).Radians() / (c.turnSigma * factor)
	q := c.radial / factor
	// The radial error is taken for as large as the other, which is true to a
	// factor that is the same for all norths.
	right := math.Exp(-(z*z+q*q)/2) / (2 * math.Pi * c.turnSigma * c.turnSigma * factor * factor)
	return (1-worthless)*right + worthless/(2*math.Pi)
}

// miss is how far the mark is seen from where it ought to be, as an angle at the
// disc's centre.
func (c clue) miss(north coords.Angle, mirrored bool) coords.Angle {
	return (at(c.direction, c.positionAngle, mirrored) - north).Wrap180()
}

// agrees says that a clue is more likely right than not.
func (b belief) agrees(c clue) bool {
	z, q := b.missSigmas(c), c.radial
	return math.Abs(z) < 4 && math.Abs(q) < 6
}

// missSigmas is the miss in standard errors, the spread of north included.
func (b belief) missSigmas(c clue) float64 {
	return c.miss(b.peak, b.mirrored).Radians() / math.Hypot(c.turnSigma, b.sigma.Radians())
}

// sound says why the belief is no answer, or nil.
func (b belief) sound() error {
	agree := 0
	for _, c := range b.clues {
		if b.agrees(c) {
			agree++
		}
	}
	switch {
	case agree < 2:
		return fmt.Errorf("known features: no two of the %d agree on a north, %s; is each matched to the right place", len(b.clues), Handed(b.mirrored))
	case b.sigma > widestSigma:
		return fmt.Errorf("known features: too few or too near the centre of the disc: north would be ± %.1f deg", b.sigma.Degrees())
	case b.inPeak < alone:
		return fmt.Errorf("known features: more than one north fits, %s: the best only with probability %.2f", Handed(b.mirrored), b.inPeak)
	}
	return nil
}

// north is the answer under this parity, with the error of the limb's centre,
// which moves all clues together.
func (b belief) north(view disc.View) coords.North {
	var weights, x, y float64
	for _, c := range b.clues {
		if !b.agrees(c) {
			continue
		}
		w := 1 / (c.turnSigma * c.turnSigma)
		weights, x, y = weights+w, x+w*c.perX, y+w*c.perY
	}
	centre := 0.0
	if weights > 0 {
		x, y = x/weights, y/weights
		cov := view.Limb.Cov
		centre = x*x*cov.XX + 2*x*y*cov.XY + y*y*cov.YY
	}
	sigma := math.Sqrt(b.sigma.Radians()*b.sigma.Radians() + max(0, centre))
	return coords.North{Angle: b.peak, Mirrored: b.mirrored, Sigma: coords.Angle(sigma)}
}

// solution is the answer with what it rests on.
func (b belief) solution(view disc.View, unseen []int) Solution {
	s := Solution{Found: Found{North: b.north(view), Method: MethodFeatures}, Rejected: unseen}
	sum := 0.0
	for _, c := range b.clues {
		if !b.agrees(c) {
			s.Rejected = append(s.Rejected, c.index)
			continue
		}
		s.Used++
		sum += math.Pow(c.miss(b.peak, b.mirrored).Radians(), 2)
	}
	s.RMS = coords.Angle(math.Sqrt(sum / float64(s.Used)))
	return s
}
