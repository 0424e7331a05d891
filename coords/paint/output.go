package paint

import (
	"image"
	"image/png"
	"io"
	"math"

	"limbwatch/coords/picture"
)

// Picture is the frame as a program reads it: its grey levels at 8 or 16 bits. It
// has levels of its own, so that changes to one leave the other alone. The palette
// is not applied; write and read a file for that.
func (f *Frame) Picture() *picture.Picture {
	grey := make([]float32, len(f.Grey))
	scale := float32(1)
	if f.Bits == 8 {
		scale = 1.0 / 257
	}
	for i, g := range f.Grey {
		grey[i] = g * scale
	}
	p, err := picture.New(f.Width, f.Height, grey, picture.Depth{Bits: f.Bits})
	if err != nil {
		panic("paint: " + err.Error()) // a frame's sizes agree, Paint saw to that
	}
	return p
}

// Image is the frame as a picture: grey of its 8 or 16 bits, or coloured (8 or 16
// bits a channel) when it has a palette.
func (f *Frame) Image() image.Image {
	r := image.Rect(0, 0, f.Width, f.Height)
	switch {
	case f.Palette != Grey && f.Bits == 16:
		m := image.NewNRGBA64(r)
		for i, g := range f.Grey {
			c := f.Palette.colour(float64(g) / White)
			for k := range 3 {
				v := uint16(c[k]*White + 0.5)
				m.Pix[8*i+2*k], m.Pix[8*i+2*k+1] = byte(v>>8), byte(v)
			}
			m.Pix[8*i+6], m.Pix[8*i+7] = 255, 255
		}
		return m
	case f.Palette != Grey:
		m := image.NewNRGBA(r)
		for i, g := range f.Grey {
			c := f.Palette.colour(float64(g) / White)
			m.Pix[4*i], m.Pix[4*i+1], m.Pix[4*i+2] = byte(c[0]*255+0.5), byte(c[1]*255+0.5), byte(c[2]*255+0.5)
			m.Pix[4*i+3] = 255
		}
		return m
	case f.Bits == 8:
		m := image.NewGray(r)
		for i, g := range f.Grey {
			m.Pix[i] = byte(g/257 + 0.5)
		}
		return m
	}
	m := image.NewGray16(r)
	for i, g := range f.Grey {
		v := uint16(g + 0.5)
		m.Pix[2*i], m.Pix[2*i+1] = byte(v>>8), byte(v)
	}
	return m
}

// colour gives red, green and blue, 0 to 1, of a level.
func (p Palette) colour(g float64) [3]float64 {
	switch p {
	case Amber:
		return [3]float64{math.Pow(g, 0.6), math.Pow(g, 1.3) * 0.85, math.Pow(g, 3) * 0.6}
	case Red:
		return [3]float64{g, 0.04 * g, 0.02 * g}
	case Yellow:
		return [3]float64{math.Sqrt(g), g, 0.3 * g * g}
	}
	return [3]float64{g, g, g}
}

// WritePNG writes the frame as PNG.
func (f *Frame) WritePNG(w io.Writer) error {
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	return e.Encode(w, f.Image())
}
