package observe

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// Course is how a passage went, and how it should have gone.
//
//	Seen      where it was marked
//	Expected  where it was by what was seen of it before and after, and for some days on
type Course struct {
	Seen, Expected []Waypoint
	Crossing
}

// Waypoint is a place at an instant. Mark is zero for what was expected.
type Waypoint struct {
	UTC   time.Time
	Place coords.Measured
	Mark  catalog.MarkID
}

// Crossing is when a passage came round the east edge, passed the meridian and went
// round the west edge, by all its sightings. An edge that its latitude never meets is
// not Known. What lies after the last sighting is just what Expect tells then.
type Crossing struct {
	East, Meridian, West follow.Event
}

// Course tells how a passage went.
func (k Keeper) Course(ctx context.Context, id catalog.PassageID) (Course, error) {
	var course Course
	v := k.Store.Read(ctx)
	habits, err := habitsOf(v)
	if err != nil {
		return course, err
	}
	var sightings []follow.Sighting
	err = v.EachEntry(store.Query{Passage: id}, func(e catalog.Entry) error {
		s, ok := sightingOf(e)
		if !ok {
			return nil
		}
		s.ID, s.Pinned = e.Mark.ID.String(), id.String()
		sightings = append(sightings, s)
		if _, onDisc := e.Position.Reading(); onDisc { // what stands at the edge has no longitude of its own
			course.Seen = append(course.Seen, Waypoint{s.UTC, s.Place, e.Mark.ID})
		}
		return nil
	})
	if err != nil {
		return course, err
	}
	if len(sightings) == 0 {
		return course, &store.InvalidError{Err: fmt.Errorf("passage %s has no mark with a position", id)}
	}
	p, err := newPath(ctx, sightings, habits)
	if err != nil {
		return course, err
	}
	const step, ahead = 3 * time.Hour, 3 * 24 * time.Hour
	for at := p.first(); at.Before(p.last().Add(ahead)); at = at.Add(step) {
		place, err := p.at(ctx, at)
		if err != nil {
			return course, err
		}
		course.Expected = append(course.Expected, Waypoint{UTC: at, Place: place})
	}
	course.Crossing, err = p.crossing(ctx)
	return course, err
}

// Crossings tells when the features crossed the disc of which something of a kind was
// marked in a stretch of time: for each such mark the crossing of its passage or, where
// it has none, its own.
func (k Keeper) Crossings(ctx context.Context, kind catalog.Kind, from, to time.Time) (map[catalog.MarkID]Crossing, error) {
	const reach = 16 * 24 * time.Hour // of one crossing, with what stands beyond the edges
	v := k.Store.Read(ctx)
	habits, err := habitsOf(v)
	if err != nil {
		return nil, err
	}
	type feature struct {
		sightings []follow.Sighting
		marks     []catalog.MarkID // that a crossing is wanted for
	}
	features := map[string]*feature{}
	err = v.EachEntry(store.Query{From: from.Add(-reach), To: to.Add(reach)}, func(e catalog.Entry) error {
		s, ok := sightingOf(e)
		if !ok {
			return nil
		}
		s.ID, s.Pinned = e.Mark.ID.String(), e.Mark.ID.String()
		if e.Join != nil {
			s.Pinned = e.Join.Passage.String()
		}
		f := features[s.Pinned]
		if f == nil {
			f = &feature{}
			features[s.Pinned] = f
		}
		f.sightings = append(f.sightings, s)
		if e.Mark.Kind == kind && !s.UTC.Before(from) && s.UTC.Before(to) {
			f.marks = append(f.marks, e.Mark.ID)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	crossings := map[catalog.MarkID]Crossing{}
	for _, f := range features {
		if len(f.marks) == 0 {
			continue
		}
		p, err := newPath(ctx, f.sightings, habits)
		if err != nil {
			return nil, err
		}
		crossing, err := p.crossing(ctx)
		if err != nil {
			return nil, err
		}
		for _, mark := range f.marks {
			crossings[mark] = crossing
		}
	}
	return crossings, nil
}

// path is where the feature of a passage was and will be, by all its sightings.
type path struct {
	sightings []follow.Sighting // in the order of time
	habits    *follow.Habits
	whole     follow.Passage
	halves    map[int][2]follow.Passage // before and after each gap
}

// newPath follows sightings that are all of one passage.
func newPath(ctx context.Context, sightings []follow.Sighting, habits *follow.Habits) (*path, error) {
	sightings = slices.Clone(sightings)
	slices.SortStableFunc(sightings, func(a, b follow.Sighting) int { return a.UTC.Compare(b.UTC) })
	p := &path{sightings: sightings, habits: habits, halves: map[int][2]follow.Passage{}}
	var err error
	p.whole, err = p.follow(ctx, sightings)
	return p, err
}

func (p *path) first() time.Time { return p.sightings[0].UTC }
func (p *path) last() time.Time  { return p.sightings[len(p.sightings)-1].UTC }

func (p *path) follow(ctx context.Context, sightings []follow.Sighting) (follow.Passage, error) {
	result, err := follow.Follow(ctx, sightings, follow.Options{Habits: p.habits})
	if err != nil {
		return follow.Passage{}, err
	}
	return result.Passages[0], nil
}

// gap is the number of the sighting after an instant; false before the first and
// after the last one.
func (p *path) gap(t time.Time) (int, bool) {
	i := sort.Search(len(p.sightings), func(i int) bool { return p.sightings[i].UTC.After(t) })
	return i, i > 0 && i < len(p.sightings)
}

// around follows what was seen before a gap, and what after it.
func (p *path) around(ctx context.Context, gap int) (halves [2]follow.Passage, err error) {
	halves, known := p.halves[gap]
	if known {
		return halves, nil
	}
	for i, part := range [][]follow.Sighting{p.sightings[:gap], p.sightings[gap:]} {
		if halves[i], err = p.follow(ctx, part); err != nil {
			return halves, err
		}
	}
	p.halves[gap] = halves
	return halves, nil
}

// at is where the feature is. Between sightings it is the mean of what those before
// and those after say, each weighted by how well it knows.
func (p *path) at(ctx context.Context, t time.Time) (coords.Measured, error) {
	gap, between := p.gap(t)
	if !between {
		return p.whole.Predict(t).Place, nil
	}
	halves, err := p.around(ctx, gap)
	if err != nil {
		return coords.Measured{}, err
	}
	a, b := halves[0].Predict(t).Place, halves[1].Predict(t).Place
	var m coords.Measured
	var part float64
	part, m.Cov.BB = weighed(a.Cov.BB, b.Cov.BB)
	m.B = a.B + coords.Angle(part)*(b.B-a.B)
	part, m.Cov.LL = weighed(a.Cov.LL, b.Cov.LL)
	m.L = (a.L + coords.Angle(part)*(b.L-a.L).Wrap180()).Wrap360()
	return m, nil
}

// weighed is the share of b in the mean of two values with variances, and the variance
// of that mean.
func weighed(a, b float64) (part, variance float64) {
	if a+b == 0 {
		return 0.5, 0
	}
	return a / (a + b), a * b / (a + b)
}

// crossing is the one that the sightings belong to. What is seen of a feature, clouds
// beyond the edges with it, lies within nine days of its meridian passage.
func (p *path) crossing(ctx context.Context) (Crossing, error) {
	const day = 24 * time.Hour
	middle := p.first().Add(p.last().Sub(p.first()) / 2)
	var c Crossing
	var err error
	if c.Meridian, err = p.next(ctx, middle.Add(-11*day), func(c follow.Coming) follow.Event { return c.Meridian }); err != nil {
		return c, err
	}
	if c.East, err = p.next(ctx, c.Meridian.UTC.Add(-13*day), func(c follow.Coming) follow.Event { return c.EastEdge }); err != nil {
		return c, err
	}
	c.West, err = p.next(ctx, c.Meridian.UTC, func(c follow.Coming) follow.Event { return c.WestEdge })
	return c, err
}

// next is the first event of a sort after an instant. One between sightings is the
// mean of what those before and those after say.
func (p *path) next(ctx context.Context, after time.Time, sort func(follow.Coming) follow.Event) (follow.Event, error) {
	e := sort(p.whole.Coming(after))
	gap, between := p.gap(e.UTC)
	if !e.Known || !between {
		return e, nil
	}
	halves, err := p.around(ctx, gap)
	if err != nil {
		return e, err
	}
	a, b := sort(halves[0].Coming(after)), sort(halves[1].Coming(after))
	if !a.Known || !b.Known {
		return e, nil
	}
	part, variance := weighed(a.Sigma.Hours()*a.Sigma.Hours(), b.Sigma.Hours()*b.Sigma.Hours())
	return follow.Event{
		Known: true, Alive: 1,
		UTC:   a.UTC.Add(time.Duration(part * float64(b.UTC.Sub(a.UTC)))).Round(time.Minute),
		Sigma: time.Duration(math.Sqrt(variance) * float64(time.Hour)).Round(time.Minute),
	}, nil
}
