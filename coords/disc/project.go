package disc

import (
	"math"

	"limbwatch/coords"
)

// Polar is where a point stands in the sky against the disc.
//
//	PositionAngle  from celestial north through east
//	R              distance from the centre in radii of the view's limb
//	Mu             cosine of the angle between the point's vertical and the line
//	               of sight; negative beyond the limb's own horizon
//	Visible        not hidden behind the disc
type Polar struct {
	PositionAngle coords.Angle
	R, Mu         float64
	Visible       bool
}

// Project is Sight.Project for a single place.
func (v View) Project(h coords.Heliographic, heightMm float64) (p coords.Pixel, visible bool) {
	s := v.sight()
	return s.Project(h, heightMm)
}

// Project is the pixel at which a place at a height above the photosphere
// appears, and whether it is visible. A place behind the Sun is hidden unless
// it is so high that it stands above the limb of the picture.
func (s *Sight) Project(h coords.Heliographic, heightMm float64) (p coords.Pixel, visible bool) {
	a, mu := s.lineTo(h, heightMm)
	w, n := a.west*a.r, a.north*a.r
	// The rows of the turn are orthonormal: its inverse is its transpose.
	return s.view.Limb.At(s.wx*w+s.nx*n, s.wy*w+s.ny*n), s.visible(&a, mu)
}

// ProjectPolar is Project without a picture; of the view only Layer and Face are
// used.
func (v View) ProjectPolar(h coords.Heliographic, heightMm float64) Polar {
	s := v.sight()
	return s.ProjectPolar(h, heightMm)
}

// ProjectPolar is View.ProjectPolar for many places.
func (s *Sight) ProjectPolar(h coords.Heliographic, heightMm float64) Polar {
	a, mu := s.lineTo(h, heightMm)
	return s.polar(&a, mu)
}

// polar is where a line of sight stands in the sky.
func (s *Sight) polar(a *aim, mu float64) Polar {
	return Polar{
		PositionAngle: s.positionAngle(a),
		R:             a.r,
		Mu:            mu,
		Visible:       s.visible(a, mu),
	}
}

// lineTo is the line of sight to a point of the Sun, and its mu.
func (s *Sight) lineTo(h coords.Heliographic, heightMm float64) (a aim, mu float64) {
	radius := 1 + heightMm/coords.SolarRadiusMm
	w, n, o := s.direction(h.B, h.L-s.view.Face.L0)
	sinRho := math.Hypot(w, n)
	away := s.distance - radius*o // from the observer, along the line to the centre
	a = aim{rho1: math.Atan2(radius*sinRho, away), north: 1}
	a.sin1, a.cos1 = math.Sincos(a.rho1)
	a.r = a.rho1 / s.limbAngle
	a.q = s.distance * a.sin1
	if sinRho > 0 {
		a.west, a.north = w/sinRho, n/sinRho
	}
	// Vertical and direction to the observer: (n, D·ô − r n) / distance.
	mu = (s.distance*o - radius) / math.Hypot(radius*sinRho, away)
	return a, mu
}

// visible says that a point is this side of its horizon, or above the limb.
func (s *Sight) visible(a *aim, mu float64) bool {
	return mu >= 0 || a.q > max(1, s.limb)
}
