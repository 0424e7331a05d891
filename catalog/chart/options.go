package chart

import (
	"fmt"
	"io"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
)

// Options are common to all charts. Their zero draws for paper at the chart's own
// size without links.
//
//	Theme    zero: Paper
//	Width    of the sheet in CSS pixels; 0: the chart's own, which suits a page
//	         of A4. Letters keep their size, so a narrow sheet has fewer of them
//	Density  pixels to a unit, in a PNG and in pictures within an SVG; 0: 2
//	MarkHref where a touch on a mark leads, empty for nowhere; nil: no links
//	DayHref  the same for a UT day, written 2026-03-14
type Options struct {
	Theme    Theme
	Width    float64
	Density  float64
	MarkHref func(catalog.MarkID) string
	DayHref  func(day string) string
}

// ready fills in what zero fields mean.
func (o Options) ready(width float64) (Options, error) {
	if o.Theme.Name == "" {
		o.Theme = Paper
	}
	if o.Width == 0 {
		o.Width = width
	}
	if o.Density == 0 {
		o.Density = 2
	}
	if !(o.Width >= narrowest && o.Width <= widest) {
		return o, fmt.Errorf("chart %g units wide: want %d to %d", o.Width, narrowest, widest)
	}
	if !(o.Density >= 0.25 && o.Density <= 8) {
		return o, fmt.Errorf("chart of %g pixels a unit: want 0.25 to 8", o.Density)
	}
	return o, nil
}

// Widths within which the charts lay themselves out well.
const (
	narrowest = 320
	widest    = 4000
)

// Format is a kind of file. Its zero is SVG.
type Format uint8

// The formats of a chart.
const (
	SVG Format = iota
	PNG
)

// String is the format's name and file extension.
func (f Format) String() string {
	if f == PNG {
		return "png"
	}
	return "svg"
}

// ParseFormat reads a format's name.
func ParseFormat(text string) (Format, error) {
	switch text {
	case "svg":
		return SVG, nil
	case "png":
		return PNG, nil
	}
	return 0, fmt.Errorf("format %q: want svg or png", text)
}

// Write writes a chart; the density is that of its options.
func Write(w io.Writer, c *canvas.Canvas, f Format, o Options) error {
	o, err := o.ready(c.Width)
	if err != nil {
		return err
	}
	if f == PNG {
		return c.WritePNG(w, o.Density)
	}
	return c.WriteSVG(w)
}

// sheet is a canvas with the look it is drawn in.
type sheet struct {
	*canvas.Canvas
	Theme    Theme
	Density  float64
	markHref func(catalog.MarkID) string
	dayHref  func(string) string
}

// newSheet is an empty sheet of the options' width.
func newSheet(o Options, height float64) sheet {
	return sheet{canvas.New(o.Width, height, o.Theme.Page), o.Theme, o.Density, o.MarkHref, o.DayHref}
}

// onDay draws something that leads to a UT day.
func (s sheet) onDay(day, label string, fn func()) {
	href := ""
	if s.dayHref != nil {
		href = s.dayHref(day)
	}
	s.Within(canvas.Group{Href: href, Label: label}, fn)
}

// linked draws something that leads to its mark.
func (s sheet) linked(id catalog.MarkID, label string, fn func()) {
	href := ""
	if s.markHref != nil && id != 0 {
		href = s.markHref(id)
	}
	s.Within(canvas.Group{Href: href, Label: label}, fn)
}
