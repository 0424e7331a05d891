package canvas

import (
	"image"
	"image/draw"

	xdraw "golang.org/x/image/draw"
)

// picture lays an image into the raster, smoothly scaled.
func (r *raster) picture(p picture) {
	a, b := r.at(Point{p.x, p.y}), r.at(Point{p.x + p.width, p.y + p.height})
	box := image.Rect(roundInt(a.X), roundInt(a.Y), roundInt(b.X), roundInt(b.Y))
	// A picture that was made for this raster may be a pixel off by rounding.
	if size := p.image.Bounds().Size(); abs(size.X-box.Dx()) <= 2 && abs(size.Y-box.Dy()) <= 2 {
		box.Max = box.Min.Add(size)
	}
	shown := box.Intersect(r.clip[len(r.clip)-1])
	if shown.Empty() {
		return
	}
	scaled := p.image
	if p.image.Bounds().Size() != box.Size() {
		m := image.NewRGBA(image.Rectangle{Max: box.Size()})
		xdraw.CatmullRom.Scale(m, m.Bounds(), p.image, p.image.Bounds(), draw.Src, nil)
		scaled = m
	}
	origin := scaled.Bounds().Min.Add(shown.Min.Sub(box.Min))
	if !p.round {
		draw.Draw(r.image, shown, scaled, origin, draw.Src)
		return
	}
	mask := image.NewAlpha(shown)
	r.fill.Reset(shown.Dx(), shown.Dy())
	rx, ry := (b.X-a.X)/2, (b.Y-a.Y)/2
	for i, q := range round(Point{}, 100) {
		x := float32(a.X + rx + q.X/100*rx - float64(shown.Min.X))
		y := float32(a.Y + ry + q.Y/100*ry - float64(shown.Min.Y))
		if i == 0 {
			r.fill.MoveTo(x, y)
		} else {
			r.fill.LineTo(x, y)
		}
	}
	r.fill.ClosePath()
	r.fill.Draw(mask, shown, image.Opaque, image.Point{})
	draw.DrawMask(r.image, shown, scaled, origin, mask, shown.Min, draw.Over)
}

func abs(v int) int { return max(v, -v) }
