package limb

import (
	"cmp"
	"math"
	"slices"

	"limbwatch/coords"
)

// follow fits the limb of a circle at full resolution. offPx is how well the circle is
// known, others are round edges about it that are not to be taken for its own.
func (f finder) follow(c circle, sign, offPx float64, others []circle) (Fit, error) {
	t := tracker{p: f.p, sign: sign, outline: outline{circle: c}, opts: f.opts, toned: f.toned, others: others}
	if err := t.approach(offPx); err != nil {
		return Fit{}, err
	}
	if err := t.settle(); err != nil {
		return Fit{}, err
	}
	if err := t.measure(); err != nil {
		return Fit{}, err
	}
	return t.fit()
}

// tracker follows one candidate from the coarse search to the fit.
//
//	sign      +1, or −1 in a negative, where brightness rises outward
//	terms     of the outline that are fitted: a circle's or an ellipse's
//	halfPx    half the width of the band around the outline
//	edge      of the mean profile, about the outline
//	toned     the picture has likely been through a tone curve
//	torn      distance between the points' mean and the mean profile's fall, px
//	others    round edges that are not followed: where one comes near, nothing is read
//	found     limb points
//	within    directions in which the limb lies in the frame
type tracker struct {
	p    *plane
	opts Options
	sign float64
	outline
	terms  int
	halfPx float64
	edge   shape
	toned  bool
	torn   float64
	others []circle
	found  []matched
	within int
}

// gridPx is the least standard error of anything read off a grid of pixels between
// which brightness is interpolated.
const gridPx = 0.01

// toneShare is the error of the limb, as a share of the blur, that a tone curve
// brings: it shifts the middle of a blurred edge, and nothing in the picture tells
// (a γ of 0.6 or 1.4 shifts it by 0.1 to 0.3; from painted pictures). Pictures of
// 8 bit have been finished for showing and are taken to have one.
const toneShare = 0.1

// directions is the number of rows for the present radius: some 8 px of limb each.
func (t *tracker) directions() int {
	n := int(2 * math.Pi * t.r / 8)
	return max(120, min(1080, n))
}

// mustPx is how far outside the limb the frame must reach for a row to count.
func (t *tracker) mustPx() float64 { return min(t.halfPx, 2*t.edge.sigmaPx+0.5) }

func (t *tracker) refuse(format string, args ...any) error { return refuse(t.circle, format, args...) }

// approach brings the outline from the coarse search's accuracy to about a pixel.
func (t *tracker) approach(offPx float64) error {
	t.terms = circleTerms
	if t.opts.Shape == Ellipse {
		t.terms = ellipseTerms
	}
	sigma := max(1, offPx/3)
	for _, half := range []float64{3*offPx + 3, 3*offPx + 3, 2*offPx + 3} {
		half = max(half, 4.5*sigma)
		b := t.unroll(t.directions()/2, 3, reach{half, half, 2 * sigma, max(0.5, sigma/2)})
		points, _ := b.steepest(sigma)
		c, scale, ok := t.correct(points, 0.1)
		if !ok {
			return t.refuse("no limb found along the circle of radius %.0f px", t.r)
		}
		t.outline = t.corrected(c)
		t.edge.sigmaPx = max(1, scale)
		if math.Hypot(c[0], c[1])+math.Abs(c[2])+math.Hypot(c[3], c[4]) < 1 {
			break
		}
	}
	return nil
}

// correct fits the outline's correction, and goes over to an ellipse where that is
// plainly better and allowed.
func (t *tracker) correct(points []departure, floorPx float64) (correction, float64, bool) {
	c, scale, ok := correct(points, t.terms, floorPx)
	if ok && t.terms == circleTerms && t.opts.Shape == CircleOrEllipse && flattened(points, scale, t.r) {
		t.terms = ellipseTerms
		return correct(points, t.terms, floorPx)
	}
	return c, scale, ok
}

// settle finds the blur of the edge, the shape of the outline, and a band that
// fits both.
func (t *tracker) settle() error {
	t.halfPx = max(12, 4*t.edge.sigmaPx)
	for pass := range 5 {
		b := t.unroll(t.directions(), 3, reach{t.halfPx, t.halfPx, t.mustPx(), max(0.5, min(t.halfPx/20, 1.5))})
		points, rows := b.steepest(max(0.6, 0.6*t.edge.sigmaPx))
		c, scale, ok := t.correct(points, 0.05)
		if !ok {
			return t.refuse("no limb found along the circle of radius %.0f px", t.r)
		}
		good := rows[:0]
		for i, q := range points {
			if math.Abs(q.rho-c.outward(q.sin, q.cos)) < 5*scale {
				good = append(good, rows[i])
			}
		}
		if len(good) < 12 {
			return t.refuse("limb seen along only %d short stretches", len(good))
		}
		edge, ok := b.stack(good).fall()
		if !ok {
			return t.refuse("no step of brightness across the circle of radius %.0f px", t.r)
		}
		moved := math.Hypot(c[0], c[1]) + math.Hypot(c[3], c[4]) + math.Abs(edge.zeroPx)
		// Two edges of equal rights show as points that disagree with the mean profile.
		t.torn = math.Abs(c[2] - edge.zeroPx)
		// The profile was taken before the correction, which has the mean of the
		// points; the middle of the fall is the better radius.
		c[2] = edge.zeroPx
		t.outline = t.corrected(c)
		t.edge = edge
		// The band must hold a second limb, if there is one.
		half := max(5, min(max(6*edge.sigmaPx, 4*edge.sigmaPx+chromosphereShare*t.r)+2, 0.2*t.r))
		near := math.Abs(half-t.halfPx) < 0.25*t.halfPx
		t.halfPx = half
		if pass > 0 && moved < 0.3 && near {
			break
		}
	}
	return nil
}

// flattened says whether an ellipse is plainly better: see CircleOrEllipse.
func flattened(points []departure, scale, radiusPx float64) bool {
	c, tight, ok := correct(points, ellipseTerms, 0.05)
	if !ok {
		return false
	}
	d := math.Hypot(c[3], c[4])
	return d > 0.001*radiusPx && tight < 0.8*scale && covered(points) > 250 &&
		d > 6*tight*math.Sqrt(2/(float64(len(points))/8)) // neighbours agree: an eighth are independent
}

// covered is the length of limb on which there are points, in degrees: each is
// taken to speak for 2.5° either way.
func covered(points []departure) float64 {
	var bins [72]bool
	for _, p := range points {
		k := int((math.Atan2(p.sin, p.cos) + math.Pi) / (2 * math.Pi) * 72)
		bins[min(k, 71)] = true
	}
	n := 0.0
	for _, b := range bins {
		if b {
			n += 5
		}
	}
	return n
}

// measure takes the limb points.
func (t *tracker) measure() error {
	b := t.unroll(t.directions(), 8, reach{t.halfPx, t.halfPx, t.mustPx(), max(0.5, min(t.halfPx/20, 1.5))})
	var rows []int
	for i, v := range b.valid {
		if v {
			rows = append(rows, i)
		}
	}
	t.within = len(rows)
	_, good := b.steepest(max(0.6, 0.6*t.edge.sigmaPx))
	if len(good) < 12 {
		return t.refuse("limb seen along only %d short stretches", len(good))
	}
	mean := b.stack(good)
	edge, ok := mean.edge(t.p.ceiling(t.sign))
	if !ok {
		return t.refuse("no step of brightness across the circle of radius %.0f px", t.r)
	}
	if edge.plain && len(t.others) > 0 && !edge.burnt {
		// The darkening toward the limb is part of a fall beside bright light, and draws its
		// middle inward. It is steepest at the limb itself, and so is the fall.
		peak := mean.steepestNear(edge.zeroPx, 2*edge.sigmaPx)
		edge.zeroSigmaPx = math.Hypot(edge.zeroSigmaPx, 0.5*(peak-edge.zeroPx))
		edge.zeroPx = peak
	}
	if edge.plain {
		edge.zeroSigmaPx = math.Hypot(edge.zeroSigmaPx, 0.5*t.torn)
	}
	if t.toned {
		edge.zeroSigmaPx = math.Hypot(edge.zeroSigmaPx, toneShare*edge.sigmaPx)
	}
	t.edge = edge
	σ := edge.sigmaPx
	t.found = sound(b.match(mean, rows, edge.fallPx-3*σ-1.5-edge.innerPx, edge.fallPx+3*σ+1.5+edge.innerPx))
	t.balance(good)
	return nil
}

// balance shifts the limb points so that those of the rows in the mean profile are,
// on the mean, where the profile is. What they are off comes from their shapes
// (bands, clouds) and not from the limb.
func (t *tracker) balance(rows []int) {
	inMean := make(map[int]bool, len(rows))
	for _, i := range rows {
		inMean[i] = true
	}
	sum, n := 0.0, 0.0
	for _, m := range t.found {
		if inMean[m.row] {
			sum += m.rho
			n++
		}
	}
	if n == 0 {
		return
	}
	for i := range t.found {
		t.found[i].rho -= sum / n
	}
}

// fit fits the limb points.
func (t *tracker) fit() (Fit, error) {
	points := make([]departure, len(t.found))
	for i, m := range t.found {
		points[i] = m.departure
	}
	c, scale, ok := correct(points, t.terms, 0.01)
	if !ok {
		return Fit{}, t.refuse("too few limb points")
	}
	used := make([]bool, len(points))
	var kept []departure
	for i, q := range points {
		used[i] = math.Abs(q.rho-c.outward(q.sin, q.cos)) < 4.5*scale
		if used[i] {
			kept = append(kept, q)
		}
	}
	e, ok := fitCorrelated(stretches(kept, t.terms))
	if !ok {
		return Fit{}, t.refuse("limb points do not determine a circle")
	}
	c = correction(append(e.x, 0, 0)[:ellipseTerms])
	f := Fit{
		Points:    len(kept),
		Rejected:  t.within - len(kept),
		ArcDeg:    360 * float64(len(kept)) / float64(t.directions()),
		WidthPx:   2.3548 * t.edge.sigmaPx,
		Negative:  t.sign < 0,
		Saturated: t.edge.burnt,
	}
	sum := 0.0
	for i, q := range points {
		r := q.rho - c.outward(q.sin, q.cos)
		if used[i] {
			sum += r * r
		}
		f.Residuals = append(f.Residuals, Residual{Direction: coords.Atan2(-q.cos, -q.sin), OutPx: r, Used: used[i]})
	}
	f.RMSPx = math.Sqrt(sum / float64(len(kept)))
	c[2] += t.edge.zeroPx
	f.Limb = t.corrected(c).limb()
	f.Limb.Cov = covarianceOf(e.cov)
	f.Limb.Cov.RR += t.edge.zeroSigmaPx*t.edge.zeroSigmaPx + gridPx*gridPx
	f.Limb.Cov.XX += gridPx * gridPx
	f.Limb.Cov.YY += gridPx * gridPx
	if err := t.judge(f, e.sigma); err != nil {
		return Fit{}, err
	}
	return f, nil
}

// limb is the outline as others see it.
func (o outline) limb() coords.Limb {
	d := math.Hypot(o.a, o.b)
	l := coords.Limb{Centre: coords.Pixel{X: o.x, Y: o.y}, RadiusPx: o.r + d}
	if d > 0 {
		l.Flattening = 2 * d / (o.r + d)
		// The long axis lies at ½·atan2(b, a) from right toward down, which is the same
		// angle clockwise; the short one is a quarter turn off, and counts from up.
		long := math.Atan2(o.b, o.a) / 2
		l.ShortAxis = coords.Angle(-long).Wrap180()
	}
	return l
}

// stretches gathers neighbouring limb points into some 72 stretches of what limb
// there is, in order along it, beginning behind the widest gap. What bends the limb
// over less than a stretch is averaged out in them, so that the noise model need
// only describe the longer waves, which are what moves a circle.
func stretches(points []departure, terms int) []sample {
	type placed struct {
		angle float64
		departure
	}
	all := make([]placed, len(points))
	for i, p := range points {
		all[i] = placed{math.Atan2(p.sin, p.cos), p}
	}
	slices.SortFunc(all, func(a, b placed) int { return cmp.Compare(a.angle, b.angle) })
	widest, start := 0.0, 0
	for i := range all {
		gap := all[i].angle - all[(i+len(all)-1)%len(all)].angle
		if i == 0 {
			gap += 2 * math.Pi
		}
		if gap > widest {
			widest, start = gap, i
		}
	}
	if len(all) == 0 {
		return nil
	}
	var samples []sample
	span := 2*math.Pi - widest
	length := span/72 + 1e-9
	first := all[start].angle
	current := -1
	for k := range all {
		q := all[(start+k)%len(all)]
		along := q.angle - first
		if along < 0 {
			along += 2 * math.Pi
		}
		if cell := int(along / length); cell != current {
			current = cell
			samples = append(samples, sample{row: make([]float64, terms)})
		}
		s := &samples[len(samples)-1]
		row := designRow(q.sin, q.cos)
		for i := range s.row {
			s.row[i] += row[i]
		}
		s.rho += q.rho
		s.angle += along
		s.weight++
	}
	for i := range samples {
		s := &samples[i]
		for j := range s.row {
			s.row[j] /= s.weight
		}
		s.rho /= s.weight
		s.angle /= s.weight
	}
	return samples
}
