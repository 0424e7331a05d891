package canvas

import (
	"bytes"
	"encoding/xml"
	"image"
	"image/png"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var black, white = RGB(0x000000), RGB(0xffffff)

// inked is how much of a sheet is black, in units of its area.
func inked(t *testing.T, draw func(c *Canvas)) float64 {
	const scale = 4
	c := New(100, 100, white)
	draw(c)
	m, err := c.Raster(scale)
	require.NoError(t, err)
	sum := 0.0
	for i := 0; i < len(m.Pix); i += 4 {
		sum += 255 - float64(m.Pix[i])
	}
	return sum / 255 / scale / scale
}

// What geometry says that lines and shapes cover.
func TestShapesCoverWhatTheyShould(t *testing.T) {
	square := []Point{{20, 20}, {70, 20}, {70, 60}, {20, 60}}
	wave := func() (line []Point, length float64) {
		for i := range 200 {
			line = append(line, Point{10 + 0.4*float64(i), 50 + 20*math.Sin(float64(i)/15)})
			if i > 0 {
				length += math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
			}
		}
		return line, length
	}
	curve, length := wave()
	for _, c := range []struct {
		name string
		draw func(c *Canvas)
		want float64
	}{
		{"a filled rectangle", func(c *Canvas) { c.Polygon(square, Fill(black)) }, 50 * 40},
		{"a disc", func(c *Canvas) { c.Circle(50, 50, 30, Fill(black)) }, math.Pi * 900},
		{"a ring", func(c *Canvas) { c.Circle(50, 50, 30, Stroke(black, 4)) }, math.Pi * (32*32 - 28*28)},
		{"a line with straight ends", func(c *Canvas) { c.Path([]Point{{10, 10}, {90, 70}}, Style{Line: black, Width: 5, Butt: true}) }, 100 * 5},
		{"a line with round ends", func(c *Canvas) { c.Segment(10, 50, 90, 50, Stroke(black, 6)) }, 80*6 + math.Pi*9},
		{"a curve", func(c *Canvas) { c.Path(curve, Style{Line: black, Width: 3, Butt: true}) }, length * 3},
		{"a frame with round corners", func(c *Canvas) { c.Polygon(square, Stroke(black, 4)) }, 2*(50+40)*4 + math.Pi*4 - 4*4 + 0},
		{"half of it dashed", func(c *Canvas) { c.Segment(10, 50, 90, 50, Dashed(black, 6, 5, 5)) }, 40 * 6},
		{"half transparent", func(c *Canvas) { c.Polygon(square, Fill(Faded(black, 0.5))) }, 50 * 40 * 128.0 / 255},
		{"clipped", func(c *Canvas) {
			c.Within(Group{Clip: &Rect{0, 0, 50, 100}}, func() { c.Circle(50, 50, 30, Fill(black)) })
		}, math.Pi * 900 / 2},
		{"outside of the sheet", func(c *Canvas) { c.Circle(0, 0, 30, Fill(black)); c.Circle(500, -500, 30, Fill(black)) }, math.Pi * 900 / 4},
	} {
		assert.InEpsilon(t, c.want, inked(t, c.draw), 0.012, c.name)
	}
}

func TestShapesWithoutAPlaceAreNotDrawn(t *testing.T) {
	assert.Zero(t, inked(t, func(c *Canvas) {
		c.Path([]Point{{0, 0}, {math.NaN(), 5}}, Stroke(black, 2))
		c.Polygon([]Point{{0, 0}, {math.Inf(1), 5}, {3, 3}}, Fill(black))
		c.Circle(math.NaN(), 1, 1, Fill(black))
		c.Path([]Point{{5, 5}}, Stroke(black, 2))
	}))
}

// The widths of Helvetica, in thousandths of the size, as Adobe's font metrics give
// them (Helvetica.afm; from memory): the fonts that an SVG asks for share them.
func TestTextIsAsWideAsTheFontsAskedFor(t *testing.T) {
	for _, c := range []struct {
		text        string
		plain, bold float64
	}{{"0", 556, 556}, {" ", 278, 278}, {"A", 667, 722}, {"W", 944, 944}, {"i", 222, 278}, {"°", 400, 400}, {"000", 1668, 1668}} {
		assert.InDelta(t, c.plain/1000, TextWidth(c.text, 1, false), 0.001, c.text)
		assert.InDelta(t, c.bold/1000, TextWidth(c.text, 1, true), 0.001, c.text)
	}
	for _, r := range "Hα °±−′″₀⊙σβÅ×–²⁴ω·…čŚ" {
		assert.Greater(t, TextWidth(string(r), 10, false), 0.0)
		for _, f := range regular.fonts {
			if i, err := f.GlyphIndex(&regular.buffer, r); err == nil && i != 0 {
				r = 0
				break
			}
		}
		assert.Zero(t, r, "a sign that the charts use is in one of the fonts")
	}
}

func TestTextLiesInItsBox(t *testing.T) {
	for _, a := range []Anchor{Start, Middle, End} {
		set := Type{Size: 12, Colour: black, Anchor: a}
		box := TextBox(50, 50, "N14 Eg", set)
		c := New(100, 100, white)
		c.Text(50, 50, "N14 Eg", set)
		m, err := c.Raster(4)
		require.NoError(t, err)
		seen := image.Rectangle{}
		for y := range 400 {
			for x := range 400 {
				if m.RGBAAt(x, y).R < 128 {
					seen = seen.Union(image.Rect(x, y, x+1, y+1))
				}
			}
		}
		assert.InDelta(t, box.X, float64(seen.Min.X)/4, 1.2, "left, anchor %d", a)
		assert.InDelta(t, box.Right(), float64(seen.Max.X)/4, 1.2, "right")
		assert.InDelta(t, box.Y, float64(seen.Min.Y)/4, 0.8, "top")
		assert.InDelta(t, box.Bottom(), float64(seen.Max.Y)/4, 0.8, "bottom")
	}
}

func drawing() *Canvas {
	c := New(200, 120, white)
	c.Title, c.Description = "A & B <title>", "what \"it\" shows"
	c.Within(Group{Clip: &Rect{10, 10, 100, 50}, Label: "a & b"}, func() {
		c.Circle(50, 50, 20, Stroke(black, 2))
		c.Within(Group{Href: "/mark?id=1&x=2"}, func() { c.Text(20, 30, "<P12> −3°", Type{Size: 11, Colour: black, Halo: white, TurnDeg: 20}) })
	})
	m := image.NewGray(image.Rect(0, 0, 8, 8))
	c.Picture(Rect{100, 20, 40, 40}, m, true)
	return c
}

func TestSVGIsWellFormedAndSpeaks(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, drawing().WriteSVG(&b))
	text := b.String()
	decoder := xml.NewDecoder(strings.NewReader(text))
	depth := 0
	for {
		token, err := decoder.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch token.(type) {
		case xml.StartElement:
			depth++
		case xml.EndElement:
			depth--
		}
	}
	assert.Zero(t, depth)
	assert.Contains(t, text, "A &amp; B &lt;title&gt;</title>")
	assert.Contains(t, text, `href="/mark?id=1&amp;x=2"`)
	ids := map[string]int{}
	for _, m := range regexp.MustCompile(`\bid="([^"]+)"`).FindAllStringSubmatch(text, -1) {
		ids[m[1]]++
		assert.Equal(t, 1, ids[m[1]], "id %s", m[1])
	}
	for _, m := range regexp.MustCompile(`url\(#([^)]+)\)`).FindAllStringSubmatch(text, -1) {
		assert.Equal(t, 1, ids[m[1]], "clip path %s is defined", m[1])
	}
}

func TestTheSameDrawingGivesTheSameBytes(t *testing.T) {
	var svg, png [2]bytes.Buffer
	for i := range 2 {
		require.NoError(t, drawing().WriteSVG(&svg[i]))
		require.NoError(t, drawing().WritePNG(&png[i], 2))
	}
	assert.Equal(t, svg[0].Bytes(), svg[1].Bytes())
	assert.Equal(t, png[0].Bytes(), png[1].Bytes())
}

func TestRasterRefusesWhatMemoryCannotHold(t *testing.T) {
	for _, scale := range []float64{0, -1, math.NaN(), 1e6, math.Inf(1)} {
		_, err := New(100, 100, white).Raster(scale)
		assert.Error(t, err, "scale %g", scale)
	}
}

// A picture lies where it is put, and a round one shows nothing of its corners.
func TestPictureOnTheRaster(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 20, 20)) // black
	c := New(60, 60, white)
	c.Picture(Rect{10, 10, 40, 40}, m, true)
	r, err := c.Raster(2)
	require.NoError(t, err)
	assert.EqualValues(t, 255, r.RGBAAt(22, 22).R, "corner of the picture")
	assert.EqualValues(t, 0, r.RGBAAt(60, 60).R, "middle")
	assert.EqualValues(t, 0, r.RGBAAt(60, 23).R, "just inside the top")
	assert.EqualValues(t, 255, r.RGBAAt(60, 17).R, "outside")
}

// The name of the program stands in a file's own place for it: metadata in an SVG, and in a
// PNG a text chunk with the keyword Software (PNG specification, third edition, 11.3.3.2),
// which readers pass over whole.
func TestFilesNameTheProgram(t *testing.T) {
	c := New(40, 30, white)
	c.Program = "limbwatch 1.2.3 <é>"
	var vector, raster bytes.Buffer
	require.NoError(t, c.WriteSVG(&vector))
	assert.Contains(t, vector.String(), "<metadata>limbwatch 1.2.3 &lt;é&gt;</metadata>")
	require.NoError(t, c.WritePNG(&raster, 1))
	assert.Contains(t, raster.String(), "tEXtSoftware\x00limbwatch 1.2.3 <?>")
	m, err := png.Decode(&raster)
	require.NoError(t, err, "the chunk's length and check sum are right")
	assert.Equal(t, 40, m.Bounds().Dx())
}
