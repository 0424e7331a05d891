package limb

import "math"

// sharpestPx is the least blur a picture has: a pixel gathers light over its own
// square, of standard deviation 1/√12 px.
const sharpestPx = 0.29

// worstMisfit is the largest rms, as a share of the step, at which a model of the
// profile is believed.
const worstMisfit = 0.006

// edge finds the limb in a mean profile: the steepest fall, then the limb itself
// by the models of shape. Models that fit about equally well share the answer, and
// their disagreement is part of its error. Where none describes the profile (a rim
// from sharpening, a burnt-out disc) the middle of the fall stands.
func (p profile) edge() (shape, bool) {
	fall, ok := p.fall()
	if !ok {
		return shape{}, false
	}
	if trace != nil {
		trace("   fall %.3f sigma %.2f drop %.0f profile %.0f", fall.zeroPx, fall.sigmaPx, fall.drop, p.v)
	}
	used := p.window(fall.zeroPx-6*fall.sigmaPx-2, fall.zeroPx+5*fall.sigmaPx+2)
	// The models' terms are held in units of the step.
	unit := p
	unit.v = make([]float64, len(p.v))
	for k, v := range p.v {
		unit.v[k] = v / fall.drop
	}
	columns := 0.0
	for _, u := range used {
		if u {
			columns++
		}
	}
	var shapes []shape
	var costs []float64
	best := math.Inf(1)
	try := func(m model, start float64) {
		s, ok := unit.fit(m, start, fall.sigmaPx, used)
		if !ok || s.misfit > worstMisfit || math.Abs(s.zeroPx-fall.zeroPx) > 1.2*fall.sigmaPx+0.3+s.innerPx || s.sigmaPx > 2*fall.sigmaPx+0.3 {
			return
		}
		terms := 2.0
		for _, is := range m {
			if is {
				terms++
			}
		}
		// Schwarz's criterion (1978, Ann. Stat. 6, 461), with columns taken for half
		// independent.
		cost := 0.5 * (columns*math.Log(s.misfit*s.misfit+profileNoise*profileNoise) + terms*math.Log(columns))
		if trace != nil {
			trace("    model %v cost %.1f zero %.3f±%.3f sigma %.2f misfit %.5f coef %.3f", m, cost, s.zeroPx, s.zeroSigmaPx, s.sigmaPx, s.misfit, s.coef)
		}
		shapes, costs = append(shapes, s), append(costs, cost)
		best = min(best, cost)
	}
	all := func(extra ...int) {
		for _, m := range models {
			for _, t := range extra {
				m[t] = true
			}
			try(m, fall.zeroPx)
			if m[termInner] {
				try(m, fall.zeroPx+chromosphereShare*p.radiusPx)
			}
		}
	}
	all()
	good := false
	for _, s := range shapes {
		good = good || s.misfit < 2*profileNoise
	}
	if !good {
		all(termSoft, termWings)
	}
	if len(shapes) == 0 {
		return fall, true
	}
	return mixed(shapes, costs, best, fall.drop), true
}

// mixed is the mean of shapes, weighted by how well they fit.
func mixed(shapes []shape, costs []float64, best, drop float64) shape {
	var sum, zero, square float64
	var out shape
	for i, s := range shapes {
		w := math.Exp(-0.5 * (costs[i] - best))
		sum += w
		zero += w * s.zeroPx
		square += w * (s.zeroPx*s.zeroPx + s.zeroSigmaPx*s.zeroSigmaPx)
		if costs[i] == best {
			out = s
		}
	}
	out.zeroPx = zero / sum
	out.zeroSigmaPx = math.Sqrt(max(0, square/sum-out.zeroPx*out.zeroPx))
	out.drop *= drop
	out.sigmaPx = max(out.sigmaPx, sharpestPx)
	return out
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
// at a fifth of the blur, since what the light does inside is not known.
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
	inner, outer := best, best
	for inner > 1 && slope[inner-1] > 0.5*slope[best] {
		inner--
	}
	for outer < len(p.v)-2 && slope[outer+1] > 0.5*slope[best] {
		outer++
	}
	sigma := max(sharpestPx, float64(outer-inner+1)*p.step/2.3548)
	inner, outer = best, best
	for inner > 1 && slope[inner-1] > 0.1*slope[best] && float64(best-inner)*p.step < 2*sigma {
		inner--
	}
	for outer < len(p.v)-2 && slope[outer+1] > 0.1*slope[best] && float64(outer-best)*p.step < 2*sigma {
		outer++
	}
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
	return shape{zeroPx: centre, sigmaPx: σ, drop: sum * p.step, zeroSigmaPx: 0.2 * σ, plain: true}, true
}
