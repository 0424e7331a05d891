// Package disc turns pixels into places on the Sun and back, with errors, once
// the limb, the north and the instant of a picture are known.
//
// # Perspective
//
// The Sun is a sphere of radius 1 (the photosphere) whose centre is D = 1/sin S
// away, S the semidiameter. A line of sight that passes the centre at the angle
// ρ1 has the impact parameter q = D sin ρ1, and meets the sphere of radius s at
//
//	ρ = asin(q/s) − ρ1
//
// from the middle of the disc, seen from the Sun's centre: a true perspective,
// and so a little less than a hemisphere is visible (Thompson 2006, A&A 449,
// 791; Meeus, Astronomical Algorithms, 2nd ed., ch. 29 and the handbooks).
//
// # Scale
//
// A fitted limb is the edge of a sphere of height h above the photosphere, so
// its radius is the angle asin((1 + h/R)/D). Between centre and limb the picture
// is taken to have the same number of seconds of arc to every pixel:
// ρ1 = r asin((1 + h/R)/D). An ideal camera maps the tangent of the angle
// instead; the two differ by less than 3·10⁻⁶ of the radius, 0.0002° on the Sun,
// which is far below what real optics distort.
//
// # Heights
//
// A place is published "as on the photosphere". What stands higher appears
// farther from the middle of the disc than it is, so a Place has a second
// reading, corrected with a height and its error.
package disc

import (
	"math"
	"time"

	"limbwatch/coords"
)

// View is all that is needed to read positions off one picture.
//
//	Limb       the fitted edge of the disc, with its error
//	Layer      which height above the photosphere that edge is
//	North      where celestial north points, and the parity
//	Face       P, B0, L0 and semidiameter at the instant of the picture
//	SigmaTime  standard error of that instant (L0 moves 0.55° an hour)
type View struct {
	Limb      coords.Limb
	Layer     coords.Layer
	North     coords.North
	Face      coords.Face
	SigmaTime time.Duration
}

// sight is a View made ready for work. Lengths are in radii of the photosphere.
type sight struct {
	distance     float64 // of the observer from the Sun's centre
	limb         float64 // radius of the sphere whose edge the view's limb is
	limbAngle    float64 // its radius in the sky, radians
	sinB0, cosB0 float64
	// A direction (right, down) in the picture is toward solar west by
	// right·wx + down·wy, and toward solar north by right·nx + down·ny.
	wx, wy, nx, ny float64
}

// sightAlong makes the view ready but for the turn of its picture.
func (v View) sightAlong() sight {
	s := sight{
		distance: 1 / v.Face.Semidiameter.Sin(),
		limb:     1 + v.Layer.HeightMm/coords.SolarRadiusMm,
	}
	if !(v.Face.Semidiameter > 0 && v.Face.Semidiameter < 90*coords.Degree) {
		s.distance = math.NaN() // nothing can be read: see usable
	}
	s.limbAngle = math.Asin(s.limb / s.distance)
	s.sinB0, s.cosB0 = v.Face.B0.Sincos()
	return s
}

// sight makes the view ready.
func (v View) sight() sight {
	s := v.sightAlong()
	if !(v.Limb.RadiusPx > 0) {
		s.distance = math.NaN()
	}
	// Solar north stands at position angle P. Going round the sky through east
	// is counter-clockwise in the picture unless it is mirrored.
	turn, hand := v.North.Angle+v.Face.P, 1.0
	if v.North.Mirrored {
		turn, hand = v.North.Angle-v.Face.P, -1
	}
	sin, cos := turn.Sincos()
	s.nx, s.ny = -sin, -cos
	s.wx, s.wy = hand*cos, -hand*sin
	return s
}

// place is the point of the Sun in the direction (west, north, toward the
// observer), which must be a unit vector.
func (s sight) place(w, n, o float64, l0 coords.Angle) (h coords.Heliographic, cmd coords.Angle) {
	cmd = coords.Atan2(w, o*s.cosB0-n*s.sinB0)
	return coords.Heliographic{
		B: coords.Asin(n*s.cosB0 + o*s.sinB0),
		L: (l0 + cmd).Wrap360(),
	}, cmd
}

// direction is the inverse of place.
func (s sight) direction(b, cmd coords.Angle) (w, n, o float64) {
	sinB, cosB := b.Sincos()
	sinL, cosL := cmd.Sincos()
	return cosB * sinL, sinB*s.cosB0 - cosB*cosL*s.sinB0, sinB*s.sinB0 + cosB*cosL*s.cosB0
}
