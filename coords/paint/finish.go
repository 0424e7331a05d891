package paint

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"limbwatch/coords"
)

// finish does what an observer does to the picture afterwards, on levels from 0 to
// 1, and writes them out as levels of a file.
func finish(f *Frame, c Camera) {
	if c.Gamma != 0 && c.Gamma != 1 {
		for i, g := range f.Grey {
			f.Grey[i] = float32(math.Pow(float64(g), c.Gamma))
		}
	}
	if c.Sharpen.Amount != 0 {
		sharpen(f, c.Sharpen)
	}
	if c.Mask.Radii > 0 || c.Inverted || c.DiscInverted {
		coverAndInvert(f, c)
	}
	if c.Border != (Border{}) {
		blacken(f, c.Border)
	}
	if c.Caption.Text != "" {
		write(f, c.Caption)
	}
	quantise(f)
}

// sharpen is an unsharp mask. White and black cut what it rings beyond them.
func sharpen(f *Frame, s Sharpen) {
	soft := &detail{width: f.Width, height: f.Height, light: borrow(len(f.Grey)), any: true,
		lo: make([]int, f.Height), hi: make([]int, f.Height)}
	copy(soft.light, f.Grey)
	soft.touch(box{0, 0, f.Width, f.Height})
	soft.blur(orDefault(s.RadiusPx, 2))
	amount := float32(s.Amount)
	for i, g := range f.Grey {
		f.Grey[i] = max(0, min(1, g+amount*(g-soft.light[i])))
	}
	soft.release()
}

func coverAndInvert(f *Frame, c Camera) {
	for y := range f.Height {
		row := f.Grey[y*f.Width : (y+1)*f.Width]
		for x, g := range row {
			u, w := c.Limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
			r := math.Sqrt(u*u + w*w)
			if c.Mask.Radii > 0 {
				cover := math.Max(0, math.Min(1, (c.Mask.Radii-r)*c.Limb.RadiusPx+0.5))
				g = float32(c.Mask.Level*cover) + g*float32(1-cover)
			}
			if c.DiscInverted {
				cover := float32(math.Max(0, math.Min(1, (1-r)*c.Limb.RadiusPx+0.5)))
				g = g*(1-cover) + (1-g)*cover
			}
			if c.Inverted {
				g = 1 - g
			}
			row[x] = g
		}
	}
}

// blacken sets to 0 what lies outside of the slanted rectangle that all frames of
// the stack have in common.
func blacken(f *Frame, b Border) {
	sin, cos := b.Slant.Sincos()
	mx, my := float64(f.Width-1)/2, float64(f.Height-1)/2
	for y := range f.Height {
		for x := range f.Width {
			dx, dy := float64(x)-mx, float64(y)-my
			p, q := dx*cos-dy*sin, dx*sin+dy*cos
			if p < b.LeftPx-mx || p > mx-b.RightPx || q < b.TopPx-my || q > my-b.BottomPx {
				f.Grey[y*f.Width+x] = 0
			}
		}
	}
}

// write burns the caption in.
func write(f *Frame, c Caption) {
	face := basicfont.Face7x13
	wide, high := font.MeasureString(face, c.Text).Ceil(), 13
	scale := c.Scale
	if scale == 0 {
		scale = max(1, f.Width/500)
	}
	text := image.NewAlpha(image.Rect(0, 0, wide, high))
	d := font.Drawer{Dst: text, Src: image.NewUniform(color.Alpha{A: 255}), Face: face, Dot: fixed.P(0, 11)}
	d.DrawString(c.Text)
	margin := 6 * scale
	left, top := margin, margin
	if c.Corner == TopRight || c.Corner == BottomRight {
		left = f.Width - margin - wide*scale
	}
	if c.Corner == BottomLeft || c.Corner == BottomRight {
		top = f.Height - margin - high*scale
	}
	level := float32(orDefault(c.Level, 1))
	for y := range high * scale {
		for x := range wide * scale {
			px, py := left+x, top+y
			if text.AlphaAt(x/scale, y/scale).A > 0 && px >= 0 && py >= 0 && px < f.Width && py < f.Height {
				f.Grey[py*f.Width+px] = level
			}
		}
	}
}

// quantise rounds to the levels of the file, 0 to White.
func quantise(f *Frame) {
	levels := float32(65535)
	if f.Bits == 8 {
		levels = 255
	}
	back := White / levels
	for i, g := range f.Grey {
		f.Grey[i] = float32(int32(g*levels+0.5)) * back
	}
}
