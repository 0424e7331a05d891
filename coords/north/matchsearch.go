package north

import "math"

// everyCell is the step, in cells, at which windows are compared; the blur is as wide.
const everyCell = 2

// search correlates the new picture's window at cells x, y with the expected pattern
// around its place. The likelihood of a correlation ρ over n independent pieces goes
// as (1 − ρ²)^(−n/2). It is false where too little is known.
//
// Both are blurred, so that the correlation is smooth: it is worked out at every second
// move and read off between.
func (w *window) search(expected, now *pattern, x, y, cells int) bool {
	l := newLookedFor(expected, now, x, y, cells)
	var rho, n movesGrid
	for i := range movesSide * movesSide {
		dx, dy := 2*(i%movesSide)-windowReach, 2*(i/movesSide)-windowReach
		s := l.overlap(dx, dy)
		if s.n < float64(cells*cells/(everyCell*everyCell))/2 {
			if dx == 0 && dy == 0 {
				return false
			}
			continue
		}
		rho[i/movesSide*2][i%movesSide*2], n[i/movesSide*2][i%movesSide*2] = s.correlation(), s.n
	}
	rho.fill()
	n.fill()
	sum := 0.0
	for i := range w.likely {
		at := max(0, min(0.99, rho[i/windowSide][i%windowSide]))
		pieces := n[i/windowSide][i%windowSide] * everyCell * everyCell / (4 * math.Pi * fineCells * fineCells)
		w.likely[i] = math.Pow(1-at*at, -pieces/2)
		sum += w.likely[i]
	}
	for i := range w.likely {
		w.likely[i] *= windowSide * windowSide / sum
	}
	return true
}

// movesGrid is a value by the move, down and across.
type movesGrid [windowSide][windowSide]float64

const movesSide = windowReach + 1 // of the moves that are worked out

// fill puts in the odd moves by polynomials through the even ones.
func (g *movesGrid) fill() {
	for i := 0; i < windowSide; i += 2 {
		for k := 1; k < windowSide; k += 2 {
			g[i][k] = halfwayOf(k, func(k int) float64 { return g[i][k] })
		}
	}
	for i := 1; i < windowSide; i += 2 {
		for k := range windowSide {
			g[i][k] = halfwayOf(i, func(i int) float64 { return g[i][k] })
		}
	}
}

// halfwayOf is the value at an odd index by its even neighbours, six where there are.
func halfwayOf(i int, at func(int) float64) float64 {
	near := at(i-1) + at(i+1)
	switch {
	case i < 3 || i > windowSide-4:
		return near / 2
	case i < 5 || i > windowSide-6:
		return (9*near - at(i-3) - at(i+3)) / 16
	}
	return (150*near - 25*(at(i-3)+at(i+3)) + 3*(at(i-5)+at(i+5))) / 256
}

// lookedFor is a window with the expected pattern around it, every second cell. What is
// not known counts 0 in all sums. Where one side is known throughout, its share of the
// sums follows from running ones, which is some times faster.
//
//	side        of the window, in steps; wide: of the pattern around it
//	now         the window, row by row, its sum in known, value and square
//	nowWhole    it is known throughout; whole: so is the pattern around it
//	around      the pattern; running: its sums above and left of each cell
type lookedFor struct {
	side, wide      int
	now, around     masked
	sum             [3]float64
	nowWhole, whole bool
	running         [3][]float64
}

// masked are cells with what is known of them (0 or 1), their values and their squares.
type masked [3][]float64

// The parts of what is masked.
const (
	isKnown = iota
	itsValue
	itsSquare
)

func (m *masked) make(n int) {
	for k := range m {
		m[k] = make([]float64, n)
	}
}

// set copies a cell of a pattern and says whether it is known.
func (m *masked) set(i int, p *pattern, x, y int) bool {
	if x < 0 || y < 0 || x >= patternSize || y >= patternSize || p.known[y*patternSize+x] == 0 {
		return false
	}
	v := float64(p.value[y*patternSize+x])
	m[isKnown][i], m[itsValue][i], m[itsSquare][i] = 1, v, v*v
	return true
}

func newLookedFor(expected, now *pattern, x, y, cells int) *lookedFor {
	steps := func(cells int) int { return (cells + everyCell - 1) / everyCell }
	l := &lookedFor{side: steps(cells), wide: steps(cells + 2*windowReach), nowWhole: true, whole: true}
	l.now.make(l.side * l.side)
	for i := range l.side * l.side {
		known := l.now.set(i, now, x+i%l.side*everyCell, y+i/l.side*everyCell)
		l.nowWhole = l.nowWhole && known
		for k := range l.sum {
			l.sum[k] += l.now[k][i]
		}
	}
	l.around.make(l.wide * l.wide)
	for i := range l.wide * l.wide {
		known := l.around.set(i, expected, x-windowReach+i%l.wide*everyCell, y-windowReach+i/l.wide*everyCell)
		l.whole = l.whole && known
	}
	for part := range l.running {
		l.running[part] = runningSums(l.around[part], l.wide)
	}
	return l
}

// runningSums are the sums above and left of each cell of a square, one row and column more.
func runningSums(cells []float64, side int) []float64 {
	out := make([]float64, (side+1)*(side+1))
	for j := range side {
		row := 0.0
		for i := range side {
			row += cells[j*side+i]
			at := (j+1)*(side+1) + i + 1
			out[at] = out[at-side-1] + row
		}
	}
	return out
}

// overlap sums up the window against the expected pattern dx, dy cells before it; both
// are even.
func (l *lookedFor) overlap(dx, dy int) sums {
	i, j := (windowReach-dx)/everyCell, (windowReach-dy)/everyCell
	product := func(theirs, ours []float64) (sum float64) {
		for row := range l.side {
			from := (j+row)*l.wide + i
			sum += rowProduct(theirs[from:from+l.side], ours[row*l.side:(row+1)*l.side])
		}
		return sum
	}
	s := sums{ab: product(l.around[itsValue], l.now[itsValue])}
	if l.nowWhole {
		block := func(running []float64) float64 {
			w, m := l.wide+1, l.side
			low, high := j*w+i, (j+m)*w+i
			return running[high+m] - running[high] - running[low+m] + running[low]
		}
		s.n, s.a, s.aa = math.Round(block(l.running[isKnown])), block(l.running[itsValue]), block(l.running[itsSquare])
	} else {
		known := l.now[isKnown]
		s.n, s.a, s.aa = product(l.around[isKnown], known), product(l.around[itsValue], known), product(l.around[itsSquare], known)
	}
	if l.whole {
		s.b, s.bb = l.sum[itsValue], l.sum[itsSquare]
	} else {
		known := l.around[isKnown]
		s.b, s.bb = product(known, l.now[itsValue]), product(known, l.now[itsSquare])
	}
	return s
}

// rowProduct is the product of two rows of the same length, four sums at a time.
func rowProduct(x, y []float64) float64 {
	var s, t, u, v float64
	y = y[:len(x)]
	for len(x) >= 4 && len(y) >= 4 {
		s += x[0] * y[0]
		t += x[1] * y[1]
		u += x[2] * y[2]
		v += x[3] * y[3]
		x, y = x[4:], y[4:]
	}
	for i := range x {
		s += x[i] * y[i]
	}
	return (s + t) + (u + v)
}

// sums are what a correlation is made of.
type sums struct{ n, a, b, aa, bb, ab float64 }

func (s *sums) correlation() float64 {
	if s.n == 0 {
		return 0
	}
	va, vb := s.aa-s.a*s.a/s.n, s.bb-s.b*s.b/s.n
	if va <= 0 || vb <= 0 {
		return 0
	}
	return (s.ab - s.a*s.b/s.n) / math.Sqrt(va*vb)
}
