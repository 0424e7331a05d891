package limb

import (
	"math"
	"slices"
)

// sharpestPx is the least blur a picture has: a pixel gathers light over its own
// square, of standard deviation 1/√12 px.
const sharpestPx = 0.29

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

// rim is the width of a bright rim just inside the fall, 0 when there is none: the
// mark of heavy sharpening, or of an exposure for the edge set around one for the
// disc. Where in it the limb lies is not sure.
func (p profile) rim(fall shape) float64 {
	k := min(len(p.v)-1, max(0, int((fall.zeroPx-p.from)/p.step)))
	for k > 0 && p.v[k-1] > p.v[k] {
		k--
	}
	foot := k
	for foot > 0 && p.v[foot-1] < p.v[foot] {
		foot--
	}
	rise := p.v[k] - p.v[foot]
	if rise < 0.15*fall.drop {
		return 0
	}
	for k > foot && p.v[k] > p.v[foot]+rise/2 {
		k--
	}
	return fall.zeroPx - p.rho(k)
}

// rival is the place of another steep fall nearby, with a rise between, NaN when
// there is none: in a picture put together from two exposures the limb may fall
// twice.
func (p profile) rival(fall shape) float64 {
	rest := profile{from: p.from, step: p.step, v: slices.Clone(p.v), radiusPx: p.radiusPx}
	// Level what has been found, so that the rest shows.
	shift := 0.0
	for k := 1; k < len(p.v); k++ {
		if d := p.v[k-1] - p.v[k]; d > 0 && math.Abs(p.rho(k)-p.step/2-fall.zeroPx) < 2.5*fall.sigmaPx+p.step {
			shift += d
		}
		rest.v[k] += shift
	}
	other, ok := rest.fall()
	if !ok || other.drop < 0.25*fall.drop {
		return math.NaN()
	}
	rise := 0.0
	for k := 1; k < len(p.v); k++ {
		if r := p.rho(k); r > min(fall.zeroPx, other.zeroPx) && r < max(fall.zeroPx, other.zeroPx) {
			rise += max(0, p.v[k]-p.v[k-1])
		}
	}
	if rise < 0.1*fall.drop {
		return math.NaN()
	}
	return other.zeroPx
}

// burntFrom says how far inside the middle of the fall the burnt-out part begins;
// +Inf when there is none.
func (p profile) burntFrom(ceiling float64, fall shape) float64 {
	depth := math.Inf(1)
	for k, v := range p.v {
		if p.rho(k) < fall.zeroPx && v > ceiling-0.01*fall.drop {
			depth = min(depth, fall.zeroPx-p.rho(k))
		}
	}
	return depth
}

// burntOut is the limb of an over-exposed disc. What is seen is the lower part of
// the blurred edge and the fringe beyond it, outside of the limb by an unknown
// share of the blur: half of it is taken, with an error as large, and a fringe of
// 0.08 ± 0.12 % of the radius, some 0.6 ± 0.8 Mm (both from painted pictures;
// common practice, no source).
func (s shape) burntOut(radiusPx float64) shape {
	s.fallPx = s.zeroPx
	s.zeroPx -= 0.5*s.sigmaPx + 0.0008*radiusPx
	s.zeroSigmaPx = math.Hypot(0.5*s.sigmaPx, 0.0012*radiusPx)
	s.burnt = true
	return s
}

// modelled fits the models of shape to the columns in use. It is false when none
// fits as well as it must. Richer ones are only tried when the simpler ones fail:
// first a tone curve, then sharpening.
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
			if trace != nil {
				t := tried[len(tried)-1]
				trace("    model %v cost %.1f zero %.3f±%.3f sigma %.2f misfit %.5f coef %.3f", m, t.cost, s.zeroPx, s.zeroSigmaPx, s.sigmaPx, s.misfit, s.coef)
			}
		}
	}
	done := func() bool {
		return slices.ContainsFunc(tried, func(t trial) bool { return t.misfit < goodMisfit })
	}
	plain := p.toned(1, fall)
	for _, m := range models {
		try(plain, m, 0)
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
	return mixed(tried, fall), true
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

// at is the profile at a distance, between columns.
func (p profile) at(rho float64) float64 {
	k := max(0, min(float64(len(p.v)-1), (rho-p.from)/p.step))
	i := min(int(k), len(p.v)-2)
	return p.v[i] + (k-float64(i))*(p.v[i+1]-p.v[i])
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
func mixed(tried []trial, fall shape) shape {
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
	s.zeroSigmaPx = math.Hypot(math.Sqrt(max(0, square/sum-s.zeroPx*s.zeroPx)), 60*s.misfit*s.sigmaPx+0.01*s.sigmaPx)
	s.drop *= fall.drop
	s.sigmaPx = max(s.sigmaPx, sharpestPx)
	s.fallPx = fall.zeroPx
	return s
}

// window marks the columns between two distances.
func (p profile) window(from, to float64) []bool {
	used := make([]bool, len(p.v))
	for k := range used {
		used[k] = p.rho(k) >= from && p.rho(k) <= to
	}
	return used
}

// fall is the middle of the steepest fall, between the places on either side
// where it has become flat: the centre of gravity of the slope. Its error is put
// at three tenths of the blur, since what the light does inside is not known.
func (p profile) fall() (shape, bool) {
	slope := make([]float64, len(p.v))
	best := -1
	for k := 1; k < len(p.v)-1; k++ {
		slope[k] = (p.v[k-1] - p.v[k+1]) / (2 * p.step)
		if best < 0 || slope[k] > slope[best] {
			best = k
		}
	}
	if best < 0 || !(slope[best] > 0) {
		return shape{}, false
	}
	inner, outer := p.flank(slope, best, 0.5, math.Inf(1))
	sigma := max(sharpestPx, float64(outer-inner+1)*p.step/2.3548)
	inner, outer = p.flank(slope, best, 0.1, 2*sigma)
	var sum, first, second float64
	for k := inner; k <= outer; k++ {
		sum += slope[k]
		first += slope[k] * p.rho(k)
	}
	centre := first / sum
	for k := inner; k <= outer; k++ {
		second += slope[k] * (p.rho(k) - centre) * (p.rho(k) - centre)
	}
	σ := max(sharpestPx, math.Sqrt(max(0, second/sum)))
	return shape{zeroPx: centre, fallPx: centre, sigmaPx: σ, drop: sum * p.step, zeroSigmaPx: 0.3 * σ, plain: true}, true
}

// flank gives the first and last column about the steepest where the slope is
// more than a share of it, no farther than reachPx away.
func (p profile) flank(slope []float64, best int, share, reachPx float64) (inner, outer int) {
	inner, outer = best, best
	for inner > 1 && slope[inner-1] > share*slope[best] && float64(best-inner)*p.step < reachPx {
		inner--
	}
	for outer < len(p.v)-2 && slope[outer+1] > share*slope[best] && float64(outer-best)*p.step < reachPx {
		outer++
	}
	return inner, outer
}
