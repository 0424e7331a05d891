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
func (s *Sight) beyond(b *Beyond, a *aim) {
	limb := s.limbReading(a)
	b.HeightArcsec = coords.Angle(a.rho1 - s.limbAngle).Arcseconds()
	b.HeightMm = (a.q - s.limb) * coords.SolarRadiusMm
	b.AboveSunMm = (a.q - 1) * coords.SolarRadiusMm
	b.Limb = limb.Measured
	// The limb is symmetric about the central meridian.
	cmd, l0 := limb.CMD.Abs(), s.view.Face.L0
	b.EastL, b.WestL = (l0 - cmd).Wrap360(), (l0 + cmd).Wrap360()
}

// limbReading is the place of the photospheric limb in the direction of a.
func (s *Sight) limbReading(a *aim) (r Reading) {
	s.reading(&r, a, &s.edge)
	return r
}

// beyondErrors fills in the errors of a point beyond the limb. The place of the
// limb has an error along the limb only.
func (s *Sight) beyondErrors(b *Beyond, a *aim, e *scatter) {
	sigmaR := math.Sqrt(e.rr)
	b.SigmaArcsec = coords.Angle(sigmaR * s.limbAngle).Arcseconds()
	// The height of the limb hardly changes how far outside it a point lies,
	// but all the more how far above the photosphere.
	perR := a.q / a.r * coords.SolarRadiusMm
	layer := math.Sqrt(e.limbQQ) * coords.SolarRadiusMm
	b.SigmaMm = math.Hypot(sigmaR*perR, (a.q-s.limb)/a.q*layer)
	b.SigmaAboveMm = math.Sqrt(e.qq) * coords.SolarRadiusMm
	along := *e
	along.qt = 0
	b.Limb.Cov = s.covariance(a, &along, &s.edge, 0)
}
