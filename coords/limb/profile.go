package limb

import (
	"math"
	"slices"
)

// profile is brightness against distance from a circle.
type profile struct {
	from, step float64
	v          []float64
	radiusPx   float64
}

func (p profile) rho(k int) float64 { return p.from + float64(k)*p.step }

// at is the profile at a distance, between columns.
func (p profile) at(rho float64) float64 {
	k := max(0, min(float64(len(p.v)-1), (rho-p.from)/p.step))
	i := min(int(k), len(p.v)-2)
	return p.v[i] + (k-float64(i))*(p.v[i+1]-p.v[i])
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

// steepestNear is where the profile falls most steeply within a distance of a place.
func (p profile) steepestNear(rho, reachPx float64) float64 {
	slope := func(k int) float64 { return p.v[k-1] - p.v[k+1] }
	best := -1
	for k := 2; k < len(p.v)-2; k++ {
		if math.Abs(p.rho(k)-rho) <= reachPx && (best < 0 || slope(k) > slope(best)) {
			best = k
		}
	}
	if best < 0 {
		return rho
	}
	off := 0.0
	if bend := 2*slope(best) - slope(best-1) - slope(best+1); bend > 0 {
		off = clamp(0.5*(slope(best+1)-slope(best-1))/bend, 0.5)
	}
	return p.rho(best) + off*p.step
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

// rival is the place of another steep fall nearby, set apart, NaN when there is
// none: in a picture put together from two exposures the limb may fall
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
	// Between them it must rise, or at least lie flat: else it is the darkening of the
	// disc that falls there.
	flattest := math.Inf(1)
	for k := 1; k < len(p.v); k++ {
		if r := p.rho(k) - p.step/2; r > min(fall.zeroPx, other.zeroPx) && r < max(fall.zeroPx, other.zeroPx) {
			flattest = min(flattest, (p.v[k-1]-p.v[k])/p.step)
		}
	}
	if steepest := 0.4 * other.drop / other.sigmaPx; flattest > 0.2*steepest {
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
