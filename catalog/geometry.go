package catalog

import (
	"fmt"

	"limbwatch/coords"
)

// Geometry is what was marked, in the figures in which it was given: they are
// the truth, positions on the Sun are derived from them. Exactly one of Pixels,
// Polar and Places has vertices: one for a point, two or more along a spine,
// three or more round an outline (not closed by a repeated first vertex).
type Geometry struct {
	Shape  Shape
	Pixels []coords.Pixel // in the picture as shown
	Polar  []PolarPoint
	Places []PlacePoint

	// Click is the standard error of a vertex of Pixels, in pixels, along each axis.
	SigmaClickPx float64
	// PolarLimb is the limb in whose radii the R of Polar counts.
	PolarLimb coords.Layer
	// SigmaR and SigmaPA are the standard errors of a vertex of Polar; SigmaPlace
	// that of a vertex of Places along each direction on the Sun. 0: not known.
	SigmaR     float64
	SigmaPA    coords.Angle
	SigmaPlace coords.Angle
}

// PolarPoint is a point by position angle, from celestial north through east,
// and distance from the disc's centre in radii of the limb.
type PolarPoint struct {
	PA coords.Angle
	R  float64
}

// PlacePoint is a point by heliographic latitude B and either Carrington
// longitude or, when ByCMD, central meridian distance, west positive. Which of
// the two was written is kept, because the other follows from the time.
type PlacePoint struct {
	B, Lon coords.Angle
	ByCMD  bool
}

// On gives the place for a Sun whose disc's centre lies at longitude l0.
func (p PlacePoint) On(l0 coords.Angle) coords.Heliographic {
	if p.ByCMD {
		return coords.Heliographic{B: p.B, L: (l0 + p.Lon).Wrap360()}
	}
	return coords.Heliographic{B: p.B, L: p.Lon.Wrap360()}
}

// Form says which figures a geometry was given in.
func (g Geometry) Form() Form {
	switch {
	case len(g.Pixels) > 0:
		return FormPixels
	case len(g.Polar) > 0:
		return FormPolar
	case len(g.Places) > 0:
		return FormPlaces
	}
	return 0
}

// Vertices counts the vertices.
func (g Geometry) Vertices() int { return len(g.Pixels) + len(g.Polar) + len(g.Places) }

// farthestPx is how far from its corner a point of a picture may lie: well beyond any
// picture, for what stands outside one cut off.
const farthestPx = 1e6

// maxVertices bounds an outline; a traced one has some hundreds.
const maxVertices = 20_000

// Validate says what is wrong with the geometry, or nil.
func (g Geometry) Validate() error {
	forms := 0
	for _, n := range []int{len(g.Pixels), len(g.Polar), len(g.Places)} {
		if n > 0 {
			forms++
		}
	}
	n := g.Vertices()
	switch {
	case g.Shape == 0 || int(g.Shape) >= len(shapeNames):
		return fmt.Errorf("mark that is no point, line or outline")
	case forms != 1:
		return fmt.Errorf("mark in %d ways at once: want pixels, or position angle and radius, or a place", forms)
	case g.Shape == Point && n != 1:
		return fmt.Errorf("point with %d vertices", n)
	case g.Shape == Line && n < 2:
		return fmt.Errorf("line with %d vertex, want two or more", n)
	case g.Shape == Outline && n < 3:
		return fmt.Errorf("outline with %d vertices, want three or more", n)
	case n > maxVertices:
		return fmt.Errorf("mark with %d vertices, at most %d", n, maxVertices)
	}
	for _, check := range []func() error{g.validatePixels, g.validatePolar, g.validatePlaces} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

func (g Geometry) validatePixels() error {
	if len(g.Pixels) == 0 {
		return nil
	}
	for _, p := range g.Pixels {
		if !finite(p.X, p.Y) {
			return fmt.Errorf("point (%g, %g) px is no number", p.X, p.Y)
		}
		for _, v := range []float64{p.X, p.Y} {
			if err := within("point of the picture", "px", v, -farthestPx, farthestPx); err != nil {
				return err
			}
		}
	}
	if !(g.SigmaClickPx > 0 && g.SigmaClickPx <= 1000) {
		return fmt.Errorf("click error %g px: want more than 0, at most 1000", g.SigmaClickPx)
	}
	return nil
}

func (g Geometry) validatePolar() error {
	for _, p := range g.Polar {
		if err := within("position angle", "degrees", p.PA.Degrees(), -360, 360); err != nil {
			return err
		}
		if err := within("distance from the centre", "radii", p.R, 0, 10); err != nil {
			return err
		}
	}
	if len(g.Polar) == 0 {
		return nil
	}
	if err := within("error of the distance from the centre", "radii", g.SigmaR, 0, 1); err != nil {
		return err
	}
	if err := within("error of the position angle", "degrees", g.SigmaPA.Degrees(), 0, 180); err != nil {
		return err
	}
	return validateLayer(g.PolarLimb)
}

func (g Geometry) validatePlaces() error {
	for _, p := range g.Places {
		if err := within("latitude", "degrees", p.B.Degrees(), -90, 90); err != nil {
			return err
		}
		low, high := 0.0, 360.0
		what := "Carrington longitude"
		if p.ByCMD {
			low, high, what = -180, 180, "central meridian distance"
		}
		if err := within(what, "degrees", p.Lon.Degrees(), low, high); err != nil {
			return err
		}
		if p.ByCMD != g.Places[0].ByCMD {
			return fmt.Errorf("mark with both Carrington longitudes and central meridian distances")
		}
	}
	return within("error of the place", "degrees", g.SigmaPlace.Degrees(), 0, 90)
}

// Shape is what the vertices of a mark are. Its zero is refused.
type Shape uint8

// The shapes of a mark.
const (
	Point Shape = iota + 1
	Line
	Outline
)

var shapeNames = []string{"", "point", "line", "outline"}

// String is the shape's name as it stands in SQL and JSON.
func (s Shape) String() string { return nameOf(shapeNames, uint8(s), "Shape") }

// ParseShape reads a shape's name.
func ParseShape(text string) (Shape, error) {
	return namedNonZero[Shape](shapeNames, text, "shape", "point, line or outline")
}

// MarshalText writes the shape's name.
func (s Shape) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Form is the kind of figures in which a mark was given.
type Form uint8

// The forms of a mark's figures.
const (
	FormPixels Form = iota + 1
	FormPolar
	FormPlaces
)

var formNames = []string{"", "pixels", "polar", "places"}

// String is the form's name as it stands in SQL and JSON.
func (f Form) String() string { return nameOf(formNames, uint8(f), "Form") }

// MarshalText writes the form's name.
func (f Form) MarshalText() ([]byte, error) { return []byte(f.String()), nil }
