package chart

import (
	"fmt"
	"io"
	"time"

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
//	Program  with its version: Write names it in the file; "" for no word of it
//
// Whatever stands for something in the catalogue says so in an SVG, links or none, by
// attributes of its group: data-mark="M12", data-frame="F3", data-passage="P7",
// data-day="2026-03-14", as many of them as are known. See doc.go.
type Options struct {
	Theme    Theme
	Width    float64
	Density  float64
	MarkHref func(catalog.MarkID) string
	DayHref  func(day string) string
	Program  string
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
	c.Program = o.Program
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

// subject is what something drawn stands for. What is not known is zero.
type subject struct {
	mark    catalog.MarkID
	frame   catalog.FrameID
	passage catalog.PassageID
	at      time.Time // within its UT day
}

// subjectOf is what a mark that is drawn stands for.
func subjectOf(e catalog.Entry) subject {
	s := subject{mark: e.Mark.ID, frame: e.Frame.ID, at: e.Position.UTC}
	if e.Join != nil {
		s.passage = e.Join.Passage
	}
	return s
}

// data are the attributes of a subject.
func (s subject) data() (data []canvas.Datum) {
	if s.mark != 0 {
		data = append(data, canvas.Datum{Name: "mark", Value: s.mark.String()})
	}
	if s.frame != 0 {
		data = append(data, canvas.Datum{Name: "frame", Value: s.frame.String()})
	}
	if s.passage != 0 {
		data = append(data, canvas.Datum{Name: "passage", Value: s.passage.String()})
	}
	if !s.at.IsZero() {
		data = append(data, canvas.Datum{Name: "day", Value: isoDay(s.at)})
	}
	return data
}

// onDay draws something that leads to the UT day of an instant. frame is one of that
// day's, 0 for none.
func (s sheet) onDay(at time.Time, frame catalog.FrameID, label string, fn func()) {
	href := ""
	if s.dayHref != nil {
		href = s.dayHref(isoDay(at))
	}
	s.Within(canvas.Group{Href: href, Label: label, Data: subject{frame: frame, at: at}.data()}, fn)
}

// linked draws something that leads to the mark it stands for.
func (s sheet) linked(of subject, label string, fn func()) {
	href := ""
	if s.markHref != nil && of.mark != 0 {
		href = s.markHref(of.mark)
	}
	s.Within(canvas.Group{Href: href, Label: label, Data: of.data()}, fn)
}
