package limb

import "math"

// circle is a candidate limb in pixels.
type circle struct {
	x, y, r float64
}

// at is the point of the circle in direction θ (0 right, growing toward down),
// moved outward by rho.
func (c circle) at(sinθ, cosθ, rho float64) (x, y float64) {
	return c.x + (c.r+rho)*cosθ, c.y + (c.r+rho)*sinθ
}

// shifted is the circle after the small correction δ(θ) = dx cos θ + dy sin θ + dr.
func (c circle) shifted(d [3]float64) circle {
	return circle{c.x + d[0], c.y + d[1], c.r + d[2]}
}

// scaled turns a circle of a picture shrunk by f into one of the picture itself.
func (c circle) scaled(f int) circle {
	k, off := float64(f), float64(f-1)/2
	return circle{c.x*k + off, c.y*k + off, c.r * k}
}

// departure is a limb position found along one direction, as the distance rho
// outside the circle that it was looked for from.
type departure struct {
	sin, cos, rho, weight float64
}

// correct fits δ(θ) = dx cos θ + dy sin θ + dr to departures, robustly: least
// squares reweighted by Tukey's biweight, whose scale comes from the median
// absolute residual (Holland & Welsch 1977, Comm. Stat. A6, 813). The scale
// never falls below floorPx. It gives the correction, the final scale (one
// standard deviation of a good point), and false when the points do not
// determine a circle.
func correct(points []departure, floorPx float64) (d [3]float64, scale float64, ok bool) {
	if len(points) < 3 {
		return d, 0, false
	}
	res := make([]float64, len(points))
	n := newNormal(3)
	var row [3]float64
	// The start must not be dragged by a prominence: the median of the
	// departures first, with no shift at all.
	for i, p := range points {
		res[i] = p.rho
	}
	d[2] = medianOf(res)
	for iter := 0; iter < 30; iter++ {
		for i, p := range points {
			res[i] = math.Abs(p.rho - d[0]*p.cos - d[1]*p.sin - d[2])
		}
		scale = max(1.4826*medianOf(res), floorPx)
		// Wide at first, so that a start that is off is still followed.
		c := 4.685 * scale * max(1, 3-float64(iter))
		n.clear()
		for _, p := range points {
			u := (p.rho - d[0]*p.cos - d[1]*p.sin - d[2]) / c
			if u <= -1 || u >= 1 {
				continue
			}
			w := (1 - u*u) * (1 - u*u) * p.weight
			row = [3]float64{p.cos, p.sin, 1}
			n.addWeighted(row[:], p.rho, w)
		}
		next, _, solved := n.solve(0)
		if !solved {
			return d, scale, false
		}
		moved := math.Abs(next[0]-d[0]) + math.Abs(next[1]-d[1]) + math.Abs(next[2]-d[2])
		d = [3]float64(next)
		if moved < 1e-3*scale && iter > 3 {
			break
		}
	}
	return d, scale, true
}

// normal gathers the normal equations of a least-squares fit.
type normal struct {
	a [][]float64
	b []float64
}

func newNormal(n int) *normal {
	s := &normal{a: make([][]float64, n), b: make([]float64, n)}
	for i := range s.a {
		s.a[i] = make([]float64, n)
	}
	return s
}

func (s *normal) clear() {
	for i := range s.a {
		clear(s.a[i])
	}
	clear(s.b)
}

func (s *normal) add(row []float64, y float64) { s.addWeighted(row, y, 1) }

func (s *normal) addWeighted(row []float64, y, w float64) {
	for i, r := range row {
		r *= w
		for j := 0; j <= i; j++ {
			s.a[i][j] += r * row[j]
		}
		s.b[i] += r * y
	}
}

// solve gives the unknowns and the inverse of the normal matrix. ridge, a share
// of the diagonal, lets terms that the data cannot tell apart share their part.
func (s *normal) solve(ridge float64) (x []float64, inv [][]float64, ok bool) {
	for i := range s.a {
		for j := 0; j < i; j++ {
			s.a[j][i] = s.a[i][j]
		}
		s.a[i][i] *= 1 + ridge
	}
	inv, ok = invert(s.a)
	if !ok {
		return nil, nil, false
	}
	x = make([]float64, len(s.b))
	for i := range x {
		for j, b := range s.b {
			x[i] += inv[i][j] * b
		}
	}
	return x, inv, true
}

// invert gives the inverse of a small symmetric positive definite matrix by
// Cholesky's decomposition, false when it is singular to rounding.
func invert(a [][]float64) ([][]float64, bool) {
	n := len(a)
	l := make([][]float64, n)
	for i := range l {
		l[i] = make([]float64, n)
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := 0; k < j; k++ {
				s -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			if !(s > 1e-13*math.Abs(a[i][i])) {
				return nil, false
			}
			l[i][i] = math.Sqrt(s)
		}
	}
	inv := make([][]float64, n)
	for i := range inv {
		inv[i] = make([]float64, n)
	}
	col := make([]float64, n)
	for c := 0; c < n; c++ {
		for i := 0; i < n; i++ { // forward
			s := 0.0
			if i == c {
				s = 1
			}
			for k := 0; k < i; k++ {
				s -= l[i][k] * col[k]
			}
			col[i] = s / l[i][i]
		}
		for i := n - 1; i >= 0; i-- { // back
			s := col[i]
			for k := i + 1; k < n; k++ {
				s -= l[k][i] * col[k]
			}
			col[i] = s / l[i][i]
			inv[i][c] = col[i]
		}
	}
	return inv, true
}
