package limb

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"limbwatch/coords"
)

// usualClickPx is the standard error of a typed limb point, each way, when none is
// given (common practice, no source).
const usualClickPx = 0.5

// FitPoints fits a circle, or on request an ellipse (Options.Shape), to typed limb
// points: three or more, five for an ellipse. From six points on outliers are left
// out as in Find.
//
// The error of a point comes from the residuals, with Options.SigmaClickPx counted
// like the residuals of three points more: so with few points the click's error
// stands, with many the points speak. Points are taken as independent. The error
// is a *RefusedError when the points determine no circle.
func FitPoints(points []coords.Pixel, opts Options) (Fit, error) {
	terms := circleTerms
	if opts.Shape == Ellipse {
		terms = ellipseTerms
	}
	if len(points) < terms {
		return Fit{}, &RefusedError{Reason: fmt.Sprintf("%d limb points, at least %d are needed", len(points), terms)}
	}
	for _, p := range points {
		if math.IsNaN(p.X-p.X) || math.IsNaN(p.Y-p.Y) {
			return Fit{}, errors.New("a limb point is not a number")
		}
	}
	start, ok := algebraic(points)
	if !ok {
		return Fit{}, &RefusedError{Reason: "the limb points lie on a straight line"}
	}
	o, used, ok := refine(outline{circle: start}, points, terms)
	if !ok {
		return Fit{}, &RefusedError{Reason: "the limb points determine no circle"}
	}
	return o.fitOf(points, used, terms, opts.SigmaClickPx)
}

// Typed is a limb given as a circle, with the standard error of its centre (each
// way) and of its radius, which must be positive.
func Typed(centre coords.Pixel, radiusPx, sigmaPx float64) (Fit, error) {
	for _, v := range []float64{centre.X, centre.Y, radiusPx, sigmaPx} {
		if math.IsNaN(v - v) {
			return Fit{}, errors.New("a typed circle has a part that is not a number")
		}
	}
	if !(radiusPx > 0) {
		return Fit{}, fmt.Errorf("radius %g px is not positive", radiusPx)
	}
	if !(sigmaPx > 0) {
		return Fit{}, fmt.Errorf("standard error %g px is not positive: nothing is known exactly", sigmaPx)
	}
	v := sigmaPx * sigmaPx
	return Fit{Limb: coords.Limb{Centre: centre, RadiusPx: radiusPx, Cov: coords.LimbCovariance{XX: v, YY: v, RR: v}}}, nil
}

// refine fits an outline to points by distance: by the Gauss–Newton method, robustly
// from six points on. It says which points were used.
func refine(o outline, points []coords.Pixel, terms int) (outline, []bool, bool) {
	used := make([]bool, len(points))
	for range 30 {
		all := o.departures(points)
		robust := len(points) >= 6 && len(points) > terms
		var c correction
		scale := math.Inf(1)
		if robust {
			var ok bool
			if c, scale, ok = correct(all, terms, 1e-3); !ok {
				return o, used, false
			}
		}
		n := newNormal(terms)
		for i, p := range all {
			if used[i] = math.Abs(p.rho-c.outward(p.sin, p.cos)) < 4.5*scale; used[i] {
				row := designRow(p.sin, p.cos)
				n.add(row[:terms], p.rho)
			}
		}
		x, _, ok := n.solve(0)
		if !ok {
			return o, used, false
		}
		c = correction{}
		moved := 0.0
		for i, v := range x {
			c[i] = v
			moved += math.Abs(v)
		}
		if moved > o.r { // too far for one step: the curvature is hardly seen
			for i := range c {
				c[i] *= o.r / moved
			}
		}
		o = o.corrected(c)
		if !(o.r > 0) || math.IsNaN(o.r) {
			return o, used, false
		}
		if moved < 1e-9*o.r {
			break
		}
	}
	return o, used, true
}

// departures of points from the outline, along the radius.
func (o outline) departures(points []coords.Pixel) []departure {
	all := make([]departure, len(points))
	for i, p := range points {
		dx, dy := p.X-o.x, p.Y-o.y
		r := math.Hypot(dx, dy)
		sin, cos := 0.0, 1.0
		if r > 0 {
			sin, cos = dy/r, dx/r
		}
		all[i] = departure{sin, cos, r - o.radius(sin, cos), 1}
	}
	return all
}

// fitOf makes the Fit of an outline that was fitted to points.
func (o outline) fitOf(points []coords.Pixel, used []bool, terms int, clickPx float64) (Fit, error) {
	if clickPx <= 0 {
		clickPx = usualClickPx
	}
	n := newNormal(terms)
	f := Fit{}
	square := 0.0
	var kept []departure
	for i, d := range o.departures(points) {
		f.Residuals = append(f.Residuals, Residual{Direction: coords.Atan2(-d.cos, -d.sin), OutPx: d.rho, Used: used[i]})
		if !used[i] {
			f.Rejected++
			continue
		}
		row := designRow(d.sin, d.cos)
		n.add(row[:terms], d.rho)
		square += d.rho * d.rho
		kept = append(kept, d)
	}
	f.Points = len(kept)
	f.RMSPx = math.Sqrt(square / float64(f.Points))
	f.ArcDeg = spanDeg(kept)
	_, inv, ok := n.solve(0)
	if !ok {
		return Fit{}, &RefusedError{Reason: "the limb points determine no circle"}
	}
	const clicks = 3 // the click's own error counts like so many residuals
	free := float64(f.Points - terms)
	variance := (square + clicks*clickPx*clickPx) / (free + clicks)
	for i := range inv {
		for j := range inv[i] {
			inv[i][j] *= variance
		}
	}
	f.Limb = o.limb()
	f.Limb.Cov = covarianceOf(inv)
	if s := f.Limb.Cov.SigmaRadiusPx(); s > 0.1*o.r {
		return Fit{}, refuse(o.circle, "the limb points lie on too short an arc: radius %.0f ± %.0f px", o.r, s)
	}
	return f, nil
}

// covarianceOf takes centre and radius out of the covariance of a correction. The
// long semi-axis of an ellipse has the error of the ellipse besides.
func covarianceOf(cov [][]float64) coords.LimbCovariance {
	c := coords.LimbCovariance{
		XX: cov[0][0], YY: cov[1][1], RR: cov[2][2],
		XY: cov[0][1], XR: cov[0][2], YR: cov[1][2],
	}
	if len(cov) == ellipseTerms {
		c.RR += (cov[3][3] + cov[4][4]) / 2
	}
	return c
}

// spanDeg is the length of limb from the first point to the last, past the widest
// gap between neighbours, in degrees.
func spanDeg(points []departure) float64 {
	angles := make([]float64, len(points))
	for i, p := range points {
		angles[i] = math.Atan2(p.sin, p.cos)
	}
	slices.Sort(angles)
	widest := 0.0
	for i := range angles {
		gap := angles[i] - angles[(i+len(angles)-1)%len(angles)]
		if i == 0 {
			gap += 2 * math.Pi
		}
		widest = max(widest, gap)
	}
	return 360 - widest*180/math.Pi
}

// algebraic fits a circle to points in closed form, to start from: the least
// squares of Kåsa (1976, IEEE Trans. Instrum. Meas. 25, 8), with the origin in the
// points' mean. It is false for points on a line.
func algebraic(points []coords.Pixel) (circle, bool) {
	var mx, my float64
	for _, p := range points {
		mx += p.X
		my += p.Y
	}
	mx /= float64(len(points))
	my /= float64(len(points))
	// Units of the points' spread keep the numbers near 1.
	spread := 0.0
	for _, p := range points {
		spread = max(spread, math.Hypot(p.X-mx, p.Y-my))
	}
	if !(spread > 0) {
		return circle{}, false
	}
	n := newNormal(3)
	for _, p := range points {
		u, v := (p.X-mx)/spread, (p.Y-my)/spread
		n.add([]float64{u, v, 1}, u*u+v*v)
	}
	x, _, ok := n.solve(0)
	if !ok {
		return circle{}, false
	}
	r := math.Sqrt(x[2] + (x[0]*x[0]+x[1]*x[1])/4)
	if !(r < 1e4) { // as good as a line
		return circle{}, false
	}
	return circle{mx + spread*x[0]/2, my + spread*x[1]/2, spread * r}, true
}
