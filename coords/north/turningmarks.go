package north

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/rotation"
)

// SameFeature is one feature that was marked on several of the frames.
type SameFeature []MarkedAt

// MarkedAt is where a feature was marked on a frame (by index), with the error of the
// mark and of what is called its middle.
type MarkedAt struct {
	Frame   int
	Pixel   coords.Pixel
	SigmaPx float64
}

// markedPair is a feature on both pictures of a pair.
type markedPair struct{ old, now MarkedAt }

// marksOf are the features marked on both frames of a pair.
func (t *turn) marksOf(p *turnedPair) (out []markedPair) {
	for _, same := range t.opts.Same {
		var m markedPair
		var old, now bool
		for _, at := range same {
			switch at.Frame {
			case p.Old:
				m.old, old = at, true
			case p.Now:
				m.now, now = at, true
			}
		}
		if old && now {
			out = append(out, m)
		}
	}
	return out
}

// leastMarks is how many features marked on both frames of a pair tell an axis without
// the pattern: two fit many axes.
const leastMarks = 3

// markChi2 is the misfit at which a pose by marks has no rival: another that fits as
// badly has a probability of some thousandths.
const markChi2 = 12.0

// scanMarks finds the pose that fits the features marked on both frames: at each
// direction of the axis in the earlier picture, the roll of the later one by weighted
// mean. It says why not where another pose fits nearly as well.
func scanMarks(old, now *turningFrame, marks []markedPair, s *scan, law rotation.Law, allowed func(pose) bool) (pose, error) {
	if len(marks) < leastMarks {
		return pose{}, fmt.Errorf("%d features are marked on both, at least %d are needed", len(marks), leastMarks)
	}
	type candidate struct {
		at   pose
		chi2 float64
	}
	var all []candidate
	best := candidate{chi2: math.Inf(1)}
	for _, oldMirrored := range []bool{false, true} {
		for k := range s.at[0] {
			view := old.viewAt(s.axis(k), oldMirrored)
			for _, nowMirrored := range []bool{false, true} {
				at := pose{old: s.axis(k), oldMirrored: oldMirrored, nowMirrored: nowMirrored}
				if !allowed(at) {
					continue
				}
				var chi2 float64
				at.now, chi2 = rollOfMarks(view, now, marks, nowMirrored, law, rotation.Days(old.UTC, now.UTC))
				all = append(all, candidate{at, chi2})
				if chi2 < best.chi2 {
					best = candidate{at, chi2}
				}
			}
		}
	}
	if free := float64(2*len(marks) - 2); best.chi2 > 4*free+markChi2 {
		return pose{}, fmt.Errorf("the marks agree with no axis: they miss by %.1f standard errors", math.Sqrt(best.chi2/free))
	}
	for _, c := range all {
		if c.chi2 < best.chi2+markChi2 && !s.near(c.at, best.at) && !s.near(c.at, best.at.twin()) {
			return pose{}, fmt.Errorf("another axis fits the marks nearly as well")
		}
	}
	return best.at, nil
}

// rollOfMarks is the roll of the later picture that fits the marks best, with the misfit.
func rollOfMarks(view disc.View, now *turningFrame, marks []markedPair, mirrored bool, law rotation.Law, days float64) (coords.Angle, float64) {
	lon, lat := ownMotion(days)
	then := now.viewAt(0, mirrored)
	type seen struct{ eu, ev, u, v, sigma float64 }
	var all []seen
	var sin, cos float64
	for _, m := range marks {
		place := view.Place(m.old.Pixel, 0, disc.Height{})
		if place.Where != disc.OnDisc {
			continue
		}
		px, visible := then.Project(law.Carry(place.Photosphere.Heliographic, days), 0)
		if !visible {
			return 0, math.Inf(1)
		}
		eu, ev := now.Limb.Unit(px)
		u, v := now.Limb.Unit(m.now.Pixel)
		sigma := math.Sqrt(sq(m.old.SigmaPx/view.Limb.RadiusPx) + sq(m.now.SigmaPx/now.Limb.RadiusPx) + (lon*lon+lat*lat)/2)
		all = append(all, seen{eu, ev, u, v, sigma})
		// Turning counter-clockwise, with y down: (u cos + v sin, v cos − u sin).
		sin += (ev*u - eu*v) / (sigma * sigma)
		cos += (eu*u + ev*v) / (sigma * sigma)
	}
	if len(all) < leastMarks {
		return 0, math.Inf(1)
	}
	turn := math.Atan2(sin, cos)
	s, c := math.Sincos(turn)
	chi2 := 0.0
	for _, a := range all {
		dx, dy := a.u-(a.eu*c+a.ev*s), a.v-(a.ev*c-a.eu*s)
		chi2 += (dx*dx + dy*dy) / (a.sigma * a.sigma)
	}
	return coords.Angle(turn).Wrap360(), chi2
}

func sq(v float64) float64 { return v * v }

// windowsOf are the marks as windows: each says where its feature went.
func (c *carriedDisc) windowsOf(marks []markedPair) (windows []window) {
	for _, m := range marks {
		place := c.oldView.Place(m.old.Pixel, 0, disc.Height{})
		if place.Where != disc.OnDisc {
			continue
		}
		h := c.law.Carry(place.Photosphere.Heliographic, c.days)
		px, visible := c.newView.Project(h, 0)
		if !visible {
			continue
		}
		w := window{sinLat: h.B.Sin(),
			west:  moveWith(c.newView, h, coords.Heliographic{L: 1}),
			north: moveWith(c.newView, h, coords.Heliographic{B: 1}),
		}
		w.u, w.v = c.newView.Limb.Unit(px)
		u, v := c.newView.Limb.Unit(m.now.Pixel)
		dx, dy := (u-w.u)*cellsPerRadius, (v-w.v)*cellsPerRadius
		if math.Hypot(dx, dy) > windowReach {
			continue
		}
		sigma := cellsPerRadius * math.Hypot(m.old.SigmaPx/c.oldView.Limb.RadiusPx, m.now.SigmaPx/c.newView.Limb.RadiusPx)
		w.point(dx, dy, max(sigma, 0.7))
		windows = append(windows, w)
	}
	return windows
}

// point makes the likelihood a peak at a move, sigma cells wide.
func (w *window) point(dx, dy, sigma float64) {
	sum := 0.0
	for i := range w.likely {
		x, y := float64(i%windowSide-windowReach)-dx, float64(i/windowSide-windowReach)-dy
		w.likely[i] = math.Exp(-(x*x + y*y) / (2 * sigma * sigma))
		sum += w.likely[i]
	}
	for i := range w.likely {
		w.likely[i] *= windowSide * windowSide / sum
	}
}
