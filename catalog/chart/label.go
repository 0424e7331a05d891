package chart

import (
	"math"
	"slices"

	"limbwatch/catalog/chart/canvas"
)

// label is a text that wants a place near its point.
//
//	At     the point
//	Reach  how far from it the text may begin
//	Away   a direction (x, y) to prefer; zero: upper right
//	Of     what is named, and Tell what a touch on the name says
type label struct {
	Of    subject
	Tell  string
	Text  string
	Type  canvas.Type
	At    canvas.Point
	Reach float64
	Away  canvas.Point
}

// placed is where a label went.
//
//	Box     what the text covers
//	Leader  whether a line should lead to its point, which ends at To
//	Found   false when there was no room: the label is left out
type placed struct {
	label
	Box    canvas.Rect
	Leader bool
	To     canvas.Point
	Found  bool
}

// placer finds places for labels.
//
//	Allowed  where a label may lie at all
//	Taken    what no label may cover
//	Shy      points that are better not covered
type placer struct {
	Allowed func(canvas.Rect) bool
	Taken   []canvas.Rect
	Shy     []canvas.Point
}

// labelMargin is kept free round a label.
const labelMargin = 2

// place finds a place for each label, near its point, so that no two overlap.
//
// Each label in turn takes the cheapest of some hundred places round its point,
// those in the tightest neighbourhoods first; then, twice, each gives up its place
// and looks again, now that it knows where the others are.
func (p placer) place(labels []label) []placed {
	out := make([]placed, len(labels))
	for i, l := range labels {
		out[i].label = l
	}
	order := byCrowding(labels)
	for round := range 3 {
		for _, i := range order {
			if round > 0 && out[i].Found && !out[i].Leader {
				continue
			}
			out[i].Found = false
			p.settle(out, i)
		}
	}
	return out
}

// byCrowding is the order of labels by how many others are near.
func byCrowding(labels []label) []int {
	order, near := make([]int, len(labels)), make([]int, len(labels))
	for i, a := range labels {
		order[i] = i
		for _, b := range labels {
			if math.Abs(a.At.X-b.At.X) < 80 && math.Abs(a.At.Y-b.At.Y) < 30 {
				near[i]++
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return near[b] - near[a] })
	return order
}

// settle gives label i the best place that is free.
func (p placer) settle(all []placed, i int) {
	l := all[i].label
	width := canvas.TextWidth(l.Text, l.Type.Size, l.Type.Bold)
	taken := slices.Clone(p.Taken)
	for j, o := range all {
		if j != i && o.Found {
			taken = append(taken, o.Box)
		}
	}
	best := math.Inf(1)
	for ring, distance := range []float64{3, 8, 15, 25, 38, 55, 78, 105, 140, 180, 230} {
		if best < distance { // farther places cannot be cheaper
			break
		}
		steps := 16 + 4*min(ring, 6)
		for k := range steps {
			angle := 2 * math.Pi * float64(k) / float64(steps)
			box := boxToward(l, width, angle, l.Reach+distance)
			wide := box.Grown(labelMargin)
			if p.Allowed != nil && !p.Allowed(wide) || slices.ContainsFunc(taken, wide.Overlaps) {
				continue
			}
			cost := distance + p.cost(all, i, box, angle, best-distance)
			if cost < best {
				best = cost
				all[i].Found, all[i].Box = true, box
				all[i].To = nearestOn(box, l.At)
				all[i].Leader = distance > 8
			}
		}
	}
}

// boxToward is the box of a label so wide in a direction, beginning at a distance.
func boxToward(l label, w, angle, distance float64) canvas.Rect {
	h := l.Type.Size * (canvas.CapHeight + canvas.Descent)
	dy, dx := math.Sincos(angle)
	// The box touches the circle with the side or corner that faces the point.
	cx := l.At.X + dx*(distance+w/2*math.Abs(dx)) + w/2*soft(dx)*(1-math.Abs(dx))
	cy := l.At.Y + dy*(distance+h/2)
	return canvas.Rect{X: cx - w/2, Y: cy - h/2, Width: w, Height: h}
}

// soft is the sign of v, going through zero gently.
func soft(v float64) float64 { return max(-1, min(1, 3*v)) }

// cost is how much worse than the best a free place is, in units of distance. One that
// is not below the limit is not counted to its end.
func (p placer) cost(all []placed, i int, box canvas.Rect, angle, limit float64) float64 {
	wide := box.Grown(labelMargin)
	at, to := all[i].At, nearestOn(box, all[i].At)
	cost := 0.0
	for j := range all {
		o := &all[j]
		if j == i {
			continue
		}
		if o.Found && (crosses(at, to, o.Box) || o.Leader && crosses(o.At, o.To, box)) {
			cost += 60
		}
		if inside(wide, o.At) {
			cost += 25
		}
		if cost >= limit {
			return cost
		}
	}
	for _, s := range p.Shy {
		if inside(wide, s) {
			cost += 2.5
		}
		if along(at, to, s, all[i].Reach+2) {
			cost += 2.5
		}
	}
	dy, dx := math.Sincos(angle)
	away := all[i].Away
	if away == (canvas.Point{}) {
		away = canvas.Point{X: 0.8, Y: -0.6}
	}
	return cost + 3*(1-(dx*away.X+dy*away.Y))
}

func inside(r canvas.Rect, p canvas.Point) bool {
	return p.X >= r.X && p.X <= r.Right() && p.Y >= r.Y && p.Y <= r.Bottom()
}

// along says whether a point lies on a line, but for the line's first stretch.
func along(a, b, p canvas.Point, stretch float64) bool {
	const near = 4.0
	dx, dy := b.X-a.X, b.Y-a.Y
	length := math.Hypot(dx, dy)
	if length <= stretch {
		return false
	}
	t := ((p.X-a.X)*dx + (p.Y-a.Y)*dy) / length
	return t > stretch && t < length && math.Abs((p.X-a.X)*dy-(p.Y-a.Y)*dx)/length < near
}

// nearestOn is the point of a rectangle nearest to p.
func nearestOn(r canvas.Rect, p canvas.Point) canvas.Point {
	return canvas.Point{X: max(r.X, min(r.Right(), p.X)), Y: max(r.Y, min(r.Bottom(), p.Y))}
}

// crosses says whether a line meets a rectangle.
func crosses(a, b canvas.Point, r canvas.Rect) bool {
	t0, t1 := 0.0, 1.0
	for _, side := range [4][2]float64{
		{a.X - b.X, a.X - r.X}, {b.X - a.X, r.Right() - a.X}, {a.Y - b.Y, a.Y - r.Y}, {b.Y - a.Y, r.Bottom() - a.Y},
	} {
		p, q := side[0], side[1]
		switch {
		case p == 0 && q < 0:
			return false
		case p < 0:
			t0 = max(t0, q/p)
		case p > 0:
			t1 = min(t1, q/p)
		}
	}
	return t0 < t1
}

// baseline is where the text of a placed label is set, with anchor Start.
func (p placed) baseline() (x, y float64) {
	return p.Box.X, p.Box.Y + canvas.CapHeight*p.Type.Size
}

// named draws a label where it was placed, with its leader where it has one.
func (s sheet) named(l placed, leader canvas.Style) {
	s.linked(l.Of, l.Tell, func() {
		if l.Leader {
			s.Segment(l.At.X, l.At.Y, l.To.X, l.To.Y, leader)
		}
		x, y := l.baseline()
		s.Text(x, y, l.Text, l.Type)
	})
}
