package disc

import (
	"math"

	"limbwatch/coords"
)

// Where says on which side of the limb a point of a picture lies.
type Where int

const (
	// Nowhere: the pixel or the view has no usable numbers.
	Nowhere Where = iota
	// OnDisc: the line of sight meets the photosphere.
	OnDisc
	// BetweenLimbs: within the picture's limb but beyond the photospheric one.
	// To the observer a point of the disc, it has no place on the photosphere.
	BetweenLimbs
	// BeyondLimb: off the disc.
	BeyondLimb
)

// String gives the words that a log prints.
func (w Where) String() string {
	switch w {
	case OnDisc:
		return "on the disc"
	case BetweenLimbs:
		return "a point of the visible disc, but beyond the photospheric limb"
	case BeyondLimb:
		return "beyond the limb"
	}
	return "nowhere"
}

// Place is what a view reads at one point of a picture.
//
//	Where               which side of the limb
//	PositionAngle       at the disc's centre, from celestial north through east
//	SigmaPositionAngle  its standard error, north included
//	R, SigmaR           distance from the centre in radii of the view's limb
//	LimbSigmas          distance inside (+) or outside (−) the photospheric limb
//	                    in standard errors of that distance; infinite when the
//	                    point is exact. On a chromospheric limb a point of it
//	                    lies well outside the photospheric one
//	Photosphere         the place read as on the photosphere; only OnDisc
//	Corrected           the place at its height; not BeyondLimb, and not where
//	                    the line of sight passes above that height
//	Beyond              what is known of a point beyond the photospheric limb
type Place struct {
	Where                             Where
	PositionAngle, SigmaPositionAngle coords.Angle
	R, SigmaR                         float64
	LimbSigmas                        float64
	Photosphere, Corrected            Reading
	Beyond                            Beyond
}

// NearLimb says that the limb is within three standard errors. There the error
// ellipse of a reading is a guide and no more, as the point may well belong to
// the other side.
func (p Place) NearLimb() bool { return p.Where != Nowhere && math.Abs(p.LimbSigmas) < 3 }

// Reading is a place on the Sun read off a picture under one assumption of its
// height.
//
//	Known     false when there is no such place; all else is then zero
//	Measured  latitude, Carrington longitude and their covariance; the
//	          covariance is zero when every error is
//	CMD       central meridian distance, west positive
//	Rho       angle at the Sun's centre from the middle of the disc
//	Mu        cosine of the angle between surface normal and line of sight
type Reading struct {
	Known bool
	coords.Measured
	CMD, Rho coords.Angle
	Mu       float64
}

// Place reads everything off a pixel.
//
// The errors are those of the click (sigmaClickPx, one axis), of the view's
// limb, layer, north and time, and for the corrected reading of the height.
// When they are all zero the place is exact and no covariance is computed.
func (v View) Place(p coords.Pixel, sigmaClickPx float64, height Height) Place {
	s := v.sight()
	right, down := v.Limb.Unit(p)
	a := s.aim(s.wx*right+s.wy*down, s.nx*right+s.ny*down)
	if e := v.pixelErrors(s, a, right, down, sigmaClickPx); e.some(height) {
		return v.read(s, a, e, height)
	}
	return v.readExactly(s, a, height)
}

// PlacePolar is Place for a point given without a picture: its position angle
// from celestial north through east and its distance r from the centre in radii
// of the limb that the view's Layer names, with r's standard error. Of the view
// only Layer, Face, SigmaTime and the error of North are used.
func (v View) PlacePolar(positionAngle coords.Angle, r, sigmaR float64, height Height) Place {
	s := v.sightAlong()
	if r < 0 {
		return Place{}
	}
	sin, cos := (positionAngle - v.Face.P).Sincos()
	a := s.aim(-r*sin, r*cos)
	if e := v.polarErrors(s, a, sigmaR); e.some(height) {
		return v.read(s, a, e, height)
	}
	return v.readExactly(s, a, height)
}

// aim is a line of sight: how far and in which direction it passes the centre.
type aim struct {
	r           float64 // radii of the view's limb
	q           float64 // impact parameter, radii of the photosphere
	rho1        float64 // angle from the disc's centre as seen by the observer
	west, north float64 // unit vector in the sky, along the solar axes
}

// aim is the line of sight through a point (west, north) of the disc, in radii
// of the view's limb.
func (s sight) aim(west, north float64) aim {
	a := aim{r: math.Hypot(west, north), north: 1}
	a.rho1 = a.r * s.limbAngle
	a.q = s.distance * math.Sin(a.rho1)
	if a.r > 0 {
		a.west, a.north = west/a.r, north/a.r
	}
	return a
}

// usable says that the numbers of view and point make sense.
func (a aim) usable(s sight) bool {
	return s.limb > 0 && s.distance > s.limb && !math.IsNaN(a.q) && a.rho1 < math.Pi/2
}

// readExactly reads a place whose errors are all zero.
func (v View) readExactly(s sight, a aim, height Height) Place {
	p := v.begin(s, a)
	switch p.Where {
	case Nowhere:
		return p
	case OnDisc:
		p.LimbSigmas = math.Inf(1)
		p.Photosphere = v.reading(s, a, 1)
		p.Corrected = p.Photosphere
	default:
		p.LimbSigmas = math.Inf(-1)
		p.Beyond = v.beyond(s, a)
	}
	if height.Mm != 0 && p.Where != BeyondLimb {
		p.Corrected = v.reading(s, a, 1+height.Mm/coords.SolarRadiusMm)
	}
	return p
}

// begin fills in what needs no errors.
func (v View) begin(s sight, a aim) Place {
	if !a.usable(s) {
		return Place{}
	}
	p := Place{Where: BeyondLimb, R: a.r}
	switch {
	case a.q <= 1:
		p.Where = OnDisc
	case a.r <= 1:
		p.Where = BetweenLimbs
	}
	p.PositionAngle = (v.Face.P + coords.Atan2(-a.west, a.north)).Wrap360()
	return p
}

// reading is the place where the line of sight first meets the sphere of the
// given radius, without errors; it is not known where the line passes outside.
func (v View) reading(s sight, a aim, sphere float64) Reading {
	if a.q > sphere {
		return Reading{}
	}
	tilt := math.Asin(a.q / sphere) // of the line of sight against the normal
	return v.readingAt(s, a, tilt-a.rho1, math.Sqrt(1-a.q/sphere*(a.q/sphere)))
}

// readingAt is the place at the angle rho from the middle of the disc.
func (v View) readingAt(s sight, a aim, rho, mu float64) Reading {
	sin, cos := math.Sincos(rho)
	h, cmd := s.place(a.west*sin, a.north*sin, cos, v.Face.L0)
	return Reading{Known: true, Measured: coords.Measured{Heliographic: h}, CMD: cmd, Rho: coords.Angle(rho), Mu: mu}
}
