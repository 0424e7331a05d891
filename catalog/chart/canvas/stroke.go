package canvas

import "math"

// flat is a shape made of straight sides, on the raster.
type flat []Point

// outlines are the closed shapes that a line of a width covers. Each is to be
// filled by itself.
func outlines(points []Point, closed bool, width float64, butt bool) []flat {
	points = distinct(points, closed)
	half := width / 2
	if len(points) == 1 {
		if butt {
			return nil
		}
		return []flat{round(points[0], half)}
	}
	if closed && len(points) > 2 {
		return ring(points, half)
	}
	n := len(points)
	out := make(flat, 0, 2*n+24)
	out = side(out, points, half)
	if !butt {
		out = arc(out, points[n-1], normal(points[n-2], points[n-1], half), math.Pi)
	}
	back := make([]Point, n)
	for i, p := range points {
		back[n-1-i] = p
	}
	out = side(out, back, half)
	if !butt {
		out = arc(out, points[0], normal(points[1], points[0], half), math.Pi)
	}
	return []flat{out}
}

// distinct leaves out points that lie on their neighbour, which have no direction.
func distinct(points []Point, closed bool) []Point {
	const near = 1e-6
	out := make([]Point, 0, len(points))
	for _, p := range points {
		if n := len(out); n == 0 || math.Hypot(p.X-out[n-1].X, p.Y-out[n-1].Y) > near {
			out = append(out, p)
		}
	}
	if n := len(out); closed && n > 1 && math.Hypot(out[0].X-out[n-1].X, out[0].Y-out[n-1].Y) <= near {
		out = out[:n-1]
	}
	return out
}

// ring is the band along a closed line: along its outer side, over to the inner one
// and back along that, so that the hole winds to nothing. The seam has no width.
func ring(points []Point, half float64) []flat {
	n := len(points)
	shape := make(flat, 0, 2*n+8)
	for i, p := range points {
		shape = join(shape, points[(i+n-1)%n], p, points[(i+1)%n], half)
	}
	shape = append(shape, shape[0])
	seam := len(shape)
	for i := n - 1; i >= 0; i-- {
		shape = join(shape, points[(i+1)%n], points[i], points[(i+n-1)%n], half)
	}
	return []flat{append(shape, shape[seam])}
}

// normal is the vector of length half to the left of the way from a to b, as seen
// with y down.
func normal(a, b Point, half float64) Point {
	dx, dy := b.X-a.X, b.Y-a.Y
	k := half / math.Hypot(dx, dy)
	return Point{dy * k, -dx * k}
}

// side follows the left side of a line from its first point to its last.
func side(out flat, points []Point, half float64) flat {
	last := len(points) - 1
	n := normal(points[0], points[1], half)
	out = append(out, Point{points[0].X + n.X, points[0].Y + n.Y})
	for i := 1; i < last; i++ {
		out = join(out, points[i-1], points[i], points[i+1], half)
	}
	n = normal(points[last-1], points[last], half)
	return append(out, Point{points[last].X + n.X, points[last].Y + n.Y})
}

// join follows the left side round a corner: to a point in a gentle bend, by an
// arc outside a sharp one, straight over inside it.
func join(out flat, before, p, after Point, half float64) flat {
	a, b := normal(before, p, half), normal(p, after, half)
	cos := (a.X*b.X + a.Y*b.Y) / (half * half)
	if cos > 0.8 {
		k := 1 / (1 + cos)
		return append(out, Point{p.X + (a.X+b.X)*k, p.Y + (a.Y+b.Y)*k})
	}
	turn := math.Atan2(a.X*b.Y-a.Y*b.X, a.X*b.X+a.Y*b.Y)
	if turn > 0 { // the left side is the outer one
		return arc(out, p, a, turn)
	}
	return append(out, Point{p.X + a.X, p.Y + a.Y}, Point{p.X + b.X, p.Y + b.Y})
}

// arc goes round p from p+from through an angle.
func arc(out flat, p, from Point, angle float64) flat {
	radius := math.Hypot(from.X, from.Y)
	steps := 2 + int(math.Abs(angle)*math.Sqrt(radius)*1.2)
	for i := range steps + 1 {
		sin, cos := math.Sincos(angle * float64(i) / float64(steps))
		out = append(out, Point{p.X + from.X*cos - from.Y*sin, p.Y + from.X*sin + from.Y*cos})
	}
	return out
}

func round(p Point, radius float64) flat { return arc(nil, p, Point{radius, 0}, 2*math.Pi) }

// dashes cuts a line into the parts that a pattern of dashes leaves.
func dashes(points []Point, closed bool, pattern []float64) [][]Point {
	total := 0.0
	for _, d := range pattern {
		total += d
	}
	if total <= 0 || len(points) < 2 {
		return [][]Point{points}
	}
	if closed {
		points = append(append([]Point{}, points...), points[0])
	}
	var out [][]Point
	drawn, which, left := true, 0, pattern[0]
	current := []Point{points[0]}
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		gone := 0.0
		for length-gone > left {
			gone += left
			at := Point{a.X + (b.X-a.X)*gone/length, a.Y + (b.Y-a.Y)*gone/length}
			if drawn {
				out = append(out, append(current, at))
			}
			current = []Point{at}
			drawn = !drawn
			which = (which + 1) % len(pattern)
			left = pattern[which]
		}
		left -= length - gone
		if drawn {
			current = append(current, b)
		}
	}
	if drawn && len(current) > 1 {
		out = append(out, current)
	}
	return out
}
