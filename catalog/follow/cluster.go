package follow

import (
	"math"

	"limbwatch/catalog"
)

// cluster is a set of ends that compete with each other and with no others:
// gains by head and tail, −Inf where a join is not possible.
type cluster struct {
	heads, tails []int
	gain         [][]float64
}

// room is memory that is used again from cut to cut.
//
//	heads, tails  ends of the cut
//	pairs         joins that may be
//	group         which ends are of one cluster, heads first
//	at            by end that stands for its cluster: which one that is
//	place         by end: its place among the heads or tails of its cluster
type room struct {
	heads, tails []int
	pairs        []pair
	group        catalog.Oneness
	at, place    []int
}

// pair is a join that may be: places in lists of heads and tails, and its gain.
type pair struct {
	head, tail int
	gain       float64
}

// split gathers the pairs in clusters that do not touch.
func (r *room) split(heads, tails []int) []cluster {
	r.group, r.at, r.place = r.group.Apart(len(heads)+len(tails)), r.at[:0], r.place[:0]
	for range r.group {
		r.at, r.place = append(r.at, none), append(r.place, none)
	}
	for _, p := range r.pairs {
		r.group.Join(p.head, len(heads)+p.tail)
	}
	var sizes [][2]int // heads, tails
	for _, p := range r.pairs {
		g := r.group.Of(p.head)
		if r.at[g] == none {
			r.at[g] = len(sizes)
			sizes = append(sizes, [2]int{})
		}
		for side, end := range [2]int{p.head, len(heads) + p.tail} {
			if r.place[end] == none {
				r.place[end] = sizes[r.at[g]][side]
				sizes[r.at[g]][side]++
			}
		}
	}
	out := clustersOf(sizes)
	for _, p := range r.pairs {
		c, a, b := &out[r.at[r.group.Of(p.head)]], r.place[p.head], r.place[len(heads)+p.tail]
		c.heads[a], c.tails[b], c.gain[a][b] = heads[p.head], tails[p.tail], p.gain
	}
	return out
}

// clustersOf are clusters of given numbers of heads and tails, with no join possible
// yet. The members and gains of all lie in one piece each.
func clustersOf(sizes [][2]int) []cluster {
	members, rows, cells := 0, 0, 0
	for _, n := range sizes {
		members, rows, cells = members+n[0]+n[1], rows+n[0], cells+n[0]*n[1]
	}
	out := make([]cluster, len(sizes))
	ends, gains, gain := make([]int, members), make([][]float64, rows), make([]float64, cells)
	for i := range gain {
		gain[i] = math.Inf(-1)
	}
	for k, n := range sizes {
		c := &out[k]
		c.heads, ends = ends[:n[0]:n[0]], ends[n[0]:]
		c.tails, ends = ends[:n[1]:n[1]], ends[n[1]:]
		c.gain, gains = gains[:n[0]:n[0]], gains[n[0]:]
		for a := range c.gain {
			c.gain[a], gain = gain[:n[1]:n[1]], gain[n[1]:]
		}
	}
	return out
}

// negligible is the loss beyond which a join is not even a rival (e^−7, a
// chance of one in a thousand).
const negligible = 7

// best gives each head of the cluster its tail, or none, so that the sum of the
// gains is greatest.
func (c *cluster) best() []int {
	if len(c.heads) == 1 || len(c.tails) == 1 {
		return c.bestPair()
	}
	cost := make([][]float64, len(c.heads))
	for a, gains := range c.gain {
		row := make([]float64, len(c.tails)+len(c.heads))
		for b, g := range gains {
			if row[b] = forbidden; g > 0 {
				row[b] = -g
			}
		}
		for b := range c.heads {
			if b != a {
				row[len(c.tails)+b] = forbidden
			}
		}
		cost[a] = row
	}
	tail := assign(cost)
	for a, b := range tail {
		if b >= len(c.tails) {
			tail[a] = none
		}
	}
	return tail
}

// bestPair is best where there is one head, or one tail: only one join can be.
func (c *cluster) bestPair() []int {
	tail, most, head := filled(len(c.heads), none), 0.0, none
	for a, gains := range c.gain {
		for b, g := range gains {
			if g > most {
				if head != none {
					tail[head] = none
				}
				most, head, tail[a] = g, a, b
			}
		}
	}
	return tail
}
