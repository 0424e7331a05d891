package limb

import "math"

// sharpestPx is the least blur a picture has: a pixel gathers light over its own
// square, of standard deviation 1/√12 px.
const sharpestPx = 0.29

// edge finds the limb in a mean profile: the steepest fall, then the step under
// it by the model of shape, or, where that does not describe the profile (a rim
// from sharpening, a ring of scattered light, a burnt-out disc), the middle of the
// fall itself.
func (p profile) edge() (shape, bool) {
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
	start := p.rho(best)
	fall, ok := p.fall(slope, best, sigma)
	if !ok {
		return shape{}, false
	}
	used := p.window(start-6*sigma-2, start+5*sigma+2)
	step, ok := p.fitShape(start, sigma, used)
	if ok && step.misfit < 0.03 && math.Abs(step.zeroPx-fall.zeroPx) < 1.2*fall.sigmaPx+0.3 && step.sigmaPx < 2*fall.sigmaPx+0.3 {
		step.sigmaPx = max(step.sigmaPx, sharpestPx)
		return step, true
	}
	return fall, true
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
func (p profile) fall(slope []float64, best int, sigma float64) (shape, bool) {
	inner, outer := best, best
	for inner > 1 && slope[inner-1] > 0.1*slope[best] && float64(best-inner)*p.step < 2*sigma {
		inner--
	}
	for outer < len(p.v)-2 && slope[outer+1] > 0.1*slope[best] && float64(outer-best)*p.step < 2*sigma {
		outer++
	}
	var sum, first, second float64
	for k := inner; k <= outer; k++ {
		w := slope[k]
		sum += w
		first += w * p.rho(k)
	}
	if !(sum > 0) {
		return shape{}, false
	}
	centre := first / sum
	for k := inner; k <= outer; k++ {
		second += slope[k] * (p.rho(k) - centre) * (p.rho(k) - centre)
	}
	σ := max(sharpestPx, math.Sqrt(max(0, second/sum)))
	return shape{
		zeroPx: centre, sigmaPx: σ, drop: sum * p.step, misfit: 0, zeroSigmaPx: 0.2 * σ, plain: true,
	}, true
}
