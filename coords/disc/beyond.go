package disc

import (
	"math"

	"limbwatch/coords"
)

// EarthDiameterMm is the mean diameter of the Earth, to say heights in.
const EarthDiameterMm = 12.742

// Beyond is what is known of a point beyond the photospheric limb: no longitude
// of its own, as nobody can see how far in front of or behind the limb it is.
//
//	HeightArcsec       above the view's limb, as seen; negative between the limbs
//	HeightMm           the same in megametres, as if the point stood at the limb
//	AboveSunMm         above the photosphere
//	Limb               the place of the photospheric limb at this position angle
//	EastL, WestL       Carrington longitudes at which the limb crosses that
//	                   latitude in the east and in the west; Limb.L is one of them
type Beyond struct {
	HeightArcsec, SigmaArcsec float64
	HeightMm, SigmaMm         float64
	AboveSunMm, SigmaAboveMm  float64
	Limb                      coords.Measured
	EastL, WestL              coords.Angle
}

// beyond reads a point beyond the photospheric limb, without errors.
func (v View) beyond(s sight, a aim) Beyond {
	limb := v.limbReading(s, a)
	b := Beyond{
		HeightArcsec: coords.Angle(a.rho1 - s.limbAngle).Arcseconds(),
		HeightMm:     (a.q - s.limb) * coords.SolarRadiusMm,
		AboveSunMm:   (a.q - 1) * coords.SolarRadiusMm,
		Limb:         limb.Measured,
	}
	// The limb is symmetric about the central meridian.
	cmd := limb.CMD.Abs()
	b.EastL, b.WestL = (v.Face.L0 - cmd).Wrap360(), (v.Face.L0 + cmd).Wrap360()
	return b
}

// limbReading is the place of the photospheric limb in the direction of a.
func (v View) limbReading(s sight, a aim) Reading {
	return v.readingAt(s, a, math.Pi/2-v.Face.Semidiameter.Radians(), 0)
}

// beyondErrors fills in the errors of a point beyond the limb. The place of the
// limb has an error along the limb only.
func (v View) beyondErrors(b *Beyond, s sight, a aim, e scatter) {
	sigmaR := math.Sqrt(e.rr)
	b.SigmaArcsec = coords.Angle(sigmaR * s.limbAngle).Arcseconds()
	// The height of the limb hardly changes how far outside it a point lies,
	// but all the more how far above the photosphere.
	perR := a.q / a.r * coords.SolarRadiusMm
	layer := math.Sqrt(e.limbQQ) * coords.SolarRadiusMm
	b.SigmaMm = math.Hypot(sigmaR*perR, (a.q-s.limb)/a.q*layer)
	b.SigmaAboveMm = math.Sqrt(e.qq) * coords.SolarRadiusMm
	along := e
	along.qt = 0
	b.Limb.Cov = s.covariance(a, along, v.limbReading(s, a), 0)
}
