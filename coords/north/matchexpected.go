package north

import (
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Where the pattern came from is worked out at every fourth cell and read off between
// these: to a tenth of a cell at the edge of what is compared, far better inside.
const (
	knotCells = 4
	knots     = (patternSize-1)/knotCells + 1
)

// knot is where a cell's pattern stood in the earlier picture, radii, if it was seen.
type knot struct {
	u, v float64
	seen bool
}

// expected is the carried pattern as a picture of the new time, lying as n says.
func (c *carriedDisc) expected(n coords.North) *pattern {
	p := &pattern{value: make([]float32, patternSize*patternSize), known: make([]float32, patternSize*patternSize)}
	from := c.origins(n)
	for iy := range patternSize {
		for ix := range patternSize {
			u, v := unitOf(ix), unitOf(iy)
			if math.Hypot(u, v) > outermost {
				continue
			}
			at, ok := from.between(ix, iy)
			if !ok {
				at = c.origin(n, u, v)
			}
			if value, ok := c.was(at); ok {
				i := iy*patternSize + ix
				p.value[i], p.known[i] = float32(value), 1
			}
		}
	}
	return p
}

// knotGrid holds the knots, row by row.
type knotGrid [knots * knots]knot

// origins are the knots of the new picture when it lies as n says.
func (c *carriedDisc) origins(n coords.North) *knotGrid {
	const reach = outermost + 2.0*knotCells/cellsPerRadius
	g := new(knotGrid)
	for i := range g {
		u, v := unitOf(i%knots*knotCells), unitOf(i/knots*knotCells)
		if math.Hypot(u, v) <= reach {
			g[i] = c.origin(n, u, v)
		}
	}
	return g
}

// origin is where what should be seen at a point of the new picture stood in the earlier one.
func (c *carriedDisc) origin(n coords.North, u, v float64) knot {
	place := c.newView.PlacePolar(n.PositionAngle(u, v), math.Hypot(u, v), 0, disc.Height{})
	if place.Where != disc.OnDisc {
		return knot{}
	}
	return c.stood(place.Photosphere.Heliographic)
}

// between is where a cell's pattern stood, by the knots about it; false where one of
// them was not seen.
func (g *knotGrid) between(ix, iy int) (knot, bool) {
	kx, ky := min(ix/knotCells, knots-2), min(iy/knotCells, knots-2)
	i := ky*knots + kx
	a, b, c, d := &g[i], &g[i+1], &g[i+knots], &g[i+knots+1]
	if !a.seen || !b.seen || !c.seen || !d.seen {
		return knot{}, false
	}
	fx, fy := float64(ix-kx*knotCells)/knotCells, float64(iy-ky*knotCells)/knotCells
	mix := func(a, b, c, d float64) float64 { return (a*(1-fx)+b*fx)*(1-fy) + (c*(1-fx)+d*fx)*fy }
	return knot{mix(a.u, b.u, c.u, d.u), mix(a.v, b.v, c.v, d.v), true}, true
}
