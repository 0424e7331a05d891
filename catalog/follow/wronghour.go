package follow

import (
	"context"
	"math"
	"slices"
	"time"
)

// A look whose hour is wrong puts all its marks into wrong longitudes, each by as
// much: 0.55° an hour. One mark so far off is a slip or a jump, but when the marks of a
// whole look have their likes both before and after it at one common distance, and
// none at its own place, it is the clock. The shift is then taken out before
// anything is joined, and told; the sightings keep the places that they came with.

// Shift is a look at the disc that stands off from those around it as a whole.
//
//	UTC    as given, of all its sightings
//	Deg    by how much their Carrington longitudes are too great
//	Hours  by how much the clock would have to be wrong; it was behind when positive
//	Marks  sightings of the look
type Shift struct {
	UTC        time.Time
	Deg, Hours float64
	Marks      int
}

const (
	leastShiftDeg, mostShiftDeg = 3.0, 30.0 // less is joined without help; more is two days and over
	fewestAlike                 = 3         // marks that must agree on either side
	alikeLat, alikeLon          = 2.0, 2.0  // degrees between likes from look to look
	shiftReachDays              = 3.2       // to the looks compared with
)

// setClocks finds the shifts of looks and takes them out of the nodes.
func (r *record) setClocks(ctx context.Context) {
	for f := range r.frames {
		if ctx.Err() != nil {
			return
		}
		deg, found := r.shiftOf(f)
		if !found {
			continue
		}
		look := &r.frames[f]
		r.shifts = append(r.shifts, Shift{
			UTC: r.seen[r.nodes[look.first].members[0]].UTC,
			Deg: deg, Hours: deg / (360 / turnDays) * 24, Marks: look.end - look.first,
		})
		look.shift = deg
	}
	for i := range r.nodes {
		n := &r.nodes[i]
		if deg := r.frames[n.frame].shift; deg != 0 {
			n.lon -= deg
			for k := range n.curve {
				n.curve[k][1] -= deg
			}
		}
	}
	for f := range r.frames {
		r.frames[f].l0 -= r.frames[f].shift
	}
}

// shiftOf is the common shift of a look against the looks before and after it.
func (r *record) shiftOf(f int) (deg float64, found bool) {
	if r.frames[f].end-r.frames[f].first < fewestAlike {
		return 0, false
	}
	sides := [2]float64{}
	for side, step := range []int{-1, 1} {
		other, ok := r.neighbour(f, step)
		if !ok {
			return 0, false
		}
		if sides[side], ok = r.standsOff(f, other); !ok {
			return 0, false
		}
	}
	if math.Abs(sides[0]-sides[1]) > alikeLon {
		return 0, false
	}
	deg = (sides[0] + sides[1]) / 2
	return deg, math.Abs(deg) >= leastShiftDeg
}

// neighbour is the nearest look of another day, before or after, with marks enough.
func (r *record) neighbour(f, step int) (int, bool) {
	const anotherDay = 0.4
	for k := f + step; k >= 0 && k < len(r.frames); k += step {
		days := math.Abs(r.frames[k].day - r.frames[f].day)
		if days > shiftReachDays {
			break
		}
		if days > anotherDay && r.frames[k].end-r.frames[k].first >= fewestAlike {
			return k, true
		}
	}
	return 0, false
}

// standsOff is the shift of look f at which most of its marks have their likes in
// another; false unless at least half of them do, and at its own place hardly any.
func (r *record) standsOff(f, other int) (deg float64, ok bool) {
	look, days := &r.frames[f], r.frames[f].day-r.frames[other].day
	var off []float64
	home := 0
	for i := look.first; i < look.end; i++ {
		n := &r.nodes[i]
		t, near := n.like.best(), false
		for j := r.frames[other].first; j < r.frames[other].end; j++ {
			o := &r.nodes[j]
			if math.Abs(n.lat-o.lat) > alikeLat || o.like.best() != t {
				continue
			}
			d := wrap180(n.lon - o.lon - days*r.assumed[t][loose].drift(o.lat))
			near = near || math.Abs(d) < alikeLon
			if math.Abs(d) <= mostShiftDeg {
				off = append(off, d)
			}
		}
		if near {
			home++
		}
	}
	least := max(fewestAlike, (look.end-look.first+1)/2)
	if len(off) < least || 3*home >= least {
		return 0, false
	}
	slices.Sort(off)
	from, most := 0, 0
	for a := range off {
		b := a
		for b < len(off) && off[b]-off[a] <= 2*alikeLon {
			b++
		}
		if b-a > most {
			from, most = a, b-a
		}
	}
	return off[from+most/2], most >= least
}
