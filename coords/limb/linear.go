package limb

import "math"

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

// cholesky gives the lower triangle L of a small symmetric positive definite matrix
// L Lᵀ, of which only the lower triangle need be filled in; false when it is singular
// to rounding.
func cholesky(a [][]float64) ([][]float64, bool) {
	l := make([][]float64, len(a))
	for i := range l {
		l[i] = make([]float64, len(a))
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
	return l, true
}

// invert gives the inverse of such a matrix.
func invert(a [][]float64) ([][]float64, bool) {
	l, ok := cholesky(a)
	if !ok {
		return nil, false
	}
	n := len(a)
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
