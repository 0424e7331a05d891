package measure

import (
	"fmt"
	"math"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/picture"
	"limbwatch/coords/sample"
)

// Contrast is how much darker or brighter than its surroundings something is.
//
//	Value, Sigma    (inside − around) / around: −0.3 is 30 % darker
//	Inside, Around  how many pixels were taken of either
type Contrast struct {
	Value, Sigma   float64
	Inside, Around int
}

// gapPx is how far from a shape its surroundings begin and ringPx how wide they are:
// far enough for the blur of most pictures, near enough for the darkening
// toward the limb to be even (common practice, no source).
const (
	gapPx  = 4.0
	ringPx = 14.0
)

// OfContrast measures a shape against the ring round it: a plane is laid through the
// ring's levels, which takes out the darkening toward the limb and a cloud's gradient,
// and the shape is compared with the plane where it lies. A point stands for the disc
// of radius halfWidthPx about it, a line for the strip of that half width.
//
// The ring keeps within 0.98 of the limb's radius, and so must the shape; levels that
// are saturated say nothing. sky is the level of the background, which is taken off
// both (0 when it is not known).
func OfContrast(pic *picture.Picture, limb coords.Limb, shape catalog.Shape, points []coords.Pixel, halfWidthPx, sky float64) (Contrast, error) {
	if len(points) == 0 || shape == catalog.Outline && len(points) < 3 {
		return Contrast{}, fmt.Errorf("contrast of a %s of %d points", shape, len(points))
	}
	if shape != catalog.Outline && !(halfWidthPx > 0) {
		return Contrast{}, fmt.Errorf("contrast of a %s with a half width of %g px", shape, halfWidthPx)
	}
	inside, ring, err := split(pic, limb, shape, points, halfWidthPx)
	if err != nil {
		return Contrast{}, err
	}
	const fewest = 30
	if len(inside) == 0 || len(ring) < fewest {
		return Contrast{}, fmt.Errorf("contrast: %d pixels inside and %d around, need 1 and %d", len(inside), len(ring), fewest)
	}
	ground, scatter := planeThrough(ring)
	c := Contrast{Inside: len(inside), Around: len(ring)}
	var sum, base float64
	for _, s := range inside {
		sum += s.level - sky
		base += ground(s.x, s.y) - sky
	}
	if !(base > 0) {
		return Contrast{}, fmt.Errorf("contrast: the surroundings are no brighter than the sky")
	}
	c.Value = sum/base - 1
	// Neighbouring pixels are alike: some nine make one independent level (common
	// practice, no source).
	const alike = 9
	level := base / float64(len(inside))
	c.Sigma = scatter / level * math.Sqrt(alike) * math.Hypot(1/math.Sqrt(float64(max(alike, len(inside)))), 1/math.Sqrt(float64(len(ring))))
	return c, nil
}

// levelAt is a pixel, its place counted from the shape's first point.
type levelAt struct{ x, y, level float64 }

// split takes the pixels of the shape and those of the ring round it.
func split(pic *picture.Picture, limb coords.Limb, shape catalog.Shape, points []coords.Pixel, halfWidthPx float64) (inside, ring []levelAt, err error) {
	width := halfWidthPx
	if shape == catalog.Outline {
		width = 0
	}
	reach := width + gapPx + ringPx
	left, top, right, bottom := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range points {
		left, right = min(left, p.X-reach), max(right, p.X+reach)
		top, bottom = min(top, p.Y-reach), max(bottom, p.Y+reach)
	}
	x0, x1 := max(0, int(left)), min(pic.Width-1, int(right)+1)
	y0, y1 := max(0, int(top)), min(pic.Height-1, int(bottom)+1)
	saturated := 0
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			p := coords.Pixel{X: float64(x), Y: float64(y)}
			d := distance(shape, points, p)
			isInside := d <= width
			if !isInside && (d < width+gapPx || d > reach) {
				continue
			}
			u, v := limb.Unit(p)
			if math.Hypot(u, v) > 0.98 {
				if isInside {
					return nil, nil, fmt.Errorf("contrast: the shape reaches beyond 0.98 of the disc's radius, where there is nothing to compare it with")
				}
				continue
			}
			level := pic.At(x, y)
			if pic.SaturationLevel > 0 && level >= pic.SaturationLevel {
				saturated++
				continue
			}
			s := levelAt{p.X - points[0].X, p.Y - points[0].Y, float64(level)}
			if isInside {
				inside = append(inside, s)
			} else {
				ring = append(ring, s)
			}
		}
	}
	if total := saturated + len(inside) + len(ring); saturated*20 > total {
		return nil, nil, fmt.Errorf("contrast: %d of %d pixels are saturated", saturated, total)
	}
	return inside, ring, nil
}

// distance of a pixel from a shape: 0 inside an outline.
func distance(shape catalog.Shape, points []coords.Pixel, p coords.Pixel) float64 {
	if len(points) == 1 {
		return math.Hypot(p.X-points[0].X, p.Y-points[0].Y)
	}
	least, within := math.Inf(1), false
	for i := range points {
		a, b := points[i], points[(i+1)%len(points)]
		if i == len(points)-1 && shape != catalog.Outline {
			break
		}
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)*(b.X-a.X)/(b.Y-a.Y) {
			within = !within
		}
		dx, dy := b.X-a.X, b.Y-a.Y
		t := 0.0
		if square := dx*dx + dy*dy; square > 0 {
			t = max(0, min(1, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/square))
		}
		least = min(least, math.Hypot(p.X-a.X-t*dx, p.Y-a.Y-t*dy))
	}
	if shape == catalog.Outline && within {
		return 0
	}
	return least
}

// planeThrough fits level = a + b x + c y to samples by least squares, leaves out
// what lies more than three scatters off (other features), and fits again. It gives
// the plane and the scatter round it, 1.48 times the median distance.
func planeThrough(samples []levelAt) (plane func(x, y float64) float64, scatter float64) {
	kept := samples
	for range 3 {
		a, b, c := leastSquares(kept)
		plane = func(x, y float64) float64 { return a + b*x + c*y }
		off := make([]float64, len(samples))
		for i, s := range samples {
			off[i] = math.Abs(s.level - plane(s.x, s.y))
		}
		scatter = 1.4826 * sample.Median(off)
		kept = nil
		for i, s := range samples {
			if off[i] <= 3*scatter+1e-12 {
				kept = append(kept, s)
			}
		}
	}
	return plane, scatter
}

// leastSquares gives a, b, c of a + b x + c y; b and c are 0 when the samples lie on
// one line.
func leastSquares(samples []levelAt) (a, b, c float64) {
	n := float64(len(samples))
	var mx, my, ml float64
	for _, s := range samples {
		mx, my, ml = mx+s.x/n, my+s.y/n, ml+s.level/n
	}
	var xx, yy, xy, xl, yl float64
	for _, s := range samples {
		x, y, l := s.x-mx, s.y-my, s.level-ml
		xx, yy, xy, xl, yl = xx+x*x, yy+y*y, xy+x*y, xl+x*l, yl+y*l
	}
	if det := xx*yy - xy*xy; det > 1e-9*xx*yy {
		b, c = (xl*yy-yl*xy)/det, (yl*xx-xl*xy)/det
	}
	return ml - b*mx - c*my, b, c
}
