package north

import (
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// A window is a piece of the disc, a square of so many cells, that is looked for in the
// new picture by itself, within windowReach cells of where it should stand.
const (
	windowReach = 14
	windowSide  = 2*windowReach + 1
)

// cut is how the disc is cut into windows: their side, and how far their middles are
// apart at least, across or down, both in cells.
type cut struct{ cells, apart int }

// window is what one piece of the disc says about where its pattern lies.
//
//	likely  likelihood of each move (right, down) in cells; 1 on the average
//	u, v    where it lies, radii from the disc's centre
//	west    how it moves, in cells, when the pattern moves west by a radian; north likewise
//	sinLat  sine of its latitude
//	axis    how it moves, in cells, when the earlier picture's north is turned
//	        counter-clockwise by a radian; 0 where that north is known
type window struct {
	likely      [windowSide * windowSide]float64
	u, v        float64
	west, north [2]float64
	sinLat      float64
	axis        [2]float64
}

// look finds the windows and their likelihoods. The strongest pieces of pattern come
// first, so that each has a window of its own and is not cut by the edges of several.
func (k cut) look(view disc.View, expected, now *pattern) []window {
	left := &strengths{cells: k.sharedStrength(expected, now)}
	left.reckon(0, patternSize)
	var windows []window
	for {
		x, y, ok := left.strongest()
		if !ok {
			return windows
		}
		k.forget(left, x, y)
		place := view.Place(view.Limb.At(unitOf(x), unitOf(y)), 0, disc.Height{})
		if place.Where != disc.OnDisc {
			continue
		}
		h := place.Photosphere.Heliographic
		w := window{
			u: unitOf(x), v: unitOf(y), sinLat: h.B.Sin(),
			west:  moveWith(view, h, coords.Heliographic{L: 1}),
			north: moveWith(view, h, coords.Heliographic{B: 1}),
		}
		if w.search(expected, now, x-k.cells/2, y-k.cells/2, k.cells) {
			windows = append(windows, w)
		}
	}
}

// sharedStrength is how strong the weaker of two patterns is about each cell, where a
// window may lie.
func (k cut) sharedStrength(a, b *pattern) []float32 {
	one, other := a.squares(k.cells/3), b.squares(k.cells/3)
	for i := range one {
		u, v := unitOf(i%patternSize), unitOf(i/patternSize)
		one[i] = min(one[i], other[i])
		if math.Hypot(u, v) > outermost-0.05 || a.known[i] == 0 {
			one[i] = 0
		}
	}
	return one
}

// squares is the mean square of the pattern about each cell, half cells each way.
func (p *pattern) squares(half int) []float32 {
	out := make([]float32, len(p.value))
	for i, v := range p.value {
		out[i] = v * v * p.known[i]
	}
	boxMean(out, half)
	return out
}

// forget leaves no room for another window too near to one.
func (k cut) forget(s *strengths, x, y int) {
	first, end := max(0, y-k.apart+1), min(patternSize, y+k.apart)
	for cy := first; cy < end; cy++ {
		for cx := max(0, x-k.apart+1); cx < min(patternSize, x+k.apart); cx++ {
			s.cells[cy*patternSize+cx] = 0
		}
	}
	s.reckon(first, end)
}

// strengths of a pattern, cell by cell, with the column of the strongest cell of each row.
type strengths struct {
	cells []float32
	best  [patternSize]int
}

// reckon finds the strongest cells of some rows anew.
func (s *strengths) reckon(first, end int) {
	for y := first; y < end; y++ {
		row, best := s.cells[y*patternSize:(y+1)*patternSize], 0
		for x, v := range row {
			if v > row[best] {
				best = x
			}
		}
		s.best[y] = best
	}
}

// strongest is the strongest cell of all; false where none is left.
func (s *strengths) strongest() (x, y int, ok bool) {
	most := float32(0)
	for row, column := range s.best {
		if v := s.cells[row*patternSize+column]; v > most {
			most, x, y, ok = v, column, row, true
		}
	}
	return x, y, ok
}

// moveWith is by how many cells a place moves in the picture for a radian along.
func moveWith(view disc.View, at, along coords.Heliographic) [2]float64 {
	const d = 1e-4
	p, _ := view.Project(at, 0)
	q, _ := view.Project(coords.Heliographic{B: at.B + d*along.B, L: at.L + d*along.L}, 0)
	u0, v0 := view.Limb.Unit(p)
	u1, v1 := view.Limb.Unit(q)
	return [2]float64{(u1 - u0) / d * cellsPerRadius, (v1 - v0) / d * cellsPerRadius}
}
