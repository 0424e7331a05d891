package limb

import "math"

// What betrays a round stop, or a frame drawn in finishing, that cuts the disc: the
// light is then bounded by two arcs, one of each circle, and either may be the limb.
const (
	// openShare of the limb within the frame must lack an edge to be asked about.
	openShare = 0.12
	// shortestCutDeg is the least length of a second arc, and cutSupport its least mean
	// support; random texture supports a circle at some 0.15.
	shortestCutDeg = 40
	cutSupport     = 0.3
	// darkLevel, between sky and disc, is what the light must have fallen to beside an
	// edge for it to bound the light.
	darkLevel = 0.4
	// cutStep is the least fall of brightness across the second arc, and openStep the most
	// across the limb beyond that arc, where only the sky's light should be: both as
	// shares of the limb's own fall.
	cutStep  = 0.3
	openStep = 0.2
)

// cutBy looks for a second circle that bounds the light where the limb c has no edge:
// one that crosses it, has an edge where it runs within it, and beyond which the limb
// has none. The Moon and a roof before the Sun bound it too, but not as a circle with
// the light in it.
func (s *slopes) cutBy(c candidate, small *plane) (candidate, bool) {
	if !c.falling || c.arc > (1-openShare)*s.shareWithin(c.circle) {
		return candidate{}, false
	}
	lit := c.circle
	inner := &slopes{w: s.w, h: s.h, gx: s.gx, gy: s.gy, noise: s.noise, lit: &lit}
	inner.claim(lit)
	l := small.levelsAbout(c)
	dark := l.near + darkLevel*(l.inside-l.near)
	for _, e := range s.edges {
		x, y := e.x+beside*e.nx, e.y+beside*e.ny
		if inner.inside(e.x, e.y) && !inner.taken[int(e.y+0.5)*s.w+int(e.x+0.5)] &&
			small.inside(x, y, 1) && float64(small.at(x, y)) < dark {
			inner.edges = append(inner.edges, e)
		}
	}
	cuts := func(o candidate) bool {
		return o.falling && o.crosses(lit) && o.support > cutSupport && o.arc*360 > shortestCutDeg &&
			small.boundsLight(o.circle, lit)
	}
	const mostTried = 12
	sin, cos := lookAround(180)
	drawn := inner.draw()
	for _, o := range drawn[:min(mostTried, len(drawn))] {
		if inner.weigh(&o, sin, cos, false); cuts(o) {
			return o, true
		}
		if inner.settle(&o) && cuts(o) {
			return o, true
		}
	}
	return candidate{}, false
}

// crosses says whether two circles cut each other, and not just graze.
func (c circle) crosses(o circle) bool {
	apart := math.Hypot(c.x-o.x, c.y-o.y)
	return apart > 1.03*math.Abs(c.r-o.r)+2 && apart < 0.9*(c.r+o.r)
}

// shareWithin is the share of a circle that lies within the picture.
func (s *slopes) shareWithin(c circle) float64 {
	sin, cos := lookAround(96)
	n := 0
	for i := range sin {
		if x, y := c.at(sin[i], cos[i], 0); s.inside(x, y) {
			n++
		}
	}
	return float64(n) / float64(len(sin))
}

// boundsLight says whether brightness falls across a circle where it runs within the
// limb, and not across the limb where that runs beyond the circle.
func (p *plane) boundsLight(o, limb circle) bool {
	within, _ := p.stepsAcross(o, limb)
	closed, open := p.stepsAcross(limb, o)
	return within > cutStep*closed && open < openStep*closed
}

// stepsAcross is the median fall of brightness across a circle, where it runs within
// another and where beyond.
func (p *plane) stepsAcross(c, o circle) (within, beyond float64) {
	sin, cos := lookAround(180)
	off := max(3, 0.02*c.r)
	var in, out []float64
	for i := range sin {
		x0, y0 := c.at(sin[i], cos[i], -off)
		x1, y1 := c.at(sin[i], cos[i], off)
		if !p.inside(x0, y0, 1) || !p.inside(x1, y1, 1) {
			continue
		}
		step := float64(p.at(x0, y0) - p.at(x1, y1))
		switch {
		case math.Hypot(x1-o.x, y1-o.y) < o.r:
			in = append(in, step)
		case math.Hypot(x0-o.x, y0-o.y) > o.r:
			out = append(out, step)
		}
	}
	return median(in), median(out)
}
