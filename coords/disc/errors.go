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
func (e scatter) some(h Height) bool {
	return e.qq != 0 || e.tt != 0 || e.ll != 0 || h.SigmaMm != 0
}

// pixelErrors are the errors of a pixel (right, down) of the unit disc.
func (v View) pixelErrors(s sight, a aim, right, down, sigmaClickPx float64) scatter {
	// How the unit disc moves with the pixel, the limb's flattening taken out;
	// it moves the opposite way with the centre, and inward with the radius.
	scale := 1 / v.Limb.RadiusPx
	var ex, ey, stretch float64
	if v.Limb.Flattening != 0 {
		sin, cos := v.Limb.ShortAxis.Sincos()
		ex, ey = -sin, -cos
		stretch = 1/(1-v.Limb.Flattening) - 1
	}
	// Rows: away from the centre, and along growing position angle.
	outW, outN := a.west, a.north
	ox, oy := outW*s.wx+outN*s.nx, outW*s.wy+outN*s.ny
	ax, ay := -outN*s.wx+outW*s.nx, -outN*s.wy+outW*s.ny
	along := stretch * (ox*ex + oy*ey)
	ox, oy = (ox+along*ex)*scale, (oy+along*ey)*scale
	along = stretch * (ax*ex + ay*ey)
	ax, ay = (ax+along*ex)*scale, (ay+along*ey)*scale
	shrink := -a.r * scale

	click := sigmaClickPx * sigmaClickPx
	c := v.Limb.Cov
	xx, yy := click+c.XX, click+c.YY
	rr := ox*ox*xx + 2*ox*oy*c.XY + oy*oy*yy - 2*shrink*(ox*c.XR+oy*c.YR) + shrink*shrink*c.RR
	tt := ax*ax*xx + 2*ax*ay*c.XY + ay*ay*yy
	rt := ox*ax*xx + (ox*ay+oy*ax)*c.XY + oy*ay*yy - shrink*(ax*c.XR+ay*c.YR)
	return v.skyErrors(s, a, rr, tt, rt)
}

// polarErrors are the errors of a point given by position angle and r.
func (v View) polarErrors(s sight, a aim, sigmaR float64) scatter {
	return v.skyErrors(s, a, sigmaR*sigmaR, 0, 0)
}

// skyErrors adds limb height, north and time to the errors of a point of the
// unit disc.
func (v View) skyErrors(s sight, a aim, rr, tt, rt float64) scatter {
	perR := s.limb // photospheric radii to a radius of the view's limb
	if a.r > 0 {
		perR = a.q / a.r
	}
	layer := a.q / s.limb * v.Layer.SigmaMm / coords.SolarRadiusMm
	north := a.q * v.North.Sigma.Radians()
	days := v.SigmaTime.Hours() / 24
	time := days * synodicRate.Radians()
	e := scatter{rr: max(0, rr), limbQQ: layer * layer, ll: time * time}
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

// read reads a place with its errors.
func (v View) read(s sight, a aim, e scatter, height Height) Place {
	p := v.begin(s, a)
	if p.Where == Nowhere {
		return p
	}
	p.SigmaR = math.Sqrt(e.rr)
	p.SigmaPositionAngle = coords.Angle(math.Pi)
	if sigma := math.Sqrt(e.tt); sigma < math.Pi*a.q {
		p.SigmaPositionAngle = coords.Angle(sigma / a.q)
	}
	p.LimbSigmas = (1 - a.q) / math.Sqrt(e.qq)
	if p.Where == OnDisc {
		p.Photosphere = v.reading(s, a, 1)
		p.Photosphere.Cov = s.covariance(a, e, p.Photosphere, radialVariance(a, e, 1)).
			Plus(v.bend(s, a, p.Photosphere))
		p.Corrected = p.Photosphere
	} else {
		p.Beyond = v.beyond(s, a)
		v.beyondErrors(&p.Beyond, s, a, e)
	}
	if height != (Height{}) && p.Where != BeyondLimb {
		p.Corrected = v.corrected(s, a, e, height)
	}
	return p
}

// corrected is the reading at a height, at its mean over what the height may be.
func (v View) corrected(s sight, a aim, e scatter, height Height) Reading {
	spheres, likely, n := height.spread()
	var rho, mu, total float64
	for i := range n {
		if a.q > spheres[i] {
			continue // the line of sight passes above this height
		}
		tilt := math.Asin(a.q / spheres[i])
		rho += likely[i] * (tilt - a.rho1)
		mu += likely[i] * math.Cos(tilt)
		total += likely[i]
	}
	if total < 0.5 { // most of what the height may be is not met at all
		return Reading{}
	}
	r := v.readingAt(s, a, rho/total, mu/total)
	radial := 0.0
	var spread coords.Covariance
	for i := range n {
		radial += likely[i] * radialVariance(a, e, spheres[i])
		if n > 1 { // along the line of sight a height is no small error
			at := v.readingAt(s, a, math.Asin(min(1, a.q/spheres[i]))-a.rho1, 0)
			db, dl := (at.B - r.B).Radians(), (at.L - r.L).Wrap180().Radians()
			spread.BB += likely[i] * db * db
			spread.LL += likely[i] * dl * dl
			spread.BL += likely[i] * db * dl
		}
	}
	r.Cov = s.covariance(a, e, r, radial).Plus(spread).Plus(v.bend(s, a, r))
	return r
}

// bend is the variance that the curvature of an error of north adds: the place
// moves along an arc about the middle of the disc, which an ellipse can only
// follow by being wider. Up to 1.5° the ellipse still holds what it should; beyond,
// no ellipse about the place can follow the arc: at 3° the one for 68 % holds up to
// 75 and the one for 95 % some 90 (by Monte Carlo).
func (v View) bend(s sight, a aim, r Reading) (c coords.Covariance) {
	const negligible = 0.25 * coords.Degree
	if v.North.Sigma < negligible {
		return c
	}
	// At z standard errors an arc leaves its tangent by k z², whose variance is
	// 2 k². At z = ±√3 that is 3 k.
	sin, cos := (coords.Angle(math.Sqrt(3)) * v.North.Sigma).Sincos()
	var db, dl float64
	for _, sin := range [2]float64{sin, -sin} {
		turned := a
		turned.west, turned.north = a.west*cos+a.north*sin, a.north*cos-a.west*sin
		at := v.readingAt(s, turned, r.Rho.Radians(), 0)
		db += (at.B - r.B).Radians()
		dl += (at.L - r.L).Wrap180().Radians()
	}
	kb, kl := db/6, dl/6
	return coords.Covariance{BB: 2 * kb * kb, LL: 2 * kl * kl, BL: 2 * kb * kl}
}

// radialVariance is the mean square of the distance, along the line from the
// middle of the disc, between where the point seems to be on a sphere and where
// it may be. Near the limb that distance is far from linear in the errors, so it
// is averaged over them; points that would lie beyond the limb count as at it.
func radialVariance(a aim, e scatter, sphere float64) float64 {
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
func (s sight) covariance(a aim, e scatter, r Reading, radial float64) coords.Covariance {
	sinRho, cosRho := r.Rho.Sincos()
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
