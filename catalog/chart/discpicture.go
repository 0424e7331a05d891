package chart

import (
	"image"
	"math"
	"slices"

	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/picture"
	"limbwatch/coords/sample"
)

// shown is a picture made ready to be drawn on a dial.
//
//	scale  pixels of the picture to a pixel of the frame
type shown struct {
	picture *picture.Picture
	scale   float64
}

// newShown takes a picture of a frame of the given width, 0 for the picture's own,
// and makes it smaller where it has far more pixels than will be drawn.
func newShown(p *picture.Picture, frameWidthPx int, discPx, wantPx float64) shown {
	s := shown{picture: p, scale: 1}
	if frameWidthPx > 0 {
		s.scale = float64(p.Width) / float64(frameWidthPx)
	}
	for discPx*s.scale >= 2*wantPx && s.picture.Width > 2 && s.picture.Height > 2 {
		s.picture, s.scale = halved(s.picture), s.scale/2
	}
	return s
}

// halved is a picture of half the width and height, each pixel the mean of four.
func halved(p *picture.Picture) *picture.Picture {
	out := &picture.Picture{Width: p.Width / 2, Height: p.Height / 2, Depth: p.Depth}
	out.Grey = make([]float32, out.Width*out.Height)
	for y := range out.Height {
		a, b := p.Row(2*y), p.Row(2*y+1)
		line := out.Row(y)
		for x := range line {
			line[x] = (a[2*x] + a[2*x+1] + b[2*x] + b[2*x+1]) / 4
		}
	}
	return out
}

// at is the grey level at a pixel of the frame, between pixels by straight lines;
// unseen outside the picture.
func (s shown) at(x, y float64) float32 {
	p := s.picture
	x, y = (x+0.5)*s.scale-0.5, (y+0.5)*s.scale-0.5
	if !(x > -0.5 && y > -0.5 && x < float64(p.Width)-0.5 && y < float64(p.Height)-0.5) {
		return unseen
	}
	x, y = max(0, min(x, float64(p.Width-1))), max(0, min(y, float64(p.Height-1)))
	x0, y0 := min(int(x), p.Width-2), min(int(y), p.Height-2)
	if x0 < 0 || y0 < 0 { // a picture one pixel wide or high
		return p.At(int(x), int(y))
	}
	fx, fy := float32(x-float64(x0)), float32(y-float64(y0))
	upper := p.Grey[y0*p.Width+x0:]
	lower := upper[p.Width:]
	return sample.Bilinear(upper[0], upper[1], lower[0], lower[1], fx, fy)
}

// unseen is the level of what lies outside the picture, darker than any.
const unseen = -math.MaxFloat32

// onDial is the picture turned and scaled to a dial, out to so many radii; what lies
// outside the picture is sky.
func (s shown) onDial(d dial, reach, density float64, t Theme) image.Image {
	size := max(8, int(math.Ceil(2*d.radius*reach*density)))
	levels := make([]float32, size*size)
	perPixel := 2 * reach / float64(size)
	upRight, upDown := d.view.North.Direction(d.top)
	rightRight, rightDown := -upDown, upRight // a quarter turn clockwise as seen
	if d.view.North.Mirrored != d.mirror {
		rightRight, rightDown = -rightRight, -rightDown
	}
	// From the dial to the frame all is linear, the limb's flattening included.
	frameAt := func(right, up float64) coords.Pixel {
		return d.view.Limb.At(right*rightRight+up*upRight, right*rightDown+up*upDown)
	}
	origin, oneRight := frameAt(0, 0), frameAt(1, 0)
	stepX, stepY := (oneRight.X-origin.X)*perPixel, (oneRight.Y-origin.Y)*perPixel
	for row := range size {
		up := reach - (float64(row)+0.5)*perPixel
		half := math.Sqrt(max(0, reach*reach-up*up)) // the window is round
		from := max(0, int((reach-half)/perPixel)-1)
		at := frameAt((float64(from)+0.5)*perPixel-reach, up)
		line := levels[row*size : (row+1)*size]
		for column := range line {
			if column < from || column >= size-from {
				line[column] = unseen
				continue
			}
			line[column] = s.at(at.X, at.Y)
			at.X, at.Y = at.X+stepX, at.Y+stepY
		}
	}
	return newTone(levels, size, reach).image(levels, size, reach, t)
}

// middleGrey is how bright the middle of a disc is shown, 0 to 1.
const middleGrey = 0.56

// tone maps grey levels to what is shown, 0 to 1.
//
//	burnt  the disc is white all over, as where the exposure was for the limb: it is
//	       shown grey, so that the lines on it are seen
type tone struct {
	black, white, gamma float64
	burnt               bool
}

// newTone takes the sky as black and the brightest of the disc as white, with the
// middle of the disc at a middle grey, so that days with other exposures look alike.
func newTone(levels []float32, size int, reach float64) tone {
	const every = 5 // a sample is enough
	var onDisc, sky []float64
	for row := 0; row < size; row += every {
		for column := 0; column < size; column += every {
			level := float64(levels[row*size+column])
			if level == unseen {
				continue
			}
			x, y := (float64(column)+0.5)/float64(size)*2-1, (float64(row)+0.5)/float64(size)*2-1
			switch r := math.Hypot(x, y) * reach; {
			case r < 0.95:
				onDisc = append(onDisc, level)
			case r > 1.03:
				sky = append(sky, level)
			}
		}
	}
	t := tone{white: 1, gamma: 1}
	if len(onDisc) == 0 {
		return t
	}
	slices.Sort(onDisc)
	slices.Sort(sky)
	quantile := func(v []float64, q float64) float64 { return v[int(q*float64(len(v)-1))] }
	t.black = min(quantile(onDisc, 0.001), 0)
	if len(sky) > 50 {
		t.black = min(quantile(sky, 0.5), quantile(onDisc, 0.02))
	}
	t.white = quantile(onDisc, 0.998)
	if t.white <= t.black {
		t.white = t.black + 1
	}
	middle := (quantile(onDisc, 0.5) - t.black) / (t.white - t.black)
	if middle > 0.02 && middle < 0.98 {
		t.gamma = max(0.5, min(2.2, math.Log(middleGrey)/math.Log(middle)))
	}
	t.burnt = middle >= 0.98
	return t
}

func (t tone) image(levels []float32, size int, reach float64, theme Theme) image.Image {
	// A table, since a power for each pixel takes long.
	const fine = 1024
	var table [fine + 1]float64
	for i := range table {
		table[i] = math.Pow(float64(i)/fine, t.gamma)
	}
	black, scale := float32(t.black), float32(fine/(t.white-t.black))
	middle := float64(size) / 2
	value := func(i int) float64 {
		if levels[i] == unseen {
			return -1
		}
		v := table[int(max(0, min(fine, (levels[i]-black)*scale)))]
		if t.burnt && math.Hypot(float64(i%size)+0.5-middle, float64(i/size)+0.5-middle) < middle/reach {
			v *= middleGrey
		}
		return v
	}
	return tinted(size, size, value, theme, theme.Sky)
}

// tinted makes an image of levels 0 to 1 in the theme's tint; below 0 is empty.
func tinted(width, height int, value func(i int) float64, t Theme, empty canvas.Colour) image.Image {
	if t.Tint == [3]float64{1, 1, 1} && empty.R == empty.G && empty.G == empty.B {
		m := image.NewGray(image.Rect(0, 0, width, height))
		for i := range m.Pix {
			if v := value(i); v >= 0 {
				m.Pix[i] = uint8(255*v + 0.5)
			} else {
				m.Pix[i] = empty.R
			}
		}
		return m
	}
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	for i := range width * height {
		px := m.Pix[4*i : 4*i+4]
		px[0], px[1], px[2], px[3] = empty.R, empty.G, empty.B, 255
		if v := value(i); v >= 0 {
			for k := range 3 {
				px[k] = uint8(255*v*t.Tint[k] + 0.5)
			}
		}
	}
	return m
}
