package report

import (
	"fmt"
	"math"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/measure"
	"limbwatch/coords/disc"
	"limbwatch/coords/figure"
)

// measured is a mark of the report with its size.
func (c composer) measured(e catalog.Entry) measure.Marked {
	var view *disc.View
	if look := c.looks[e.Frame.ID]; look != nil {
		view = look.View
	}
	m := measure.OfEntry(e, view)
	m.Contrast = c.contrasts[e.Mark.ID]
	return m
}

// lengthText is the length of a line in megametres: 148 ±6; ≥ where it runs over the
// limb.
func lengthText(m measure.Marked) string {
	s := m.Size.Spine
	if s == nil || math.IsNaN(s.Mm) {
		return ""
	}
	places := figure.Decimals(s.SigmaMm, 0)
	text := fmt.Sprintf("%.*f %s", places, s.Mm, plusMinus(s.SigmaMm, places))
	if s.Cut {
		return "≥ " + text
	}
	return text
}

// areaText is an area in millionths of the hemisphere: 210 ±15.
func areaText(m measure.Marked) string {
	a := m.Size.Area
	if a == nil {
		return ""
	}
	if a.AtLeast {
		return fmt.Sprintf("≥ %.0f", a.MSH)
	}
	places := figure.Decimals(a.SigmaMSH, 0)
	return fmt.Sprintf("%.*f %s", places, a.MSH, plusMinus(a.SigmaMSH, places))
}

// extentText is how far a prominence reaches along the limb, in degrees: 5.1 ±0.2.
func extentText(m measure.Marked) string {
	p := m.Size.Prominence
	if p == nil || p.SigmaExtent <= 0 {
		return ""
	}
	sigma := p.SigmaExtent.Degrees()
	places := max(1, figure.Decimals(sigma, 1))
	return fmt.Sprintf("%.*f %s", places, p.Extent.Degrees(), plusMinus(sigma, places))
}

// contrastText is a contrast in per cent: +12 ±1.
func contrastText(m measure.Marked) string {
	if m.Contrast == nil {
		return ""
	}
	percent, sigma := 100*m.Contrast.Value, 100*m.Contrast.Sigma
	places := figure.Decimals(sigma, 1)
	sign := "+"
	if percent < 0 {
		sign, percent = "−", -percent
	}
	return fmt.Sprintf("%s%.*f %s", sign, places, percent, plusMinus(sigma, max(places, 0)))
}

// Sizes says in words what was measured, each with its unit and error.
func Sizes(m measure.Marked) (lines []Fact) {
	add := func(label, text, unit string) {
		if text != "" {
			lines = append(lines, Fact{label, strings.ReplaceAll(text, "±", "± ") + unit})
		}
	}
	add("area", areaText(m), " millionths of the hemisphere")
	add("length", lengthText(m), " Mm")
	if s := m.Size.Spine; s != nil && s.SigmaTilt > 0 {
		add("tilt", fmt.Sprintf("%+.0f° ±%.0f°", s.Tilt.Degrees(), max(1, s.SigmaTilt.Degrees())), "")
	} else if m.Mark.Sizes.TiltDeg.Known && s != nil {
		add("tilt", fmt.Sprintf("%+.0f°", s.Tilt.Degrees()), "")
	}
	add("along the limb", extentText(m), "°")
	add("contrast", contrastText(m), " %")
	return lines
}
