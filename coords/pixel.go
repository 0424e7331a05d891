package coords

import "math"

// Pixel is a point in a picture: x right and y down from the centre of the
// top-left pixel.
type Pixel struct {
	X, Y float64
}

// Limb is the edge of the disc in a picture, with its error: a circle, or an
// ellipse where a low Sun is flattened by refraction or pixels are not square.
//
//	RadiusPx    radius of the circle, or the long semi-axis of the ellipse
//	Flattening  1 − short/long semi-axis; 0 for a circle
//	ShortAxis   direction of the short axis, counter-clockwise from up
//	Cov         covariance of centre and radius, square pixels
type Limb struct {
	Centre     Pixel
	RadiusPx   float64
	Flattening float64
	ShortAxis  Angle
	Cov        LimbCovariance
}

// LimbCovariance is the error of a limb's centre and radius, in square pixels.
type LimbCovariance struct {
	XX, YY, RR, XY, XR, YR float64
}

// SigmaCentrePx is the standard error of the centre along its worse axis.
func (c LimbCovariance) SigmaCentrePx() float64 {
	mean, half := (c.XX+c.YY)/2, (c.XX-c.YY)/2
	return math.Sqrt(max(0, mean+math.Hypot(half, c.XY)))
}

// SigmaRadiusPx is the standard error of the radius.
func (c LimbCovariance) SigmaRadiusPx() float64 { return math.Sqrt(max(0, c.RR)) }

// Possible says whether these can be the errors of anything: whether the matrix is
// positive semi-definite, but for the rounding of figures that were written.
func (c LimbCovariance) Possible() bool {
	const rounding = 1e-6
	corr := func(cov, a, b float64) float64 {
		if cov == 0 {
			return 0
		}
		return cov / (math.Sqrt(a) * math.Sqrt(b)) // infinite beside a variance of 0
	}
	xy, xr, yr := corr(c.XY, c.XX, c.YY), corr(c.XR, c.XX, c.RR), corr(c.YR, c.YY, c.RR)
	for _, r := range []float64{xy, xr, yr} {
		if !(math.Abs(r) <= 1+rounding) {
			return false
		}
	}
	return c.XX >= 0 && c.YY >= 0 && c.RR >= 0 && 1+2*xy*xr*yr-xy*xy-xr*xr-yr*yr >= -rounding
}

// Unit turns a pixel into radii from the centre, x right and y down, with any
// flattening taken out: points of the limb come out at distance 1.
func (l *Limb) Unit(p Pixel) (u, v float64) {
	u, v = (p.X-l.Centre.X)/l.RadiusPx, (p.Y-l.Centre.Y)/l.RadiusPx
	if l.Flattening != 0 {
		u, v = l.rounded(u, v)
	}
	return u, v
}

// rounded takes the flattening out.
func (l *Limb) rounded(u, v float64) (float64, float64) {
	ex, ey := l.shortDirection()
	along := u*ex + v*ey
	stretch := along/(1-l.Flattening) - along
	return u + stretch*ex, v + stretch*ey
}

// At is the inverse of Unit.
func (l Limb) At(u, v float64) Pixel {
	if l.Flattening != 0 {
		ex, ey := l.shortDirection()
		shrink := -l.Flattening * (u*ex + v*ey)
		u, v = u+shrink*ex, v+shrink*ey
	}
	return Pixel{X: l.Centre.X + u*l.RadiusPx, Y: l.Centre.Y + v*l.RadiusPx}
}

// shortDirection is the unit vector along the short axis, x right and y down.
func (l Limb) shortDirection() (ex, ey float64) {
	sin, cos := l.ShortAxis.Sincos()
	return -sin, -cos
}

// Layer says which height above the photosphere a limb is the edge of.
//
// In H-alpha the limb lies some 4.35 Mm outside the photosphere (Johannesson &
// Zirin 1996, ApJ 471, 510), in white light at it. A zero SigmaMm means that the
// height is exactly known (a painted or a typed limb).
type Layer struct {
	HeightMm, SigmaMm float64
}

// The two limbs that an observer can name.
var (
	Photosphere = Layer{}
	// Chromosphere is the H-alpha limb at the equator, Johannesson & Zirin 1996.
	Chromosphere = Layer{HeightMm: 4.35, SigmaMm: 0.5}
)

// North says how a picture lies against the sky.
//
//	Angle     where celestial north points, counter-clockwise from up (0 up, 90 left)
//	Mirrored  east lies clockwise of north
//	Sigma     standard error of Angle
type North struct {
	Angle    Angle
	Mirrored bool
	Sigma    Angle
}

// PositionAngle is the position angle on the sky of the direction (right, down)
// in the picture, 0° to 360°. The direction (0, 0) has none; 0 is given for it.
func (n North) PositionAngle(right, down float64) Angle {
	turn := Atan2(-right, -down) - n.Angle // counter-clockwise from north
	if n.Mirrored {
		turn = -turn
	}
	if right == 0 && down == 0 {
		return 0
	}
	return turn.Wrap360()
}

// Direction is the inverse of PositionAngle: the unit vector (right, down) in
// the picture toward a position angle.
func (n North) Direction(positionAngle Angle) (right, down float64) {
	if n.Mirrored {
		positionAngle = -positionAngle
	}
	sin, cos := (n.Angle + positionAngle).Sincos()
	return -sin, -cos
}
