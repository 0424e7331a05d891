package north

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"limbwatch/coords"
)

// Held says that a camera was not touched between the pictures of one Group (0: of none):
// what stands at PositionAngle stays where it is in them, to within Sigma, one standard
// error. That is celestial north (0) on a polar-aligned mount, and the zenith (the
// parallactic angle) on an alt-azimuth one.
type Held struct {
	Group         int
	PositionAngle coords.Angle
	Sigma         coords.Angle
}

// pin is a celestial north that is known of a frame otherwise.
type pin struct {
	frame int
	north coords.North
	by    string
}

// pins are the norths known of frames under an answer's parities: of a drift's line
// there is one in either, of a north that was said in its own.
func (t *turn) pins(u *turnedTogether) (pins []pin) {
	for i, f := range t.frames {
		switch {
		case !u.known[i]:
			continue
		case f.Drift != nil:
			pins = append(pins, pin{i, f.Drift.side(u.mirrored[i]), ByDrift})
		}
		if f.Said != nil && f.Said.Mirrored == u.mirrored[i] {
			pins = append(pins, pin{i, *f.Said, BySaid})
		}
	}
	return pins
}

// normal are the normal equations of the directions: a correction for each frame, a
// direction for each camera that was not touched, and last the error of the axis that
// lasting motions make in all pairs alike.
type normal struct {
	m *mat.SymDense
	g *mat.VecDense
}

func newNormal(n int) normal {
	const anywhere = math.Pi
	q := normal{mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)}
	for i := range n {
		q.add(i, i, 1/(anywhere*anywhere))
	}
	return q
}

func (q normal) add(i, j int, w float64) { q.m.SetSym(i, j, q.m.At(i, j)+w) }

// measure adds weight × (Σ of the unknowns times their parts − off)².
func (q normal) measure(unknown []int, part []float64, weight, off float64) {
	for a, i := range unknown {
		q.g.SetVec(i, q.g.AtVec(i)+weight*part[a]*off)
		for b := a; b < len(unknown); b++ {
			q.add(i, unknown[b], weight*part[a]*part[b])
		}
	}
}

// pairMeasured is a pair in the equations: how far its two directions lie from the present
// ones, the inverse of their covariance without what lasts, and by how much the lasting
// error moves each.
type pairMeasured struct {
	off     [2]float64
	inverse symmetric
	lasts   [2]float64
}

func (t *turn) measured(u *turnedTogether, p *turnedPair) pairMeasured {
	fit := p.under(u.mirrored, u.known)
	ho, hn := u.hand(p.Old), u.hand(p.Now)
	k := pairMeasured{lasts: [2]float64{ho, hn}, off: [2]float64{
		float64((fit.pose.old - u.solar[p.Old]).Wrap180()), float64((fit.pose.now - u.solar[p.Now]).Wrap180())}}
	c := symmetric{fit.cov.xx - fit.lasting, fit.cov.xy - ho*hn*fit.lasting, fit.cov.yy - fit.lasting}
	if !(c.xx > 0 && c.yy > 0 && c.det() > 0) {
		c, k.lasts = fit.cov, [2]float64{}
	}
	k.inverse = c.inverse()
	return k
}

// adjust is one least-squares solution over the pairs used, with all else that is known
// of the directions unless they are asked alone; it gives the worst pair's misfit
// (squared, in standard errors).
func (t *turn) adjust(u *turnedTogether, alone bool) (worst float64, at int) {
	n := len(t.frames)
	var groups [][]int
	var pins []pin
	if !alone {
		groups, pins = t.groups(), t.pins(u)
	}
	last := n + len(groups)
	q := newNormal(last + 1)
	u.joint, u.misfit = saidByPairs{}, 0
	lasting, weight := 0.0, 0.0
	pairs := make([]pairMeasured, len(u.used))
	for k, p := range u.used {
		pairs[k] = t.measured(u, p)
		fit := p.under(u.mirrored, u.known)
		u.joint[p] = fit.evidence
		if pairs[k].lasts != [2]float64{} {
			lasting, weight = lasting+fit.lasting, weight+1
		}
		pairs[k].into(q, p.Old, p.Now, last)
	}
	q.add(last, last, 1/max(lasting/max(weight, 1), pinned*pinned))
	for g, group := range groups {
		for _, i := range group {
			s := float64(t.frames[i].Held.Sigma)
			q.measure([]int{i, n + g}, []float64{1, -1}, 2/(s*s), float64((t.stays(u, group[0]) - t.stays(u, i)).Wrap180()))
		}
	}
	for _, p := range pins {
		s := float64(p.north.Sigma)
		q.measure([]int{p.frame}, []float64{1}, 1/(s*s), float64((p.north.Angle - t.celestial(u, p.frame)).Wrap180()))
	}
	var c mat.Cholesky
	step, cov := mat.NewVecDense(last+1, nil), new(mat.SymDense)
	if !c.Factorize(q.m) || c.SolveVecTo(step, q.g) != nil || c.InverseTo(cov) != nil {
		u.cov = q.m
		return 0, 0
	}
	for k, p := range u.used {
		chi2 := pairs[k].chi2(step.AtVec(p.Old), step.AtVec(p.Now), step.AtVec(last))
		u.joint[p] -= chi2 / 2
		u.misfit += chi2
		if chi2 > worst {
			worst, at = chi2, k
		}
	}
	for i := range n {
		u.solar[i] = (u.solar[i] + coords.Angle(step.AtVec(i))).Wrap360()
	}
	u.cov = cov
	u.held = t.heldMisfit(u, groups)
	u.misfit += u.held
	u.pinned = u.pinned[:0]
	for _, p := range pins {
		u.pinned = append(u.pinned, pinnedMiss{pin: p})
	}
	return worst, at
}

func (k pairMeasured) into(q normal, old, now, last int) {
	w, h := k.inverse, k.lasts
	pull, share := w.times(k.off), w.times(h)
	q.add(old, old, w.xx)
	q.add(now, now, w.yy)
	q.add(min(old, now), max(old, now), w.xy)
	q.add(old, last, share[0])
	q.add(now, last, share[1])
	q.add(last, last, w.form(h[0], h[1]))
	for i, v := range map[int]float64{old: pull[0], now: pull[1], last: h[0]*pull[0] + h[1]*pull[1]} {
		q.g.SetVec(i, q.g.AtVec(i)+v)
	}
}

func (k pairMeasured) chi2(old, now, lasting float64) float64 {
	return k.inverse.form(k.off[0]-old-k.lasts[0]*lasting, k.off[1]-now-k.lasts[1]*lasting)
}

// groups are the frames that one camera took untouched, two or more of each.
func (t *turn) groups() (groups [][]int) {
	of := map[int]int{}
	for i, f := range t.frames {
		if f.Held.Group == 0 || !(f.Held.Sigma > 0) {
			continue
		}
		g, ok := of[f.Held.Group]
		if !ok {
			g = len(groups)
			of[f.Held.Group] = g
			groups = append(groups, nil)
		}
		groups[g] = append(groups[g], i)
	}
	return groups
}

// stays is where that stands in a frame which should stay put.
func (t *turn) stays(u *turnedTogether, i int) coords.Angle {
	return t.celestial(u, i) + coords.Angle(u.hand(i))*t.frames[i].Held.PositionAngle
}

// heldMisfit is by how much what should stay put lies apart in the frames, squared and in
// standard errors.
func (t *turn) heldMisfit(u *turnedTogether, groups [][]int) (misfit float64) {
	for _, group := range groups {
		var first, sum, squares, n, sigma float64
		for _, i := range group {
			if !u.known[i] {
				continue
			}
			d := float64(t.stays(u, i))
			if n == 0 {
				first, sigma = d, float64(t.frames[i].Held.Sigma)
			}
			d = float64(coords.Angle(d - first).Wrap180())
			sum, squares, n = sum+d, squares+d*d, n+1
		}
		if n > 1 {
			misfit += 2 * (squares - sum*sum/n) / (sigma * sigma)
		}
	}
	return misfit
}

// celestial is where celestial north points in a frame.
func (t *turn) celestial(u *turnedTogether, i int) coords.Angle {
	return at(u.solar[i], t.ready[i].face.P, u.mirrored[i])
}
