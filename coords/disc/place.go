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

// limbTolerance is how near to a limb, in its radii, a point lies on it: a
// thousandth of an arcsecond, far below what anybody measures and far above what
// rounding moves. A point that was given at r = 1 is at the limb, to whichever side
// its figures are rounded.
const limbTolerance = 1e-6

// within says whether a point r radii from the centre lies within a limb or on it.
func within(r float64) bool { return r <= 1+limbTolerance }

// reaches says whether it lies beyond the limb or on it.
func reaches(r float64) bool { return r >= 1-limbTolerance }

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
//	Where               which side of the limb; what lies on one (see AtLimb) is of
//	                    the side nearer to the centre
//	AtLimb              on the view's limb, to a millionth of its radius: where what
//	                    stands on the limb has its foot
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
//	Beyond              what is known of a point beyond the photospheric limb or on
//	                    the view's
type Place struct {
	Where                             Where
	AtLimb                            bool
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

// Stands says that something at the point stands off the disc or on its limb, and so
// has a place at the edge.
func (p Place) Stands() bool { return p.Where == BeyondLimb || p.AtLimb }

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
func (s *Sight) Place(p coords.Pixel, sigmaClickPx float64, height Height) Place {
	var a aim
	s.aimAtPixel(&a, p)
	e := s.pixelErrors(&a, sigmaClickPx)
	return s.read(&a, &e, height)
}

// PlacePolar is Place for a point given without a picture: its position angle
// from celestial north through east and its distance r from the centre in radii
// of the limb that the view's Layer names, with r's standard error. Of the view
// only Layer, Face, SigmaTime and the error of North are used.
func (s *Sight) PlacePolar(positionAngle coords.Angle, r, sigmaR float64, height Height) Place {
	if r < 0 {
		return Place{}
	}
	sin, cos := (positionAngle - s.view.Face.P).Sincos()
	var a aim
	s.aim(&a, -r*sin, r*cos)
	e := s.polarErrors(&a, sigmaR)
	return s.read(&a, &e, height)
}

// Place is Sight.Place for a single pixel.
func (v View) Place(p coords.Pixel, sigmaClickPx float64, height Height) Place {
	s := v.sight()
	return s.Place(p, sigmaClickPx, height)
}

// PlacePolar is Sight.PlacePolar for a single point.
func (v View) PlacePolar(positionAngle coords.Angle, r, sigmaR float64, height Height) Place {
	s := v.sight()
	return s.PlacePolar(positionAngle, r, sigmaR, height)
}

// Point is the lean answer at one pixel, without errors and heights: what millions of
// pixels of one picture are asked for. Of a point that is not on the disc only Where,
// PositionAngle and R are set.
//
//	Where          which side of the limb
//	Heliographic   the place read as on the photosphere
//	CMD            central meridian distance, west positive
//	PositionAngle  at the disc's centre, from celestial north through east
//	R              distance from the centre in radii of the view's limb
//	Mu             cosine of the angle between surface normal and line of sight
type Point struct {
	Where Where
	coords.Heliographic
	CMD, PositionAngle coords.Angle
	R, Mu              float64
}

// Point reads where a pixel lies, to the same digits as Place.
func (s *Sight) Point(p coords.Pixel) Point {
	var a aim
	s.aimAtPixel(&a, p)
	out := Point{Where: s.where(&a)}
	if out.Where == Nowhere {
		return out
	}
	out.R, out.PositionAngle = a.r, s.positionAngle(&a)
	if out.Where == OnDisc {
		m, _ := a.meet(1)
		out.Heliographic, out.CMD = s.place(a.west, a.north, &m)
		out.Mu = m.mu
	}
	return out
}

// read reads a place, with its errors where there are any.
func (s *Sight) read(a *aim, e *scatter, height Height) (p Place) {
	p.Where = s.where(a)
	if p.Where == Nowhere {
		return p
	}
	uncertain := e.some(height)
	p.R, p.PositionAngle = a.r, s.positionAngle(a)
	p.AtLimb = within(a.r) && reaches(a.r)
	if uncertain {
		p.SigmaR = math.Sqrt(e.rr)
		p.SigmaPositionAngle = coords.Angle(math.Pi)
		if sigma := math.Sqrt(e.tt); sigma < math.Pi*a.q {
			p.SigmaPositionAngle = coords.Angle(sigma / a.q)
		}
		p.LimbSigmas = (1 - a.q) / math.Sqrt(e.qq)
	} else if p.LimbSigmas = math.Inf(-1); p.Where == OnDisc {
		p.LimbSigmas = math.Inf(1)
	}
	if p.Where == OnDisc {
		m, _ := a.meet(1)
		m.rho = a.tilt(1) - coords.Angle(a.rho1)
		s.reading(&p.Photosphere, a, &m)
		if uncertain {
			p.Photosphere.Cov = s.covariance(a, e, &m, radialVariance(a, e, 1)).Plus(s.bend(a, &m, &p.Photosphere))
		}
		p.Corrected = p.Photosphere
	}
	if p.Where != OnDisc || p.AtLimb {
		s.beyond(&p.Beyond, a)
		if uncertain {
			s.beyondErrors(&p.Beyond, a, e)
		}
	}
	if height != (Height{}) && p.Where != BeyondLimb {
		p.Corrected = s.corrected(a, e, height, uncertain)
	}
	return p
}

// reading is the place on a line of sight, without errors.
func (s *Sight) reading(r *Reading, a *aim, m *ray) {
	r.Heliographic, r.CMD = s.place(a.west, a.north, m)
	r.Known, r.Rho, r.Mu = true, m.rho, m.mu
}

// tilt is the angle of a line of sight against the normal of the sphere of the given
// radius, where it meets it; one that passes outside counts as touching.
func (a *aim) tilt(sphere float64) coords.Angle {
	return coords.Angle(math.Asin(min(1, a.q/sphere)))
}
