// Package wcs takes the disc and solar north out of the header of a FITS picture
// of the Sun: from solar world coordinates (Thompson 2006, A&A 449, 791) or from
// the plainer keywords that observatories write beside or instead of them.
//
// Headers are written by programs at different times: before and after a picture
// was cropped, shrunk or turned. So everything is checked against the size of the
// picture and against itself, and what doesn't fit is left out and said in
// Warnings. What is left unsaid (nil) was not in the header or not to be
// believed.
package wcs

import (
	"math"

	"limbwatch/coords"
	"limbwatch/coords/picture/fits"
)

// Solar is what a header says about the Sun in the picture, in pixels of the
// picture as shown (x right, y down from the centre of the top-left pixel).
//
//	Centre        the Sun's centre by solar coordinates, also where no radius is known
//	Limb          the disc; nil where the header gives none that fits the picture
//	Layer         the limb's height; nil where the header doesn't define it (a
//	              radius that somebody fitted)
//	North         solar north; nil where the header has none
//	ScaleArcsec   arcsec per pixel, geometric mean of both axes; 0 unknown
//	RadiusArcsec  apparent radius of the Sun, as written; 0 unknown
//	Observer      where the picture was taken from, as written
//	Source        the keywords that gave disc and north
type Solar struct {
	Centre                    *coords.Pixel
	Limb                      *coords.Limb
	Layer                     *coords.Layer
	North                     *SolarNorth
	ScaleArcsec, RadiusArcsec float64
	Observer                  Observer
	Source                    string
	Warnings                  []string
}

// SolarNorth is where the Sun's rotational north points in a picture,
// counter-clockwise from up, mirrored as in coords.North, with its standard error.
// Where pixels are not square the angle counts with the limb's flattening taken
// out (coords.Limb.Unit).
type SolarNorth struct {
	Angle    coords.Angle
	Mirrored bool
	Sigma    coords.Angle
}

// Observer is what a header says about the point it was seen from; nil where it
// says nothing. Headers are sometimes wrong here by a degree: compare with the
// ephemeris before use.
type Observer struct {
	B0, L0, P  *coords.Angle
	DistanceAU float64 // 0 unknown
}

// Errors assumed for what headers say (common practice, no source): pipelines
// leave half a pixel after cropping and shrinking, and a tenth of a degree.
const (
	sigmaCentrePx = 0.5
	sigmaRadiusPx = 0.5
	sigmaRadius   = 0.0005 // of the radius: 959.63" and 695 700 km differ by 0.0004
	sigmaNorth    = 0.1 * coords.Degree
)

// Read reads a header for a picture of width x height pixels. It returns nil where
// the header says nothing about the Sun.
func Read(h fits.Header, width, height int) *Solar {
	s := &Solar{Observer: readObserver(h)}
	s.checkObserver(h)
	frame := frame{width: float64(width), height: float64(height)}
	s.RadiusArcsec = radiusArcsec(h)
	if plane, ok := s.readPlane(h); ok {
		s.fromPlane(plane, h, frame)
	}
	s.fromObservatory(h, frame)
	if s.Limb == nil && s.North == nil && s.ScaleArcsec == 0 && s.Observer == (Observer{}) && s.RadiusArcsec == 0 && len(s.Warnings) == 0 {
		return nil
	}
	return s
}

// frame is the picture's size.
type frame struct{ width, height float64 }

// shown turns a FITS pixel, counted from 1 at the bottom left, into one as shown.
func (f frame) shown(i, j float64) coords.Pixel { return coords.Pixel{X: i - 1, Y: f.height - j} }

// touches tells whether the disc reaches into the picture, and contains whether
// its centre lies there.
func (f frame) touches(l coords.Limb) bool {
	dx := max(0, -0.5-l.Centre.X, l.Centre.X-(f.width-0.5))
	dy := max(0, -0.5-l.Centre.Y, l.Centre.Y-(f.height-0.5))
	return math.Hypot(dx, dy) < l.RadiusPx
}

func (f frame) contains(p coords.Pixel) bool {
	return p.X > -0.5 && p.X < f.width-0.5 && p.Y > -0.5 && p.Y < f.height-0.5
}

// limbOf makes a limb with the errors assumed for headers; nil when it can't be a
// limb at all.
func limbOf(centre coords.Pixel, radiusPx float64) *coords.Limb {
	const smallest, largest = 3, 1e6 // px
	if !(radiusPx >= smallest && radiusPx <= largest) || !(math.Abs(centre.X) < largest && math.Abs(centre.Y) < largest) {
		return nil
	}
	r := math.Hypot(sigmaRadiusPx, sigmaRadius*radiusPx)
	return &coords.Limb{
		Centre: centre, RadiusPx: radiusPx,
		Cov: coords.LimbCovariance{XX: sigmaCentrePx * sigmaCentrePx, YY: sigmaCentrePx * sigmaCentrePx, RR: r * r},
	}
}
