package north

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// noisePattern is noise, unknown beyond a radius and where holes are asked for.
func noisePattern(rng *rand.Rand, radius float64, holes bool) *pattern {
	p := &pattern{value: make([]float32, patternSize*patternSize), known: make([]float32, patternSize*patternSize)}
	for i := range p.value {
		u, v := unitOf(i%patternSize), unitOf(i/patternSize)
		if u*u+v*v < radius*radius && !(holes && rng.IntN(20) == 0) {
			p.value[i], p.known[i] = float32(rng.NormFloat64()), 1
		}
	}
	return p
}

// summedUp is what a window's sums are, cell by cell.
func summedUp(expected, now *pattern, x, y, cells, dx, dy int) (s sums) {
	for cy := y; cy < y+cells; cy += everyCell {
		for cx := x; cx < x+cells; cx += everyCell {
			ex, ey := cx-dx, cy-dy
			if min(cx, cy, ex, ey) < 0 || max(cx, cy, ex, ey) >= patternSize {
				continue
			}
			i, j := ey*patternSize+ex, cy*patternSize+cx
			if expected.known[i] == 0 || now.known[j] == 0 {
				continue
			}
			a, b := float64(expected.value[i]), float64(now.value[j])
			s.n, s.a, s.b, s.aa, s.bb, s.ab = s.n+1, s.a+a, s.b+b, s.aa+a*a, s.bb+b*b, s.ab+a*b
		}
	}
	return s
}

func TestSumsOfAWindow(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	for name, p := range map[string][2]*pattern{
		"known everywhere":        {noisePattern(rng, 2, false), noisePattern(rng, 2, false)},
		"within a disc":           {noisePattern(rng, 0.8, false), noisePattern(rng, 2, false)},
		"the later within a disc": {noisePattern(rng, 2, false), noisePattern(rng, 0.8, false)},
		"with holes":              {noisePattern(rng, 0.9, true), noisePattern(rng, 0.9, true)},
	} {
		for _, at := range [][3]int{{180, 150, 40}, {-5, 170, 60}, {330, 300, 80}, {45, 61, 79}} {
			x, y, cells := at[0], at[1], at[2]
			l := newLookedFor(p[0], p[1], x, y, cells)
			for dy := -windowReach; dy <= windowReach; dy += 4 {
				for dx := -windowReach; dx <= windowReach; dx += 2 {
					want, got := summedUp(p[0], p[1], x, y, cells, dx, dy), l.overlap(dx, dy)
					assert.Equal(t, want.n, got.n, "%s, %v moved by %d, %d", name, at, dx, dy)
					for _, pair := range [][2]float64{{want.a, got.a}, {want.b, got.b}, {want.aa, got.aa}, {want.bb, got.bb}, {want.ab, got.ab}} {
						assert.InDelta(t, pair[0], pair[1], 1e-6, "%s, %v moved by %d, %d", name, at, dx, dy)
					}
				}
			}
		}
	}
}

// What is read off between the moves that are worked out is what would be found there.
func TestMovesBetween(t *testing.T) {
	peak := func(x, y float64) float64 { return math.Exp(-(x*x + y*y) / (2 * 2.8 * 2.8)) } // as wide as the blur alone makes it
	var g movesGrid
	for i := 0; i < windowSide; i += 2 {
		for k := 0; k < windowSide; k += 2 {
			g[i][k] = peak(float64(k)-13.3, float64(i)-10.8)
		}
	}
	g.fill()
	for i := range windowSide {
		for k := range windowSide {
			assert.InDelta(t, peak(float64(k)-13.3, float64(i)-10.8), g[i][k], 0.02, "%d, %d", i, k)
		}
	}
}
