package follow

import (
	"context"
	"math"
	"slices"

	"limbwatch/coords"
	"limbwatch/coords/sample"
)

// node is what the follower links: a sighting, or several of one frame that the
// observer pinned to one passage. Angles are in degrees.
//
//	stretch               foreshortening 1/cos(CMD), bounded
//	form                  how it was marked
//	size                  of its shape
//	pin                   1, 2, … for the passages that the observer pinned, 0 none
type node struct {
	frame, era     int
	day            float64
	lat, lon, cmd  float64
	varLat, varLon float64
	stretch        float64
	form           form
	size           extent
	like           likelihood
	pin            int
	members        []int
	curve          curve
	misplaced      bool // its place is wrong and says nothing of its passage
}

// frame is one look at the disc; its nodes are first to end−1.
type frame struct {
	day, l0    float64
	shift      float64 // of the clock, degrees of longitude, taken out already
	first, end int
	marks      [natures]float64 // how many there are of each nature
	share      [natures]float64 // of the features usually seen, how many this look took in
}

// record is the sightings in canonical order, frame by frame, with the habits
// and the densities of features that they show.
type record struct {
	seen    []Sighting
	nodes   []node
	frames  []frame
	shifts  []Shift
	habits  Habits
	eras    []era
	assumed [natures][forms]prior // before anything was learnt
	dense   density
}

const maxStretch = 4.0 // 1/cos 75.5°: beyond it nothing is gained by more doubt

// Variances of a place that may be anywhere on the Sun, square degrees: no error says
// less than that.
const anywhereLat, anywhereLon = 180 * 180 / 12.0, 360 * 360 / 12.0

func newRecord(ctx context.Context, sightings []Sighting, opts Options) *record {
	r := &record{seen: slices.Clone(sightings), assumed: assumed(opts.Law)}
	slices.SortStableFunc(r.seen, canonical)
	pins := map[string]int{}
	for _, s := range r.seen {
		if s.Pinned != "" && pins[s.Pinned] == 0 {
			pins[s.Pinned] = len(pins) + 1
		}
	}
	for from := 0; from < len(r.seen) && ctx.Err() == nil; {
		to := from
		for to < len(r.seen) && r.seen[to].UTC.Equal(r.seen[from].UTC) {
			to++
		}
		r.addInstant(from, to, pins)
		from = to
	}
	r.share()
	if opts.Habits != nil && len(opts.Habits.Eras) > 0 {
		r.adopt(*opts.Habits)
	} else {
		r.adopt(Habits{Eras: []Era{usual(&r.assumed)}})
	}
	r.setClocks(ctx)
	r.dense = newDensity(r.glimpses(opts.Around))
	return r
}

// era is an era with the priors as they are under its habits.
type era struct {
	Era
	priors [natures][forms]prior
}

// adopt takes over habits, and what hangs on them.
func (r *record) adopt(h Habits) {
	r.habits, r.eras = h, make([]era, len(h.Eras))
	for k, e := range h.Eras {
		r.eras[k].Era = e
		for t := range e.Fortunes {
			for f := range forms {
				r.eras[k].priors[t][f] = r.assumed[t][f].under(e.Fortunes[t])
			}
		}
	}
	for _, f := range r.frames {
		era := h.at(r.seen[r.nodes[f.first].members[0]].UTC)
		for i := f.first; i < f.end; i++ {
			n := &r.nodes[i]
			n.era, n.like = era, kindLikelihood(r.seen[n.members[0]].Kind, n.cmd, r.eras[era].Mistakes)
		}
	}
}

// share estimates how much of what is usually marked each frame took in: one with
// far fewer marks of a nature than its neighbours was not looked through for it (a
// frame of the limb, a detail), and what it lacks was not missed.
func (r *record) share() {
	const nearDays, partial, unlooked = 2.6, 0.6, 0.2
	first, end := 0, 0
	var around []float64
	for i := range r.frames {
		f := &r.frames[i]
		for r.frames[first].day < f.day-nearDays {
			first++
		}
		for end < len(r.frames) && r.frames[end].day <= f.day+nearDays {
			end++
		}
		for t := range f.share {
			around = around[:0]
			for k := first; k < end; k++ {
				if k != i {
					around = append(around, r.frames[k].marks[t])
				}
			}
			usual := sample.MedianOf(around)
			f.share[t] = (f.marks[t] + 1) / (usual + 1)
			switch {
			case f.marks[t] == 0:
				f.share[t] = min(unlooked, f.share[t])
			case f.share[t] > partial:
				f.share[t] = 1
			}
		}
	}
}

// addInstant adds the sightings from..to−1, all of one instant, as frames.
func (r *record) addInstant(from, to int, pins map[string]int) {
	var names []string // of frames, in canonical order of their first sighting
	for i := from; i < to; i++ {
		if !slices.Contains(names, r.seen[i].Frame) {
			names = append(names, r.seen[i].Frame)
		}
	}
	for _, name := range names {
		f := frame{day: daysOf(r.seen[from].UTC), l0: r.seen[from].Face.L0.Degrees(), first: len(r.nodes)}
		pinned := map[int]int{}
		for i := from; i < to; i++ {
			s := &r.seen[i]
			if s.Frame != name {
				continue
			}
			f.marks[natureOf[s.Kind]]++
			pin := pins[s.Pinned]
			if at, again := pinned[pin]; again && pin > 0 {
				r.nodes[at].members = append(r.nodes[at].members, i)
				continue
			}
			pinned[pin] = len(r.nodes)
			r.nodes = append(r.nodes, r.nodeOf(i, len(r.frames), pin))
		}
		f.end = len(r.nodes)
		r.frames = append(r.frames, f)
	}
}

func (r *record) nodeOf(i, frame, pin int) node {
	s := &r.seen[i]
	const perDeg2 = (180 / math.Pi) * (180 / math.Pi)
	n := node{
		frame: frame, day: daysOf(s.UTC), pin: pin, form: formOf(s), members: []int{i},
		lat: s.Place.B.Degrees(), lon: s.Place.L.Degrees(), cmd: s.Face.CMD(s.Place.Heliographic).Degrees(),
		varLat: min(s.Place.Cov.BB*perDeg2, anywhereLat), varLon: min(s.Place.Cov.LL*perDeg2, anywhereLon),
	}
	n.stretch = 1 / max(1/maxStretch, coords.Angle(n.cmd*math.Pi/180).Cos())
	n.curve = curveOf(s.Shape, s.Closed, n.lon)
	n.size.lat, n.size.lon = n.curve.spread()
	return n
}
