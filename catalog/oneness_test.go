package catalog

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/graph/simple"
	"gonum.org/v1/gonum/graph/topo"
)

// What is one is what gonum finds to hang together.
func TestOnenessIsHangingTogether(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var o Oneness
	for range 200 {
		n := 1 + rng.IntN(30)
		o = o.Apart(n)
		g := simple.NewUndirectedGraph()
		for i := range n {
			g.AddNode(simple.Node(i))
		}
		for range rng.IntN(n) {
			i, j := rng.IntN(n), rng.IntN(n)
			o.Join(i, j)
			if i != j {
				g.SetEdge(simple.Edge{F: simple.Node(i), T: simple.Node(j)})
			}
		}
		part := map[int64]int{}
		for k, nodes := range topo.ConnectedComponents(g) {
			for _, node := range nodes {
				part[node.ID()] = k
			}
		}
		for i := range n {
			for j := range n {
				require.Equal(t, part[int64(i)] == part[int64(j)], o.Of(i) == o.Of(j))
			}
		}
	}
}
