package follow

import (
	"cmp"
	"math"
	"slices"

	"limbwatch/coords"
)

// A mark may simply stand in the wrong place: a longitude misread by ten degrees,
// a hemisphere confused, a figure mistyped. Such a mark fits no passage, and it
// is seen but once, while just then a passage nearby is missed although it was
// seen before and after. When that is more probable than a feature of one day
// and a missed one by coincidence, the mark is put into the passage as a
// misplaced one; its place tells the passage nothing.
//
// The figures are rough: most slips touch one coordinate and leave the other
// right (common practice, no source; the daily tables of groups look so).
const (
	misreadLonDeg = 20 // when only the longitude is wrong
	misreadLatDeg = 8  // when only the latitude is wrong
)

// misplacement says that node x may belong between i and the node after it.
type misplacement struct {
	x, i int
	gain float64
}

// adoptMisplaced puts lone nodes into runs that lack one in their frame, and enters
// the odds of that.
func (w *web) adoptMisplaced(odds []float64) {
	var found []misplacement
	for x := range w.nodes {
		if w.next[x] == none && w.prev[x] == none && w.nodes[x].pin == 0 {
			found = append(found, w.gapsFor(x)...)
		}
	}
	slices.SortStableFunc(found, func(a, b misplacement) int { return cmp.Compare(b.gain, a.gain) })
	for _, m := range found {
		j := w.next[m.i]
		f := w.nodes[m.x].frame
		if w.nodes[m.x].misplaced || j == none || w.nodes[m.i].frame >= f || w.nodes[j].frame <= f {
			continue // used up by a better one
		}
		w.nodes[m.x].misplaced = true
		meant := chance(trust * m.gain)
		odds[m.x], odds[m.i] = odds[m.i]*meant, meant
		w.next[m.i], w.prev[m.x] = m.x, m.i
		w.next[m.x], w.prev[j] = j, m.x
		w.listenForward(m.x)
		w.listenBack(m.x)
	}
}

// gapsFor lists the runs into which a lone node may have been meant.
func (w *web) gapsFor(x int) []misplacement {
	n := &w.nodes[x]
	var found []misplacement
	for f := n.frame - 1; f >= 0 && w.reach[f] > n.frame; f-- {
		for i := w.frames[f].first; i < w.frames[f].end; i++ {
			if j := w.next[i]; j != none && w.nodes[j].frame > n.frame {
				if g := w.misplacedGain(i, x, j); g > 0 {
					found = append(found, misplacement{x, i, g})
				}
			}
		}
	}
	return found
}

// misplacedGain is the logarithm of the odds that node x was meant as a sighting
// between i and j, against one missed there and a feature seen but once.
func (w *web) misplacedGain(i, x, j int) float64 {
	n := &w.nodes[x]
	p := w.priorOf(w.before[i].like, w.nodes[i].form.with(n.form), n)
	s := w.before[i].under(p).at(n.day)
	dLon, dLat := wrap180(n.lon-s.lon.x), n.lat-s.lat.x
	rLon, rLat := s.lon.xx+p.varLon(n), s.lat.xx+p.varLat(n)
	place := (normal(dLon, coords.Square(misreadLonDeg))*normal(dLat, rLat) +
		normal(dLon, rLon)*normal(dLat, coords.Square(misreadLatDeg))) / 2

	meant := *n
	meant.lon, meant.lat, meant.cmd = s.lon.x, s.lat.x, n.cmd-dLon
	onward := w.look(&s, &meant, 1, nil).seen
	to, from := w.nodes[j].frame-n.frame-1, n.frame-w.nodes[i].frame-1
	skip := w.nodes[j].frame - w.nodes[i].frame - 1
	if to >= len(onward) || skip >= len(w.ahead[i].seen) {
		return math.Inf(-1)
	}
	like := s.like.dot(n.like) / s.like.sum()
	dense := w.dense.at(n)
	return math.Log(w.eras[n.era].Misplaced * like * place * w.ahead[i].seen[from] * onward[to] / w.ahead[i].seen[skip] /
		(dense.dot(n.like) * w.behind[x].never * w.ahead[x].never))
}
