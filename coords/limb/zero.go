package limb

import (
	"math"
	"slices"
)

// sharpestPx is the least blur a picture has: a pixel gathers light over its own
// square, of standard deviation 1/√12 px.
const sharpestPx = 0.29

// undersampledPx is the blur below which pixels are too coarse to show an edge's
// shape; its place is then sure to 0.08 px only (from painted
// pictures).
const undersampledPx = 0.6

// worstMisfit is the largest rms, as a share of the step, at which a model of the
// profile is believed, and goodMisfit one at which no richer model is asked for.
const (
	worstMisfit = 0.006
	goodMisfit  = 0.001
)

// edge finds the limb in a mean profile: the steepest fall, then the limb itself
// by the models of shape. Models that fit about equally well share the answer, and
// their disagreement is part of its error. Where none describes the profile (a rim
// from sharpening, a burnt-out disc) the middle of the fall stands.
//
// Light at or above ceiling is burnt out.
func (p profile) edge(ceiling float64) (shape, bool) {
	fall, ok := p.fall()
	if !ok {
		return shape{}, false
	}
	used := p.window(fall.zeroPx-6*fall.sigmaPx-2, fall.zeroPx+5*fall.sigmaPx+2)
	depth := p.burntFrom(ceiling, fall)
	if s, ok := p.modelled(fall, used, goodMisfit); ok {
		if depth < 3.5*fall.sigmaPx {
			// A sharp edge fits whether or not its top is cut off: only the error tells.
			s.burnt = true
			s.zeroSigmaPx = math.Hypot(s.zeroSigmaPx, math.Hypot(0.5*s.sigmaPx, 0.0008*p.radiusPx))
		}
		return s, true
	}
	if depth < 3.5*fall.sigmaPx {
		return fall.burntOut(p.radiusPx), true
	}
	for k := range used { // the burnt part says nothing
		used[k] = used[k] && p.rho(k) > fall.zeroPx-depth
	}
	if s, ok := p.modelled(fall, used, worstMisfit); ok {
		return s, true
	}
	if rival := p.rival(fall); !math.IsNaN(rival) {
		fall.zeroSigmaPx = math.Hypot(fall.zeroSigmaPx, 0.5*(rival-fall.zeroPx))
	}
	fall.zeroSigmaPx = math.Hypot(fall.zeroSigmaPx, 0.35*p.rim(fall))
	return fall, true
}

// modelled fits the models of shape to the columns in use. It is false when none
// fits as well as it must. Richer ones are only tried when the simpler ones fail:
// a steep halo, a tone curve, sharpening.
func (p profile) modelled(fall shape, used []bool, worst float64) (shape, bool) {
	var tried []trial
	try := func(q profile, m model, terms float64) {
		starts := []float64{fall.zeroPx}
		if m[termInner] {
			starts = append(starts, fall.zeroPx+chromosphereShare*p.radiusPx)
		}
		for _, start := range starts {
			s, ok := q.fit(m, start, fall.sigmaPx, used)
			if !ok || s.misfit > worst || s.sigmaPx > 2*fall.sigmaPx+0.3 ||
				math.Abs(s.zeroPx-fall.zeroPx) > 1.2*fall.sigmaPx+0.3+s.innerPx ||
				m[termInner] && !q.twoLimbs(s) {
				continue
			}
			tried = append(tried, trial{s, cost(s.misfit, terms+m.terms(), used)})
		}
	}
	done := func() bool {
		return slices.ContainsFunc(tried, func(t trial) bool { return t.misfit < goodMisfit })
	}
	plain := p.toned(1, fall)
	for _, m := range models {
		try(plain, m, 0)
	}
	if !done() {
		for _, m := range models[:3] {
			m[termBend] = true
			try(plain, m, 0)
		}
	}
	if !done() && p.lowest() >= 0 {
		for _, γ := range [...]float64{0.5, 0.65, 0.8, 1.25, 1.6} {
			q := p.toned(γ, fall)
			for _, m := range models[:2] {
				try(q, m, 1)
			}
		}
	}
	if !done() {
		for _, m := range models[:3] {
			m[termSoft], m[termWings] = true, true
			try(plain, m, 0)
		}
	}
	if len(tried) == 0 {
		return shape{}, false
	}
	return mixed(tried, fall, p.radiusPx), true
}

// twoLimbs says whether a profile can have the two limbs that a model sees: they
// must stand apart by more than the blur, and the outer one must be seen to fall
// by itself where they stand well apart.
func (p profile) twoLimbs(s shape) bool {
	if s.sigmaPx > s.innerPx/1.2 || s.misfit > worstMisfit/2 || s.coef[termFringe] < -0.05*s.drop {
		return false
	}
	if s.innerPx < 3*s.sigmaPx {
		return true
	}
	return p.at(s.zeroPx-1.5*s.sigmaPx)-p.at(s.zeroPx+1.5*s.sigmaPx) > 0.1*s.drop
}

// toned undoes a tone curve level^γ, and brings the profile to units of its fall.
func (p profile) toned(γ float64, fall shape) profile {
	q := p
	q.v = make([]float64, len(p.v))
	unit := fall.drop
	for k, v := range p.v {
		q.v[k] = v
		if γ != 1 {
			q.v[k] = math.Pow(v/p.v[0], 1/γ) * p.v[0]
		}
	}
	if γ != 1 {
		if f, ok := q.fall(); ok {
			unit = f.drop
		}
	}
	for k := range q.v {
		q.v[k] /= unit
	}
	return q
}

func (p profile) lowest() float64 { return slices.Min(p.v) }

// terms counts the unknowns of a model, with the limb's place and the blur.
func (m model) terms() float64 {
	n := 2.0
	for _, is := range m {
		if is {
			n++
		}
	}
	return n
}

// cost is what speaks against a model: Schwarz's criterion (1978, Ann. Stat. 6,
// 461), with columns taken for half independent.
func cost(misfit, terms float64, used []bool) float64 {
	columns := 0.0
	for _, u := range used {
		if u {
			columns++
		}
	}
	return 0.5 * (columns*math.Log(misfit*misfit+profileNoise*profileNoise) + terms*math.Log(columns))
}

// trial is a model's answer and what speaks against it.
type trial struct {
	shape
	cost float64
}

// mixed is the mean of the answers, weighted by how well they fit. Those that see
// two limbs and those that see one do not mix.
func mixed(tried []trial, fall shape, radiusPx float64) shape {
	// Two limbs are believed only where one explains the profile far worse.
	best := trial{cost: math.Inf(1)}
	single := math.Inf(1)
	for _, t := range tried {
		if t.innerPx == 0 {
			single = min(single, t.misfit)
		}
	}
	for _, t := range tried {
		if t.cost < best.cost && (t.innerPx == 0 || t.misfit < 0.5*single) {
			best = t
		}
	}
	if math.IsInf(best.cost, 1) {
		best = tried[0]
	}
	var sum, zero, square float64
	for _, t := range tried {
		if (t.innerPx > 0) != (best.innerPx > 0) {
			continue
		}
		w := math.Exp(-0.5 * (t.cost - best.cost))
		sum += w
		zero += w * t.zeroPx
		square += w * (t.zeroPx*t.zeroPx + t.zeroSigmaPx*t.zeroSigmaPx)
	}
	s := best.shape
	s.zeroPx = zero / sum
	// A model that leaves something over is wrong by more than its own formal error.
	s.zeroSigmaPx = math.Hypot(math.Sqrt(max(0, square/sum-s.zeroPx*s.zeroPx)), (60*s.misfit+0.01)*s.sigmaPx)
	// So is one beside stray light that falls off steeply: how it begins is not seen.
	s.zeroSigmaPx = math.Hypot(s.zeroSigmaPx, 5*s.coef[termSlope]*s.sigmaPx*s.sigmaPx)
	s.drop *= fall.drop
	s.sigmaPx = max(s.sigmaPx, sharpestPx)
	s.fallPx = fall.zeroPx
	// Blurred in two dimensions, a curved edge moves toward its centre (as heat
	// flows: σ²/2 is the time).
	s.zeroPx += s.sigmaPx * s.sigmaPx / (2 * radiusPx)
	if s.sigmaPx < undersampledPx {
		s.zeroSigmaPx = math.Hypot(s.zeroSigmaPx, 0.08)
	}
	return s
}
