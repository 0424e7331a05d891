package follow

import (
	"context"
	"math"

	"limbwatch/coords"
)

// web holds the links between nodes and what each node knows of its run: before
// (the state after the sightings up to it) and after (the state, going back in
// time, after the sightings from it on), with the outlook from there. When its context
// ends it looks at no more frames: what it holds is then worth nothing.
type web struct {
	*record
	ctx           context.Context
	next, prev    []int
	before, after []state
	ahead, behind []outlook
	stale         []bool      // by frame: the cut after it must be looked at again
	cuts          [][]cluster // by frame: as they were when it was looked at last
	reach         []int       // by frame: the last frame within reachDays
	room          room
}

const none = -1

func newWeb(ctx context.Context, r *record) *web {
	n := len(r.nodes)
	w := &web{
		record: r, ctx: ctx,
		next: filled(n, none), prev: filled(n, none),
		before: make([]state, n), after: make([]state, n),
		ahead: make([]outlook, n), behind: make([]outlook, n),
		stale: make([]bool, len(r.frames)), cuts: make([][]cluster, len(r.frames)), reach: make([]int, len(r.frames)),
	}
	for i := range r.nodes {
		if ctx.Err() != nil {
			break
		}
		w.listenForward(i)
		w.listenBack(i)
	}
	to := 0
	for f := range r.frames {
		for to+1 < len(r.frames) && r.frames[to+1].day-r.frames[f].day <= reachDays {
			to++
		}
		w.reach[f], w.stale[f] = to, true
	}
	return w
}

// listenForward filters the run from node i to its end anew.
func (w *web) listenForward(i int) {
	for ; i != none; i = w.next[i] {
		n := &w.nodes[i]
		if h := w.prev[i]; h == none {
			w.before[i] = begin(n, w.priorOf(n.like, n.form, n), beyondLimb(-n.cmd))
		} else {
			p := w.priorOf(w.before[h].like.times(n.like), w.nodes[h].form.with(n.form), n)
			was := w.before[h].under(p)
			w.before[i] = was.at(n.day).hear(n, &was)
		}
		w.ahead[i] = w.look(&w.before[i], n, 1, w.ahead[i].seen)
	}
}

// listenBack filters the run from node i back to its start anew.
func (w *web) listenBack(i int) {
	for ; i != none; i = w.prev[i] {
		n := &w.nodes[i]
		if t := w.next[i]; t == none {
			w.after[i] = begin(n, w.priorOf(n.like, n.form, n), beyondLimb(n.cmd))
		} else {
			p := w.priorOf(w.after[t].like.times(n.like), w.nodes[t].form.with(n.form), n)
			was := w.after[t].under(p)
			w.after[i] = was.at(n.day).hear(n, &was)
		}
		w.behind[i] = w.look(&w.after[i], n, -1, w.behind[i].seen)
	}
}

// beyondLimb is how many days a feature first (last) seen so far from the meridian
// is taken to have lived before (after): near the limb it has come round it,
// and is as old as any.
func beyondLimb(cmdDeg float64) float64 {
	const roundDeg, softDeg, days = 58, 5, 9
	return days / (1 + math.Exp((roundDeg-cmdDeg)/softDeg))
}

// priorOf is the prior for a feature of which kinds of mark speak so, marked in a form,
// at a node.
func (w *web) priorOf(l likelihood, f form, n *node) *prior {
	return &w.eras[n.era].priors[l.best()][f]
}

// pinnedGain is the gain of a join that the observer made: more than all others
// together can weigh.
const pinnedGain = 1e6

// gain is the logarithm of the odds for joining node i, the last of its run, with
// node j, the first of its run, against leaving both apart.
func (w *web) gain(i, j int) float64 {
	a, b := &w.nodes[i], &w.nodes[j]
	if p, q := w.before[i].pin, w.after[j].pin; p != 0 && q != 0 {
		if p != q || b.day-a.day > reachDays { // what is farther apart is put together at the end
			return math.Inf(-1)
		}
		return pinnedGain - float64(b.frame-a.frame) // each with the next of them
	}
	steps := b.frame - a.frame - 1
	if steps >= len(w.ahead[i].seen) {
		return math.Inf(-1)
	}
	if tooFar(a, b) {
		return math.Inf(-1)
	}
	p := w.priorOf(w.before[i].like.times(w.after[j].like), a.form.with(b.form), b)
	past, future := w.before[i].under(p), w.after[j].under(p)
	carried := past.at(b.day)
	if a.curve != nil && b.curve != nil {
		lat, lon := slide(a.curve.carry(b.day-a.day, p.law, past.lon.v, past.lat.v), b.curve)
		carried.lat.x += lat
		carried.lon.x += lon
	}
	join := w.ahead[i].seen[steps] * past.like.dot(future.like) / past.like.sum() * meet(&carried, &future)
	apart := w.ahead[i].never * w.behind[j].never * w.dense.at(b).dot(future.like) *
		p.company.fresh(carried.lat.x-future.lat.x, wrap180(carried.lon.x-future.lon.x)) * newbornInView(b.cmd)
	return math.Log(join / apart)
}

// tooFar is a quick look at whether two nodes can be the same at all: centres
// farther apart than any leap and four errors are not weighed.
func tooFar(a, b *node) bool {
	const latDeg, lonDeg = 10, 25
	if dLat := a.lat - b.lat; math.Abs(dLat) > latDeg &&
		dLat*dLat > coords.Square(latDeg)+16*(a.varLat+b.varLat)+coords.Square(a.size.lat)+coords.Square(b.size.lat) {
		return true
	}
	dLon := wrap180(a.lon - b.lon)
	return math.Abs(dLon) > lonDeg &&
		dLon*dLon > coords.Square(lonDeg)+16*(a.varLon+b.varLon)+coords.Square(a.size.lon)+coords.Square(b.size.lon)
}

// cut joins the ends on both sides of the gap after frame f anew and tells
// whether anything changed.
func (w *web) cut(f int) bool {
	changed := false
	for _, c := range w.clustersAt(f) {
		if w.settle(c) {
			changed = true
		}
	}
	return changed
}

// clustersAt gives the clusters of the cut after frame f, as they are.
func (w *web) clustersAt(f int) []cluster {
	if w.stale[f] {
		w.stale[f] = false
		w.cuts[f] = w.clusters(w.endsAt(f))
	}
	return w.cuts[f]
}

// endsAt lists the nodes before the cut whose runs do not go on before it, and
// those after it whose runs do not start there earlier; but not those that, seen
// alone, have no outlook across the cut.
func (w *web) endsAt(f int) (heads, tails []int) {
	first := f
	for first > 0 && w.reach[first-1] > f {
		first--
	}
	heads, tails = w.room.heads[:0], w.room.tails[:0]
	for i := w.frames[first].first; i < w.frames[f].end; i++ {
		t := w.next[i]
		if t == none && w.before[i].pin == 0 && f-w.nodes[i].frame >= len(w.ahead[i].seen) {
			continue
		}
		if t == none || w.nodes[t].frame > f {
			heads = append(heads, i)
		}
	}
	for j := w.frames[f].end; j < w.frames[w.reach[f]].end; j++ {
		h := w.prev[j]
		if h == none && w.after[j].pin == 0 && w.nodes[j].frame-f > len(w.behind[j].seen) {
			continue
		}
		if h == none || w.nodes[h].frame <= f {
			tails = append(tails, j)
		}
	}
	w.room.heads, w.room.tails = heads, tails
	return heads, tails
}

// clusters weighs the ends of a cut against each other and splits them into clusters.
func (w *web) clusters(heads, tails []int) []cluster {
	pairs := w.room.pairs[:0]
	for a, i := range heads {
		for b, j := range tails {
			g := w.gain(i, j)
			if g <= -negligible {
				if w.next[i] != j {
					continue
				}
				g = math.Inf(-1) // must come apart
			}
			pairs = append(pairs, pair{a, b, g})
		}
	}
	w.room.pairs = pairs
	return w.room.split(heads, tails)
}

// settle puts the best joins of a cluster in place, and what both sides then know.
func (w *web) settle(c cluster) bool {
	heads, tails := w.join(c)
	for _, i := range heads {
		w.listenBack(i)
		w.unsettle(i)
	}
	for _, j := range tails {
		w.listenForward(j)
		w.unsettle(j)
	}
	return len(heads) > 0
}

// join links the best joins of a cluster. It gives the nodes whose runs go on in
// another way than before, and those whose runs come from elsewhere.
func (w *web) join(c cluster) (heads, tails []int) {
	best := c.best()
	for a, i := range c.heads {
		want := none
		if best[a] != none {
			want = c.tails[best[a]]
		}
		if have := w.next[i]; have != want {
			heads = append(heads, i)
			if have != none {
				w.prev[have] = none
				tails = append(tails, have)
			}
			w.next[i] = none
		}
	}
	for a, i := range c.heads {
		if best[a] != none && w.next[i] == none {
			j := c.tails[best[a]]
			w.next[i], w.prev[j] = j, i
			tails = append(tails, j)
		}
	}
	return heads, tails
}

// unsettle marks the cuts that a change at node i may matter for.
func (w *web) unsettle(i int) {
	first, last := i, i
	for w.prev[first] != none {
		first = w.prev[first]
	}
	for w.next[last] != none {
		last = w.next[last]
	}
	f := w.nodes[first].frame
	for f > 0 && w.reach[f-1] >= w.nodes[first].frame {
		f--
	}
	for to := w.reach[w.nodes[last].frame]; f <= to; f++ {
		w.stale[f] = true
	}
}

// sweep looks at every stale cut once, in order of time.
func (w *web) sweep() (changed bool) {
	for f := range len(w.frames) - 1 {
		if w.ctx.Err() != nil {
			return false
		}
		changed = w.stale[f] && w.cut(f) || changed
	}
	return changed
}
