package north

import (
	"fmt"
	"math"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// Shot is one picture of the drifting Sun.
//
//	Centre  of the disc, and its standard error along either axis
//	Time    when it was taken
type Shot struct {
	Centre  coords.Pixel
	SigmaPx float64
	Time    time.Time
}

// Run is a drift: pictures taken with the tracking off and the camera untouched.
//
//	Shots         two or more
//	ArcsecPerPx   scale of the picture: apparent radius of the limb over its radius
//	              in pixels
//	Site          where; nil when not known, then refraction is not corrected
type Run struct {
	Shots       []Shot
	ArcsecPerPx float64
	Site        *Site
}

// DriftLine is what a drift tells: the east-west line with its direction, but not
// the parity. Straight and Mirrored are the north for either parity, opposite to
// one another.
type DriftLine struct {
	Straight, Mirrored coords.North
	// LengthPx is how far the disc moved.
	LengthPx float64
	why      string
}

// unknownRefraction is the error of the direction of drift that refraction makes
// when the site is not known: 0.035° for a Sun 30° high (TRADE: the disc is
// flattened by 0.12 %), more below.
const unknownRefraction = 0.05 * coords.Degree

// Drift finds the east-west line from pictures taken with the tracking off, on
// which the Sun moves west, corrected for its own motion in right ascension and
// declination and, with a site, for refraction. The error follows from those of
// the centres and from the length of the drift.
//
// It refuses a run that is too short, and one whose length does not agree with
// the time that passed: then the tracking was not off.
func Drift(run Run) (DriftLine, error) {
	if len(run.Shots) < 2 {
		return DriftLine{}, fmt.Errorf("drift: %d pictures, need at least 2", len(run.Shots))
	}
	if !(run.ArcsecPerPx > 0) {
		return DriftLine{}, fmt.Errorf("drift: scale %g arcsec/px, need more than 0", run.ArcsecPerPx)
	}
	path, err := pathOf(run.Shots)
	if err != nil {
		return DriftLine{}, err
	}
	moves := ephemeris.DriftAt(path.middle)
	west, north := moves.West, moves.North
	sigmaSky := unknownRefraction
	if run.Site != nil {
		west, north, err = refracted(west, north, path.middle, *run.Site)
		if err != nil {
			return DriftLine{}, err
		}
		sigmaSky = 0.01 * coords.Degree
	}
	wantPx := coords.Angle(math.Hypot(float64(west), float64(north))).Arcseconds() * path.seconds / run.ArcsecPerPx
	// Times written to whole seconds make some of the difference in a short run.
	if slack := 0.15*wantPx + 15/run.ArcsecPerPx; math.Abs(path.length-wantPx) > slack {
		return DriftLine{}, fmt.Errorf("drift: the disc moved %.0f px in %.0f s where the sky moves %.0f px: the tracking was on, or the times are not right",
			path.length, path.seconds, wantPx)
	}
	sigma := coords.Angle(math.Hypot(path.sigma, float64(sigmaSky)))
	if sigma > 2*coords.Degree {
		return DriftLine{}, fmt.Errorf("drift: %.0f px is too short a way for centres known to %.1f px: north would be ± %.1f deg",
			path.length, run.Shots[0].SigmaPx, sigma.Degrees())
	}
	toward := coords.Atan2(-float64(west), float64(north)) // position angle of the motion
	line := DriftLine{
		Straight: coords.North{Angle: at(path.direction, toward, false), Sigma: sigma},
		Mirrored: coords.North{Angle: at(path.direction, toward, true), Sigma: sigma, Mirrored: true},
		LengthPx: path.length,
	}
	line.why = fmt.Sprintf("the disc drifted %.0f px toward %.2f° in %.0f s, which is position angle %.2f°",
		path.length, path.direction.Wrap360().Degrees(), path.seconds, toward.Wrap360().Degrees())
	return line, nil
}

// path is the line along which the centres lie.
type path struct {
	direction       coords.Angle // counter-clockwise from up
	sigma           float64      // radians
	length, seconds float64
	middle          time.Time
}

// pathOf fits a line to the centres by least distance, so that errors of the
// times do not matter, and directs it by the times.
func pathOf(shots []Shot) (path, error) {
	first, last := shots[0], shots[0]
	var mx, my, worst float64
	n := float64(len(shots))
	for i, s := range shots {
		if !(s.SigmaPx > 0) {
			return path{}, fmt.Errorf("drift: error of centre %d is %g px, need more than 0", i+1, s.SigmaPx)
		}
		if s.Time.Before(first.Time) {
			first = s
		}
		if s.Time.After(last.Time) {
			last = s
		}
		mx, my, worst = mx+s.Centre.X/n, my+s.Centre.Y/n, max(worst, s.SigmaPx)
	}
	p := path{seconds: last.Time.Sub(first.Time).Seconds()}
	p.middle = first.Time.Add(last.Time.Sub(first.Time) / 2)
	if p.seconds <= 0 {
		return path{}, fmt.Errorf("drift: all pictures are of %s", first.Time.UTC().Format(time.RFC3339))
	}
	var xx, yy, xy float64
	for _, s := range shots {
		dx, dy := s.Centre.X-mx, s.Centre.Y-my
		xx, yy, xy = xx+dx*dx, yy+dy*dy, xy+dx*dy
	}
	axis := math.Atan2(2*xy, xx-yy) / 2
	sin, cos := math.Sincos(axis)
	if cos*(last.Centre.X-first.Centre.X)+sin*(last.Centre.Y-first.Centre.Y) < 0 {
		sin, cos = -sin, -cos
	}
	p.direction = coords.Atan2(-cos, -sin)
	along := xx*cos*cos + 2*xy*sin*cos + yy*sin*sin
	across := xx*sin*sin - 2*xy*sin*cos + yy*cos*cos
	p.length = math.Hypot(last.Centre.X-first.Centre.X, last.Centre.Y-first.Centre.Y)
	if n > 2 { // the scatter about the line may be worse than the centres claim
		worst = max(worst, math.Sqrt(across/(n-2)))
	}
	p.sigma = math.Pi
	if along > 0 {
		p.sigma = worst / math.Sqrt(along)
	}
	return p, nil
}

// refracted bends a motion by what refraction takes from its vertical part.
func refracted(west, north coords.Angle, t time.Time, site Site) (w, n coords.Angle, err error) {
	sky := ephemeris.FromSite(t, site.Lat, site.LonEast)
	if sky.Altitude < 0 {
		return 0, 0, fmt.Errorf("drift: the Sun stands %.1f deg below the horizon of the site", -sky.Altitude.Degrees())
	}
	const step = 0.1 * coords.Degree
	lift := (ephemeris.Refraction(sky.Altitude+step) - ephemeris.Refraction(sky.Altitude)) / step
	sin, cos := sky.Parallactic.Sincos() // the zenith is at (west, north) = (−sin, cos)
	up := north*coords.Angle(cos) - west*coords.Angle(sin)
	return west - up*lift*coords.Angle(sin), north + up*lift*coords.Angle(cos), nil
}

// Known turns the line into a north when the parity is known from elsewhere.
func (d DriftLine) Known(mirrored bool) Found {
	return Found{North: d.side(mirrored), Method: MethodDrift, Why: d.why + "; parity as given: " + Handed(mirrored)}
}

func (d DriftLine) side(mirrored bool) coords.North {
	if mirrored {
		return d.Mirrored
	}
	return d.Straight
}

// Step is the disc before and after the telescope was moved in declination.
//
//	From, To     centres of the disc
//	SigmaPx      standard error of a centre along either axis
//	TowardSouth  the tube was pushed toward celestial south, not north
type Step struct {
	From, To    coords.Pixel
	SigmaPx     float64
	TowardSouth bool
}

// WithStep tells the parity of a drift from a step in declination: a tube pushed
// toward celestial north makes the disc move to the south of the field. The two
// parities expect opposite ways, so a step that is plainly along the line north
// to south decides; it refuses one that is short or askew.
func (d DriftLine) WithStep(step Step) (Found, error) {
	dx, dy := step.To.X-step.From.X, step.To.Y-step.From.Y
	length := math.Hypot(dx, dy)
	if !(step.SigmaPx > 0) {
		return Found{}, fmt.Errorf("step: error of its centres is %g px, need more than 0", step.SigmaPx)
	}
	if length < 10*step.SigmaPx {
		return Found{}, fmt.Errorf("step: %.1f px is too short against an error of %.1f px", length, step.SigmaPx)
	}
	southward := coords.Atan2(-dx, -dy)
	if step.TowardSouth {
		southward += 180 * coords.Degree
	}
	off := func(n coords.North) coords.Angle { return (southward - n.Angle - 180*coords.Degree).Wrap180().Abs() }
	mirrored := off(d.Mirrored) < off(d.Straight)
	askew := off(d.side(mirrored))
	if askew > 30*coords.Degree {
		return Found{}, fmt.Errorf("step: it leads %.0f deg away from the line north to south of the drift", askew.Degrees())
	}
	// A hand that moves the tube by the right ascension axis a little as well:
	// 10° of scatter, and one time in a hundred the wrong button.
	const scatter, slip = 10 * coords.Degree, 0.01
	right := math.Exp(-float64(askew*askew/(scatter*scatter)) / 2)
	wrong := math.Exp(-float64(off(d.side(!mirrored))*off(d.side(!mirrored))/(scatter*scatter)) / 2)
	p := ((1-slip)*right + slip*wrong) / (right + wrong)
	return Found{
		North:  d.side(mirrored),
		Method: MethodDrift,
		Parity: p,
		Why: fmt.Sprintf("%s; a step in declination of %.0f px, %.0f° off the line north to south, says %s (odds %s to 1)",
			d.why, length, askew.Degrees(), Handed(mirrored), odds(p)),
	}, nil
}
