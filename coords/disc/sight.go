package disc

import (
	"math"

	"limbwatch/coords"
)

// Sight is a View made ready for its points: what is the same for all of them is
// worked out once. Whoever reads many points of one picture makes its Sight once, with
// View.Sight, and asks that; the methods of View make one for a single point. There is
// no other way to a place, so both give the same to the last bit.
//
// A Sight is not changed by its use: several may read from one at a time.
type Sight struct {
	view View
	// Lengths are in radii of the photosphere.
	distance     float64 // of the observer from the Sun's centre; NaN where nothing can be read
	limb         float64 // radius of the sphere whose edge the view's limb is
	limbAngle    float64 // its radius in the sky, radians
	sinB0, cosB0 float64
	edge         ray // to the photospheric limb, which stands at 90° − S
	// A direction (right, down) in the picture is toward solar west by
	// right·wx + down·wy, and toward solar north by right·nx + down·ny.
	picture        bool // the view's limb has a radius
	wx, wy, nx, ny float64
	// Of the errors, what is the same for all points.
	layer, north, time float64 // of the limb's height, of north, of L0: radians and radii
	sinTurn, cosTurn   float64 // √3 standard errors of north; 0 and 1 where they are negligible
}

// Sight makes the view ready for many points.
func (v View) Sight() *Sight {
	s := v.sight()
	return &s
}

func (v *View) sight() Sight {
	s := Sight{
		view:     *v,
		distance: 1 / v.Face.Semidiameter.Sin(),
		limb:     1 + v.Layer.HeightMm/coords.SolarRadiusMm,
		picture:  v.Limb.RadiusPx > 0,
		layer:    v.Layer.SigmaMm / coords.SolarRadiusMm,
		north:    v.North.Sigma.Radians(),
		time:     v.SigmaTime.Hours() / 24 * synodicRate.Radians(),
		cosTurn:  1,
	}
	if !(v.Face.Semidiameter > 0 && v.Face.Semidiameter < 90*coords.Degree) {
		s.distance = math.NaN() // see usable
	}
	s.limbAngle = math.Asin(s.limb / s.distance)
	s.sinB0, s.cosB0 = v.Face.B0.Sincos()
	s.edge.rho = 90*coords.Degree - v.Face.Semidiameter
	s.edge.sinRho, s.edge.cosRho = s.edge.rho.Sincos()
	// Solar north stands at position angle P. Going round the sky through east
	// is counter-clockwise in the picture unless it is mirrored.
	turn, hand := v.North.Angle+v.Face.P, 1.0
	if v.North.Mirrored {
		turn, hand = v.North.Angle-v.Face.P, -1
	}
	sin, cos := turn.Sincos()
	s.nx, s.ny = -sin, -cos
	s.wx, s.wy = hand*cos, -hand*sin
	if v.North.Sigma >= straightNorth {
		s.sinTurn, s.cosTurn = (coords.Angle(math.Sqrt(3)) * v.North.Sigma).Sincos()
	}
	return s
}

// aim is a line of sight: how far and in which direction it passes the centre.
type aim struct {
	r           float64 // radii of the view's limb
	q           float64 // impact parameter, radii of the photosphere
	rho1        float64 // angle from the disc's centre as seen by the observer
	sin1, cos1  float64 // of rho1
	west, north float64 // unit vector in the sky, along the solar axes
}

// aimAtPixel is the line of sight through a pixel. It fills an aim in, as aim does:
// passed from hand to hand it costs as much as half the trigonometry.
func (s *Sight) aimAtPixel(a *aim, p coords.Pixel) {
	right, down := s.view.Limb.Unit(p)
	s.aim(a, s.wx*right+s.wy*down, s.nx*right+s.ny*down)
	if !s.picture {
		a.q = math.NaN()
	}
}

// aim is the line of sight through a point (west, north) of the disc, in radii
// of the view's limb.
func (s *Sight) aim(a *aim, west, north float64) {
	r := math.Sqrt(west*west + north*north)
	rho1 := r * s.limbAngle
	sin := math.Sin(rho1)
	a.r, a.rho1 = r, rho1
	a.sin1, a.cos1 = sin, math.Sqrt(1-sin*sin) // below 90°: see usable
	a.q = s.distance * sin
	a.west, a.north = 0, 1
	if r > 0 {
		a.west, a.north = west/r, north/r
	}
}

// usable says that the numbers of view and point make sense.
func (s *Sight) usable(a *aim) bool {
	return s.limb > 0 && s.distance > s.limb && !math.IsNaN(a.q) && a.rho1 < math.Pi/2
}

// where says on which side of the limb a line of sight passes.
func (s *Sight) where(a *aim) Where {
	switch {
	case !s.usable(a):
		return Nowhere
	case within(a.q):
		return OnDisc
	case within(a.r):
		return BetweenLimbs
	}
	return BeyondLimb
}

// positionAngle is that of a line of sight on the sky.
func (s *Sight) positionAngle(a *aim) coords.Angle {
	return (s.view.Face.P + coords.Atan2(-a.west, a.north)).Wrap360()
}

// ray is how far from the middle of the disc, at the Sun's centre, a line of sight
// meets a sphere, and the cosine of the angle at which it does.
type ray struct {
	rho            coords.Angle
	sinRho, cosRho float64
	mu             float64
}

// meet is where a line of sight first meets the sphere of the given radius, but for
// the angle rho itself; ok is false where the line passes outside.
//
// With sin t = q/s for the tilt t of the line against the normal, ρ = t − ρ1.
func (a *aim) meet(sphere float64) (m ray, ok bool) {
	if !within(a.q / sphere) {
		return ray{}, false
	}
	sin := min(1, a.q/sphere)
	m.mu = math.Sqrt(1 - sin*sin)
	m.sinRho = sin*a.cos1 - m.mu*a.sin1
	m.cosRho = m.mu*a.cos1 + sin*a.sin1
	return m, true
}

// place is the point of the Sun in the direction (west, north) of the sky, so far from
// the middle of the disc.
func (s *Sight) place(west, north float64, m *ray) (h coords.Heliographic, cmd coords.Angle) {
	w, n, o := west*m.sinRho, north*m.sinRho, m.cosRho
	cmd = coords.Atan2(w, o*s.cosB0-n*s.sinB0)
	return coords.Heliographic{
		B: coords.Asin(n*s.cosB0 + o*s.sinB0),
		L: (s.view.Face.L0 + cmd).Wrap360(),
	}, cmd
}

// direction is the inverse of place: toward solar west and north in the sky, and toward
// the observer.
func (s *Sight) direction(b, cmd coords.Angle) (w, n, o float64) {
	sinB, cosB := b.Sincos()
	sinL, cosL := cmd.Sincos()
	return cosB * sinL, sinB*s.cosB0 - cosB*cosL*s.sinB0, sinB*s.sinB0 + cosB*cosL*s.cosB0
}
