package disc

import (
	"math"

	"limbwatch/coords"
)

// synodicRate is how fast L0 falls, per day: the Carrington rate less the mean
// motion of the Earth, 13.1988° (it varies by 0.04° through the year).
const synodicRate = 13.1988 * coords.Degree

// scatter is what makes one line of sight uncertain, by variances. The impact
// point's are in radii of the photosphere, along the direction away from the
// centre (q) and along the direction of growing position angle (t).
type scatter struct {
	qq, tt, qt float64
	rr         float64 // variance of r, in radii of the view's limb
	limbQQ     float64 // variance of q from the height of the limb alone
	ll         float64 // variance of L from the time
}

// some says whether anything is uncertain.
func (e *scatter) some(h Height) bool {
	return e.qq != 0 || e.tt != 0 || e.ll != 0 || h.SigmaMm != 0
}

// pixelErrors are the errors of a point of a picture.
func (s *Sight) pixelErrors(a *aim, sigmaClickPx float64) scatter {
	limb := &s.view.Limb
	// How the unit disc moves with the pixel, the limb's flattening taken out;
	// it moves the opposite way with the centre, and inward with the radius.
	scale := 1 / limb.RadiusPx
	// Rows: away from the centre, and along growing position angle.
	outW, outN := a.west, a.north
	ox, oy := outW*s.wx+outN*s.nx, outW*s.wy+outN*s.ny
	ax, ay := -outN*s.wx+outW*s.nx, -outN*s.wy+outW*s.ny
	if limb.Flattening != 0 {
		sin, cos := limb.ShortAxis.Sincos()
		ex, ey := -sin, -cos
		stretch := 1/(1-limb.Flattening) - 1
		along := stretch * (ox*ex + oy*ey)
		ox, oy = ox+along*ex, oy+along*ey
		along = stretch * (ax*ex + ay*ey)
		ax, ay = ax+along*ex, ay+along*ey
	}
	ox, oy, ax, ay = ox*scale, oy*scale, ax*scale, ay*scale
	shrink := -a.r * scale

	click := sigmaClickPx * sigmaClickPx
	c := &limb.Cov
	xx, yy := click+c.XX, click+c.YY
	rr := ox*ox*xx + 2*ox*oy*c.XY + oy*oy*yy - 2*shrink*(ox*c.XR+oy*c.YR) + shrink*shrink*c.RR
	tt := ax*ax*xx + 2*ax*ay*c.XY + ay*ay*yy
	rt := ox*ax*xx + (ox*ay+oy*ax)*c.XY + oy*ay*yy - shrink*(ax*c.XR+ay*c.YR)
	return s.skyErrors(a, rr, tt, rt)
}

// polarErrors are the errors of a point given by position angle and r.
func (s *Sight) polarErrors(a *aim, sigmaR float64) scatter {
	return s.skyErrors(a, sigmaR*sigmaR, 0, 0)
}

// skyErrors adds limb height, north and time to the errors of a point of the
// unit disc.
func (s *Sight) skyErrors(a *aim, rr, tt, rt float64) scatter {
	perR := s.limb // photospheric radii to a radius of the view's limb
	if a.r > 0 {
		perR = a.q / a.r
	}
	layer := a.q / s.limb * s.layer
	north := a.q * s.north
	e := scatter{rr: max(0, rr), limbQQ: layer * layer, ll: s.time * s.time}
	e.qq = e.rr*perR*perR + e.limbQQ
	e.tt = max(0, tt)*perR*perR + north*north
	e.qt = rt * perR * perR
	return e
}

// Nodes and weights of the five-point Gauss-Hermite rule for a normal
// distribution (Abramowitz & Stegun, table 25.10, rescaled).
var (
	nodes   = [5]float64{-2.8569700138728056, -1.3556261799742659, 0, 1.3556261799742659, 2.8569700138728056}
	weights = [5]float64{0.011257411327720691, 0.22207592200561264, 0.53333333333333333, 0.22207592200561264, 0.011257411327720691}
)

// corrected is the reading at a height, at its mean over what the height may be.
func (s *Sight) corrected(a *aim, e *scatter, height Height, uncertain bool) (r Reading) {
	if !uncertain {
		sphere := 1 + height.Mm/coords.SolarRadiusMm
		if m, ok := a.meet(sphere); ok {
			m.rho = a.tilt(sphere) - coords.Angle(a.rho1)
			s.reading(&r, a, &m)
		}
		return r
	}
	spheres, likely, n := height.spread()
	var m ray
	var total float64
	for i := range n {
		if a.q > spheres[i] {
			continue // the line of sight passes above this height
		}
		tilt := a.tilt(spheres[i])
		m.rho += coords.Angle(likely[i]) * (tilt - coords.Angle(a.rho1))
		m.mu += likely[i] * tilt.Cos()
		total += likely[i]
	}
	if total < 0.5 { // most of what the height may be is not met at all
		return r
	}
	m.rho /= coords.Angle(total)
	m.mu /= total
	m.sinRho, m.cosRho = m.rho.Sincos()
	s.reading(&r, a, &m)
	radial := 0.0
	var spread coords.Covariance
	for i := range n {
		radial += likely[i] * radialVariance(a, e, spheres[i])
		if n > 1 { // along the line of sight a height is no small error
			var at ray
			at.sinRho, at.cosRho = (a.tilt(spheres[i]) - coords.Angle(a.rho1)).Sincos()
			db, dl := s.moved(a.west, a.north, &at, &r)
			spread.BB += likely[i] * db * db
			spread.LL += likely[i] * dl * dl
			spread.BL += likely[i] * db * dl
		}
	}
	r.Cov = s.covariance(a, e, &m, radial).Plus(spread).Plus(s.bend(a, &m, &r))
	return r
}

// moved is by how much another place on the Sun lies beside a reading, in radians.
func (s *Sight) moved(west, north float64, m *ray, from *Reading) (db, dl float64) {
	h, cmd := s.place(west, north, m)
	return (h.B - from.B).Radians(), (cmd - from.CMD).Wrap180().Radians()
}

// straightNorth is the error of north up to which the arc that a place moves along
// passes for a straight line.
const straightNorth = 0.25 * coords.Degree

// bend is the variance that the curvature of an error of north adds: the place
// moves along an arc about the middle of the disc, which an ellipse can only
// follow by being wider. Up to 1.5° the ellipse still holds what it should; beyond,
// no ellipse about the place can follow the arc: at 3° the one for 68 % holds up to
// 75 and the one for 95 % some 90 (by Monte Carlo).
func (s *Sight) bend(a *aim, m *ray, r *Reading) (c coords.Covariance) {
	if s.sinTurn == 0 {
		return c
	}
	// At z standard errors an arc leaves its tangent by k z², whose variance is
	// 2 k². At z = ±√3 that is 3 k.
	var kb, kl float64
	for _, sin := range [2]float64{s.sinTurn, -s.sinTurn} {
		db, dl := s.moved(a.west*s.cosTurn+a.north*sin, a.north*s.cosTurn-a.west*sin, m, r)
		kb += db / 6
		kl += dl / 6
	}
	return coords.Covariance{BB: 2 * kb * kb, LL: 2 * kl * kl, BL: 2 * kb * kl}
}

// radialVariance is the mean square of the distance, along the line from the
// middle of the disc, between where the point seems to be on a sphere and where
// it may be. Near the limb that distance is far from linear in the errors, so it
// is averaged over them; points that would lie beyond the limb count as at it.
func radialVariance(a *aim, e *scatter, sphere float64) float64 {
	sigma := math.Sqrt(e.qq)
	perQ := 0.0
	if a.q > 0 {
		perQ = a.rho1 / a.q
	}
	if sphere-a.q > 8*sigma { // far from the limb: linear
		d := 1/math.Sqrt(sphere*sphere-a.q*a.q) - perQ
		return d * d * e.qq
	}
	tilt := math.Asin(min(1, a.q/sphere))
	sum := 0.0
	for i, x := range nodes {
		d := math.Asin(max(-1, min(1, a.q+x*sigma)/sphere)) - tilt - x*sigma*perQ
		sum += weights[i] * d * d
	}
	return sum
}

// covariance turns errors along and across the radius into those of latitude
// and longitude.
func (s *Sight) covariance(a *aim, e *scatter, m *ray, radial float64) coords.Covariance {
	sinRho, cosRho := m.sinRho, m.cosRho
	perT := 1.0 // radians on the Sun to a unit of t
	if a.q > 0 {
		perT = sinRho / a.q
	}
	tangential := perT * perT * e.tt
	cross := 0.0
	if e.qt != 0 {
		cross = e.qt / math.Sqrt(e.qq*e.tt) * math.Sqrt(radial*tangential)
	}
	// Northward parts (times cos B) of the unit vectors outward and along
	// growing position angle: their products with the pole (0, cos B0, sin B0).
	outPole := a.north*cosRho*s.cosB0 - sinRho*s.sinB0
	alongPole := a.west * s.cosB0
	cosB := max(math.Hypot(outPole, alongPole), 1e-12)
	// A quarter turn about the normal carries outward into along, and north into
	// east: so the westward part of the one is the northward part of the other.
	outB, outL := outPole/cosB, alongPole/(cosB*cosB)
	alongB, alongL := alongPole/cosB, -outPole/(cosB*cosB)
	c := coords.Covariance{
		BB: outB*outB*radial + alongB*alongB*tangential + 2*outB*alongB*cross,
		LL: outL*outL*radial + alongL*alongL*tangential + 2*outL*alongL*cross + e.ll,
		BL: outB*outL*radial + alongB*alongL*tangential + (outB*alongL+outL*alongB)*cross,
	}
	// Beside a pole nothing is known of the longitude: any is as likely.
	const anyLongitude = math.Pi * math.Pi / 3
	if c.LL > anyLongitude {
		c.BL *= math.Sqrt(anyLongitude / c.LL)
		c.LL = anyLongitude
	}
	return c
}
