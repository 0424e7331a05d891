package ephemeris

import (
	"math"

	"limbwatch/coords"
)

// vector is a direction in space, in the axes that the context names.
type vector [3]float64

// direction is the unit vector toward a longitude and a latitude.
func direction(longitude, latitude coords.Angle) vector {
	sinL, cosL := longitude.Sincos()
	sinB, cosB := latitude.Sincos()
	return vector{cosB * cosL, cosB * sinL, sinB}
}

func (a vector) dot(b vector) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func (a vector) cross(b vector) vector {
	return vector{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func (a vector) scaled(k float64) vector { return vector{k * a[0], k * a[1], k * a[2]} }

// across is the part of a that stands at right angles to the unit vector u.
func (a vector) across(u vector) vector {
	k := a.dot(u)
	return vector{a[0] - k*u[0], a[1] - k*u[1], a[2] - k*u[2]}
}

// turnX gives the vector in axes turned by an angle about x.
func (a vector) turnX(angle coords.Angle) vector {
	sin, cos := angle.Sincos()
	return vector{a[0], cos*a[1] + sin*a[2], cos*a[2] - sin*a[1]}
}

// turnZ gives the vector in axes turned by an angle about z.
func (a vector) turnZ(angle coords.Angle) vector {
	sin, cos := angle.Sincos()
	return vector{cos*a[0] + sin*a[1], cos*a[1] - sin*a[0], a[2]}
}

// horner is c0 + c1·x + c2·x² + …
func horner(x float64, c ...float64) float64 {
	var sum float64
	for i := len(c) - 1; i >= 0; i-- {
		sum = sum*x + c[i]
	}
	return sum
}

// spherical is the longitude (0° to 360°) and the latitude of a direction.
func (a vector) spherical() (longitude, latitude coords.Angle) {
	return coords.Atan2(a[1], a[0]).Wrap360(), coords.Atan2(a[2], math.Hypot(a[0], a[1]))
}
