package follow

import (
	"cmp"
	"math"
	"slices"
)

// Joins between these odds are doubtful: they are proposed, with their rivals.
const (
	doubtfulBelow = 0.9
	worthNaming   = 0.1
)

// weigh gives the odds of every link (by its earlier node), undoes those whose
// odds are below makeFrom, and lists the doubtful joins.
//
// The odds of a pair compare the best way to join the ends around its cut with
// that pair to the best way without it.
func (w *web) weigh(makeFrom float64) (odds []float64, proposals []Proposal) {
	odds = make([]float64, len(w.nodes))
	var unmade []int
	w.eachJoin(func(c *cluster, table [][]float64, a, b int) {
		i, j, p := c.heads[a], c.tails[b], table[a][b]
		linked := w.next[i] == j
		if linked {
			odds[i] = p
			if p < makeFrom {
				unmade = append(unmade, i)
			}
		}
		if w.pinned(i, j) || !linked && p < worthNaming || linked && p >= doubtfulBelow {
			return
		}
		proposals = append(proposals, Proposal{
			Earlier: w.sighting(i), Later: w.sighting(j), Odds: p,
			Made: linked && p >= makeFrom, Rivals: w.rivals(c, table, a, b),
		})
	})
	for _, i := range unmade {
		j := w.next[i]
		w.next[i], w.prev[j] = none, none
		w.listenForward(j)
		w.listenBack(i)
	}
	slices.SortStableFunc(proposals, func(a, b Proposal) int { return cmp.Compare(b.Odds, a.Odds) })
	return odds, proposals
}

// eachJoin gives fn every join that may be, made or not, with the odds of its cluster.
func (w *web) eachJoin(fn func(c *cluster, table [][]float64, a, b int)) {
	for f := range w.frames {
		if w.ctx.Err() != nil {
			return
		}
		for _, c := range w.clustersAt(f) {
			if !slices.ContainsFunc(c.heads, func(i int) bool { return w.nodes[i].frame == f }) {
				continue // their odds were weighed, or will be, at their own cut
			}
			table := c.odds(trust)
			for a, i := range c.heads {
				if w.nodes[i].frame != f {
					continue
				}
				for b := range c.tails {
					fn(&c, table, a, b)
				}
			}
		}
	}
}

func (w *web) sighting(i int) Sighting { return w.seen[w.nodes[i].members[0]] }

// pinned tells whether the observer put two nodes together.
func (w *web) pinned(i, j int) bool { return w.nodes[i].pin != 0 && w.nodes[i].pin == w.nodes[j].pin }

// manyPairs bounds the clusters whose odds are worked out in full; larger ones come
// of data that are not of this Sun, and must not take for ever.
const manyPairs = 400

// trust is the factor on the logarithm of the odds of a join. What the model takes
// for independent, one's place and kind and the chances of being missed, is not quite;
// on the seven years of groups at hand the share of right joins rises as if the
// logarithm were this much smaller.
const trust = 0.6

// chance turns the gain of a join over the alternative into its probability.
func chance(gain float64) float64 { return 1 / (1 + math.Exp(-gain)) }

// odds is the probability of each pair of the cluster, with a trust in the gains.
func (c *cluster) odds(trust float64) [][]float64 {
	if len(c.heads)*len(c.tails) > manyPairs {
		return c.roughOdds(trust)
	}
	table := c.noOdds()
	for a := range table {
		for b, g := range c.gain[a] {
			switch {
			case math.IsInf(g, -1):
			case len(c.heads) == 1 && len(c.tails) == 1:
				table[a][b] = chance(trust * g)
			default:
				table[a][b] = chance(trust * (c.forced(a, b) - c.without(a, b)))
			}
		}
	}
	return table
}

func (c *cluster) noOdds() [][]float64 {
	cells := make([]float64, len(c.heads)*len(c.tails))
	table := make([][]float64, len(c.heads))
	for a := range table {
		table[a], cells = cells[:len(c.tails)], cells[len(c.tails):]
	}
	return table
}

// roughOdds weighs each pair against those that share an end with it, and no further:
// with the odds e^g of each pair, a pair's is its own against those of its head's others,
// its tail's others, and 1 for none.
func (c *cluster) roughOdds(trust float64) [][]float64 {
	table := c.noOdds() // of e^g, in units of the greatest
	most := math.Inf(-1)
	for _, gains := range c.gain {
		most = max(most, slices.Max(gains))
	}
	none := math.Exp(-trust * most)
	ofHead, ofTail := make([]float64, len(c.heads)), make([]float64, len(c.tails))
	for a, gains := range c.gain {
		for b, g := range gains {
			if !math.IsInf(g, -1) {
				w := math.Exp(trust * (g - most))
				table[a][b] = w
				ofHead[a] += w
				ofTail[b] += w
			}
		}
	}
	for a := range table {
		for b, w := range table[a] {
			if w > 0 {
				others := none + max(0, ofHead[a]-w) + max(0, ofTail[b]-w)
				table[a][b] = w / (w + others)
			}
		}
	}
	return table
}

// total is the gain of the best joins.
func (c *cluster) total() float64 {
	sum := 0.0
	for a, b := range c.best() {
		if b != none {
			sum += c.gain[a][b]
		}
	}
	return sum
}

// without is the best total when a pair is forbidden.
func (c *cluster) without(a, b int) float64 {
	g := c.gain[a][b]
	c.gain[a][b] = math.Inf(-1)
	sum := c.total()
	c.gain[a][b] = g
	return sum
}

// forced is the best total when a pair is joined, whatever it costs.
func (c *cluster) forced(a, b int) float64 {
	rest := cluster{tails: slices.Delete(slices.Clone(c.tails), b, b+1)}
	for k, gains := range c.gain {
		if k != a {
			rest.heads = append(rest.heads, c.heads[k])
			rest.gain = append(rest.gain, slices.Delete(slices.Clone(gains), b, b+1))
		}
	}
	return c.gain[a][b] + rest.total()
}

// rivals lists the pairs that share an end with pair a, b.
func (w *web) rivals(c *cluster, table [][]float64, a, b int) []Rival {
	const least = 0.02
	var out []Rival
	for k := range c.heads {
		for l := range c.tails {
			if (k == a) != (l == b) && table[k][l] >= least {
				out = append(out, Rival{w.sighting(c.heads[k]), w.sighting(c.tails[l]), table[k][l]})
			}
		}
	}
	slices.SortStableFunc(out, func(x, y Rival) int { return cmp.Compare(y.Odds, x.Odds) })
	return out
}
