// Package canvas is a sheet on which a chart is drawn once and written as SVG or
// as PNG, with the same look: lines, filled shapes, text and pictures, and no more.
//
// Lengths are units of the sheet, which are CSS pixels in an SVG; x runs to the
// right and y down from the top left corner. What is drawn later lies on top.
// Writing is deterministic: the same drawing gives the same bytes.
package canvas

import (
	"image"
	"image/color"
	"math"
	"slices"
)

// Colour is a colour with its opacity; one with opacity 0 is not drawn.
type Colour = color.NRGBA

// RGB is the opaque colour written 0xrrggbb.
func RGB(hex uint32) Colour {
	return Colour{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: 255}
}

// Faded is a colour at a part of its opacity, 0 to 1.
func Faded(c Colour, opacity float64) Colour {
	c.A = uint8(math.Round(float64(c.A) * max(0, min(1, opacity))))
	return c
}

// Point is a place on the sheet.
type Point struct{ X, Y float64 }

// Style is how a shape is drawn: filled, then its line.
//
//	Fill    inside; zero: not filled
//	Line    along the outline; zero: no line
//	Width   of the line
//	Dash    lengths of dash and gap in turn; nil: unbroken
//	Butt    ends cut straight, not round
type Style struct {
	Fill, Line Colour
	Width      float64
	Dash       []float64
	Butt       bool
}

// Stroke is a plain line.
func Stroke(c Colour, width float64) Style { return Style{Line: c, Width: width} }

// Dashed is a broken line.
func Dashed(c Colour, width float64, dash ...float64) Style {
	return Style{Line: c, Width: width, Dash: dash, Butt: true}
}

// Fill is a shape without a line.
func Fill(c Colour) Style { return Style{Fill: c} }

// Anchor is which part of a text lies at its point.
type Anchor uint8

// The anchors of a text.
const (
	Start Anchor = iota
	Middle
	End
)

// Type is how a text is set.
//
//	Size    of the letters (em)
//	Halo    colour of a rim that keeps the text legible on a picture; zero: none
//	TurnDeg counter-clockwise about the point
type Type struct {
	Size    float64
	Bold    bool
	Colour  Colour
	Anchor  Anchor
	Halo    Colour
	TurnDeg float64
}

// Canvas is a sheet with what is drawn on it. Title and Description are for those
// who hear the chart instead of seeing it.
type Canvas struct {
	Width, Height      float64
	Title, Description string
	Program            string // that draws it, with its version; named in the file, not drawn
	Background         Colour
	ops                []op
	links              bool
}

// New is an empty sheet.
func New(width, height float64, background Colour) *Canvas {
	return &Canvas{Width: width, Height: height, Background: background}
}

// op is one thing drawn: exactly one of its pointers is set, or it ends a group.
type op struct {
	path    *path
	circle  *circle
	text    *text
	picture *picture
	group   *Group
}

type path struct {
	lines  [][]Point
	closed bool
	style  Style
}

type circle struct {
	at     Point
	radius float64
	style  Style
}

type text struct {
	at   Point
	text string
	set  Type
}

type picture struct {
	x, y, width, height float64
	image               image.Image
	round               bool
}

// Group holds things together.
//
//	Clip   nothing shows outside of it; nil: not clipped
//	Href   where a touch leads; empty: nowhere
//	Label  what a touch tells
//	Data   what the group stands for, for the page that an SVG is put into; a value
//	       that is empty is left out
type Group struct {
	Clip        *Rect
	Href, Label string
	Data        []Datum
}

// Datum is a data- attribute of an SVG: data-mark="M12" for the name "mark".
type Datum struct{ Name, Value string }

// Rect is a rectangle by its corner, width and height.
type Rect struct{ X, Y, Width, Height float64 }

// Right and Bottom are its far sides.
func (r Rect) Right() float64 { return r.X + r.Width }

// Bottom is the lower side.
func (r Rect) Bottom() float64 { return r.Y + r.Height }

// Overlaps says whether two rectangles share more than an edge.
func (r Rect) Overlaps(o Rect) bool {
	return r.X < o.Right() && o.X < r.Right() && r.Y < o.Bottom() && o.Y < r.Bottom()
}

// Grown is the rectangle with a margin around it.
func (r Rect) Grown(margin float64) Rect {
	return Rect{r.X - margin, r.Y - margin, r.Width + 2*margin, r.Height + 2*margin}
}

// Path draws a line through points.
func (c *Canvas) Path(points []Point, s Style) { c.addPath([][]Point{points}, false, s) }

// Paths draws many lines in one style at once, which is smaller and faster; where
// they cross they do not add up.
func (c *Canvas) Paths(lines [][]Point, s Style) { c.addPath(lines, false, s) }

// Polygon draws a closed shape.
func (c *Canvas) Polygon(points []Point, s Style) { c.addPath([][]Point{points}, true, s) }

func (c *Canvas) addPath(lines [][]Point, closed bool, s Style) {
	kept := make([][]Point, 0, len(lines))
	for _, line := range lines {
		if len(line) >= 2 && !slices.ContainsFunc(line, nowhere) {
			kept = append(kept, line)
		}
	}
	if len(kept) > 0 {
		c.ops = append(c.ops, op{path: &path{kept, closed, s}})
	}
}

// nowhere says that a point has no place: a shape with one is not drawn at all,
// rather than at a wrong place.
func nowhere(p Point) bool {
	return math.IsNaN(p.X) || math.IsNaN(p.Y) || math.IsInf(p.X, 0) || math.IsInf(p.Y, 0)
}

// Segment draws one straight line.
func (c *Canvas) Segment(x0, y0, x1, y1 float64, s Style) {
	c.Path([]Point{{x0, y0}, {x1, y1}}, s)
}

// Rectangle draws a rectangle.
func (c *Canvas) Rectangle(r Rect, s Style) {
	c.Polygon([]Point{{r.X, r.Y}, {r.Right(), r.Y}, {r.Right(), r.Bottom()}, {r.X, r.Bottom()}}, s)
}

// Circle draws a circle.
func (c *Canvas) Circle(x, y, radius float64, s Style) {
	if !math.IsNaN(x + y + radius) {
		c.ops = append(c.ops, op{circle: &circle{Point{x, y}, radius, s}})
	}
}

// Text sets a line of text with its base line at (x, y).
func (c *Canvas) Text(x, y float64, s string, t Type) {
	if s != "" {
		c.ops = append(c.ops, op{text: &text{Point{x, y}, s, t}})
	}
}

// Picture lays an image into a rectangle; a round one shows only within the
// ellipse that touches its sides.
func (c *Canvas) Picture(at Rect, m image.Image, round bool) {
	c.ops = append(c.ops, op{picture: &picture{at.X, at.Y, at.Width, at.Height, m, round}})
}

// Within draws what fn draws as one group.
func (c *Canvas) Within(g Group, fn func()) {
	c.links = c.links || g.Href != ""
	c.ops = append(c.ops, op{group: &g})
	fn()
	c.ops = append(c.ops, op{})
}
