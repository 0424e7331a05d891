package catalog

import (
	"fmt"

	"limbwatch/coords"
)

// The forms in which vertices are written, in SQL and in files, as pairs of numbers:
// pixels x, y; position angle and radii; latitude and either of the two longitudes.
const (
	writtenPixels     = "pixels"
	writtenPolar      = "polar"
	writtenCarrington = "carrington"
	writtenCMD        = "cmd"
)

// Written gives the vertices as pairs of numbers with their form: pixels (x, y), polar
// (position angle, radii), carrington (latitude, longitude) or cmd (latitude, distance
// from the central meridian). Angles are degrees, from which they come again to the
// last bit.
func (g Geometry) Written() (form string, pairs [][2]float64) {
	pairs = make([][2]float64, 0, g.Vertices())
	for _, p := range g.Pixels {
		form, pairs = writtenPixels, append(pairs, [2]float64{p.X, p.Y})
	}
	for _, p := range g.Polar {
		form, pairs = writtenPolar, append(pairs, [2]float64{p.PA.ExactDegrees(), p.R})
	}
	for _, p := range g.Places {
		form, pairs = writtenCarrington, append(pairs, [2]float64{p.B.ExactDegrees(), p.Lon.ExactDegrees()})
		if p.ByCMD {
			form = writtenCMD
		}
	}
	return form, pairs
}

// SetWritten takes over vertices as Written gives them.
func (g *Geometry) SetWritten(form string, pairs [][2]float64) error {
	for _, p := range pairs {
		switch form {
		case writtenPixels:
			g.Pixels = append(g.Pixels, coords.Pixel{X: p[0], Y: p[1]})
		case writtenPolar:
			g.Polar = append(g.Polar, PolarPoint{PA: coords.Angle(p[0]) * coords.Degree, R: p[1]})
		case writtenCarrington, writtenCMD:
			g.Places = append(g.Places, PlacePoint{B: coords.Angle(p[0]) * coords.Degree, Lon: coords.Angle(p[1]) * coords.Degree, ByCMD: form == writtenCMD})
		default:
			return fmt.Errorf("form %q: want pixels, polar, carrington or cmd", form)
		}
	}
	return nil
}
