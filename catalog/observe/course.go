package observe

import (
	"context"
	"fmt"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// Course is how a passage went, and how it should have gone.
//
//	Seen      where it was marked
//	Expected  where it was by all sightings together, and for some days on
//	East, Meridian, West  when it came round the east edge, passed the meridian and
//	          went round the west edge; zero when its latitude never does
type Course struct {
	Seen, Expected       []Waypoint
	East, Meridian, West time.Time
}

// Waypoint is a place at an instant. Mark is zero for what was expected.
type Waypoint struct {
	UTC   time.Time
	Place coords.Measured
	Mark  catalog.MarkID
}

// Course tells how a passage went.
func (k Keeper) Course(ctx context.Context, id catalog.PassageID) (Course, error) {
	var course Course
	var sightings []follow.Sighting
	err := k.Store.Read(ctx).EachEntry(store.Query{Passage: id}, func(e catalog.Entry) error {
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
		return course, fmt.Errorf("passage %s has no mark with a position", id)
	}
	result, err := follow.Follow(sightings, follow.Options{})
	if err != nil {
		return course, err
	}
	p := result.Passages[0]
	first, last := sightings[0].UTC, sightings[len(sightings)-1].UTC
	const step, ahead = 6 * time.Hour, 3 * 24 * time.Hour
	for at := first; at.Before(last.Add(ahead)); at = at.Add(step) {
		course.Expected = append(course.Expected, Waypoint{UTC: at, Place: p.Course(at)})
	}
	// The crossings that belong to this passage are the ones nearest to its middle.
	middle := first.Add(last.Sub(first) / 2)
	before := p.Coming(middle.Add(-14 * 24 * time.Hour))
	course.East, course.Meridian, course.West = before.EastEdge.UTC, before.BackMeridian.UTC, before.BackWestEdge.UTC
	return course, nil
}
