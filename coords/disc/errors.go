package disc

import (
	"math"

	"limbwatch/coords"
)

// synodicRate is how fast L0 falls, per day: the Carrington rate less the mean
// motion of the Earth, 13.1988° (it varies by 0.04° through the year).
const synodicRate = 13.1988 * coords.Degree

// errors are the causes of error of one line of sight. The impact point's are in
// radii of the photosphere, along the direction away from the centre (q) and
// along the direction of growing position angle (t).
type errors struct {
	qq, tt, qt float64
	rr         float64 // variance of r, in radii of the view's limb
	limbQQ     float64 // variance of q from the height of the limb alone
	ll         float64 // variance of L from the time
}

// some says whether anything is uncertain.
func (e errors) some(h Height) bool {
	return e.qq != 0 || e.tt != 0 || e.ll != 0 || h.SigmaMm != 0
}

// pixelErrors are the errors of a pixel (right, down) of the unit disc.
func (v View) pixelErrors(s sight, a aim, right, down, sigmaClickPx float64) errors {
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
func (v View) polarErrors(s sight, a aim, sigmaR float64) errors {
	return v.skyErrors(s, a, sigmaR*sigmaR, 0, 0)
}

// skyErrors adds limb height, north and time to the errors of a point of the
// unit disc.
func (v View) skyErrors(s sight, a aim, rr, tt, rt float64) errors {
	perR := s.limb // photospheric radii to a radius of the view's limb
	if a.r > 0 {
		perR = a.q / a.r
	}
	layer := a.q / s.limb * v.Layer.SigmaMm / coords.SolarRadiusMm
	north := a.q * v.North.Sigma.Radians()
	days := v.SigmaTime.Hours() / 24
	time := days * synodicRate.Radians()
	e := errors{rr: max(0, rr), limbQQ: layer * layer, ll: time * time}
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
func (v View) read(s sight, a aim, e errors, height Height) Place {
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
		p.Photosphere.Cov = s.covariance(a, e, p.Photosphere, radialVariance(a, e, p.Photosphere, Height{}))
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
func (v View) corrected(s sight, a aim, e errors, height Height) Reading {
	r := v.reading(s, a, 1+height.Mm/coords.SolarRadiusMm)
	if !r.Known {
		return r
	}
	if height.SigmaMm > 0 {
		var rho, mu float64
		for i, x := range nodes {
			tilt := tiltAt(a.q, height, x)
			rho += weights[i] * (tilt - a.rho1)
			mu += weights[i] * math.Cos(tilt)
		}
		r = v.readingAt(s, a, rho, mu)
	}
	r.Cov = s.covariance(a, e, r, radialVariance(a, e, r, height))
	return r
}

// tiltAt is the angle between the line of sight and the normal where it meets
// the sphere of a height x standard errors from its mean.
func tiltAt(q float64, height Height, x float64) float64 {
	sphere := 1 + max(0, height.Mm+x*height.SigmaMm)/coords.SolarRadiusMm
	return math.Asin(max(-1, min(1, q/sphere)))
}

// radialVariance is the mean square of the distance, along the line from the
// middle of the disc, between the reading and where the point may be. Near the
// limb that distance is far from linear in the errors, so it is averaged over
// them; points that would lie beyond the limb count as at the limb.
func radialVariance(a aim, e errors, r Reading, height Height) float64 {
	sigma := math.Sqrt(e.qq)
	perQ := 0.0
	if a.q > 0 {
		perQ = a.rho1 / a.q
	}
	sum := 0.0
	for i, x := range nodes {
		q := a.q + x*sigma
		if height.SigmaMm == 0 {
			d := tiltAt(q, height, 0) - q*perQ - r.Rho.Radians()
			sum += weights[i] * d * d
			continue
		}
		for j, y := range nodes {
			d := tiltAt(q, height, y) - q*perQ - r.Rho.Radians()
			sum += weights[i] * weights[j] * d * d
		}
	}
	return sum
}

// covariance turns errors along and across the radius into those of latitude
// and longitude.
func (s sight) covariance(a aim, e errors, r Reading, radial float64) coords.Covariance {
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
	cosB := max(r.B.Cos(), 1e-9)
	// A quarter turn about the normal carries outward into along, and north into
	// east: so the westward part of the one is the northward part of the other.
	outB, outL := outPole/cosB, alongPole/(cosB*cosB)
	alongB, alongL := alongPole/cosB, -outPole/(cosB*cosB)
	return coords.Covariance{
		BB: outB*outB*radial + alongB*alongB*tangential + 2*outB*alongB*cross,
		LL: outL*outL*radial + alongL*alongL*tangential + 2*outL*alongL*cross + e.ll,
		BL: outB*outL*radial + alongB*alongL*tangential + (outB*alongL+outL*alongB)*cross,
	}
}
