package report

import (
	"fmt"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/measure"
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
	Size     measure.Size
	Contrast *measure.Contrast
}

// Measure measures a mark from its points. The view is that of its frame, nil when its
// disc or its north is not known: marks in pixels then have no size.
func Measure(e catalog.Entry, view *disc.View) Marked {
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
	if size, err := measure.OfMark(*view, e.Mark, height); err == nil {
		m.Size = size
	}
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
	if c, err := measure.OfContrast(pic, limb, g.Shape, points, 0, 0); err == nil {
		m.Contrast = &c
	}
}

// measured is a mark of the report with its size.
func (c composer) measured(e catalog.Entry) Marked {
	var view *disc.View
	if look := c.looks[e.Frame.ID]; look != nil {
		view = look.View
	}
	m := Measure(e, view)
	m.Contrast = c.contrasts[e.Mark.ID]
	return m
}

// lengthText is the length of a line in megametres: 148 ±6; ≥ where it runs over the
// limb.
func lengthText(m Marked) string {
	s := m.Size.Spine
	if s == nil {
		return ""
	}
	places := decimals(s.SigmaMm, 0)
	text := fmt.Sprintf("%.*f %s", places, s.Mm, plusMinus(s.SigmaMm, places))
	if s.Cut {
		return "≥ " + text
	}
	return text
}

// areaText is an area in millionths of the hemisphere: 210 ±15.
func areaText(m Marked) string {
	a := m.Size.Area
	if a == nil {
		return ""
	}
	if a.AtLeast {
		return fmt.Sprintf("≥ %.0f", a.MSH)
	}
	places := decimals(a.SigmaMSH, 0)
	return fmt.Sprintf("%.*f %s", places, a.MSH, plusMinus(a.SigmaMSH, places))
}

// extentText is how far a prominence reaches along the limb, in degrees: 5.1 ±0.2.
func extentText(m Marked) string {
	p := m.Size.Prominence
	if p == nil || p.SigmaExtent <= 0 {
		return ""
	}
	sigma := p.SigmaExtent.Degrees()
	places := max(1, decimals(sigma, 1))
	return fmt.Sprintf("%.*f %s", places, p.Extent.Degrees(), plusMinus(sigma, places))
}

// contrastText is a contrast in per cent: +12 ±1.
func contrastText(m Marked) string {
	if m.Contrast == nil {
		return ""
	}
	percent, sigma := 100*m.Contrast.Value, 100*m.Contrast.Sigma
	places := decimals(sigma, 1)
	sign := "+"
	if percent < 0 {
		sign, percent = "−", -percent
	}
	return fmt.Sprintf("%s%.*f %s", sign, places, percent, plusMinus(sigma, max(places, 0)))
}

// Sizes says in words what was measured, each with its unit and error.
func (m Marked) Sizes() (lines []Fact) {
	add := func(label, text, unit string) {
		if text != "" {
			lines = append(lines, Fact{label, strings.ReplaceAll(text, "±", "± ") + unit})
		}
	}
	add("area", areaText(m), " millionths of the hemisphere")
	add("length", lengthText(m), " Mm")
	if s := m.Size.Spine; s != nil && s.SigmaTilt > 0 {
		add("tilt", fmt.Sprintf("%+.0f° ±%.0f°", s.Tilt.Degrees(), max(1, s.SigmaTilt.Degrees())), "")
	}
	add("along the limb", extentText(m), "°")
	add("contrast", contrastText(m), " %")
	return lines
}
