package canvas

import (
	"sync"

	"codeberg.org/go-fonts/dejavu/dejavusans"
	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// family is what an SVG asks for. The first three have the same widths, so that
// texts measured here fit there; DejaVu Sans has the signs the others lack.
const family = `Arial, "Liberation Sans", Helvetica, "DejaVu Sans", sans-serif`

// em is the size at which outlines are kept.
const em = 1024

// outline is a glyph's shape in units of 1/em of the letters' size, y down.
type outline struct {
	segments []sfnt.Segment
	advance  float64
}

// typeface is a font with what was read of it.
type typeface struct {
	mutex  sync.Mutex
	fonts  []*sfnt.Font // the first that has a sign draws it
	buffer sfnt.Buffer
	glyphs map[rune]outline
}

var (
	regular = newTypeface(liberationsansregular.TTF, dejavusans.TTF)
	bold    = newTypeface(liberationsansbold.TTF, dejavusans.TTF)
)

func newTypeface(files ...[]byte) *typeface {
	t := &typeface{glyphs: map[rune]outline{}}
	for _, file := range files {
		f, err := sfnt.Parse(file)
		if err != nil {
			panic("canvas: a built-in font does not read: " + err.Error())
		}
		t.fonts = append(t.fonts, f)
	}
	return t
}

func faceOf(isBold bool) *typeface {
	if isBold {
		return bold
	}
	return regular
}

// glyph is the outline of a sign; one that no font has is shown as the first
// font's sign for that.
func (t *typeface) glyph(r rune) outline {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	if g, ok := t.glyphs[r]; ok {
		return g
	}
	from, index := t.fonts[0], sfnt.GlyphIndex(0)
	for _, f := range t.fonts {
		if i, err := f.GlyphIndex(&t.buffer, r); err == nil && i != 0 {
			from, index = f, i
			break
		}
	}
	var g outline
	if segments, err := from.LoadGlyph(&t.buffer, index, fixed.I(em), nil); err == nil {
		g.segments = append(g.segments, segments...)
	}
	if advance, err := from.GlyphAdvance(&t.buffer, index, fixed.I(em), font.HintingNone); err == nil {
		g.advance = float64(advance) / 64
	}
	t.glyphs[r] = g
	return g
}

// TextWidth is how wide a line of text is set.
func TextWidth(s string, size float64, isBold bool) float64 {
	face, width := faceOf(isBold), 0.0
	for _, r := range s {
		width += face.glyph(r).advance
	}
	return width * size / em
}

// Heights of letters in parts of their size: of capitals and figures above the
// base line, and of what hangs below it.
const (
	CapHeight = 0.73
	Descent   = 0.21
)

// TextBox is what a text covers when set at (x, y) without a turn.
func TextBox(x, y float64, s string, t Type) Rect {
	width := TextWidth(s, t.Size, t.Bold)
	switch t.Anchor {
	case Middle:
		x -= width / 2
	case End:
		x -= width
	}
	return Rect{x, y - CapHeight*t.Size, width, (CapHeight + Descent) * t.Size}
}
