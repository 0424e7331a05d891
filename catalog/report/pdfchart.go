package report

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"

	"limbwatch/catalog/chart/canvas"
)

// chartFamily is the font in which charts measure their letters; what it lacks comes
// from the page's own.
const chartFamily = "Liberation"

func addChartFonts(pdf *fpdf.Fpdf) {
	pdf.AddUTF8FontFromBytes(chartFamily, "", liberationsansregular.TTF)
	pdf.AddUTF8FontFromBytes(chartFamily, "B", liberationsansbold.TTF)
}

// chart draws a chart on the page, its top left corner at (x, y), so many millimetres
// wide: lines and letters as such, only pictures in pixels.
func (p *printer) chart(c *canvas.Canvas, x, y, width float64) error {
	pen := &chartPen{printer: p, x: x, y: y, unit: width / c.Width}
	if c.Background.A > 0 {
		pen.Path([][]canvas.Point{{{}, {X: c.Width}, {X: c.Width, Y: c.Height}, {Y: c.Height}}}, true, canvas.Fill(c.Background))
	}
	c.Draw(pen)
	p.SetAlpha(1, "Normal")
	p.SetDashPattern(nil, 0)
	p.SetLineCapStyle("butt")
	p.SetLineJoinStyle("miter")
	return pen.err
}

// chartPen draws a sheet onto a page. unit is millimetres to a unit of the sheet.
type chartPen struct {
	*printer
	x, y, unit float64
	clips      []bool // whether the open groups are clipped
	err        error
}

func (c *chartPen) at(p canvas.Point) (x, y float64) { return c.x + p.X*c.unit, c.y + p.Y*c.unit }

// drawn draws a shape's inside, then its line, as a style says.
func (c *chartPen) drawn(s canvas.Style, draw func(how string)) {
	if s.Fill.A > 0 {
		c.SetAlpha(float64(s.Fill.A)/255, "Normal")
		c.SetFillColor(int(s.Fill.R), int(s.Fill.G), int(s.Fill.B))
		draw("F")
	}
	if s.Line.A == 0 || s.Width <= 0 {
		return
	}
	c.SetAlpha(float64(s.Line.A)/255, "Normal")
	c.SetDrawColor(int(s.Line.R), int(s.Line.G), int(s.Line.B))
	c.SetLineWidth(s.Width * c.unit)
	c.SetLineJoinStyle("round")
	c.SetLineCapStyle(map[bool]string{true: "butt", false: "round"}[s.Butt])
	dash := make([]float64, len(s.Dash))
	for i, d := range s.Dash {
		dash[i] = d * c.unit
	}
	c.SetDashPattern(dash, 0)
	draw("D")
}

// Path draws lines or areas.
func (c *chartPen) Path(lines [][]canvas.Point, closed bool, s canvas.Style) {
	c.drawn(s, func(how string) {
		for _, points := range lines {
			for i, p := range points {
				x, y := c.at(p)
				if i == 0 {
					c.MoveTo(x, y)
				} else {
					c.LineTo(x, y)
				}
			}
			if closed {
				c.ClosePath()
			}
		}
		c.DrawPath(how)
	})
}

// Circle draws a circle.
func (c *chartPen) Circle(at canvas.Point, radius float64, s canvas.Style) {
	x, y := c.at(at)
	c.drawn(s, func(how string) { c.printer.Circle(x, y, radius*c.unit, how) })
}

// pointMm is a typographic point in millimetres.
const pointMm = 25.4 / 72

// Text sets a line of text.
func (c *chartPen) Text(at canvas.Point, text string, t canvas.Type) {
	x, y := c.at(at)
	left := x
	switch t.Anchor {
	case canvas.Middle:
		left -= canvas.TextWidth(text, t.Size, t.Bold) / 2 * c.unit
	case canvas.End:
		left -= canvas.TextWidth(text, t.Size, t.Bold) * c.unit
	}
	if t.TurnDeg != 0 {
		c.TransformBegin()
		c.TransformRotate(t.TurnDeg, x, y)
		defer c.TransformEnd()
	}
	if t.Halo.A > 0 {
		c.SetAlpha(float64(t.Halo.A)/255, "Normal")
		c.SetDrawColor(int(t.Halo.R), int(t.Halo.G), int(t.Halo.B))
		c.SetLineWidth(canvas.Halo(t.Size) * c.unit)
		c.SetLineJoinStyle("round")
		c.SetDashPattern(nil, 0)
		c.SetTextRenderingMode(1)
		c.letters(left, y, text, t, t.Halo)
		c.SetTextRenderingMode(0)
	}
	c.SetAlpha(float64(t.Colour.A)/255, "Normal")
	c.letters(left, y, text, t, t.Colour)
}

// letters sets text from its left end, each run of it in a font that has its signs.
func (c *chartPen) letters(x, y float64, text string, t canvas.Type, colour canvas.Colour) {
	style := map[bool]string{true: "B", false: ""}[t.Bold]
	// The library leaves out the colour of a text that is that of the last filled shape,
	// which the end of a clipped group may have undone.
	c.SetFillColor(int(colour.R)^1, int(colour.G), int(colour.B))
	c.SetTextColor(int(colour.R), int(colour.G), int(colour.B))
	for len(text) > 0 {
		run, known := firstRun(text, t.Bold)
		if known {
			c.SetFont(chartFamily, style, t.Size*c.unit/pointMm)
		} else {
			c.SetFont(family, style, t.Size*c.unit/pointMm)
		}
		c.printer.Text(x, y, run)
		x += canvas.TextWidth(run, t.Size, t.Bold) * c.unit
		text = text[len(run):]
	}
}

// firstRun is as much of a text as is all in the charts' font, or all not.
func firstRun(text string, bold bool) (run string, known bool) {
	for i, sign := range text {
		has := inChartFont(sign, bold)
		if i == 0 {
			known = has
		} else if has != known {
			return text[:i], known
		}
	}
	return text, known
}

// coverage tells which signs the charts' fonts have.
var coverage = struct {
	mutex   sync.Mutex
	buffer  sfnt.Buffer
	regular func() (*sfnt.Font, error)
	bold    func() (*sfnt.Font, error)
}{
	regular: sync.OnceValues(func() (*sfnt.Font, error) { return sfnt.Parse(liberationsansregular.TTF) }),
	bold:    sync.OnceValues(func() (*sfnt.Font, error) { return sfnt.Parse(liberationsansbold.TTF) }),
}

func inChartFont(sign rune, bold bool) bool {
	coverage.mutex.Lock()
	defer coverage.mutex.Unlock()
	face := coverage.regular
	if bold {
		face = coverage.bold
	}
	f, err := face()
	if err != nil {
		return false
	}
	glyph, err := f.GlyphIndex(&coverage.buffer, sign)
	return err == nil && glyph != 0
}

// Picture lays an image into a rectangle, or into the ellipse within it.
func (c *chartPen) Picture(at canvas.Rect, m image.Image, round bool) {
	x, y := c.at(canvas.Point{X: at.X, Y: at.Y})
	width, height := at.Width*c.unit, at.Height*c.unit
	if round {
		c.ClipEllipse(x+width/2, y+height/2, width/2, height/2, false)
		defer c.ClipEnd()
	}
	own := c.ownWidth(m)
	if drawn := m.Bounds().Dx(); own.Bounds().Dx() > drawn {
		c.ClipRect(x, y, width, height, false)
		defer c.ClipEnd()
		width *= float64(own.Bounds().Dx()) / float64(drawn)
		m = own
	}
	var data bytes.Buffer
	if err := jpeg.Encode(&data, m, &jpeg.Options{Quality: 90}); err != nil {
		c.err = err
		return
	}
	c.pictures++
	name := fmt.Sprintf("picture %d", c.pictures)
	c.SetAlpha(1, "Normal")
	c.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, &data)
	c.ImageOptions(name, x, y, width, height, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
}

// ownWidth gives a picture a width that no other has, by columns at its right that are
// cut off again: the library writes pictures by their width, those of one width in no
// order, and the same report would not be the same file.
func (c *chartPen) ownWidth(m image.Image) image.Image {
	bounds := m.Bounds()
	width := bounds.Dx()
	for c.taken[width] {
		width++
	}
	c.taken[width] = true
	if width == bounds.Dx() {
		return m
	}
	var wide draw.Image = image.NewRGBA(image.Rect(0, 0, width, bounds.Dy()))
	if _, grey := m.(*image.Gray); grey {
		wide = image.NewGray(wide.Bounds())
	}
	draw.Draw(wide, image.Rect(0, 0, bounds.Dx(), bounds.Dy()), m, bounds.Min, draw.Src)
	return wide
}

// Begin opens a group.
func (c *chartPen) Begin(g canvas.Group) {
	c.clips = append(c.clips, g.Clip != nil)
	if g.Clip != nil {
		x, y := c.at(canvas.Point{X: g.Clip.X, Y: g.Clip.Y})
		c.ClipRect(x, y, g.Clip.Width*c.unit, g.Clip.Height*c.unit, false)
	}
}

// End closes it.
func (c *chartPen) End() {
	last := len(c.clips) - 1
	if c.clips[last] {
		c.ClipEnd()
	}
	c.clips = c.clips[:last]
}
