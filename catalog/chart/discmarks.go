package chart

import (
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
)

// marks draws every mark in its kind's shape and then the names, which keep clear of
// them and of one another.
func (d *drawnDisc) marks() {
	var labels []label
	for _, e := range d.in.Entries {
		trace := d.dial.trace(e.Mark)
		if len(trace) == 0 {
			continue
		}
		var at canvas.Point
		var reach float64
		d.linked(subjectOf(e), describe(e), func() { at, reach = d.mark(e, trace) })
		labels = append(labels, d.label(e, at, reach))
	}
	if d.in.NoLabels {
		return
	}
	p := placer{Allowed: d.mayHoldLabel, Taken: d.taken, Shy: d.shy}
	for _, l := range p.place(labels) {
		if !l.Found {
			continue
		}
		d.named(l, canvas.Stroke(canvas.Faded(d.Theme.Light, 0.75), 0.7))
	}
}

func (d *drawnDisc) label(e catalog.Entry, at canvas.Point, reach float64) label {
	out := canvas.Point{X: at.X - d.dial.x, Y: at.Y - d.dial.y}
	l := label{Of: subjectOf(e), Tell: describe(e), Text: nameOf(e), At: at, Reach: reach, Type: canvas.Type{
		Size: 11.5, Bold: true, Colour: d.onDark(e.Mark.Kind), Halo: canvas.Faded(d.Theme.Dark, 0.8),
	}}
	// Names of what stands at the limb go inward, where there is room.
	if r := math.Hypot(out.X, out.Y); r > 0.9*d.dial.radius {
		l.Away = canvas.Point{X: -out.X / r, Y: -out.Y / r}
	}
	return l
}

// mayHoldLabel keeps names within the round window.
func (d *drawnDisc) mayHoldLabel(r canvas.Rect) bool {
	limit := d.dial.radius*d.reach - 2
	for _, x := range []float64{r.X, r.Right()} {
		for _, y := range []float64{r.Y, r.Bottom()} {
			if math.Hypot(x-d.dial.x, y-d.dial.y) > limit {
				return false
			}
		}
	}
	return true
}

// mark draws one mark and gives the point its name belongs to, and how much room
// the shape takes round it.
func (d *drawnDisc) mark(e catalog.Entry, trace []canvas.Point) (at canvas.Point, reach float64) {
	colour, dark := d.onDark(e.Mark.Kind), d.Theme.Dark
	shape := e.Mark.Geometry.Shape
	closed := shape == catalog.Outline
	d.keepClear(trace, closed)
	if e.Mark.Kind == catalog.Prominence && e.Position.Edge != nil {
		return d.bracket(*e.Position.Edge, trace)
	}
	if len(trace) == 1 {
		at = trace[0]
		s := d.sheet
		s.symbol(e.Mark.Kind, at.X, at.Y, colour, canvas.Faded(dark, 0.55))
		return at, map[catalog.Kind]float64{catalog.Sunspot: 6, catalog.Other: 7}[e.Mark.Kind]
	}
	rim := canvas.Stroke(canvas.Faded(dark, 0.45), 3.2)
	line := canvas.Stroke(colour, 1.3)
	if e.Mark.Kind == catalog.Plage {
		rim, line = canvas.Stroke(canvas.Faded(dark, 0.35), 2.8), canvas.Dashed(colour, 1.4, 5, 3)
	}
	if closed {
		d.Polygon(trace, rim)
		d.Polygon(trace, line)
		return topOf(trace), 2
	}
	d.Path(trace, rim)
	d.Path(trace, line)
	if e.Mark.Kind == catalog.Filament { // its ends, so that pieces are told apart
		for _, p := range []canvas.Point{trace[0], trace[len(trace)-1]} {
			d.Circle(p.X, p.Y, 1.6, canvas.Fill(colour))
		}
	}
	return middleOf(trace), 4
}

// bracket draws round a prominence: legs on the limb at the ends of its base, an arc
// over its top.
func (d *drawnDisc) bracket(edge catalog.AtEdge, trace []canvas.Point) (canvas.Point, float64) {
	top := 1.0
	for _, p := range trace {
		_, r := d.dial.polarOf(p)
		top = max(top, r)
	}
	unit := 1 / d.dial.radius
	gap := coords.Angle(5 * unit)
	from, to := edge.From-gap, edge.To+gap
	roof := max(top+5*unit, 1+9*unit)
	shape := append([]canvas.Point{d.dial.at(from, 1+1*unit)}, d.dial.arc(from, to, roof)...)
	shape = append(shape, d.dial.at(to, 1+1*unit))
	d.keepClear(shape, false)
	d.Path(shape, canvas.Stroke(canvas.Faded(d.Theme.Dark, 0.5), 3.4))
	d.Path(shape, canvas.Stroke(d.onDark(catalog.Prominence), 1.5))
	return d.dial.at(from+(to-from).Wrap360()/2, 1-3*unit), 2
}

// keepClear notes the course of a line, so that names rather lie elsewhere.
func (d *drawnDisc) keepClear(trace []canvas.Point, closed bool) {
	const step = 7.0
	for i, p := range trace {
		d.shy = append(d.shy, p)
		j := i + 1
		if j == len(trace) {
			if !closed {
				break
			}
			j = 0
		}
		q := trace[j]
		length := math.Hypot(q.X-p.X, q.Y-p.Y)
		for s := step; s < length; s += step {
			f := s / length
			d.shy = append(d.shy, canvas.Point{X: p.X + f*(q.X-p.X), Y: p.Y + f*(q.Y-p.Y)})
		}
	}
}

// topOf is the highest point of a shape.
func topOf(trace []canvas.Point) canvas.Point {
	top := trace[0]
	for _, p := range trace {
		if p.Y < top.Y {
			top = p
		}
	}
	return top
}

// middleOf is the point halfway along a line.
func middleOf(trace []canvas.Point) canvas.Point {
	total := 0.0
	for i := 1; i < len(trace); i++ {
		total += math.Hypot(trace[i].X-trace[i-1].X, trace[i].Y-trace[i-1].Y)
	}
	left := total / 2
	for i := 1; i < len(trace); i++ {
		a, b := trace[i-1], trace[i]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		if length > 0 && left <= length {
			f := left / length
			return canvas.Point{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y)}
		}
		left -= length
	}
	return trace[len(trace)/2]
}
