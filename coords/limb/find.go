package limb

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"limbwatch/coords"
	"limbwatch/coords/picture"
)

// Find finds the Sun's limb in a picture of the whole disc or a part of it.
//
// Circles are proposed on a shrunk picture (see propose), and the limb chosen
// among them (see choose). It is then followed at full resolution along several
// hundred directions and fitted. The error is a *RefusedError when the picture
// shows no limb, or none that can be trusted.
func Find(pic *picture.Picture, opts Options) (Fit, error) {
	if pic == nil || pic.Width < 32 || pic.Height < 32 || len(pic.Grey) != pic.Width*pic.Height {
		return Fit{}, errors.New("picture is smaller than 32 x 32 pixels")
	}
	p := &plane{w: pic.Width, h: pic.Height, v: pic.Grey}
	factor := max(1, int(math.Round(float64(max(p.w, p.h))/coarsePx)))
	small := p.shrink(factor)
	s := slopesOf(small.smooth())
	proposed := s.propose()
	if trace != nil {
		trace("factor %d edges %d noise %.3g", factor, len(s.edges), s.noise)
		for _, c := range proposed {
			trace("  candidate %.1f falling %v evidence %.0f support %.2f arc %.2f", c.circle, c.falling, c.evidence, c.support, c.arc)
		}
	}
	candidates := choose(proposed)
	if len(candidates) == 0 {
		return Fit{}, &RefusedError{Reason: "no limb found"}
	}
	var refusal error
	for _, c := range candidates {
		f, err := follow(p, c, factor, opts)
		if err == nil {
			return f, nil
		}
		if refusal == nil {
			refusal = err
		}
	}
	return Fit{}, refusal
}

// choose orders candidates.
func choose(found []candidate) []candidate {
	if len(found) > 3 {
		found = found[:3]
	}
	return found
}

// follow fits the limb of a candidate at full resolution.
func follow(p *plane, c candidate, factor int, opts Options) (Fit, error) {
	f := float64(factor)
	t := tracker{p: p, sign: c.sign(), circle: c.scaled(factor)}
	if err := t.approach(f); err != nil {
		return Fit{}, err
	}
	if err := t.settle(); err != nil {
		return Fit{}, err
	}
	return t.fit(opts)
}

// tracker follows one candidate from the coarse search to the fit.
type tracker struct {
	p    *plane
	sign float64
	circle
	edge  shape // of the mean profile, about circle
	found []matched
	used  []bool
	// scatter is the spread of single limb points, px.
	scatter float64
	rows    int // directions within the frame
}

// directions is the number of rows for the present radius: some 8 px of limb each.
func (t *tracker) directions() int {
	n := int(2 * math.Pi * t.r / 8)
	return max(120, min(1080, n))
}

// approach brings the circle from the coarse search's accuracy to about a pixel.
func (t *tracker) approach(factor float64) error {
	for _, half := range []float64{3*factor + 3, 2*factor + 3} {
		sigma := max(1, factor/3)
		half = max(half, 4.5*sigma)
		b := t.p.unroll(t.circle, t.sign, t.directions()/2, 4, reach{half, half, max(0.5, sigma/3)})
		points, _ := b.steepest(sigma)
		d, scale, ok := correct(points, 0.1)
		if !ok {
			return refuse(t.circle, "no limb found along the circle of radius %.0f px", t.r)
		}
		t.circle = t.shifted(d)
		t.scatter = scale
	}
	return nil
}

// settle finds the blur of the edge and then the limb points, in a band that fits
// the blur.
func (t *tracker) settle() error {
	sigma := max(1, t.scatter)
	half := 12.0
	for pass := range 4 {
		b := t.p.unroll(t.circle, t.sign, t.directions(), 8, reach{half, half, max(0.5, min(half/20, 1.5))})
		points, rows := b.steepest(max(0.6, 0.6*sigma))
		d, scale, ok := correct(points, 0.05)
		if !ok {
			return refuse(t.circle, "no limb found along the circle of radius %.0f px", t.r)
		}
		good := rows[:0]
		for i, q := range points {
			if math.Abs(q.rho-d[0]*q.cos-d[1]*q.sin-d[2]) < 5*scale {
				good = append(good, rows[i])
			}
		}
		if len(good) < 12 {
			return refuse(t.circle, "limb seen along only %d short stretches", len(good))
		}
		mean := b.stack(good)
		edge, ok := mean.fall()
		if !ok {
			return refuse(t.circle, "no step of brightness across the circle of radius %.0f px", t.r)
		}
		if trace != nil {
			trace("pass %d half %.1f circle %.2f %.2f %.2f d %.3f scale %.3f good %d/%d edge %+.4v", pass, half, t.x, t.y, t.r, d, scale, len(good), len(points), edge)
		}
		sigma = edge.sigmaPx
		next := max(5, min(6*sigma+2, 0.2*t.r))
		moved := math.Hypot(d[0], d[1]) + math.Abs(edge.zeroPx)
		t.circle = t.shifted([3]float64{d[0], d[1], edge.zeroPx})
		if pass > 0 && moved < 0.3 && math.Abs(next-half) < 0.25*half {
			break
		}
		half = next
	}
	t.edge.sigmaPx = sigma
	return t.measure(half)
}

var trace func(format string, args ...any)

// measure takes the limb points.
func (t *tracker) measure(half float64) error {
	b := t.p.unroll(t.circle, t.sign, t.directions(), 10, reach{half, half, max(0.5, min(half/16, 1.5))})
	var rows []int
	for i, v := range b.valid {
		if v {
			rows = append(rows, i)
		}
	}
	t.rows = len(rows)
	_, good := b.steepest(max(0.6, 0.6*t.edge.sigmaPx))
	if len(good) < 12 {
		return refuse(t.circle, "limb seen along only %d short stretches", len(good))
	}
	mean := b.stack(good)
	edge, ok := mean.edge()
	if !ok {
		return refuse(t.circle, "no step of brightness across the circle of radius %.0f px", t.r)
	}
	t.edge = edge
	σ := edge.sigmaPx
	t.found = sound(b.match(mean, rows, edge.zeroPx-3*σ-1-edge.innerPx, edge.zeroPx+3*σ+1))
	if trace != nil {
		trace("measure at R %.3f half %.1f edge %+.4v found %d/%d", t.r, half, edge, len(t.found), len(rows))
	}
	return nil
}

// fit fits the limb points.
func (t *tracker) fit(opts Options) (Fit, error) {
	points := make([]departure, len(t.found))
	for i, m := range t.found {
		points[i] = m.departure
	}
	d, scale, ok := correct(points, 0.01)
	if !ok {
		return Fit{}, refuse(t.circle, "too few limb points")
	}
	samples := []sample{}
	t.used = make([]bool, len(points))
	for i, q := range points {
		r := q.rho - d[0]*q.cos - d[1]*q.sin - d[2]
		if math.Abs(r) < 4.5*scale {
			t.used[i] = true
			angle := math.Atan2(q.sin, q.cos)
			samples = append(samples, sample{angle: angle, rho: q.rho, row: []float64{q.cos, q.sin, 1}})
		}
	}
	unwrap(samples)
	e, ok := fitCorrelated(samples)
	if !ok {
		return Fit{}, refuse(t.circle, "limb points do not determine a circle")
	}
	c := t.shifted([3]float64(e.x))
	c.r += t.edge.zeroPx
	f := Fit{
		Limb: coords.Limb{
			Centre:   coords.Pixel{X: c.x, Y: c.y},
			RadiusPx: c.r,
			Cov: coords.LimbCovariance{
				XX: e.cov[0][0], YY: e.cov[1][1], RR: e.cov[2][2] + t.edge.zeroSigmaPx*t.edge.zeroSigmaPx,
				XY: e.cov[0][1], XR: e.cov[0][2], YR: e.cov[1][2],
			},
		},
		Points:   len(samples),
		Rejected: t.rows - len(samples),
		ArcDeg:   360 * float64(len(samples)) / float64(t.directions()),
		WidthPx:  2.3548 * t.edge.sigmaPx,
		Negative: t.sign < 0,
	}
	sum := 0.0
	for i, q := range points {
		r := q.rho - e.x[0]*q.cos - e.x[1]*q.sin - e.x[2]
		if t.used[i] {
			sum += r * r
		}
		f.Residuals = append(f.Residuals, Residual{Direction: coords.Atan2(-q.cos, -q.sin), OutPx: r, Used: t.used[i]})
	}
	f.RMSPx = math.Sqrt(sum / float64(len(samples)))
	if trace != nil {
		trace("gls length %.2f° share %.2f sigma %.3f", e.lengthRad*180/math.Pi, e.share, e.sigma)
	}
	return f, nil
}

// unwrap orders samples along the limb, beginning behind the widest gap.
func unwrap(samples []sample) {
	slices.SortFunc(samples, func(a, b sample) int { return -compareDesc(a.angle, b.angle) })
	widest, start := 0.0, 0
	for i := range samples {
		gap := samples[i].angle - samples[(i+len(samples)-1)%len(samples)].angle
		if i == 0 {
			gap += 2 * math.Pi
		}
		if gap > widest {
			widest, start = gap, i
		}
	}
	for i := range start {
		samples[i].angle += 2 * math.Pi
	}
	turned := append(slices.Clone(samples[start:]), samples[:start]...)
	copy(samples, turned)
}

// String is a one-line summary for people.
func (f Fit) String() string {
	return fmt.Sprintf("centre %.2f, %.2f px, radius %.2f px (± %.2f, ± %.2f), rms %.2f px over %.0f°",
		f.Limb.Centre.X, f.Limb.Centre.Y, f.Limb.RadiusPx, f.Limb.Cov.SigmaCentrePx(), f.Limb.Cov.SigmaRadiusPx(), f.RMSPx, f.ArcDeg)
}
