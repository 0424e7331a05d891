package follow

import "slices"

// Options of Follow; the zero value is a good start.
type Options struct {
	Habits  Habits // zero: DefaultHabits
	Priors  *[natures]Prior
	NoLearn bool
}

// DefaultHabits are those of a careful record.
var DefaultHabits = Habits{Misses: 0.06, MissesAgain: 0.4, Mistakes: 0.02, Misplaced: 0.006, Company: 0.4}

func (o Options) priors() [natures]Prior {
	if o.Priors != nil {
		return *o.Priors
	}
	return priors
}

// Result is what Follow found, in order of time.
type Result struct {
	Passages []Passage
	Habits   Habits // as assumed or learnt
}

// Passage is one feature's crossing of the disc.
type Passage struct {
	Sightings []Sighting
}

var Rounds = 2

const maxSweeps = 8

// Follow joins sightings to passages.
func Follow(sightings []Sighting, opts Options) (Result, error) {
	for _, s := range sightings {
		if err := s.Validate(); err != nil {
			return Result{}, err
		}
	}
	if opts.Habits == (Habits{}) {
		opts.Habits = DefaultHabits
	}
	r := newRecord(sightings, opts)
	w := newWeb(r)
	w.search()
	for range Rounds {
		r.adopt(w.learn())
		w = newWeb(r)
		w.search()
	}
	w.adoptMisplaced()
	return w.result(), nil
}

// search joins all nodes as well as it can.
func (w *web) search() {
	w.firstRun()
	for range maxSweeps {
		if !w.sweep() {
			break
		}
	}
}

// firstRun joins each frame's nodes to the runs that are open then.
func (w *web) firstRun() {
	for f := range len(w.frames) - 1 {
		heads, _ := w.endsAt(f)
		open := heads[:0]
		for _, i := range heads {
			if w.next[i] == none {
				open = append(open, i)
			}
		}
		var tails []int
		for j := w.frames[f+1].first; j < w.frames[f+1].end; j++ {
			tails = append(tails, j)
		}
		for _, c := range w.clusters(open, tails) {
			w.settle(c)
		}
	}
}

// result gathers the runs into passages. Runs of one pin are one passage however
// far apart they are.
func (w *web) result() Result {
	res := Result{Habits: w.habits}
	ofPin := map[int]int{}
	for i := range w.nodes {
		if w.prev[i] != none {
			continue
		}
		run := w.run(i)
		pin := w.before[run[len(run)-1]].pin
		if at, known := ofPin[pin]; known && pin != 0 {
			w.extend(&res.Passages[at], run)
			continue
		}
		ofPin[pin] = len(res.Passages)
		res.Passages = append(res.Passages, Passage{})
		w.extend(&res.Passages[len(res.Passages)-1], run)
	}
	return res
}

// run lists the nodes from i on.
func (w *web) run(i int) []int {
	var nodes []int
	for ; i != none; i = w.next[i] {
		nodes = append(nodes, i)
	}
	return nodes
}

// extend adds a run's sightings to a passage, which stays in order of time.
func (w *web) extend(p *Passage, run []int) {
	for _, i := range run {
		for _, m := range w.nodes[i].members {
			p.Sightings = append(p.Sightings, w.seen[m])
		}
	}
	slices.SortStableFunc(p.Sightings, canonical)
}
