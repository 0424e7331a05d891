package limb

import (
	"cmp"
	"math"
	"slices"
)

// levels are brightnesses about a candidate, turned over for one whose brightness
// rises outward.
//
//	inside  of the disc as a whole
//	near    just outside the circle
//	far     well outside; NaN when the frame does not reach there
//	step    the circle's own step
type levels struct {
	inside, near, far, step float64
}

// levelsAbout takes medians over directions in the shrunk picture.
func (p *plane) levelsAbout(c candidate) levels {
	sin, cos := lookAround(72)
	sign := c.sign()
	ring := func(rho ...float64) []float64 {
		var v []float64
		for i := range sin {
			for _, r := range rho {
				if x, y := c.at(sin[i], cos[i], r); p.inside(x, y, 1) {
					v = append(v, sign*float64(p.at(x, y)))
				}
			}
		}
		return v
	}
	off := max(3, 0.02*c.r)
	var steps []float64
	for i := range sin {
		x0, y0 := c.at(sin[i], cos[i], -off)
		x1, y1 := c.at(sin[i], cos[i], off)
		if p.inside(x0, y0, 1) && p.inside(x1, y1, 1) {
			steps = append(steps, sign*float64(p.at(x0, y0)-p.at(x1, y1)))
		}
	}
	l := levels{
		inside: median(ring(-0.7*c.r, -0.5*c.r, -0.3*c.r, -0.15*c.r)),
		near:   median(ring(off)),
		far:    math.NaN(),
		step:   median(steps),
	}
	if far := ring(0.15*c.r, 0.25*c.r, 0.35*c.r); len(far) > 20 {
		l.far = median(far)
	}
	return l
}

// smallestNegative is the least radius of a negative's disc, as a share of the
// picture's shorter side: a small dark disc is a sunspot from near.
const smallestNegative = 0.2

// choose picks the limb among the circles of a picture, by these rules (our own;
// the first two from looking at pictures of many kinds):
//
//   - The best supported circle of much contrast is the limb, unless
//   - another one with a fair share of its contrast lies within it: then the
//     inner one is. A ring of light around the disc (an aperture, a grey ring of
//     finishing) is bounded by a second, outer circle.
//   - A rise within a fall, or a fall within a rise, is no limb: it is the seam of
//     two exposures, or a patch on the disc.
//   - Two circles of equal rank side by side are refused: nothing says which
//     disc is the Sun.
//   - Where brightness rises outward, the sky must stay bright to be a negative's.
//     A covered disc and the far ultraviolet show a dark disc in a ring of light.
//     And the disc must be large: a small dark one is a sunspot.
func choose(small *plane, found []candidate, factor int) (candidate, error) {
	type ranked struct {
		candidate
		levels
		rank float64
	}
	var all []ranked
	var ring *candidate
	for _, c := range found {
		l := small.levelsAbout(c)
		if !(l.step > 0) {
			continue
		}
		if !c.falling && !(l.far-l.near < 0.4*(l.inside-l.near)) {
			ring = &c
			continue
		}
		if !c.falling && c.r < smallestNegative*float64(min(small.w, small.h)) {
			continue
		}
		all = append(all, ranked{c, l, c.evidence * math.Sqrt(l.step)})
	}
	if len(all) == 0 {
		if ring != nil {
			return candidate{}, refuse(ring.scaled(factor), "a dark disc within a ring of light, of radius %.0f px, but no edge of a bright one", ring.r*float64(factor))
		}
		return candidate{}, &RefusedError{Reason: "no limb found"}
	}
	slices.SortFunc(all, func(a, b ranked) int { return cmp.Compare(b.rank, a.rank) })
	before := slices.Clone(all) // what is left out still counts against others
	all = slices.DeleteFunc(all, func(c ranked) bool {
		return slices.ContainsFunc(before, func(o ranked) bool {
			return o.falling != c.falling && o.rank > 0.3*c.rank && c.within(o.circle)
		})
	})
	limb := all[0]
	for _, c := range all[1:] {
		if c.falling == limb.falling && c.r > 0.5*limb.r && c.step > 0.3*limb.step && c.evidence > 0.2*limb.evidence && c.within(limb.circle) {
			limb = c
		}
	}
	for _, c := range all {
		apart := math.Hypot(c.x-limb.x, c.y-limb.y)
		if c.rank > 0.6*limb.rank && apart > 0.2*limb.r && apart > math.Abs(c.r-limb.r) {
			refused := refuse(limb.scaled(factor), "two discs: beside the circle of radius %.0f px one of radius %.0f px stands out as much", limb.r*float64(factor), c.r*float64(factor))
			refused.final = true
			return candidate{}, refused
		}
	}
	return limb.candidate, nil
}
