package follow

import "math"

// learn reads the record's habits off runs that were found with the habits
// assumed: how rough its places are, how often features are missed and how long
// they live. What was assumed counts as much as a few dozen observations, so
// that a short record changes it little.
func (w *web) learn() Habits {
	h := w.habits
	links := w.sample()
	for t := range h.Fortunes {
		h.Fortunes[t].Rough, h.Fortunes[t].Jumpy = w.motion(nature(t), links)
		h.Fortunes[t].DiesYoung, h.Fortunes[t].DiesOld = w.deaths(nature(t))
	}
	h.Mistakes = w.mistakes()
	w.shares()
	h.Misses, h.MissesAgain = w.misses()
	return h
}

// maxSample bounds the links from which roughness is estimated.
const maxSample = 6000

// sample lists nodes that have a predecessor, evenly chosen over the record.
func (w *web) sample() []int {
	var linked []int
	for i := range w.nodes {
		if w.prev[i] != none {
			linked = append(linked, i)
		}
	}
	step := (len(linked) + maxSample - 1) / maxSample
	if step <= 1 {
		return linked
	}
	some := linked[:0]
	for k := 0; k < len(linked); k += step {
		some = append(some, linked[k])
	}
	return some
}

// The factors that are tried.
var (
	roughs  = []float64{0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.4, 1.6, 1.8, 2.1, 2.5}
	jumpies = []float64{0.1, 0.2, 0.35, 0.5, 0.7, 1, 1.2, 1.4}
)

// motion gives the factors on wandering and on jumps under which the links of a
// nature are most probable, each predicted from the state before it: first the
// one, then the other.
func (w *web) motion(t nature, links []int) (rough, jumpy float64) {
	const trust = 25 // links that what was assumed is worth
	var own []int
	for _, j := range links {
		if w.before[j].like.best() == t {
			own = append(own, j)
		}
	}
	was := w.habits.Fortunes[t]
	fit := func(rough, jumpy float64) float64 {
		p := w.assumed[t]
		p.motion.stir(rough, jumpy)
		sum := -trust * (sq(math.Log(rough/was.Rough)) + sq(math.Log(jumpy/was.Jumpy))/4)
		for _, j := range own {
			past, now := w.before[w.prev[j]].at(w.nodes[j].day, &p), begin(&w.nodes[j], &p, 0)
			sum += meet(&past, &now, &p)
		}
		return sum
	}
	rough = best(roughs, func(v float64) float64 { return fit(v, was.Jumpy) })
	jumpy = best(jumpies, func(v float64) float64 { return fit(rough, v) })
	return rough, jumpy
}

// best is the value for which f is greatest.
func best(values []float64, f func(float64) float64) float64 {
	top, topF := values[0], math.Inf(-1)
	for _, v := range values {
		if y := f(v); y > topF {
			top, topF = v, y
		}
	}
	return top
}

// deaths counts, well inside the disc, how often features were not seen again,
// by how long they had been seen.
func (w *web) deaths(t nature) (young, old float64) {
	const trustDays, insideDeg = 40.0, 55.0
	p := &w.priors[t]
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
		died := 0.0
		if w.next[i] == none {
			died = 1
		}
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
func (w *web) misses() (first, again float64) {
	const trust, insideDeg = 60.0, 60.0
	first, again = trust*w.habits.Misses, trust*w.habits.MissesAgain
	chances, chancesAgain := trust, trust
	for i, j := range w.next {
		if j == none {
			continue
		}
		a, b := &w.nodes[i], &w.nodes[j]
		if math.Abs(a.cmd) > insideDeg || math.Abs(b.cmd) > insideDeg {
			continue
		}
		t := w.before[j].like.best()
		skipped := 0.0
		for f := a.frame + 1; f < b.frame; f++ {
			skipped += w.frames[f].share[t]
		}
		chances++
		if skipped > 0.5 {
			first++
			again += skipped - 1
			chancesAgain += skipped
		}
	}
	return first / chances, again / chancesAgain
}

// shares compares, for each frame, the runs that it has with those that go on
// before and after: a frame on which few of them are marked was not looked
// through for that nature (a frame of the limb, a detail).
func (w *web) shares() {
	const insideDeg = 65.0
	for t := range natures {
		has, lacks := make([]float64, len(w.frames)), make([]float64, len(w.frames))
		for i, j := range w.next {
			if w.before[i].like.best() != t || math.Abs(w.nodes[i].cmd) > insideDeg {
				continue
			}
			has[w.nodes[i].frame]++
			if j != none && math.Abs(w.nodes[j].cmd) < insideDeg {
				for f := w.nodes[i].frame + 1; f < w.nodes[j].frame; f++ {
					lacks[f]++
				}
			}
		}
		for f := range w.frames {
			const trust = 3
			usual := 1 - w.habits.Misses
			full := trust * usual
			if !w.frames[f].looked[t] {
				full *= unlooked
			}
			w.frames[f].share[t] = min(1, (has[f]+full)/((has[f]+lacks[f]+trust)*usual))
		}
	}
}

// mistakes is the share of marks whose kind does not fit what their run is.
func (w *web) mistakes() float64 {
	const trust = 100.0
	wrong, all := trust*w.habits.Mistakes, trust
	for i := range w.nodes {
		if w.prev[i] != none || w.next[i] == none {
			continue
		}
		run := w.run(i)
		if len(run) < 3 {
			continue
		}
		truth := w.before[run[len(run)-1]].like.best()
		for _, j := range run {
			all++
			if w.nodes[j].like.best() != truth {
				wrong++
			}
		}
	}
	return wrong / all
}
