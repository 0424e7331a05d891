package follow

import (
	"math"
	"slices"
	"sync"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Passage is one feature's crossing of the disc: its sightings in order of time,
// and a link from each to the next.
type Passage struct {
	Kind      catalog.Kind // what most of its marks say
	Sightings []Sighting
	Links     []Link // one fewer than sightings

	last  state // after all sightings, at the last
	first state // going back in time, at the first
}

// Link joins a sighting of a passage with the next.
//
//	Odds        probability that the two are the same feature; 1 when By is the observer
//	By          who joined them
//	Misplaced   the later (or the earlier) mark lies in quite another place and was
//	            taken for a slip of the pen
type Link struct {
	Odds      float64
	By        catalog.Voice
	Misplaced bool
}

// Proposal is a join that is not certain.
//
//	Earlier, Later  the sightings that may be the same feature, last and first of
//	                their runs
//	Odds            probability that they are
//	Made            whether the join was made
//	Rivals          other joins that would take its place, the most probable first
type Proposal struct {
	Earlier, Later Sighting
	Odds           float64
	Made           bool
	Rivals         []Rival
}

// Rival is a join in another's place.
type Rival struct {
	Earlier, Later Sighting
	Odds           float64
}

// result gathers the runs into passages. Runs of one pin are one passage however
// far apart they are.
func (w *web) result(odds []float64, proposals []Proposal) Result {
	res := Result{Proposals: proposals, Habits: w.habits, Shifts: w.shifts}
	ofPin := map[int]int{}
	for i := range w.nodes {
		if w.prev[i] != none {
			continue
		}
		run := w.run(i)
		end := run[len(run)-1]
		pin := w.before[end].pin
		if at, known := ofPin[pin]; known && pin != 0 {
			w.extend(&res.Passages[at], run, odds)
			continue
		}
		ofPin[pin] = len(res.Passages)
		p := Passage{first: w.after[i]}
		w.extend(&p, run, odds)
		res.Passages = append(res.Passages, p)
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

// extend adds a run, later than all it has, to a passage.
func (w *web) extend(p *Passage, run []int, odds []float64) {
	for k, i := range run {
		link := Link{Odds: 1, By: catalog.ByObserver}
		if n := &w.nodes[i]; k > 0 {
			h := &w.nodes[run[k-1]]
			if n.pin == 0 || n.pin != h.pin {
				link = Link{Odds: odds[run[k-1]], By: catalog.ByProgram, Misplaced: n.misplaced || h.misplaced}
			}
		}
		for m, at := range w.nodes[i].members {
			if m > 0 {
				link = Link{Odds: 1, By: catalog.ByObserver}
			}
			if len(p.Sightings) > 0 {
				p.Links = append(p.Links, link)
			}
			p.Sightings = append(p.Sightings, w.seen[at])
		}
	}
	p.last = w.before[run[len(run)-1]]
	p.first = p.first.under(p.last.prior)
	p.Kind = mostly(p.Sightings)
}

// mostly is the commonest kind; of equally common ones the first in Kinds.
func mostly(sightings []Sighting) catalog.Kind {
	count := map[catalog.Kind]int{}
	for _, s := range sightings {
		count[s.Kind]++
	}
	return slices.MaxFunc(catalog.Kinds, func(a, b catalog.Kind) int {
		if count[a] == count[b] {
			return int(b) - int(a)
		}
		return count[a] - count[b]
	})
}

// Prediction is where a passage's feature should be.
//
//	Place  with the error of the prediction, the wandering of the centre included
//	Alive  chance that it still (already) is, by the lifetimes of its nature
type Prediction struct {
	Place coords.Measured
	Alive float64
}

// usualPriors are those that nothing was learnt for.
var usualPriors = sync.OnceValue(func() [natures]prior { return assumedLoose(nil) })

// Predict carries the passage to another instant: on from its last sighting, back
// from its first, between them whichever is nearer. What a new sighting would add,
// its own error and that of its centre, is not in the place's error.
func (p *Passage) Predict(t time.Time) Prediction {
	day := daysOf(t)
	s := p.last
	if day-p.first.day < p.last.day-day {
		s = p.first
	}
	elapsed := math.Abs(day - s.day)
	carried := s.at(day)
	usual := usualPriors()[s.like.best()]
	dying := atMost(p.last.prior.hazard(s.lasted), usual.hazard(s.lasted))
	return Prediction{Place: carried.measured(), Alive: alive(dying, elapsed)}
}

// measured is the place of a carried state with its error, jumps of
// the centre counted with their chance.
func (s *state) measured() coords.Measured {
	const perDeg2 = (math.Pi / 180) * (math.Pi / 180)
	return coords.Measured{
		Heliographic: coords.Heliographic{
			B: degrees(max(-90, min(90, s.lat.x))),
			L: degrees(s.lon.x).Wrap360(),
		},
		Cov: coords.Covariance{
			BB: (s.lat.xx + s.prior.motion.leapLat(s.away)) * perDeg2,
			LL: (s.lon.xx + s.prior.motion.leapLon(s.away)) * perDeg2,
		},
	}
}

// Rate is the feature's own rate in Carrington longitude, degrees a day, with its
// standard error: the law's where the sightings tell no better.
func (p *Passage) Rate() (degPerDay, sigma float64) {
	return driftDegPerDay(p.last.prior.law, p.last.lat.x) + p.last.lon.v, math.Sqrt(p.last.lon.vv)
}
