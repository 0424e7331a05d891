package chart

import (
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
)

// Look is one look at the disc: a frame.
//
//	View          how it lies; nil when its disc or north is not known
//	Picture       nil when none is wanted; a reduced one (a preview) will do
//	FrameWidthPx  width of the frame where Picture is a reduced one; 0: the picture's own
type Look struct {
	Frame        catalog.FrameID
	UTC          time.Time
	View         *disc.View
	Picture      *picture.Picture
	FrameWidthPx int
}

// sortedLooks are the looks in the order of time.
func sortedLooks(looks []Look) []Look {
	out := slices.Clone(looks)
	slices.SortStableFunc(out, func(a, b Look) int { return a.UTC.Compare(b.UTC) })
	return out
}

// drawnPlace is a mark as it lies on the Sun.
//
//	line    its vertices; those beyond the limb are left out
//	closed  it is an outline
type drawnPlace struct {
	line   []coords.Heliographic
	closed bool
}

// placeOf is where a mark lies: corrected for its height, or as it is seen, which is
// as on the photosphere. False when it has no such place.
func placeOf(e catalog.Entry, asSeen bool) (coords.Measured, bool) {
	if asSeen {
		if e.Position.Disc == nil {
			return coords.Measured{}, false
		}
		return e.Position.Disc.Measured, true
	}
	return e.Position.Reading()
}

// onSun puts the vertices of a mark on the Sun, as placeOf puts its position. A view
// is needed for marks in pixels; without one only the position is known.
func onSun(e catalog.Entry, view *disc.View, asSeen bool) drawnPlace {
	var height disc.Height
	if e.Position.High != nil && !asSeen {
		height.Mm = e.Position.High.Height.HeightMm
	}
	g := e.Mark.Geometry
	out := drawnPlace{closed: g.Shape == catalog.Outline}
	add := func(p disc.Place) {
		r := p.Corrected
		if !r.Known {
			r = p.Photosphere
		}
		if r.Known {
			out.line = append(out.line, r.Heliographic)
		}
	}
	switch g.Form() {
	case catalog.FormPixels:
		if view != nil {
			sight := view.Sight()
			for _, p := range g.Pixels {
				add(sight.Place(p, 0, height))
			}
		}
	case catalog.FormPolar:
		paper := disc.View{Layer: g.PolarLimb, Face: faceAt(e.Position.UTC)}.Sight()
		for _, p := range g.Polar {
			add(paper.PlacePolar(p.PA, p.R, 0, height))
		}
	case catalog.FormPlaces:
		face := faceAt(e.Position.UTC)
		for _, p := range g.Places {
			out.line = append(out.line, p.On(face.L0))
		}
	}
	if m, ok := placeOf(e, asSeen); ok && len(out.line) == 0 {
		out.line = []coords.Heliographic{m.Heliographic}
	}
	return out
}

// faceAt is the Sun's face at an instant, zero outside the years of the ephemeris.
func faceAt(t time.Time) coords.Face {
	if ephemeris.Check(t) != nil {
		return coords.Face{}
	}
	return ephemeris.At(t)
}

// cmdOf is how far from the meridian a mark was seen, infinite when it has no place.
func cmdOf(e catalog.Entry) float64 {
	switch p := e.Position; {
	case p.High != nil:
		return p.High.CMD.Degrees()
	case p.Disc != nil:
		return p.Disc.CMD.Degrees()
	}
	return math.Inf(1)
}
