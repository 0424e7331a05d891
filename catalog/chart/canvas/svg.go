package canvas

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"hash/fnv"
	"image"
	"image/jpeg"
	"io"
	"math"
	"strconv"
	"strings"
)

// WriteSVG writes the sheet as one self-contained SVG file, fit to be put into an
// HTML page as it is: ids are made from its content.
func (c *Canvas) WriteSVG(w io.Writer) error {
	s := &svg{id: c.identity()}
	s.printf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" width="%s" height="%s" role="%s" aria-labelledby="%s-t %s-d" font-family="%s">`,
		num(c.Width), num(c.Height), num(c.Width), num(c.Height), c.role(), s.id, s.id, escape(family))
	s.printf("\n<title id=\"%s-t\">%s</title>\n<desc id=\"%s-d\">%s</desc>\n", s.id, escape(c.Title), s.id, escape(c.Description))
	if c.Program != "" {
		s.printf("<metadata>%s</metadata>\n", escape(c.Program))
	}
	if c.Background.A > 0 {
		s.printf(`<rect width="%s" height="%s"%s/>`+"\n", num(c.Width), num(c.Height), paintOf("fill", c.Background))
	}
	for _, o := range c.ops {
		if err := s.draw(o); err != nil {
			return err
		}
	}
	s.printf("</svg>\n")
	_, err := w.Write(s.out.Bytes())
	return err
}

// role tells assistive software whether there is something to touch inside.
func (c *Canvas) role() string {
	if c.links {
		return "group"
	}
	return "img"
}

// identity keeps the ids of charts on one page apart.
func (c *Canvas) identity() string {
	h := fnv.New32a()
	fmt.Fprint(h, c.Title, c.Description, c.Width, c.Height, len(c.ops), c.Background)
	return fmt.Sprintf("c%08x", h.Sum32())
}

// svg is a file being written.
type svg struct {
	out   bytes.Buffer
	id    string
	clips int
	open  []string // closing tags of the open groups
}

func (s *svg) printf(format string, args ...any) { fmt.Fprintf(&s.out, format, args...) }

func (s *svg) draw(o op) error {
	switch {
	case o.path != nil:
		s.path(*o.path)
	case o.circle != nil:
		o := *o.circle
		s.printf(`<circle cx="%s" cy="%s" r="%s"%s/>`+"\n", num(o.at.X), num(o.at.Y), num(o.radius), attributes(o.style))
	case o.text != nil:
		s.text(*o.text)
	case o.picture != nil:
		return s.picture(*o.picture)
	case o.group != nil:
		s.begin(*o.group)
	default:
		last := len(s.open) - 1
		s.printf("%s\n", s.open[last])
		s.open = s.open[:last]
	}
	return nil
}

func (s *svg) path(p path) {
	var d strings.Builder
	for _, line := range p.lines {
		for i, at := range line {
			switch {
			case i == 0:
				d.WriteByte('M')
			case i == 1:
				d.WriteByte('L')
			default:
				d.WriteByte(' ')
			}
			d.WriteString(num(at.X) + " " + num(at.Y))
		}
		if p.closed {
			d.WriteByte('Z')
		}
	}
	s.printf(`<path d="%s"%s/>`+"\n", d.String(), attributes(p.style))
}

// attributes are those of a style.
func attributes(st Style) string {
	var a strings.Builder
	if st.Fill.A > 0 {
		a.WriteString(paintOf("fill", st.Fill))
	} else {
		a.WriteString(` fill="none"`)
	}
	if st.Line.A == 0 || st.Width <= 0 {
		return a.String()
	}
	a.WriteString(paintOf("stroke", st.Line) + ` stroke-width="` + num(st.Width) + `" stroke-linejoin="round"`)
	if !st.Butt {
		a.WriteString(` stroke-linecap="round"`)
	}
	if len(st.Dash) > 0 {
		parts := make([]string, len(st.Dash))
		for i, d := range st.Dash {
			parts[i] = num(d)
		}
		a.WriteString(` stroke-dasharray="` + strings.Join(parts, " ") + `"`)
	}
	return a.String()
}

func paintOf(what string, c Colour) string {
	a := fmt.Sprintf(` %s="#%02x%02x%02x"`, what, c.R, c.G, c.B)
	if c.A < 255 {
		a += fmt.Sprintf(` %s-opacity="%s"`, what, num(float64(c.A)/255))
	}
	return a
}

func (s *svg) text(t text) {
	s.printf(`<text x="%s" y="%s" font-size="%s"`, num(t.at.X), num(t.at.Y), num(t.set.Size))
	if t.set.Bold {
		s.printf(` font-weight="bold"`)
	}
	switch t.set.Anchor {
	case Middle:
		s.printf(` text-anchor="middle"`)
	case End:
		s.printf(` text-anchor="end"`)
	}
	s.printf(`%s`, paintOf("fill", t.set.Colour))
	if t.set.Halo.A > 0 {
		s.printf(`%s stroke-width="%s" stroke-linejoin="round" paint-order="stroke"`, paintOf("stroke", t.set.Halo), num(Halo(t.set.Size)))
	}
	if t.set.TurnDeg != 0 {
		s.printf(` transform="rotate(%s %s %s)"`, num(-t.set.TurnDeg), num(t.at.X), num(t.at.Y))
	}
	s.printf(">%s</text>\n", escape(t.text))
}

func (s *svg) picture(p picture) error {
	var data bytes.Buffer
	if err := jpeg.Encode(&data, forJPEG(p.image), &jpeg.Options{Quality: 88}); err != nil {
		return fmt.Errorf("writing a picture into a chart: %w", err)
	}
	clip := ""
	if p.round {
		clip = s.clip(fmt.Sprintf(`<ellipse cx="%s" cy="%s" rx="%s" ry="%s"/>`,
			num(p.x+p.width/2), num(p.y+p.height/2), num(p.width/2), num(p.height/2)))
	}
	s.printf(`<image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none"%s href="data:image/jpeg;base64,%s"/>`+"\n",
		num(p.x), num(p.y), num(p.width), num(p.height), clip, base64.StdEncoding.EncodeToString(data.Bytes()))
	return nil
}

// forJPEG is an image whose levels the encoder takes without asking each pixel.
func forJPEG(m image.Image) image.Image {
	if n, ok := m.(*image.NRGBA); ok { // opaque, so the bytes are those of RGBA
		return &image.RGBA{Pix: n.Pix, Stride: n.Stride, Rect: n.Rect}
	}
	return m
}

// clip defines a clipping shape and gives the attribute that uses it.
func (s *svg) clip(shape string) string {
	s.clips++
	id := s.id + "-c" + strconv.Itoa(s.clips)
	s.printf(`<clipPath id="%s">%s</clipPath>`+"\n", id, shape)
	return fmt.Sprintf(` clip-path="url(#%s)"`, id)
}

func (s *svg) begin(g Group) {
	clip, end := "", "</g>"
	if g.Clip != nil {
		clip = s.clip(fmt.Sprintf(`<rect x="%s" y="%s" width="%s" height="%s"/>`, num(g.Clip.X), num(g.Clip.Y), num(g.Clip.Width), num(g.Clip.Height)))
	}
	var data strings.Builder
	for _, d := range g.Data {
		if d.Value != "" {
			fmt.Fprintf(&data, ` data-%s="%s"`, d.Name, escape(d.Value))
		}
	}
	if g.Href != "" {
		s.printf(`<a href="%s"%s%s>`, escape(g.Href), clip, data.String())
		end = "</a>"
	} else {
		s.printf("<g%s%s>", clip, data.String())
	}
	if g.Label != "" {
		s.printf("<title>%s</title>", escape(g.Label))
	}
	s.printf("\n")
	s.open = append(s.open, end)
}

// num writes a length to a hundredth of a unit, as short as it can.
func num(v float64) string {
	t := strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
	if t == "-0" {
		return "0"
	}
	return t
}

func escape(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return "" // a buffer takes everything
	}
	return b.String()
}
