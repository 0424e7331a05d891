package measure

import (
	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
)

// Marked is a mark with what was measured of it from its points.
//
//	Contrast  of an outline against what lies round it; nil: not measured
type Marked struct {
	catalog.Entry
	Size     Size
	Contrast *Contrast
}

// OfEntry measures a mark from its points. The view is that of its frame, nil when its
// disc or its north is not known: marks in pixels then have no size.
func OfEntry(e catalog.Entry, view *disc.View) Marked {
	m := Marked{Entry: e}
	if view == nil {
		view = &disc.View{}
		if ephemeris.Check(e.Position.UTC) == nil {
			view.Face = ephemeris.At(e.Position.UTC)
		}
	}
	height := 0.0
	if e.Position.High != nil {
		height = e.Position.High.Height.HeightMm
	}
	m.Size, _ = OfMark(*view, e.Mark, height) // what cannot be measured stays empty
	return m
}

// Compare measures the contrast of an outline on the disc in a picture of its frame,
// best a reduced one, whose levels begin at the sky's. frameWidthPx is the width of the
// frame, in whose pixels the mark counts. What cannot be compared has no contrast.
func (m *Marked) Compare(pic *picture.Picture, frameWidthPx int, limb coords.Limb) {
	g := m.Mark.Geometry
	if pic == nil || frameWidthPx <= 0 || g.Shape != catalog.Outline || g.Form() != catalog.FormPixels || m.Size.Area == nil {
		return
	}
	scale := float64(pic.Width) / float64(frameWidthPx)
	reduced := func(p coords.Pixel) coords.Pixel {
		return coords.Pixel{X: (p.X+0.5)*scale - 0.5, Y: (p.Y+0.5)*scale - 0.5}
	}
	limb.Centre, limb.RadiusPx = reduced(limb.Centre), limb.RadiusPx*scale
	points := make([]coords.Pixel, len(g.Pixels))
	for i, p := range g.Pixels {
		points[i] = reduced(p)
	}
	if c, err := OfContrast(pic, limb, g.Shape, points, 0, 0); err == nil {
		m.Contrast = &c
	}
}
