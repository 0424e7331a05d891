package chart

import (
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Up is what lies at the top of a drawn disc. Its zero is solar north.
type Up uint8

// What can lie at the top: solar north; celestial north; what is up in the picture,
// which then keeps its mirror too.
const (
	SolarNorthUp Up = iota
	CelestialNorthUp
	AsTaken
)

// dial is the disc as it is laid on the sheet: a circle whose directions are
// position angles.
//
//	top     position angle at the top
//	mirror  position angles grow clockwise
type dial struct {
	x, y, radius float64
	top          coords.Angle
	mirror       bool
	view         disc.View
}

func newDial(v disc.View, up Up, x, y, radius float64) dial {
	d := dial{x: x, y: y, radius: radius, view: v}
	switch up {
	case SolarNorthUp:
		d.top = v.Face.P
	case AsTaken:
		d.top = v.North.PositionAngle(0, -1)
		d.mirror = v.North.Mirrored
	}
	return d
}

// at is the place on the sheet of a position angle and a distance in radii of the
// view's limb.
func (d dial) at(pa coords.Angle, r float64) canvas.Point {
	sin, cos := (pa - d.top).Sincos()
	if d.mirror {
		sin = -sin
	}
	return canvas.Point{X: d.x - d.radius*r*sin, Y: d.y - d.radius*r*cos}
}

// polarOf is the inverse of at.
func (d dial) polarOf(p canvas.Point) (pa coords.Angle, r float64) {
	right, down := (p.X-d.x)/d.radius, (p.Y-d.y)/d.radius
	turn := coords.Atan2(-right, -down)
	if d.mirror {
		turn = -turn
	}
	return (turn + d.top).Wrap360(), math.Hypot(right, down)
}

// place is where a place on the Sun appears, and whether it is in front.
func (d dial) place(h coords.Heliographic) (canvas.Point, bool) {
	p := d.view.ProjectPolar(h, 0)
	return d.at(p.PositionAngle, p.R), p.Visible
}

// arc is a part of a circle about the centre, from one position angle through east
// to another.
func (d dial) arc(from, to coords.Angle, r float64) []canvas.Point {
	width := (to - from).Wrap360()
	steps := 2 + int(width.Degrees()/2)
	out := make([]canvas.Point, steps+1)
	for i := range out {
		out[i] = d.at(from+width*coords.Angle(float64(i)/float64(steps)), r)
	}
	return out
}

// trace is where the vertices of a mark lie on the sheet; those behind the Sun are
// left out.
func (d dial) trace(m catalog.Mark) []canvas.Point {
	var out []canvas.Point
	g := m.Geometry
	for _, p := range g.Pixels {
		u, v := d.view.Limb.Unit(p)
		out = append(out, d.at(d.view.North.PositionAngle(u, v), math.Hypot(u, v)))
	}
	for _, p := range g.Polar {
		// The radii are those of the limb that was named, not of this picture's.
		scale := (coords.SolarRadiusMm + g.PolarLimb.HeightMm) / (coords.SolarRadiusMm + d.view.Layer.HeightMm)
		out = append(out, d.at(p.PA, p.R*scale))
	}
	for _, p := range g.Places {
		if at, visible := d.place(p.On(d.view.Face.L0)); visible {
			out = append(out, at)
		}
	}
	return out
}

// parallel and meridian are a line of the grid, cut where it goes behind the limb.
func (d dial) parallel(lat coords.Angle) [][]canvas.Point {
	return d.visible(180, func(i int) coords.Heliographic {
		return coords.Heliographic{B: lat, L: d.view.Face.L0 + coords.Angle(2*i-180)*coords.Degree}
	})
}

func (d dial) meridian(lon coords.Angle) [][]canvas.Point {
	return d.visible(80, func(i int) coords.Heliographic {
		return coords.Heliographic{B: coords.Angle(2*i-80) * coords.Degree, L: lon}
	})
}

// visible is the part of a line of places that is this side of the limb, each run
// brought to the limb itself by halving.
func (d dial) visible(steps int, at func(i int) coords.Heliographic) (runs [][]canvas.Point) {
	var run []canvas.Point
	var before coords.Heliographic
	wasSeen := false
	for i := range steps + 1 {
		h := at(i)
		p, seen := d.place(h)
		if seen != wasSeen && i > 0 {
			run = append(run, d.edgeBetween(before, h, wasSeen))
		}
		if seen {
			run = append(run, p)
		} else if len(run) > 1 {
			runs, run = append(runs, run), nil
		}
		before, wasSeen = h, seen
	}
	if len(run) > 1 {
		runs = append(runs, run)
	}
	return runs
}

// edgeBetween is where the line between two near places meets the limb.
func (d dial) edgeBetween(a, b coords.Heliographic, aSeen bool) canvas.Point {
	for range 12 {
		mid := coords.Heliographic{B: (a.B + b.B) / 2, L: a.L + (b.L-a.L).Wrap180()/2}
		if _, seen := d.place(mid); seen == aSeen {
			a = mid
		} else {
			b = mid
		}
	}
	p, _ := d.place(a)
	return p
}
