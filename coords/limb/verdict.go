package limb

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
	vaguestShare = 0.01
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
	case stretchPx > max(raggedPx, raggedShare*r):
		return t.refuse("the edge is ragged: stretches of it scatter by %.1f px about the circle of radius %.0f px", stretchPx, r)
	case f.WidthPx > widestShare*r:
		return t.refuse("the edge is %.0f px wide on a disc of radius %.0f px", f.WidthPx, r)
	case max(f.Limb.Cov.SigmaCentrePx(), f.Limb.Cov.SigmaRadiusPx()) > vaguestShare*r:
		return t.refuse("centre and radius stay uncertain by %.1f and %.1f px", f.Limb.Cov.SigmaCentrePx(), f.Limb.Cov.SigmaRadiusPx())
	}
	return nil
}
