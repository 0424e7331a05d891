package measure

import (
	"fmt"
	"math"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Size is what can be said of a mark's size: what does not apply is nil.
//
//	Area        of an outline on the disc
//	Spine       of a line on the disc
//	Prominence  of what stands beyond the limb
type Size struct {
	Area       *Area
	Spine      *Spine
	Prominence *Prominence
}

// OfMark measures a mark. The view is that of its frame; for marks that were given by
// position angles or by places only its Face counts, and the mark is measured as
// drawn on a disc of its own. heightMm is how high lines on the disc stand.
//
// What cannot be measured is as the mark's record gives it, NaN where of a line only
// the length or only the tilt was given. A point on the disc of which nothing was given
// has no size: Size is then empty, without an error.
func OfMark(view disc.View, m catalog.Mark, heightMm float64) (Size, error) {
	size, err := ofShape(view, m, heightMm)
	if given := m.Sizes.AreaMSH; size.Area == nil && given.Known {
		size.Area = &Area{MSH: given.Value, SigmaMSH: given.Sigma}
	}
	if length, tilt := m.Sizes.LengthKm, m.Sizes.TiltDeg; size.Spine == nil && (length.Known || tilt.Known) {
		size.Spine = &Spine{Mm: orNaN(length) / 1000, SigmaMm: length.Sigma / 1000,
			Tilt: coords.Angle(orNaN(tilt)) * coords.Degree, SigmaTilt: coords.Angle(tilt.Sigma) * coords.Degree}
	}
	return size, err
}

func orNaN(g catalog.Given) float64 {
	if !g.Known {
		return math.NaN()
	}
	return g.Value
}

// ofShape measures what was drawn.
func ofShape(view disc.View, m catalog.Mark, heightMm float64) (Size, error) {
	points, on, sigmaPx, err := drawn(view, m.Geometry)
	if err != nil {
		return Size{}, err
	}
	closed := points
	if m.Geometry.Shape == catalog.Outline {
		closed = append(points[:len(points):len(points)], points[0])
	}
	var size Size
	if p, err := BeyondLimb(on, closed, sigmaPx); err == nil {
		size.Prominence = &p
		if m.Kind == catalog.Prominence {
			return size, nil // what of it dips under the limb is no size
		}
	}
	switch m.Geometry.Shape {
	case catalog.Line:
		if s, err := OfLine(on, points, sigmaPx, heightMm); err == nil {
			size.Spine = &s
		} else if size.Prominence == nil {
			return size, err
		}
	case catalog.Outline:
		if a, err := OfOutline(on, points, sigmaPx); err == nil {
			size.Area = &a
		} else if size.Prominence == nil {
			return size, err
		}
	}
	return size, nil
}

// paperRadiusPx is the radius of the disc on which marks without a picture are drawn.
const paperRadiusPx = 1000

// drawn are a mark's points with the view in which they lie and their error.
func drawn(view disc.View, g catalog.Geometry) (points []coords.Pixel, on disc.View, sigmaPx float64, err error) {
	switch g.Form() {
	case catalog.FormPixels:
		if !(view.Limb.RadiusPx > 0) {
			return nil, on, 0, fmt.Errorf("size of a mark in pixels: the frame has no disc")
		}
		return g.Pixels, view, g.SigmaClickPx, nil
	case catalog.FormPolar:
		on = disc.View{Limb: coords.Limb{RadiusPx: paperRadiusPx}, Layer: g.PolarLimb, Face: view.Face, North: coords.North{Sigma: g.SigmaPA}}
		for _, p := range g.Polar {
			right, down := on.North.Direction(p.PA)
			points = append(points, on.Limb.At(p.R*right, p.R*down))
		}
		return points, on, max(0.5, g.SigmaR*paperRadiusPx), nil
	case catalog.FormPlaces:
		// As seen from straight above their mean, where nothing is foreshortened.
		var mean [3]float64
		for _, p := range g.Places {
			for i, x := range p.On(view.Face.L0).Vector() {
				mean[i] += x
			}
		}
		above := coords.HeliographicOf(mean)
		on = disc.View{
			Limb: coords.Limb{RadiusPx: paperRadiusPx},
			Face: coords.Face{B0: above.B, L0: above.L, Semidiameter: view.Face.Semidiameter},
		}
		for _, p := range g.Places {
			at, visible := on.Project(p.On(view.Face.L0), 0)
			if !visible {
				return nil, on, 0, fmt.Errorf("size of a mark: it is spread over more than half the Sun")
			}
			points = append(points, at)
		}
		return points, on, max(0.5, g.SigmaPlace.Radians()*paperRadiusPx), nil
	}
	return nil, on, 0, fmt.Errorf("size of a mark without a geometry")
}
