package disc

import (
	"fmt"
	"math"

	"limbwatch/coords"
)

// Prominence is the shape of something beyond the limb.
//
//	Base    position angles of its two base ends, the second counter-clockwise
//	        on the sky (growing) from the first
//	Top     position angle of its highest point
//	TopR    distance of that point from the centre, radii of the view's limb
//	Mean    position angle halfway between the base ends
//	Middle  the pixel at Mean as far out as the top: its representative point,
//	        whose Place has the height of the top and the latitude of the base
type Prominence struct {
	Base      [2]coords.Angle
	Top, Mean coords.Angle
	TopR      float64
	Middle    coords.Pixel
}

// Width is the angle between the base ends at the disc's centre.
func (p Prominence) Width() coords.Angle { return (p.Base[1] - p.Base[0]).Wrap360() }

// Prominence reads the shape of a prominence off its points: one, a line or an
// outline (repeat its first point at the end to close it).
//
// The base ends are where the line crosses the limb, or, when it stays outside,
// the outermost in position angle of the points in the lower half of its height.
// Points within the limb belong to the part on the disc; those on it stand there.
func (v View) Prominence(points []coords.Pixel) (Prominence, error) {
	var out Prominence
	lowest := math.Inf(1)
	for _, p := range points {
		r := v.radii(p)
		if !reaches(r) {
			continue
		}
		lowest = min(lowest, r)
		if r > out.TopR {
			out.TopR, out.Top = r, v.positionAngle(p)
		}
	}
	if out.TopR == 0 {
		return out, fmt.Errorf("prominence: %w", ErrNotBeyond)
	}
	var low []coords.Angle
	for i, p := range points {
		if i > 0 {
			low = append(low, v.crossings(points[i-1], p)...)
		}
	}
	if len(low) > 0 {
		lowest = 1
	}
	for _, p := range points {
		if r := v.radii(p); reaches(r) && r <= lowest+(out.TopR-lowest)/2 {
			low = append(low, v.positionAngle(p))
		}
	}
	// Position angles are compared against the top's, so that 359° and 1° are
	// neighbours.
	first, last := coords.Angle(math.Inf(1)), coords.Angle(math.Inf(-1))
	for _, pa := range low {
		d := (pa - out.Top).Wrap180()
		first, last = min(first, d), max(last, d)
	}
	out.Base = [2]coords.Angle{(out.Top + first).Wrap360(), (out.Top + last).Wrap360()}
	out.Mean = (out.Top + (first+last)/2).Wrap360()
	right, down := v.North.Direction(out.Mean)
	out.Middle = v.Limb.At(out.TopR*right, out.TopR*down)
	return out, nil
}

// crossings are the position angles at which a straight line crosses the view's
// limb.
func (v View) crossings(a, b coords.Pixel) (at []coords.Angle) {
	from, to, ok := v.cut(a, b, 1)
	if !ok {
		return nil
	}
	if from != a {
		at = append(at, v.positionAngle(from))
	}
	if to != b {
		at = append(at, v.positionAngle(to))
	}
	return at
}

// positionAngle of a pixel on the sky, from celestial north.
func (v View) positionAngle(p coords.Pixel) coords.Angle {
	return v.North.PositionAngle(v.Limb.Unit(p))
}
