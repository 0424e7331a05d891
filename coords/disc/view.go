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
