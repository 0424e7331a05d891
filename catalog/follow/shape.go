package follow

import (
	"math"

	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// curve is a spine or an outline as a few points, degrees of latitude and of
// longitude, the latter not wrapped.
type curve [][2]float64

// curvePoints is how many points a curve is brought down to.
const curvePoints = 9

// curveOf resamples a shape at equal steps of its length, its longitudes about
// lonDeg; nil when it has fewer than two points.
func curveOf(shape []coords.Heliographic, closed bool, lonDeg float64) curve {
	if len(shape) < 2 {
		return nil
	}
	points := make(curve, 0, len(shape)+1)
	for _, h := range shape {
		points = append(points, [2]float64{h.B.Degrees(), lonDeg + wrap180(h.L.Degrees()-lonDeg)})
	}
	if closed {
		points = append(points, points[0])
	}
	length := 0.0
	for i := 1; i < len(points); i++ {
		length += distance(points[i-1], points[i])
	}
	if length == 0 {
		return nil
	}
	out, walked, at := make(curve, 0, curvePoints), 0.0, 1
	for k := range curvePoints {
		want := length * float64(k) / (curvePoints - 1)
		step := distance(points[at-1], points[at])
		for at < len(points)-1 && walked+step < want {
			walked += step
			at++
			step = distance(points[at-1], points[at])
		}
		part := 0.0
		if step > 0 {
			part = min(1, (want-walked)/step)
		}
		a, b := points[at-1], points[at]
		out = append(out, [2]float64{a[0] + part*(b[0]-a[0]), a[1] + part*(b[1]-a[1])})
	}
	return out
}

func distance(a, b [2]float64) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// spread is the extent of a curve in latitude and in longitude.
func (c curve) spread() (lat, lon float64) {
	if len(c) == 0 {
		return 0, 0
	}
	low, high := c[0], c[0]
	for _, p := range c {
		for k := range p {
			low[k], high[k] = min(low[k], p[k]), max(high[k], p[k])
		}
	}
	return high[0] - low[0], high[1] - low[1]
}

func (c curve) middle() [2]float64 {
	var m [2]float64
	for _, p := range c {
		m[0] += p[0] / float64(len(c))
		m[1] += p[1] / float64(len(c))
	}
	return m
}

// carry turns every vertex of a curve by the law at its own latitude, and by the
// feature's own rate and drift.
func (c curve) carry(dt float64, law rotation.Law, rate, drift float64) curve {
	out := make(curve, len(c))
	for k, p := range c {
		out[k] = [2]float64{p[0] + drift*dt, p[1] + (driftDegPerDay(law, p[0])+rate)*dt}
	}
	return out
}

// nearest is the vector from p to the nearest place on a curve.
func (c curve) nearest(p [2]float64) (lat, lon float64) {
	best := math.Inf(1)
	for k := 1; k < len(c); k++ {
		a, b := c[k-1], c[k]
		dLat, dLon := b[0]-a[0], b[1]-a[1]
		part := 0.0
		if step := dLat*dLat + dLon*dLon; step > 0 {
			part = max(0, min(1, ((p[0]-a[0])*dLat+(p[1]-a[1])*dLon)/step))
		}
		toLat, toLon := a[0]+part*dLat-p[0], a[1]+part*dLon-p[1]
		if d := toLat*toLat + toLon*toLon; d < best {
			best, lat, lon = d, toLat, toLon
		}
	}
	return lat, lon
}

// maxSlide bounds, in parts of the longer curve, how far two drawings of one thing
// may be shifted along it: drawn to 70 and to 130 % of its length, from one end.
const maxSlide = 0.3

// slide is what part of the way from the middle of an old, carried curve to that
// of a new one is explained by the two having been drawn to different lengths. The
// shorter is laid on the longer: what distance then remains is the true miss, and
// the rest of the way is a slide along the curve.
func slide(old, fresh curve) (lat, lon float64) {
	from, to := old.middle(), fresh.middle()
	shift := 360 * math.Round((from[1]-to[1])/360)
	short, long, sign := old, fresh, 1.0
	oldLat, oldLon := old.spread()
	newLat, newLon := fresh.spread()
	longest := math.Hypot(oldLat, oldLon)
	if other := math.Hypot(newLat, newLon); other < longest {
		short, long, sign = fresh, old, -1
	} else {
		longest = other
	}
	var missLat, missLon float64
	for _, p := range short {
		toLat, toLon := long.nearest([2]float64{p[0], p[1] - sign*shift})
		missLat += sign * toLat / float64(len(short))
		missLon += sign * toLon / float64(len(short))
	}
	lat, lon = to[0]-from[0]-missLat, to[1]+shift-from[1]-missLon
	if far := math.Hypot(lat, lon); far > maxSlide*longest {
		lat, lon = lat*maxSlide*longest/far, lon*maxSlide*longest/far
	}
	return lat, lon
}
