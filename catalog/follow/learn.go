package follow

import (
	"context"
	"math"
	"slices"
	"time"

	"limbwatch/coords"
)

// learnFrom follows a record, or fair parts of a long one, and reads its habits off
// the passages found: roughly, with the usual ones assumed, and again with those found.
// Observers change, and records are brought together: each era has its own.
func learnFrom(ctx context.Context, sightings []Sighting, opts Options) Habits {
	ordered := slices.Clone(sightings)
	slices.SortStableFunc(ordered, func(a, b Sighting) int { return a.UTC.Compare(b.UTC) })
	var h Habits
	for _, part := range erasOf(ordered) {
		if ctx.Err() != nil {
			break
		}
		w := newWeb(ctx, newRecord(ctx, sampleOf(part), Options{Law: opts.Law}))
		w.firstRun()
		w.adopt(Habits{Eras: []Era{w.learn()}})
		w = newWeb(ctx, w.record)
		w.search()
		e := w.learn()
		e.From, e.To = part[0].UTC, part[len(part)-1].UTC
		h.Eras = append(h.Eras, e)
	}
	return h
}

// How a record is cut into eras: where nothing was seen for two rotations (but not
// into scraps), and where one has become long.
const (
	eraGap        = 55 * 24 * time.Hour
	leastOfAnEra  = 300
	longestOfEras = 24000
)

// erasOf cuts sightings in order of time.
func erasOf(ordered []Sighting) [][]Sighting {
	var out [][]Sighting
	start := 0
	for i := 1; i < len(ordered); i++ {
		gap := ordered[i].UTC.Sub(ordered[i-1].UTC)
		long := i-start >= longestOfEras && gap > 0
		if long || gap > eraGap && i-start >= leastOfAnEra && len(ordered)-i >= leastOfAnEra {
			out = append(out, ordered[start:i])
			start = i
		}
	}
	if start < len(ordered) {
		out = append(out, ordered[start:])
	}
	return out
}

// The part of a long era from which habits are learnt: every second, third … of
// its stretches of two months.
const (
	enoughSightings = 6000
	stretchDays     = 60.0
)

// sampleOf is an era, or about enoughSightings of a longer one, in order of time.
func sampleOf(ordered []Sighting) []Sighting {
	every := (len(ordered) + enoughSightings - 1) / enoughSightings
	if every <= 1 {
		return ordered
	}
	from := daysOf(ordered[0].UTC)
	var out []Sighting
	for _, s := range ordered {
		if int((daysOf(s.UTC)-from)/stretchDays)%every == 0 {
			out = append(out, s)
		}
	}
	return out
}

// learn reads the habits of a record of one era off the runs found with the habits
// assumed: how rough the places are, how often features are missed and how long
// they live. Every join that may be counts by its odds, made or not: one that is doubtful
// tells little, but what it tells is heard, or the record would seem to move as was
// assumed. What was assumed counts
// as much as a few dozen observations, so that a short record changes it little.
func (w *web) learn() Era {
	h, joins := w.eras[0].Era, w.joins()
	for t := range h.Fortunes {
		if w.ctx.Err() != nil {
			return h
		}
		h.Fortunes[t].Rough, h.Fortunes[t].Jumpy = w.motion(nature(t), joins)
		h.Fortunes[t].DiesYoung, h.Fortunes[t].DiesOld = w.deaths(nature(t), joins)
	}
	h.Mistakes = w.mistakes(joins)
	h.Misses, h.MissesAgain = w.misses(joins)
	return h
}

// joins lists all joins that may be, with their odds.
func (w *web) joins() (all []join) {
	const hardly = 0.01 // many such must not take for ever
	w.eachJoin(func(c *cluster, table [][]float64, a, b int) {
		if p := table[a][b]; p >= hardly {
			all = append(all, join{c.heads[a], c.tails[b], p})
		}
	})
	return all
}

// join is a pair of nodes that may be the same feature, with the odds.
type join struct {
	head, tail int
	odds       float64
}

// The factors that are tried.
var (
	roughs  = []float64{0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.4, 1.6, 1.8, 2.1, 2.5}
	jumpies = []float64{0.1, 0.2, 0.35, 0.5, 0.7, 1, 1.2, 1.4}
)

// almostNever bounds what a single link, perhaps a wrong one, can say: one place in
// a milliard square degrees.
const almostNever = 1e-9

// motion gives the factors on wandering and on jumps under which the links of a
// nature are most probable, each predicted from the state before it: first the
// one, then the other.
func (w *web) motion(t nature, joins []join) (rough, jumpy float64) {
	const trust = 8 // links that what was assumed is worth
	var own []join
	for _, j := range joins {
		if w.before[j.head].like.times(w.nodes[j.tail].like).best() == t {
			own = append(own, j)
		}
	}
	was := w.eras[0].Fortunes[t]
	fit := func(rough, jumpy float64) float64 {
		stirred := w.assumed[t]
		for f := range stirred {
			stirred[f].motion.stir(rough, jumpy)
		}
		sum := -trust * (coords.Square(math.Log(rough/was.Rough)) + coords.Square(math.Log(jumpy/was.Jumpy))/4)
		for _, j := range own {
			n := &w.nodes[j.tail]
			p := &stirred[w.nodes[j.head].form.with(n.form)]
			past, now := w.before[j.head].under(p).at(n.day), begin(n, p, 0)
			sum += j.odds * math.Log(meet(&past, &now)+almostNever)
		}
		return sum
	}
	rough = climb(roughs, was.Rough, func(v float64) float64 { return fit(v, was.Jumpy) })
	jumpy = climb(jumpies, was.Jumpy, func(v float64) float64 { return fit(rough, v) })
	return rough, jumpy
}

// climb is the value, of a rising list, from which f falls on both sides, reached from
// the value nearest to where it starts.
func climb(values []float64, start float64, f func(float64) float64) float64 {
	at := 0
	for k, v := range values {
		if math.Abs(v-start) < math.Abs(values[at]-start) {
			at = k
		}
	}
	here := f(values[at])
	for _, step := range []int{1, -1} {
		moved := false
		for k := at + step; k >= 0 && k < len(values); k += step {
			there := f(values[k])
			if there <= here {
				break
			}
			at, here, moved = k, there, true
		}
		if moved {
			break
		}
	}
	return values[at]
}

// deaths counts, well inside the disc, how often features were not seen again,
// by how long they had been seen.
func (w *web) deaths(t nature, joins []join) (young, old float64) {
	const trustDays, insideDeg = 15.0, 55.0
	goesOn := make([]float64, len(w.nodes))
	for _, j := range joins {
		goesOn[j.head] += j.odds
	}
	p := &w.eras[0].priors[t][loose]
	youngDays, oldDays := trustDays, trustDays
	young, old = trustDays*p.diesYoung, trustDays*p.diesOld
	for i := range w.nodes {
		n, s := &w.nodes[i], &w.before[i]
		if s.like.best() != t || n.frame+1 == len(w.frames) {
			continue
		}
		dt := w.frames[n.frame+1].day - n.day
		if dt > 1.7 || math.Abs(n.cmd) > insideDeg || n.cmd+13.2*dt > insideDeg {
			continue
		}
		died := max(0, 1-goesOn[i])
		switch {
		case s.lasted < 0.5:
			young, youngDays = young+died, youngDays+dt
		case s.lasted > 2*p.youth:
			old, oldDays = old+died, oldDays+dt
		}
	}
	return min(1, young/youngDays), min(0.5, old/oldDays)
}

// misses counts, inside runs and well inside the disc, the frames that lack the
// feature: those after a frame that has it, and those after one that lacks it.
func (w *web) misses(joins []join) (first, again float64) {
	const trust, insideDeg = 20.0, 60.0
	first, again = trust*w.eras[0].Misses, trust*w.eras[0].MissesAgain
	chances, chancesAgain := trust, trust
	for _, j := range joins {
		a, b := &w.nodes[j.head], &w.nodes[j.tail]
		if math.Abs(a.cmd) > insideDeg || math.Abs(b.cmd) > insideDeg {
			continue
		}
		t := w.before[j.head].like.times(b.like).best()
		skipped := 0.0
		for f := a.frame + 1; f < b.frame; f++ {
			skipped += w.frames[f].share[t]
		}
		chances += j.odds
		if skipped > 0.5 {
			first += j.odds
			again += j.odds * max(0, skipped-1)
			chancesAgain += j.odds * skipped
		}
	}
	return first / chances, again / chancesAgain
}

// mistakes is the share of marks whose kind does not fit what their run is.
func (w *web) mistakes(joins []join) float64 {
	const trust = 100.0
	wrong, all := trust*w.eras[0].Mistakes, trust
	odds := make([]float64, len(w.nodes)) // of the joins that are made, by the earlier node
	for _, j := range joins {
		if w.next[j.head] == j.tail {
			odds[j.head] = j.odds
		}
	}
	for i := range w.nodes {
		if w.prev[i] != none || w.next[i] == none {
			continue
		}
		run := w.run(i)
		if len(run) < 3 {
			continue
		}
		truth := w.before[run[len(run)-1]].like.best()
		for k, j := range run {
			belongs := odds[run[max(0, k-1)]] // the first by its join with the next
			all += belongs
			if w.nodes[j].like.best() != truth {
				wrong += belongs
			}
		}
	}
	return wrong / all
}
