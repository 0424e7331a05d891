package sample_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"limbwatch/coords/sample"
)

func TestBilinearIsExactForAPlaneWithATwist(t *testing.T) {
	// The only surfaces that are straight along both directions: a + bx + cy + dxy.
	rng := rand.New(rand.NewPCG(1, 9))
	const width, height = 7, 5
	for range 200 {
		a, b, c, d := rng.Float64(), rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		level := func(x, y float64) float64 { return a + b*x + c*y + d*x*y }
		grid := make([]float64, width*height)
		for i := range grid {
			grid[i] = level(float64(i%width), float64(i/width))
		}
		x, y := 10*rng.Float64()-1, 8*rng.Float64()-1
		got, ok := sample.Grid(grid, width, x, y)
		require.Equal(t, x >= 0 && x < width-1 && y >= 0 && y < height-1, ok, "%v, %v", x, y)
		if ok {
			assert.InDelta(t, level(x, y), got, 1e-11)
		}
	}
	_, ok := sample.Grid([]float32{1, 2, 3, 4}, 2, 0, 0)
	assert.True(t, ok)
	for _, at := range [][2]float64{{1, 0}, {0, 1}, {-1e-9, 0}, {1e300, 0}, {0, 1e300}} {
		_, ok = sample.Grid([]float32{1, 2, 3, 4}, 2, at[0], at[1])
		assert.False(t, ok, "%v", at)
	}
}

// Of values in order, gonum's empirical quantile is the first that so great a share does
// not exceed: the median of an odd number of them is the same.
func TestMiddleAndQuantiles(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 8))
	for range 500 {
		values := make([]float64, 1+rng.IntN(30))
		for i := range values {
			values[i] = float64(rng.IntN(12)) // with equals among them
		}
		before := slices.Clone(values)
		sorted := slices.Sorted(slices.Values(values))
		assert.Equal(t, sorted[len(sorted)/2], sample.Median(values))
		assert.Equal(t, sorted[0], sample.Quantile(values, 0))
		assert.Equal(t, sorted[len(sorted)-1], sample.Quantile(values, 1))
		if len(values)%2 == 1 {
			assert.Equal(t, stat.Quantile(0.5, stat.Empirical, sorted, nil), sample.Median(values))
			assert.Equal(t, sample.Median(values), sample.Quantile(values, 0.5))
		}
		require.Equal(t, before, values)
	}
	assert.Zero(t, sample.Median[float64](nil))
	assert.Zero(t, sample.Quantile[uint16](nil, 0.5))
}
