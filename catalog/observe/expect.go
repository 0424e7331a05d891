package observe

import (
	"cmp"
	"context"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
)

// Expected is a passage with what is coming of it.
type Expected struct {
	Passage  catalog.Passage
	LastSeen time.Time
	Returned bool // its feature was behind the Sun since it was last seen
	follow.Coming
}

// remembered is how long a passage is carried on without a sighting: over one stay
// behind the Sun and once more across the disc.
const remembered = 41 * 24 * time.Hour

// Expect tells what is to be looked for at an instant: every passage that may be
// there still, on the disc or behind it, from the western edge to the eastern. Only
// what was seen before the instant counts.
func (k Keeper) Expect(ctx context.Context, at time.Time) ([]Expected, error) {
	v := k.Store.Read(ctx)
	passages, kept, err := passagesSeen(v, at.Add(-remembered), at.Add(time.Second))
	if err != nil {
		return nil, err
	}
	var list []Expected
	for i := range passages {
		p := &passages[i]
		last := p.Sightings[len(p.Sightings)-1].UTC
		e := Expected{Passage: kept[i], LastSeen: last, Coming: p.Coming(at)}
		// It went behind the Sun if it met the west edge between then and now.
		if west := p.Coming(last).WestEdge; west.Known && west.UTC.Before(at) {
			e.Returned = true
		}
		list = append(list, e)
	}
	slices.SortStableFunc(list, func(a, b Expected) int {
		if a.InView != b.InView {
			if a.InView {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.CMD, a.CMD)
	})
	return list, nil
}

// passagesSeen gives the passages of a stretch of time as the follower has them,
// just as they stand in the catalogue, and what the catalogue has of each.
func passagesSeen(v *store.View, from, to time.Time) ([]follow.Passage, []catalog.Passage, error) {
	var sightings []follow.Sighting
	err := v.EachEntry(store.Query{From: from, To: to}, func(e catalog.Entry) error {
		s, ok := sightingOf(e)
		if !ok || e.Join == nil {
			return nil
		}
		s.ID, s.Pinned = e.Mark.ID.String(), e.Join.Passage.String()
		sightings = append(sightings, s)
		return nil
	})
	if err != nil || len(sightings) == 0 {
		return nil, nil, err
	}
	habits, err := habitsOf(v)
	if err != nil {
		return nil, nil, err
	}
	result, err := follow.Follow(sightings, follow.Options{Habits: habits})
	if err != nil {
		return nil, nil, err
	}
	kept := make([]catalog.Passage, len(result.Passages))
	for i, p := range result.Passages {
		id, err := catalog.ParsePassageID(p.Sightings[0].Pinned)
		if err != nil {
			return nil, nil, err
		}
		if kept[i], err = v.Passage(id); err != nil {
			return nil, nil, err
		}
	}
	return result.Passages, kept, nil
}
