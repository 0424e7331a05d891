package follow

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// simplexCost is the least cost of giving each row a column, by linear
// programming: the vertices of the assignment polytope are assignments (Birkhoff
// 1946), so the optimum of the relaxed problem is one.
func simplexCost(t *testing.T, cost [][]float64) float64 {
	rows, cols := len(cost), len(cost[0])
	n := rows*cols + cols // a slack for each column: it may stay free
	c := make([]float64, n)
	a := mat.NewDense(rows+cols, n, nil)
	b := make([]float64, rows+cols)
	for i := range rows {
		b[i] = 1
		for j := range cols {
			c[i*cols+j] = cost[i][j]
			a.Set(i, i*cols+j, 1)
			a.Set(rows+j, i*cols+j, 1)
		}
	}
	for j := range cols {
		b[rows+j] = 1
		a.Set(rows+j, rows*cols+j, 1)
	}
	best, _, err := lp.Simplex(c, a, b, 1e-10, nil)
	require.NoError(t, err, "gonum's Simplex")
	return best
}

func TestAssignIsAsCheapAsLinearProgramming(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for trial := range 60 {
		rows := 1 + rng.IntN(6)
		cols := rows + 1 + rng.IntN(4)
		cost := make([][]float64, rows)
		for i := range cost {
			cost[i] = make([]float64, cols)
			for j := range cost[i] {
				cost[i][j] = rng.NormFloat64() * 5
			}
		}
		got, used := 0.0, map[int]bool{}
		for i, j := range assign(cost) {
			require.False(t, used[j], "trial %d: column %d given twice", trial, j)
			used[j] = true
			got += cost[i][j]
		}
		want := simplexCost(t, cost)
		assert.InDelta(t, want, got, 1e-7, "trial %d: %d rows, %d columns, cost of the assignment", trial, rows, cols)
	}
}

func TestAssignRespectsForbiddenPairs(t *testing.T) {
	x := forbidden
	for _, c := range []struct {
		name string
		cost [][]float64
		want []int
	}{
		{"the cheap column is forbidden to one", [][]float64{{x, 5}, {1, 2}}, []int{1, 0}},
		{"a row without any column stays alone", [][]float64{{x, x, x}, {1, 0, 4}}, []int{-1, 1}},
		{"no rows", nil, nil},
		{"a chain of exchanges", [][]float64{{1, 2, x}, {1, x, 3}, {1, 2, 9}}, nil},
	} {
		got := assign(c.cost)
		if c.want != nil || c.cost == nil {
			assert.Equal(t, c.want, got, c.name)
			continue
		}
		sum := 0.0
		for i, j := range got {
			sum += c.cost[i][j]
		}
		assert.False(t, math.IsInf(sum, 0), c.name)
		assert.Equal(t, 6.0, sum, c.name) // 1→2, 2→3, 3→1 by hand: 2 + 3 + 1
	}
}
