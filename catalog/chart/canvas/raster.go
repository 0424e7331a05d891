package canvas

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"
	"slices"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/vector"
)

// maxRasterPx bounds a raster, whose memory is four bytes a pixel.
const maxRasterPx = 1 << 27

// WritePNG writes the sheet as PNG with so many pixels to a unit.
func (c *Canvas) WritePNG(w io.Writer, scale float64) error {
	m, err := c.Raster(scale)
	if err != nil {
		return err
	}
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	if c.Program == "" {
		return encoder.Encode(w, m)
	}
	var file bytes.Buffer
	if err := encoder.Encode(&file, m); err != nil {
		return err
	}
	// The signature and the header, which comes first (PNG specification, third edition,
	// 5.6), have a fixed length; text chunks may follow it.
	const headLength = 8 + 12 + 13
	head := file.Next(headLength)
	_, err = w.Write(slices.Concat(head, textChunk("Software", c.Program), file.Bytes()))
	return err
}

// textChunk is a PNG's tEXt chunk (11.3.3.2): keyword, a zero byte, and text in Latin-1, of
// which this writes the ASCII part.
func textChunk(keyword, text string) []byte {
	body := []byte("tEXt" + keyword + "\x00")
	for _, r := range text {
		if r < ' ' || r > '~' {
			r = '?'
		}
		body = append(body, byte(r))
	}
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(body)-4))
	chunk = append(chunk, body...)
	return binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(body))
}

// Raster is the sheet as an image with so many pixels to a unit.
func (c *Canvas) Raster(scale float64) (*image.RGBA, error) {
	width, height := math.Ceil(c.Width*scale), math.Ceil(c.Height*scale)
	if !(width >= 1 && height >= 1 && width*height <= maxRasterPx) {
		return nil, fmt.Errorf("chart of %g × %g at %g pixels a unit: want 1 to %d pixels in all", c.Width, c.Height, scale, maxRasterPx)
	}
	r := &raster{
		image: image.NewRGBA(image.Rect(0, 0, int(width), int(height))), scale: scale,
	}
	r.clip = []image.Rectangle{r.image.Bounds()}
	if c.Background.A > 0 {
		draw.Draw(r.image, r.image.Bounds(), image.NewUniform(c.Background), image.Point{}, draw.Src)
	}
	for _, o := range c.ops {
		r.draw(o)
	}
	return r.image, nil
}

// raster is an image being drawn. The last of clip holds.
type raster struct {
	image *image.RGBA
	scale float64
	clip  []image.Rectangle
	fill  vector.Rasterizer
}

func (r *raster) draw(o op) {
	switch {
	case o.path != nil:
		r.path(o.path.lines, o.path.closed, o.path.style)
	case o.circle != nil:
		at := r.at(o.circle.at)
		r.shape([][]Point{round(at, o.circle.radius*r.scale)}, true, o.circle.style)
	case o.text != nil:
		r.text(*o.text)
	case o.picture != nil:
		r.picture(*o.picture)
	case o.group != nil:
		clip := r.clip[len(r.clip)-1]
		if g := o.group.Clip; g != nil {
			a, b := r.at(Point{g.X, g.Y}), r.at(Point{g.Right(), g.Bottom()})
			clip = clip.Intersect(image.Rect(roundInt(a.X), roundInt(a.Y), roundInt(b.X), roundInt(b.Y)))
		}
		r.clip = append(r.clip, clip)
	default:
		r.clip = r.clip[:len(r.clip)-1]
	}
}

func roundInt(v float64) int { return int(math.Round(v)) }

func (r *raster) at(p Point) Point { return Point{p.X * r.scale, p.Y * r.scale} }

func (r *raster) path(lines [][]Point, closed bool, s Style) {
	scaled := make([][]Point, len(lines))
	for i, line := range lines {
		scaled[i] = make([]Point, len(line))
		for j, p := range line {
			scaled[i][j] = r.at(p)
		}
	}
	r.shape(scaled, closed, s)
}

// shape draws lines or areas that are already in pixels of the raster.
func (r *raster) shape(lines [][]Point, closed bool, s Style) {
	if s.Fill.A > 0 {
		areas := make([]flat, len(lines))
		for i, line := range lines {
			areas[i] = line
		}
		r.area(areas, s.Fill)
	}
	if s.Line.A == 0 || s.Width <= 0 {
		return
	}
	width := s.Width * r.scale
	pattern := make([]float64, len(s.Dash))
	for i, d := range s.Dash {
		pattern[i] = d * r.scale
	}
	var all []flat
	for _, line := range lines {
		if len(pattern) == 0 {
			all = append(all, outlines(line, closed, width, s.Butt)...)
			continue
		}
		for _, part := range dashes(line, closed, pattern) {
			all = append(all, outlines(part, false, width, s.Butt)...)
		}
	}
	r.area(all, s.Line)
}

// area fills shapes together with one colour.
func (r *raster) area(shapes []flat, c Colour) {
	box := r.begin(shapes)
	if box.Empty() {
		return
	}
	dx, dy := float64(box.Min.X), float64(box.Min.Y)
	for _, s := range shapes {
		for i, p := range s {
			if i == 0 {
				r.fill.MoveTo(float32(p.X-dx), float32(p.Y-dy))
			} else {
				r.fill.LineTo(float32(p.X-dx), float32(p.Y-dy))
			}
		}
		r.fill.ClosePath()
	}
	r.fill.Draw(r.image, box, image.NewUniform(c), image.Point{})
}

// begin empties the rasteriser for the part of the image that shapes touch.
func (r *raster) begin(shapes []flat) image.Rectangle {
	left, top, right, bottom := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range shapes {
		for _, p := range s {
			left, right = min(left, p.X), max(right, p.X)
			top, bottom = min(top, p.Y), max(bottom, p.Y)
		}
	}
	if left > right {
		return image.Rectangle{}
	}
	const far = 1 << 20
	pixel := func(v float64) int { return int(max(-far, min(far, v))) }
	box := image.Rect(pixel(math.Floor(left)), pixel(math.Floor(top)), pixel(math.Ceil(right))+1, pixel(math.Ceil(bottom))+1)
	box = box.Intersect(r.clip[len(r.clip)-1])
	r.fill.Reset(box.Dx(), box.Dy())
	return box
}

func (r *raster) text(t text) {
	width := TextWidth(t.text, t.set.Size, t.set.Bold)
	x := 0.0
	switch t.set.Anchor {
	case Middle:
		x = -width / 2
	case End:
		x = -width
	}
	sin, cos := math.Sincos(-t.set.TurnDeg * math.Pi / 180)
	size := t.set.Size * r.scale / em
	origin, pen := r.at(t.at), x*r.scale
	face := faceOf(t.set.Bold)
	var letters []flat
	for _, sign := range t.text {
		g := face.glyph(sign)
		place := func(p Point) Point {
			px, py := pen+p.X*size, p.Y*size
			return Point{origin.X + px*cos - py*sin, origin.Y + px*sin + py*cos}
		}
		letters = append(letters, straighten(g.segments, place)...)
		pen += g.advance * size
	}
	if t.set.Halo.A > 0 {
		var rim []flat
		for _, l := range letters {
			rim = append(rim, outlines(l, true, Halo(t.set.Size)*r.scale, false)...)
		}
		for _, l := range rim { // apart, since inner and outer rims wind both ways
			r.area([]flat{l}, t.set.Halo)
		}
		r.area(letters, t.set.Halo)
	}
	r.area(letters, t.set.Colour)
}

// straighten turns a glyph's curves into short straight lines.
func straighten(segments []sfnt.Segment, place func(Point) Point) []flat {
	const steps = 6
	var out []flat
	var at Point
	point := func(s sfnt.Segment, i int) Point {
		return Point{float64(s.Args[i].X) / 64, float64(s.Args[i].Y) / 64}
	}
	for _, s := range segments {
		last := len(out) - 1
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			at = point(s, 0)
			out = append(out, flat{place(at)})
		case sfnt.SegmentOpLineTo:
			at = point(s, 0)
			out[last] = append(out[last], place(at))
		case sfnt.SegmentOpQuadTo:
			b, c := point(s, 0), point(s, 1)
			for i := 1; i <= steps; i++ {
				t := float64(i) / steps
				u := 1 - t
				out[last] = append(out[last], place(Point{
					u*u*at.X + 2*u*t*b.X + t*t*c.X, u*u*at.Y + 2*u*t*b.Y + t*t*c.Y,
				}))
			}
			at = c
		case sfnt.SegmentOpCubeTo:
			b, c, d := point(s, 0), point(s, 1), point(s, 2)
			for i := 1; i <= steps; i++ {
				t := float64(i) / steps
				u := 1 - t
				out[last] = append(out[last], place(Point{
					u*u*u*at.X + 3*u*u*t*b.X + 3*u*t*t*c.X + t*t*t*d.X,
					u*u*u*at.Y + 3*u*u*t*b.Y + 3*u*t*t*c.Y + t*t*t*d.Y,
				}))
			}
			at = d
		}
	}
	return out
}
