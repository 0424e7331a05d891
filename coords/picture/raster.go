package picture

import (
	"image"
	"image/color"

	"limbwatch/coords/picture/fits"
)

// raster gives a decoded picture row by row as channels, so that a colour
// picture is never held as floats in full.
type raster interface {
	size() (width, height int)
	channels() int // 1 or 3
	// row fills dst[0], and for three channels dst[1] and dst[2], with row y.
	row(y int, dst *[3][]float32)
}

// planar is a FITS image: one plane or three.
type planar struct{ *fits.Image }

func (p planar) size() (int, int) { return p.Width, p.Height }
func (p planar) channels() int    { return len(p.Planes) }
func (p planar) row(y int, dst *[3][]float32) {
	for i, plane := range p.Planes {
		copy(dst[i], plane[y*p.Width:(y+1)*p.Width])
	}
}

// rasterOf wraps what the image decoders return, in units of the file's depth.
// Transparency is dropped: the colours as stored count.
func rasterOf(img image.Image) (raster, Depth) {
	switch m := img.(type) {
	case *image.Gray:
		return gray8{m}, Depth{Bits: 8}
	case *image.Gray16:
		return gray16{m}, Depth{Bits: 16}
	case *image.RGBA:
		return packed8{m.Rect, m.Stride, m.Pix}, Depth{Bits: 8}
	case *image.NRGBA:
		return packed8{m.Rect, m.Stride, m.Pix}, Depth{Bits: 8}
	case *image.RGBA64:
		return packed16{m.Rect, m.Stride, m.Pix}, Depth{Bits: 16}
	case *image.NRGBA64:
		return packed16{m.Rect, m.Stride, m.Pix}, Depth{Bits: 16}
	case *image.YCbCr:
		return ycbcr{m}, Depth{Bits: 8}
	case *image.Paletted:
		return newPalette(m), Depth{Bits: 8}
	}
	return anyImage{img}, Depth{Bits: 8}
}

type gray8 struct{ *image.Gray }

func (g gray8) size() (int, int) { return g.Rect.Dx(), g.Rect.Dy() }
func (g gray8) channels() int    { return 1 }
func (g gray8) row(y int, dst *[3][]float32) {
	src := g.Pix[y*g.Stride:]
	for x := range dst[0] {
		dst[0][x] = float32(src[x])
	}
}

type gray16 struct{ *image.Gray16 }

func (g gray16) size() (int, int) { return g.Rect.Dx(), g.Rect.Dy() }
func (g gray16) channels() int    { return 1 }
func (g gray16) row(y int, dst *[3][]float32) {
	src := g.Pix[y*g.Stride:]
	for x := range dst[0] {
		dst[0][x] = float32(uint16(src[2*x])<<8 | uint16(src[2*x+1]))
	}
}

// packed8 is red, green, blue, alpha of one byte each.
type packed8 struct {
	rect   image.Rectangle
	stride int
	pix    []uint8
}

func (p packed8) size() (int, int) { return p.rect.Dx(), p.rect.Dy() }
func (p packed8) channels() int    { return 3 }
func (p packed8) row(y int, dst *[3][]float32) {
	src := p.pix[y*p.stride:]
	r, g, b := dst[0], dst[1], dst[2]
	for x := range r {
		s := src[4*x : 4*x+3]
		r[x], g[x], b[x] = float32(s[0]), float32(s[1]), float32(s[2])
	}
}

// packed16 is red, green, blue, alpha of two bytes each, high byte first.
type packed16 packed8

func (p packed16) size() (int, int) { return p.rect.Dx(), p.rect.Dy() }
func (p packed16) channels() int    { return 3 }
func (p packed16) row(y int, dst *[3][]float32) {
	src := p.pix[y*p.stride:]
	r, g, b := dst[0], dst[1], dst[2]
	for x := range r {
		s := src[8*x : 8*x+6]
		r[x] = float32(uint16(s[0])<<8 | uint16(s[1]))
		g[x] = float32(uint16(s[2])<<8 | uint16(s[3]))
		b[x] = float32(uint16(s[4])<<8 | uint16(s[5]))
	}
}

// ycbcr is a colour JPEG.
type ycbcr struct{ *image.YCbCr }

func (p ycbcr) size() (int, int) { return p.Rect.Dx(), p.Rect.Dy() }
func (p ycbcr) channels() int    { return 3 }
func (p ycbcr) row(y int, dst *[3][]float32) {
	r, g, b := dst[0], dst[1], dst[2]
	y += p.Rect.Min.Y
	for x := range r {
		yi, ci := p.YOffset(p.Rect.Min.X+x, y), p.COffset(p.Rect.Min.X+x, y)
		r8, g8, b8 := color.YCbCrToRGB(p.Y[yi], p.Cb[ci], p.Cr[ci])
		r[x], g[x], b[x] = float32(r8), float32(g8), float32(b8)
	}
}

// palette looks the colours up once. A TIFF palette has 16 bits: its fractions
// of an 8-bit level are kept.
type palette struct {
	*image.Paletted
	colours [256][3]float32
}

func newPalette(m *image.Paletted) palette {
	p := palette{Paletted: m}
	for i, c := range m.Palette[:min(256, len(m.Palette))] {
		n := color.NRGBA64Model.Convert(c).(color.NRGBA64)
		p.colours[i] = [3]float32{float32(n.R) / 257, float32(n.G) / 257, float32(n.B) / 257}
	}
	return p
}

func (p palette) size() (int, int) { return p.Rect.Dx(), p.Rect.Dy() }
func (p palette) channels() int    { return 3 }
func (p palette) row(y int, dst *[3][]float32) {
	src := p.Pix[y*p.Stride:]
	for x := range dst[0] {
		c := &p.colours[src[x]]
		dst[0][x], dst[1][x], dst[2][x] = c[0], c[1], c[2]
	}
}

// anyImage takes whatever else a decoder returns (a CMYK JPEG), slowly.
type anyImage struct{ image.Image }

func (a anyImage) size() (int, int) { return a.Bounds().Dx(), a.Bounds().Dy() }
func (a anyImage) channels() int    { return 3 }
func (a anyImage) row(y int, dst *[3][]float32) {
	from := a.Bounds().Min
	for x := range dst[0] {
		r, g, b, _ := a.Image.At(from.X+x, from.Y+y).RGBA()
		dst[0][x], dst[1][x], dst[2][x] = float32(r)/257, float32(g)/257, float32(b)/257
	}
}
