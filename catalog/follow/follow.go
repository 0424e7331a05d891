package follow

import (
	"context"

	"limbwatch/coords/rotation"
)

// Options of Follow; the zero value is a good start.
//
//	Law       the law by which everything turns; nil: each kind by its own
//	Habits    of the record; nil: learnt from it. Give those of the whole record
//	          when only a part is followed, so that the same is found
//	Around    what was seen before and after, when only a part of a record is followed:
//	          it is joined to nothing, but tells how many features there are
//	MakeFrom  odds from which a join is made, others are proposed; 0 means 0.5
type Options struct {
	Law      *rotation.Law
	Habits   *Habits
	Around   []Glimpse
	MakeFrom float64
}

// Result is what Follow found.
//
//	Passages   in order of their first sighting; every sighting is in just one
//	Proposals  joins that are doubtful, made or not, the most probable first
//	Habits     as given or learnt
//	Shifts     looks whose clock seems wrong, in order of time
type Result struct {
	Passages  []Passage
	Proposals []Proposal
	Habits    Habits
	Shifts    []Shift
}

// maxSweeps is far more than are needed: two or three, as a rule.
const maxSweeps = 8

// Follow joins sightings to passages. The error says which sighting cannot be
// used and why; it is that of the context when that ends before all is followed.
func Follow(ctx context.Context, sightings []Sighting, opts Options) (Result, error) {
	for _, s := range sightings {
		if err := s.Validate(); err != nil {
			return Result{}, err
		}
	}
	if err := ctx.Err(); err != nil {
		return Result{}, err
	}
	if opts.Habits == nil || len(opts.Habits.Eras) == 0 {
		habits := learnFrom(ctx, sightings, opts)
		if err := ctx.Err(); err != nil {
			return Result{}, err
		}
		opts.Habits = &habits
	}
	w := newWeb(ctx, newRecord(ctx, sightings, opts))
	if err := ctx.Err(); err != nil { // a record read in part would look like one joined by hand
		return Result{}, err
	}
	if w.joinPins() {
		odds := make([]float64, len(w.nodes)) // the observer's word: result gives 1
		if err := w.sound(odds); err != nil {
			return Result{}, err
		}
		return w.result(odds, nil), nil
	}
	w.search()
	odds, proposals := w.weigh(opts.makeFrom())
	if err := ctx.Err(); err != nil { // what was left undone is found out here, once
		return Result{}, err
	}
	if err := w.sound(odds); err != nil {
		return Result{}, err
	}
	w.adoptMisplaced(odds)
	return w.result(odds, proposals), nil
}

func (o Options) makeFrom() float64 {
	if o.MakeFrom == 0 {
		return 0.5
	}
	return o.MakeFrom
}

// joinPins joins each node with the next of its passage where the observer put every one
// into a passage, so that nothing is left to be found; false where he did not.
func (w *web) joinPins() bool {
	for i := range w.nodes {
		if w.nodes[i].pin == 0 {
			return false
		}
	}
	last := map[int]int{}
	for j := range w.nodes {
		n := &w.nodes[j]
		if i, known := last[n.pin]; known && n.day-w.nodes[i].day <= reachDays {
			w.next[i], w.prev[j] = j, i
		}
		last[n.pin] = j
	}
	for i := range w.nodes {
		if w.prev[i] == none {
			w.listenForward(i)
		}
		if w.next[i] == none {
			w.listenBack(i)
		}
	}
	return true
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
		if w.ctx.Err() != nil {
			return
		}
		heads, tails := w.endsAt(f)
		open := heads[:0]
		for _, i := range heads {
			if w.next[i] == none {
				open = append(open, i)
			}
		}
		tails = tails[:0]
		for j := w.frames[f+1].first; j < w.frames[f+1].end; j++ {
			tails = append(tails, j)
		}
		for _, c := range w.clusters(open, tails) {
			_, joined := w.join(c)
			for _, j := range joined {
				w.listenForward(j)
			}
		}
	}
	for i, t := range w.next {
		if t == none {
			w.listenBack(i)
		}
	}
}
