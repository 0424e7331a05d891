package limb

import "math"

// What a limb must be to be believed. A disc that fails is refused: a wrong position
// is worse than none.
const (
	// shortestArcDeg is the least length of limb. On less the radius is hardly held.
	shortestArcDeg = 45
	// leastShare of the limb within the frame on which an edge must be seen.
	leastShare = 0.3
	// raggedShare and raggedPx, the larger of them, is the most that stretches of limb
	// may scatter about the fit: the share of the radius, or pixels. The ragged edge of
	// the corona in the far ultraviolet scatters by 0.5 % and more; the chromosphere
	// by 0.1 % (both from pictures looked at).
	raggedShare = 0.004
	raggedPx    = 0.25
	// widestShare of the radius that the blurred edge may be wide.
	widestShare = 0.12
	// vaguestShare of the radius that the standard errors may be.
	vaguestShare = 0.0125
	// darkShare of a dark disc's edge within the frame must be seen. What hides a part of
	// the Sun (the Moon, a roof, a lens cap) has its edge only where the Sun is behind it.
	// Not asked where other edges were weighed: there what it bounds has told.
	darkShare = 0.75
	// hardPx is the least width of an edge that came through optics, and evenShare of the
	// edge's step the least scatter of a real disc within it. A cover drawn over the disc
	// has an edge of one pixel and nothing in it.
	hardPx    = 1.25
	evenShare = 0.002
)

// judge refuses a fit that cannot be trusted. stretchPx is the scatter of stretches of
// limb about it.
func (t *tracker) judge(f Fit, stretchPx float64) error {
	r := f.Limb.RadiusPx
	switch {
	case f.ArcDeg < shortestArcDeg:
		return t.refuse("limb seen along %.0f° only, %d° are needed", f.ArcDeg, shortestArcDeg)
	case float64(f.Points) < leastShare*float64(t.within):
		return t.refuse("an edge is seen along %.0f %% only of the limb within the frame", 100*float64(f.Points)/float64(t.within))
	case f.Negative && len(t.others) == 0 && float64(f.Points) < darkShare*float64(t.within):
		return t.refuse("a dark disc of radius %.0f px has an edge along %.0f %% only of itself: something before the Sun", r, 100*float64(f.Points)/float64(t.within))
	case f.WidthPx < hardPx && t.even():
		return t.refuse("the disc of radius %.0f px is evenly grey to a hard edge: drawn over the Sun, whose own limb may lie elsewhere", r)
	case stretchPx > max(raggedPx, raggedShare*r):
		return t.refuse("the edge is ragged: stretches of it scatter by %.1f px about the circle of radius %.0f px", stretchPx, r)
	case f.WidthPx > widestShare*r:
		return t.refuse("the edge is %.0f px wide on a disc of radius %.0f px", f.WidthPx, r)
	case max(f.Limb.Cov.SigmaCentrePx(), f.Limb.Cov.SigmaRadiusPx()) > vaguestShare*r:
		return t.refuse("centre and radius stay uncertain by %.1f and %.1f px", f.Limb.Cov.SigmaCentrePx(), f.Limb.Cov.SigmaRadiusPx())
	}
	return nil
}

// even says whether there is nothing to be seen just within the edge.
func (t *tracker) even() bool {
	sin, cos := lookAround(180)
	var sum, squares, n float64
	for i := range sin {
		for _, in := range []float64{4, 6, 8} {
			x, y := t.at(sin[i], cos[i], -min(in, 0.1*t.r))
			if t.p.inside(x, y, 1) {
				v := float64(t.p.at(x, y))
				sum, squares, n = sum+v, squares+v*v, n+1
			}
		}
	}
	if n < 30 {
		return false
	}
	mean := sum / n
	return math.Sqrt(max(0, squares/n-mean*mean)) < evenShare*t.edge.drop
}
