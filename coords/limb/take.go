package limb

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"limbwatch/coords"
)

// surest is the probability that a circle must have to be taken for the limb among
// several.
const surest = 0.9

// take follows the likeliest of several circles, and refuses where none is likely enough.
func (f finder) take(all []weighed) (Fit, error) {
	told := all[:0:0] // by the picture alone, so that they keep their numbers
	for i, q := range all {
		if i < 2 || q.odds > leastTold {
			told = append(told, q)
		}
	}
	heedRises(told)
	weighExpected(told, f.opts.Expected)
	slices.SortStableFunc(told, func(a, b weighed) int { return cmp.Compare(a.r, b.r) })
	var rivals []Rival
	var fit Fit
	var failed error
	best := 0
	for i, q := range told {
		found, err := f.followAmong(q, told)
		if q.odds > told[best].odds || i == 0 {
			best, fit, failed = i, found, err
		}
		if err != nil {
			found, _ = Typed(coords.Pixel{X: q.x, Y: q.y}, q.r, max(1, q.offPx))
		}
		rivals = append(rivals, Rival{found, &q.odds})
	}
	if len(told) < 2 {
		return fit, failed
	}
	if told[best].odds < surest {
		words := make([]string, len(rivals))
		for i, r := range rivals {
			words[i] = fmt.Sprintf("%d (radius %.0f px, odds %.2f)", i+1, r.Limb.RadiusPx, *r.Odds)
		}
		return Fit{}, &RefusedError{
			Reason:  "several round edges may be the Sun's, and what they bound does not tell which: circle " + strings.Join(words, ", "),
			Closest: rivals[best].Limb,
			Rivals:  rivals,
		}
	}
	if refused, ok := errors.AsType[*RefusedError](failed); ok {
		refused.Rivals = rivals
	}
	fit.Rivals = rivals
	return fit, failed
}

// heedRises gives a rise that is seen on most sides within a circle its due: nothing on
// the Sun makes one but its limb beside brighter light, however faint it is there, so the
// circle around it is not taken for sure.
func heedRises(told []weighed) {
	const leastDue = 0.25 // of what the two have together: enough to refuse
	for i := range told {
		inner := &told[i]
		if inner.polarity != 1 || inner.support < 0.5 || inner.arc < 0.6 {
			continue
		}
		for j := range told {
			outer := &told[j]
			if outer.polarity != 0 || outer.r < inner.r || outer.deviation(inner.circle) < sameRing*outer.r {
				continue
			}
			if both := inner.odds + outer.odds; inner.odds < leastDue*both {
				inner.odds, outer.odds = leastDue*both, (1-leastDue)*both
			}
		}
	}
}

// leastTold is the probability below which a circle is not listed, unless it is the
// second.
const leastTold = 0.005

// followAmong follows one of several circles where no other comes in its way.
func (f finder) followAmong(q weighed, all []weighed) (Fit, error) {
	var others []circle
	for _, o := range all {
		// A soft limb is followed in a wide band, and by itself.
		if o.circle != q.circle && !(q.chosen && q.deviation(o.circle) > sameSoft*q.r) {
			others = append(others, o.circle)
		}
	}
	fit, err := f.follow(q.start, q.sign, q.offPx, others)
	if _, slipped := q.slipped(fit, all); slipped && err == nil {
		// From a circle near both, the other edge was followed: now nothing of that is read.
		others = others[:0]
		for _, o := range all {
			if o.circle != q.circle {
				others = append(others, o.circle)
			}
		}
		fit, err = f.follow(q.circle, q.sign, 1, others)
	}
	if err != nil {
		return fit, err
	}
	if o, slipped := q.slipped(fit, all); slipped {
		return fit, refuse(q.circle, "the edge of radius %.0f px is not parted from that of radius %.0f px", q.r, o.r)
	}
	// Of an edge in pieces that disagree only a wide look tells, as the shrunk picture's.
	if !q.chosen && q.spread > 0 {
		if q.spread > vaguestShare*q.r {
			return fit, refuse(q.circle, "the edge of radius %.0f px is in pieces, whose circles disagree by %.0f px", q.r, 2*q.spread)
		}
		v := q.spread * q.spread
		fit.Limb.Cov.XX, fit.Limb.Cov.YY, fit.Limb.Cov.RR = fit.Limb.Cov.XX+v, fit.Limb.Cov.YY+v, fit.Limb.Cov.RR+v
	}
	// Where the light beyond is nearly as bright, the darkening toward the limb is part of
	// the fall that is seen.
	if lit := q.in - darkestBeyond(all); lit > 0 && q.cellsOut > fewestCells {
		share := min(1, max(0, (q.out-darkestBeyond(all))/lit))
		extra := haloShare * share * share * q.r
		fit.Limb.Cov.RR += extra * extra
	}
	return fit, nil
}

// slipped says whether a fit lies nearer to another of several circles than to its own.
func (q weighed) slipped(fit Fit, all []weighed) (circle, bool) {
	found := circle{fit.Limb.Centre.X, fit.Limb.Centre.Y, fit.Limb.RadiusPx}
	for _, o := range all {
		if o.circle != q.circle && o.deviation(found) < q.deviation(found) {
			return o.circle, true
		}
	}
	return circle{}, false
}

// haloShare is the error of the radius, as a share of it, beside light as bright as the
// limb; it grows with the square of that brightness (both from painted pictures).
const haloShare = 0.006

// darkestBeyond is the darkest level beyond any of several circles.
func darkestBeyond(all []weighed) float64 {
	dark := math.Inf(1)
	for _, q := range all {
		dark = min(dark, q.out)
	}
	return dark
}

// weighExpected lets an expected radius speak, if it fits any of several circles.
func weighExpected(all []weighed, known Expected) {
	if !(known.RadiusPx > 0 && known.SigmaPx > 0) {
		return
	}
	miss := func(q weighed) float64 { return (q.r - known.RadiusPx) / known.SigmaPx }
	if !slices.ContainsFunc(all, func(q weighed) bool { return known.fits(q.r) }) {
		return
	}
	sum := 0.0
	for i := range all {
		m := min(4, math.Abs(miss(all[i])))
		all[i].odds *= math.Exp(-m * m / 2)
		sum += all[i].odds
	}
	for i := range all {
		all[i].odds /= sum
	}
	slices.SortStableFunc(all, func(a, b weighed) int { return cmp.Compare(b.odds, a.odds) })
}
