package limb

import "math"

// circle is a candidate limb in pixels.
type circle struct {
	x, y, r float64
}

// at is the point of the circle in direction θ (0 right, growing toward down),
// moved outward by rho.
func (c circle) at(sinθ, cosθ, rho float64) (x, y float64) {
	return c.x + (c.r+rho)*cosθ, c.y + (c.r+rho)*sinθ
}

// scaled turns a circle of a picture shrunk by f into one of the picture itself.
func (c circle) scaled(f int) circle {
	k, off := float64(f), float64(f-1)/2
	return circle{c.x*k + off, c.y*k + off, c.r * k}
}

// within says whether a circle lies within another, but for a twentieth of its radius.
func (c circle) within(o circle) bool {
	return c.r < o.r && math.Hypot(c.x-o.x, c.y-o.y) < 1.05*o.r-c.r
}
