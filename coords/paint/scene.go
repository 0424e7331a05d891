package paint

import (
	"errors"
	"fmt"
	"math"

	"limbwatch/coords"
)

// Scene is one picture to be painted.
//
//	Face    how the Sun is turned toward the observer; P, B0, L0 and Semidiameter are used
//	Seed    of all that is chance in this one picture: noise, cloud, seeing
type Scene struct {
	Sun    Sun
	Face   coords.Face
	Band   Band
	Camera Camera
	Seed   uint64
}

// Sun is what there is on the Sun at one instant.
type Sun struct {
	Spots       []Spot
	Plages      []Plage
	Filaments   []Filament
	Prominences []Prominence
	Mottling    Mottling
}

// Truth is what is known about a painted picture.
//
//	Limb           the limb of Layer, see the package comment; its Cov is zero
//	PhotospherePx  radius of the photosphere's edge, along the limb's long axis
//	InflectionPx   radius at which the blurred edge near Limb is steepest, ditto
//	Marks          where the features are: groups of spots, plages, filaments,
//	               prominences, each in the order of the Sun's slices
type Truth struct {
	Limb          coords.Limb
	Layer         coords.Layer
	North         coords.North
	Face          coords.Face
	PhotospherePx float64
	InflectionPx  float64
	Marks         []Mark
}

// Frame is a painted picture. Grey is row-major from the top, 0 (black) to 65535
// (white) whatever Bits is; with 8 bits the levels are multiples of 257.
type Frame struct {
	Width, Height int
	Grey          []float32
	Bits          int
	Palette       Palette
	Truth         Truth
}

// White is the grey level of a fully exposed pixel.
const White = 65535

// Paint paints the scene. It fails only on a scene that means nothing: no
// picture, no disc, no semidiameter.
func Paint(s Scene) (*Frame, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	c := s.Camera
	v := newView(s)
	light := newEdge(s.Band, c, v)

	f := &Frame{Width: c.Width, Height: c.Height, Bits: c.bits(), Palette: c.Palette}
	f.Grey = make([]float32, c.Width*c.Height)
	gases := s.gases(v)
	detail := paintDetail(s, v, light, gases)
	expose(f, s, light, detail)
	detail.release()
	finish(f, c)
	f.Truth = s.truth(v, light, gases)
	return f, nil
}

// Truth is what Paint would say about the picture, without painting it.
func (s Scene) Truth() (Truth, error) {
	if err := s.validate(); err != nil {
		return Truth{}, err
	}
	v := newView(s)
	return s.truth(v, newEdge(s.Band, s.Camera, v), s.gases(v)), nil
}

func (s Scene) truth(v view, light *edge, gases []gasSeen) Truth {
	t := Truth{
		Limb:          s.Camera.Limb,
		Layer:         coords.Layer{HeightMm: s.Band.Layer.HeightMm},
		North:         s.Camera.North,
		Face:          s.Face,
		PhotospherePx: light.photospherePx,
		InflectionPx:  light.inflectionPx(),
		Marks:         s.marks(v, gases),
	}
	t.Limb.Cov = coords.LimbCovariance{}
	t.North.Sigma = 0
	return t
}

func (s Scene) validate() error {
	c := s.Camera
	switch {
	case c.Width <= 0 || c.Height <= 0:
		return fmt.Errorf("picture of %d x %d pixels", c.Width, c.Height)
	case c.Width*c.Height > 1<<28:
		return fmt.Errorf("picture of %d x %d pixels is too large to paint", c.Width, c.Height)
	case !(c.Limb.RadiusPx >= 10):
		return fmt.Errorf("limb radius %g px, at least 10 are needed", c.Limb.RadiusPx)
	case !(c.Limb.Flattening >= 0 && c.Limb.Flattening < 0.5):
		return fmt.Errorf("limb flattening %g is outside 0 to 0.5", c.Limb.Flattening)
	case !(s.Face.Semidiameter > 0 && s.Face.Semidiameter < 2*coords.Degree):
		return fmt.Errorf("semidiameter %g arcsec", s.Face.Semidiameter.Arcseconds())
	case !(c.BlurPx >= 0 && c.BlurPx <= c.Limb.RadiusPx/8):
		return fmt.Errorf("blur of %g px on a disc of radius %g px", c.BlurPx, c.Limb.RadiusPx)
	case s.Band.Layer.HeightMm < 0:
		return fmt.Errorf("limb height %g Mm", s.Band.Layer.HeightMm)
	case c.Bits != 0 && c.Bits != 8 && c.Bits != 16:
		return fmt.Errorf("%d bits a pixel, 8 or 16 are painted", c.Bits)
	}
	for _, fl := range s.Sun.Filaments {
		if len(fl.Spine) < 2 {
			return errors.New("a filament's spine has fewer than two points")
		}
	}
	return nil
}

// Project gives the pixel at which a place at heightMm above the photosphere is
// seen, and whether it is: false behind the disc. The pixel may lie outside the
// picture.
func (s Scene) Project(h coords.Heliographic, heightMm float64) (coords.Pixel, bool) {
	v := newView(s)
	return v.project(h.Vector(), 1+heightMm/coords.SolarRadiusMm)
}

// degreesOf is short for an angle given in degrees.
func degreesOf(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

// smoothstep rises from 0 at a to 1 at b with level ends.
func smoothstep(a, b, x float64) float64 {
	t := math.Max(0, math.Min(1, (x-a)/(b-a)))
	return t * t * (3 - 2*t)
}
