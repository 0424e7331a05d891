package desk

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// xy is a point of the picture as JSON has it.
type xy [2]float64

func point(p coords.Pixel) xy { return xy{round(p.X, 1000), round(p.Y, 1000)} }

// round keeps JSON short where it only draws; 1/1000 px cannot be seen.
func round(v, steps float64) float64 { return math.Round(v*steps) / steps }

// geometry is what the page draws over a picture, in its pixels.
//
//	Rim     the limb at every whole degree of position angle; none without north
//	Axis    the Sun's axis beyond either pole, from the limb outward
//	Moves   how far the marks would move, in words, for a north or disc not yet kept
type geometry struct {
	Limb   limbShape   `json:"limb"`
	Rim    []xy        `json:"rim,omitempty"`
	Axis   *axis       `json:"axis,omitempty"`
	Grid   []gridLine  `json:"grid,omitempty"`
	Labels []gridLabel `json:"labels,omitempty"`
	Moves  string      `json:"moves,omitempty"`
}

// limbShape is a limb with the matrix that turns pixels from its centre into radii.
type limbShape struct {
	X       float64    `json:"x"`
	Y       float64    `json:"y"`
	R       float64    `json:"r"`
	ToUnit  [4]float64 `json:"to_unit"`
	Outline []xy       `json:"outline"`
}

type axis struct {
	North [2]xy `json:"north"`
	South [2]xy `json:"south"`
}

type gridLine struct {
	Major  bool `json:"major,omitempty"`
	Points []xy `json:"points"`
}

type gridLabel struct {
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	Text string  `json:"text"`
}

func shapeOf(limb coords.Limb) limbShape {
	shape := limbShape{X: limb.Centre.X, Y: limb.Centre.Y, R: limb.RadiusPx}
	c := limb.Centre
	ux, vx := limb.Unit(coords.Pixel{X: c.X + 1, Y: c.Y})
	uy, vy := limb.Unit(coords.Pixel{X: c.X, Y: c.Y + 1})
	shape.ToUnit = [4]float64{ux, uy, vx, vy}
	for i := range 180 {
		sin, cos := (coords.Angle(2*i) * coords.Degree).Sincos()
		shape.Outline = append(shape.Outline, point(limb.At(cos, sin)))
	}
	return shape
}

// gridKind is which lines of latitude and longitude are drawn.
type gridKind string

const (
	gridOff        gridKind = "off"
	gridDegrees    gridKind = "degrees"    // distance from the central meridian
	gridCarrington gridKind = "carrington" // Carrington longitude
)

func parseGrid(text string) (gridKind, error) {
	switch k := gridKind(text); k {
	case "":
		return gridOff, nil
	case gridOff, gridDegrees, gridCarrington:
		return k, nil
	}
	return "", fmt.Errorf("grid %q: want off, degrees or carrington", text)
}

// draw makes the geometry of a limb and, when north is known, of the Sun in it.
func draw(v disc.View, northKnown bool, kind gridKind) geometry {
	g := geometry{Limb: shapeOf(v.Limb)}
	if !northKnown {
		return g
	}
	for deg := range 360 {
		right, down := v.North.Direction(coords.Angle(deg) * coords.Degree)
		g.Rim = append(g.Rim, point(v.Limb.At(right, down)))
	}
	toward := func(pa coords.Angle) [2]xy {
		right, down := v.North.Direction(pa)
		return [2]xy{point(v.Limb.At(right, down)), point(v.Limb.At(1.05*right, 1.05*down))}
	}
	g.Axis = &axis{North: toward(v.Face.P), South: toward(v.Face.P + math.Pi)}
	if kind != gridOff {
		g.Grid, g.Labels = grid(v, kind)
	}
	return g
}

// grid draws parallels and meridians every 10°, the equator and the central
// meridian (or Carrington 0°) stronger.
func grid(v disc.View, kind gridKind) (lines []gridLine, labels []gridLabel) {
	start := v.Face.L0
	if kind == gridCarrington {
		start = 0
	}
	at := func(lat, lon int) (coords.Pixel, bool) {
		return v.Project(coords.Heliographic{
			B: coords.Angle(lat) * coords.Degree,
			L: (start + coords.Angle(lon)*coords.Degree).Wrap360(),
		}, 0)
	}
	for lat := -80; lat <= 80; lat += 10 {
		lines = append(lines, visibleRuns(lat == 0, 0, 360, 3, func(i int) (coords.Pixel, bool) { return at(lat, i) })...)
	}
	for lon := 0; lon < 360; lon += 10 {
		strong := lon == 0 || kind == gridDegrees && lon == 180
		lines = append(lines, visibleRuns(strong, -80, 80, 4, func(i int) (coords.Pixel, bool) { return at(i, lon) })...)
	}
	label := func(h coords.Heliographic, text string) {
		if p, seen := v.Project(h, 0); seen {
			labels = append(labels, gridLabel{X: round(p.X, 10), Y: round(p.Y, 10), Text: text})
		}
	}
	for lat := -60; lat <= 60; lat += 20 {
		if lat != 0 {
			label(coords.Heliographic{B: coords.Angle(lat) * coords.Degree, L: (v.Face.L0 + 3*coords.Degree).Wrap360()}, latText(coords.Angle(lat)*coords.Degree, 0))
		}
	}
	for lon := 0; lon < 360; lon += 20 {
		l := (start + coords.Angle(lon)*coords.Degree).Wrap360()
		text := fmt.Sprintf("%d", lon)
		if kind == gridDegrees {
			if text = cmdText((coords.Angle(lon) * coords.Degree).Wrap180(), 0); lon == 0 {
				text = "0"
			}
		}
		if v.Face.CMD(coords.Heliographic{L: l}).Abs() < 75*coords.Degree {
			label(coords.Heliographic{B: 3 * coords.Degree, L: l}, text)
		}
	}
	return lines, labels
}

// visibleRuns cuts a line of the grid where it goes behind the Sun.
func visibleRuns(strong bool, from, to, step int, at func(int) (coords.Pixel, bool)) (lines []gridLine) {
	var run []xy
	flush := func() {
		if len(run) > 1 {
			lines = append(lines, gridLine{Major: strong, Points: run})
		}
		run = nil
	}
	for i := from; i <= to; i += step {
		if p, seen := at(i); seen {
			run = append(run, xy{round(p.X, 100), round(p.Y, 100)})
		} else {
			flush()
		}
	}
	flush()
	return lines
}

// affine brings pixels of one picture to another: x' = a·x + b·y + e, y' = c·x + d·y + f,
// in the order a, b, c, d, e, f.
type affine [6]float64

// between lays one picture's disc on another's by their limbs and norths: the same
// distance from the centre in radii, at the same position angle. The two exposures
// of an hour are laid on one another by it.
func between(from, to disc.View) affine {
	carry := func(p coords.Pixel) coords.Pixel {
		u, v := from.Limb.Unit(p)
		pa := from.North.PositionAngle(u, v)
		right, down := to.North.Direction(pa)
		r := math.Hypot(u, v)
		return to.Limb.At(r*right, r*down)
	}
	c := from.Limb.Centre
	o := to.Limb.Centre // the centre goes to the centre
	x, y := carry(coords.Pixel{X: c.X + 1000, Y: c.Y}), carry(coords.Pixel{X: c.X, Y: c.Y + 1000})
	a, b := (x.X-o.X)/1000, (y.X-o.X)/1000
	cc, d := (x.Y-o.Y)/1000, (y.Y-o.Y)/1000
	return affine{a, b, cc, d, o.X - a*c.X - b*c.Y, o.Y - cc*c.X - d*c.Y}
}

// onto is between for two pictures of one day; where north is not known on both, the
// camera is taken as untouched between them.
func onto(from, to viewed) affine {
	if !from.northKnown || !to.northKnown {
		from.North, to.North = coords.North{}, coords.North{}
	}
	return between(from.View, to.View)
}

// orientation is how the page turns a picture: clockwise by TurnDeg after mirroring
// it left to right when Flip is −1.
type orientation struct {
	TurnDeg float64 `json:"turn_deg"`
	Flip    int     `json:"flip"`
}

// upward is the orientation that brings a position angle up, with east on the left
// of north.
func upward(n coords.North, pa coords.Angle) orientation {
	right, down := n.Direction(pa)
	flip := 1
	if n.Mirrored {
		flip, right = -1, -right
	}
	// The direction lies counter-clockwise from up by this, and is turned back.
	return orientation{TurnDeg: coords.Atan2(-right, -down).Degrees(), Flip: flip}
}
