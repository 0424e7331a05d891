package paint

import (
	"math"

	"limbwatch/coords"
)

// view is the geometry of a scene: Sun to pixel and back. Lengths are in radii of
// the photosphere.
//
// Its sky frame has x to solar west, y to solar north, z to the observer, and
// its origin at the Sun's centre.
type view struct {
	limb       coords.Limb
	distance   float64       // observer to the Sun's centre
	limbRadius float64       // of the sphere whose edge is the limb
	limbAngle  float64       // apparent radius of that sphere, radians
	toSky      [3][3]float64 // Carrington frame to sky frame
	west       [2]float64    // solar west in the picture, right and down
	north      [2]float64    // solar north in the picture
	mmPerPx    float64       // at the Sun's distance
}

func newView(s Scene) view {
	v := view{limb: s.Camera.Limb}
	v.distance = 1 / s.Face.Semidiameter.Sin()
	v.limbRadius = 1 + s.Band.Layer.HeightMm/coords.SolarRadiusMm
	v.limbAngle = math.Asin(v.limbRadius / v.distance)

	sinB0, cosB0 := s.Face.B0.Sincos()
	sinL0, cosL0 := s.Face.L0.Sincos()
	v.toSky = [3][3]float64{
		{-sinL0, cosL0, 0},
		{-sinB0 * cosL0, -sinB0 * sinL0, cosB0},
		{cosB0 * cosL0, cosB0 * sinL0, sinB0},
	}
	v.north[0], v.north[1] = s.Camera.North.Direction(s.Face.P)
	v.west[0], v.west[1] = s.Camera.North.Direction(s.Face.P - 90*coords.Degree)
	v.mmPerPx = v.limbAngle * v.distance * coords.SolarRadiusMm / v.limb.RadiusPx
	return v
}

// sky turns a vector of the Carrington frame into the sky frame.
func (v *view) sky(p [3]float64) [3]float64 {
	return apply(v.toSky, p)
}

// project sees the point at unit vector p (Carrington frame), radius from the
// Sun's centre, and says whether it is seen.
func (v *view) project(p [3]float64, radius float64) (coords.Pixel, bool) {
	q := v.sky(p)
	px, r, front := v.place(q, radius)
	return px, front || r > 1
}

// place sees the point of the sky frame: its pixel, its distance from the
// centre in radii of the limb, and whether it lies in front: on the observer's
// side of the circle in which lines of sight touch the sphere through it. A
// point that does not is seen only beyond the limb.
func (v *view) place(q [3]float64, radius float64) (px coords.Pixel, r float64, front bool) {
	x, y, z := q[0]*radius, q[1]*radius, q[2]*radius
	across := math.Hypot(x, y)
	rho := math.Atan2(across, v.distance-z)
	r = rho / v.limbAngle
	var u, w float64
	if across > 0 {
		k := r / across
		u = (x*v.west[0] + y*v.north[0]) * k
		w = (x*v.west[1] + y*v.north[1]) * k
	}
	// Nearer than the point of its line of sight that is closest to the Sun's
	// centre: (point · (point − observer)) < 0.
	front = x*x+y*y+z*(z-v.distance) < 0
	return v.limb.At(u, w), r, front
}

// mu is the cosine of the angle between the vertical at a point and the direction
// from there to the observer.
func (v *view) mu(p [3]float64, radius float64) float64 {
	q := v.sky(p)
	x, y, z := -q[0]*radius, -q[1]*radius, v.distance-q[2]*radius
	return (x*q[0] + y*q[1] + z*q[2]) / math.Sqrt(x*x+y*y+z*z)
}

// unproject gives the unit vector (sky frame) at which the line of sight through
// unit coordinates u, w (radii of the limb) first meets the sphere of the given
// radius; false when it misses.
func (v *view) unproject(u, w, radius float64) (q [3]float64, ok bool) {
	r := math.Hypot(u, w)
	rho := r * v.limbAngle
	sinRho := rho * (1 - rho*rho/6) // good to 1e-13 at the Sun's size
	a := v.distance * sinRho / radius
	if a > 1 {
		return q, false
	}
	c := math.Sqrt(1 - a*a)
	cosRho := math.Sqrt(1 - sinRho*sinRho)
	sinTheta := a*cosRho - c*sinRho // θ = asin(a) − ρ
	q[2] = c*cosRho + a*sinRho
	if r > 0 {
		k := sinTheta / r
		q[0] = (u*v.west[0] + w*v.west[1]) * k
		q[1] = (u*v.north[0] + w*v.north[1]) * k
	}
	return q, true
}

// box is a rectangle of pixels, the upper ends excluded.
type box struct{ x0, y0, x1, y1 int }

func (b box) empty() bool { return b.x0 >= b.x1 || b.y0 >= b.y1 }

// boxAround is the part of the picture within halfPx of the pixel.
func boxAround(p coords.Pixel, halfPx float64, width, height int) box {
	return box{
		x0: max(0, int(math.Floor(p.X-halfPx))), x1: min(width, int(math.Ceil(p.X+halfPx))+1),
		y0: max(0, int(math.Floor(p.Y-halfPx))), y1: min(height, int(math.Ceil(p.Y+halfPx))+1),
	}
}

func apply(m [3][3]float64, p [3]float64) [3]float64 {
	return [3]float64{
		m[0][0]*p[0] + m[0][1]*p[1] + m[0][2]*p[2],
		m[1][0]*p[0] + m[1][1]*p[1] + m[1][2]*p[2],
		m[2][0]*p[0] + m[2][1]*p[1] + m[2][2]*p[2],
	}
}

func transpose(m [3][3]float64) [3][3]float64 {
	return [3][3]float64{
		{m[0][0], m[1][0], m[2][0]},
		{m[0][1], m[1][1], m[2][1]},
		{m[0][2], m[1][2], m[2][2]},
	}
}
