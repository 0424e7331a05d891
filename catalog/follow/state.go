package follow

import "math"

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

// absorb is the Kalman update with a place z whose variance is r, when the
// centre may have jumped since with variance jump.
func (a axis) absorb(z, r, jump float64) axis {
	xx := a.xx + jump
	s := xx + r
	miss := z - a.x
	gain, gainV := xx/s, a.xv/s
	return axis{
		x: a.x + gain*miss, v: a.v + gainV*miss,
		xx: xx - gain*xx, xv: a.xv - gain*a.xv, vv: a.vv - gainV*a.xv,
	}
}

// blend is the mixture of two states with weight w for the other, brought down
// to one with the same mean and covariance.
func (a axis) blend(o axis, w float64) axis {
	u := 1 - w
	dx, dv := o.x-a.x, o.v-a.v
	return axis{
		x: a.x + w*dx, v: a.v + w*dv,
		xx: u*a.xx + w*o.xx + u*w*dx*dx,
		xv: u*a.xv + w*o.xv + u*w*dx*dv,
		vv: u*a.vv + w*o.vv + u*w*dv*dv,
	}
}

// logNormal is the logarithm of the normal density with variance s at distance d.
func logNormal(d, s float64) float64 {
	return -0.5 * (d*d/s + math.Log(2*math.Pi*s))
}

// logMeet is how well a state from the past and one from the future meet: the
// logarithm of the density, in 1/degree, of the future's first place given the
// past, with the rates of both sides heard. The prior of the rate (variance
// prior) is in both states and is counted once.
//
//	∫ N(s; past) N(s; future) / N(v; 0, prior) ds
func logMeet(past, future axis, jump, prior float64) float64 {
	f, b := past, future
	f.xx += jump
	b.x -= f.x // about the past's place, so that no digits are lost
	detF, detB := f.xx*f.vv-f.xv*f.xv, b.xx*b.vv-b.xv*b.xv
	fxx, fxv, fvv := f.vv/detF, -f.xv/detF, f.xx/detF
	bxx, bxv, bvv := b.vv/detB, -b.xv/detB, b.xx/detB
	// Information matrix and vector of the product.
	axx, axv, avv := fxx+bxx, fxv+bxv, fvv+bvv-1/prior
	px, pv := fxv*f.v+bxx*b.x+bxv*b.v, fvv*f.v+bxv*b.x+bvv*b.v
	det := axx*avv - axv*axv
	square := fvv*f.v*f.v + bxx*b.x*b.x + 2*bxv*b.x*b.v + bvv*b.v*b.v
	square -= (avv*px*px - 2*axv*px*pv + axx*pv*pv) / det
	return -0.5*(square+math.Log(detF*detB*det)) + 0.5*math.Log(prior/(2*math.Pi))
}

// state is what a run of sightings tells of its feature at one of its ends: the
// last one when it was filtered forward, the first one when backward.
//
//	day     days since 2000 of that end
//	lasted  days between its first and last sighting
//	like    chance of its kinds of mark, for each true kind
type state struct {
	lon, lat axis
	day      float64
	lasted   float64
	like     likelihood
}

// begin is the state after a single sighting.
func begin(n *node, p *Prior) state {
	return state{
		lon:  axis{x: n.lon, xx: n.varLon + p.centreVar(n, true), vv: p.RateScatter * p.RateScatter},
		lat:  axis{x: n.lat, xx: n.varLat + p.centreVar(n, false), vv: p.DriftScatter * p.DriftScatter},
		day:  n.day,
		like: n.like,
	}
}

// at is the state carried to another day.
func (s state) at(day float64, p *Prior) state {
	dt := day - s.day
	s.lon.carry(dt, p.Law.driftDegPerDay(s.lat.x), p.WanderLon)
	s.lat.carry(dt, 0, p.WanderLat)
	s.day = day
	return s
}

// hear is the state, carried to the node's day already, after that sighting.
func (s state) hear(n *node, p *Prior, from float64) state {
	zLon := s.lon.x + wrap180(n.lon-s.lon.x)
	rLon, rLat := n.varLon+p.centreVar(n, true), n.varLat+p.centreVar(n, false)
	jumpLon, jumpLat := p.JumpLon*p.JumpLon, p.JumpLat*p.JumpLat
	calm := logNormal(zLon-s.lon.x, s.lon.xx+rLon) + logNormal(n.lat-s.lat.x, s.lat.xx+rLat)
	leap := logNormal(zLon-s.lon.x, s.lon.xx+rLon+jumpLon) + logNormal(n.lat-s.lat.x, s.lat.xx+rLat+jumpLat)
	w := 1 / (1 + (1-p.Jumps)/p.Jumps*math.Exp(calm-leap))
	s.lon = s.lon.absorb(zLon, rLon, 0).blend(s.lon.absorb(zLon, rLon, jumpLon), w)
	s.lat = s.lat.absorb(n.lat, rLat, 0).blend(s.lat.absorb(n.lat, rLat, jumpLat), w)
	s.lasted += math.Abs(s.day - from)
	s.like = s.like.times(n.like)
	return s
}

// meet is the logarithm of the density, in 1/square degree, of the future run's
// first place given the past run, at the future's day.
func meet(past, future state, p *Prior) float64 {
	past.lon.x = future.lon.x - wrap180(future.lon.x-past.lon.x)
	rate, drift := p.RateScatter*p.RateScatter, p.DriftScatter*p.DriftScatter
	calm := logMeet(past.lon, future.lon, 0, rate) + logMeet(past.lat, future.lat, 0, drift)
	leap := logMeet(past.lon, future.lon, p.JumpLon*p.JumpLon, rate) +
		logMeet(past.lat, future.lat, p.JumpLat*p.JumpLat, drift)
	return logSum(calm+math.Log1p(-p.Jumps), leap+math.Log(p.Jumps))
}

// logSum is log(e^a + e^b) without overflow.
func logSum(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// wrap180 brings degrees into −180 ≤ a < 180.
func wrap180(a float64) float64 {
	return a - 360*math.Floor((a+180)/360)
}
