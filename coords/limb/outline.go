package limb

import "math"

// outline is a limb that is being followed: an ellipse whose semi-axes are r + d
// and r − d, d = √(a² + b²), with the long one in the direction ½·atan2(b, a); a
// circle when both are 0.
type outline struct {
	circle
	a, b float64
}

// radius is the distance of the outline from its centre in the direction θ.
func (o outline) radius(sinθ, cosθ float64) float64 {
	if o.a == 0 && o.b == 0 {
		return o.r
	}
	d := math.Hypot(o.a, o.b)
	long, short := o.r+d, o.r-d
	cos2 := ((cosθ*cosθ-sinθ*sinθ)*o.a + 2*sinθ*cosθ*o.b) / d // of twice the angle from the long axis
	return long * short / math.Sqrt((short*short*(1+cos2)+long*long*(1-cos2))/2)
}

// at is the point of the outline in the direction θ, moved outward by rho.
func (o outline) at(sinθ, cosθ, rho float64) (x, y float64) {
	r := o.radius(sinθ, cosθ) + rho
	return o.x + r*cosθ, o.y + r*sinθ
}

// correction changes an outline. Along the direction θ it moves the limb outward
// by δ(θ) = c₀ cos θ + c₁ sin θ + c₂ + c₃ cos 2θ + c₄ sin 2θ: shift, radius and, if
// used, ellipse.
type correction [5]float64

// circleTerms and ellipseTerms are how many terms a correction of each has.
const (
	circleTerms  = 3
	ellipseTerms = 5
)

func (o outline) corrected(c correction) outline {
	o.x += c[0]
	o.y += c[1]
	o.r += c[2]
	o.a += c[3]
	o.b += c[4]
	return o
}

// outward is δ in the direction θ.
func (c correction) outward(sinθ, cosθ float64) float64 {
	return c[0]*cosθ + c[1]*sinθ + c[2] + c[3]*(cosθ*cosθ-sinθ*sinθ) + c[4]*2*sinθ*cosθ
}

// designRow holds the terms of a correction in the direction θ.
func designRow(sinθ, cosθ float64) [5]float64 {
	return [5]float64{cosθ, sinθ, 1, cosθ*cosθ - sinθ*sinθ, 2 * sinθ * cosθ}
}

// departure is a limb position found along one direction, as the distance rho
// outside the outline that it was looked for from.
type departure struct {
	sin, cos, rho, weight float64
}

// correct fits a correction to departures, robustly: least squares reweighted by
// Tukey's biweight, whose scale comes from the median absolute residual (Holland &
// Welsch 1977, Comm. Stat. A6, 813) and never falls below floorPx. It gives the
// scale (one standard deviation of a good point), and false when the points do not
// determine the terms.
func correct(points []departure, terms int, floorPx float64) (c correction, scale float64, ok bool) {
	if len(points) < terms {
		return c, 0, false
	}
	res := make([]float64, len(points))
	// The start must not be dragged by a prominence: the median of the
	// departures, with no shift at all.
	for i, p := range points {
		res[i] = p.rho
	}
	c[2] = medianOf(res)
	n := newNormal(terms)
	for iter := range 20 {
		for i, p := range points {
			res[i] = math.Abs(p.rho - c.outward(p.sin, p.cos))
		}
		scale = max(1.4826*medianOf(res), floorPx)
		// Wide at first, so that a start that is off is still followed.
		limit := 4.685 * scale * max(1, 3-float64(iter))
		n.clear()
		for _, p := range points {
			u := (p.rho - c.outward(p.sin, p.cos)) / limit
			if u <= -1 || u >= 1 {
				continue
			}
			row := designRow(p.sin, p.cos)
			n.addWeighted(row[:terms], p.rho, (1-u*u)*(1-u*u)*p.weight)
		}
		x, _, solved := n.solve(0)
		if !solved {
			return c, scale, false
		}
		moved := 0.0
		for i, v := range x {
			moved += math.Abs(v - c[i])
			c[i] = v
		}
		if moved < 1e-3*scale && iter > 3 {
			break
		}
	}
	return c, scale, true
}
