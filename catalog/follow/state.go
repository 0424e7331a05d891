package follow

import (
	"math"

	"limbwatch/coords"
)

// axis is the filtered state along longitude or latitude, in degrees and
// degrees a day: the place x and the feature's own rate v (what it has over its
// law), with their covariance.
type axis struct {
	x, v       float64
	xx, xv, vv float64
}

// carry moves the state by dt days (negative: into the past) along a law's
// drift; the centre wanders by wander degrees in a day.
func (a *axis) carry(dt, drift, wander float64) {
	a.x += (drift + a.v) * dt
	a.xx += dt*(2*a.xv+dt*a.vv) + wander*wander*math.Abs(dt)
	a.xv += dt * a.vv
}

// absorb is the Kalman update with a place z whose variance is r.
func (a axis) absorb(z, r float64) axis {
	s := a.xx + r
	miss := z - a.x
	gain, gainV := a.xx/s, a.xv/s
	left := r / s // of what was not known; no difference of two like figures, which may end below 0
	return axis{
		x: a.x + gain*miss, v: a.v + gainV*miss,
		xx: left * a.xx, xv: left * a.xv, vv: a.vv - gainV*a.xv,
	}
}

// retold is the state when the rate, of which a prior of variance was told, mean 0, is
// told another one instead. What the sightings say of the rate stays.
func (a axis) retold(was, mean, is float64) axis {
	if was == is && mean == 0 {
		return a
	}
	// No more is taken away than is there: the mean of several ways may know less of
	// the rate than its prior did.
	more := 1/is - min(1/was, 1/a.vv)
	k := 1 + more*a.vv
	push := (mean/is - more*a.v) / k
	return axis{
		x: a.x + a.xv*push, v: a.v + a.vv*push,
		xx: a.xx - more*a.xv*a.xv/k, xv: a.xv / k, vv: a.vv / k,
	}
}

// moved is the state when the centre has leapt by shift, with a variance.
func (a axis) moved(shift, variance float64) axis {
	a.x += shift
	a.xx += variance
	return a
}

// mix is the mixture of states with the given weights (their sum is 1), brought
// down to one of the same mean and covariance.
func mix(states *[ways]axis, weights *[ways]float64) axis {
	var m axis
	for k, s := range states {
		m.x += weights[k] * s.x
		m.v += weights[k] * s.v
	}
	for k, s := range states {
		w, dx, dv := weights[k], s.x-m.x, s.v-m.v
		m.xx += w * (s.xx + dx*dx)
		m.xv += w * (s.xv + dx*dv)
		m.vv += w * (s.vv + dv*dv)
	}
	return m
}

// normal is the density of the normal distribution with variance s at distance d.
func normal(d, s float64) float64 {
	return math.Exp(-0.5*d*d/s) / math.Sqrt(2*math.Pi*s)
}

// meeting is how well a state from the past and one from the future meet, as the
// exponent and the square of the denominator of a density in 1/degree: that of the
// future's first place given the past, with the rates of both sides heard. The
// prior of the rate (variance prior) is in both states and is counted once.
//
//	∫ N(s; past) N(s; future) / N(v; 0, prior) ds = exp(−square/2) / √norm
//
// A state that knows less of its rate than the prior did, as the mean of several ways
// may, has no more of it in it than it knows.
func meeting(f, b axis, prior float64) (square, norm float64) {
	prior = max(prior, f.vv, b.vv)
	b.x -= f.x // about the past's place, so that no digits are lost
	detF, detB := f.xx*f.vv-f.xv*f.xv, b.xx*b.vv-b.xv*b.xv
	fxx, fxv, fvv := f.vv/detF, -f.xv/detF, f.xx/detF
	bxx, bxv, bvv := b.vv/detB, -b.xv/detB, b.xx/detB
	// Information matrix and vector of the product.
	axx, axv, avv := fxx+bxx, fxv+bxv, fvv+bvv-1/prior
	px, pv := fxv*f.v+bxx*b.x+bxv*b.v, fvv*f.v+bxv*b.x+bvv*b.v
	det := axx*avv - axv*axv
	square = fvv*f.v*f.v + bxx*b.x*b.x + 2*bxv*b.x*b.v + bvv*b.v*b.v
	square -= (avv*px*px - 2*axv*px*pv + axx*pv*pv) / det
	return square, detF * detB * det * 2 * math.Pi / prior
}

// state is what a run of sightings tells of its feature at one of its ends: the
// last one when it was filtered forward, the first one when backward.
//
//	prior   of what it is taken for
//	size    of what was marked at that end
//	day     days since 2000 of that end, and its central meridian distance
//	away    days that the state was carried from there
//	lasted  days between its first and last sighting
//	like    chance of its kinds of mark, for each nature
//	pin     of the observer's passage, 0 when none of them is pinned
type state struct {
	lon, lat axis
	prior    *prior
	size     extent
	day, cmd float64
	away     float64
	lasted   float64
	like     likelihood
	pin      int
}

// begin is the state after a single sighting, of a feature that was there lived
// days before (after, going back).
func begin(n *node, p *prior, lived float64) state {
	return state{
		lon:   axis{x: n.lon, xx: p.varLon(n), vv: p.rateSigma * p.rateSigma},
		lat:   axis{x: n.lat, xx: p.varLat(n), vv: p.driftSigma * p.driftSigma},
		prior: p,
		size:  n.size,
		day:   n.day, lasted: lived,
		cmd:  n.cmd,
		like: n.like,
		pin:  n.pin,
	}
}

// under is the state of a feature that is taken for another thing: told another prior.
func (s state) under(p *prior) state {
	if s.prior == p {
		return s
	}
	// Own rates count from the law: the same motion is another rate under another law.
	apart := p.drift(s.lat.x) - s.prior.drift(s.lat.x)
	s.lon = s.lon.retold(coords.Square(s.prior.rateSigma), apart, coords.Square(p.rateSigma))
	s.lon.v -= apart
	s.lat = s.lat.retold(coords.Square(s.prior.driftSigma), 0, coords.Square(p.driftSigma))
	s.prior = p
	return s
}

// at is the state carried to another day.
func (s state) at(day float64) state {
	dt := day - s.day
	s.lon.carry(dt, s.prior.drift(s.lat.x), s.prior.motion.wanderLon)
	s.lat.carry(dt, 0, s.prior.motion.wanderLat)
	s.day = day
	s.away += math.Abs(dt)
	return s
}

// hear is the state, carried to the node's day already, after that sighting; from is
// the state before it was carried.
func (s state) hear(n *node, from *state) state {
	p := s.prior
	zLon := s.lon.x + wrap180(n.lon-s.lon.x)
	rLon, rLat := p.varLon(n), p.varLat(n)
	early, late, sign := from.cmd, n.cmd, 1.0
	if s.day < from.day {
		early, late, sign = late, early, -1
	}
	var lons, lats [ways]axis
	var weights [ways]float64
	sum := 0.0
	all := p.ways(early, late, s.away, s.size.or(n.size))
	for k, way := range all {
		lon, lat := s.lon.moved(sign*way.shift, way.varLon), s.lat.moved(0, way.varLat)
		weights[k] = way.chance * normal(zLon-lon.x, lon.xx+rLon) * normal(n.lat-lat.x, lat.xx+rLat)
		sum += weights[k]
		lons[k], lats[k] = lon.absorb(zLon, rLon), lat.absorb(n.lat, rLat)
	}
	if sum == 0 { // out of all reach: the observer joined them
		weights[widest], sum = 1, 1
	}
	for k := range weights {
		weights[k] /= sum
	}
	if !n.misplaced {
		s.lon, s.lat = mix(&lons, &weights), mix(&lats, &weights)
	}
	s.lasted += math.Abs(s.day - from.day)
	s.cmd, s.away, s.size = n.cmd, 0, n.size
	s.like = s.like.times(n.like)
	s.pin = max(s.pin, n.pin)
	return s
}

// outOfReach is a square of standard errors at which a way adds nothing: e^−20.
const outOfReach = 40

// meet is the density, in 1/square degree, of the future run's first place given
// the past run, which was carried to the future's day. Both are under one prior.
func meet(past, future *state) float64 {
	p, lon := past.prior, past.lon
	lon.x = future.lon.x - wrap180(future.lon.x-lon.x)
	rate, drift := coords.Square(p.rateSigma), coords.Square(p.driftSigma)
	sum := 0.0
	for _, way := range p.ways(past.cmd, future.cmd, past.away, past.size.or(future.size)) {
		if way.chance < 1e-5 ||
			coords.Square(lon.x+way.shift-future.lon.x)/(lon.xx+way.varLon+future.lon.xx)+
				coords.Square(past.lat.x-future.lat.x)/(past.lat.xx+way.varLat+future.lat.xx) > outOfReach {
			continue
		}
		squareLon, normLon := meeting(lon.moved(way.shift, way.varLon), future.lon, rate)
		squareLat, normLat := meeting(past.lat.moved(0, way.varLat), future.lat, drift)
		sum += way.chance * math.Exp(-(squareLon+squareLat)/2) / math.Sqrt(normLon*normLat)
	}
	return sum
}

// wrap180 brings degrees into −180 ≤ a < 180.
func wrap180(a float64) float64 {
	return a - 360*math.Floor((a+180)/360)
}

func degrees(a float64) coords.Angle { return coords.Angle(a) * coords.Degree }
