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
//
//	LastSeen   when it was, as LastMark on LastFrame
//	Returned   its feature was behind the Sun since
type Expected struct {
	Passage   catalog.Passage
	LastSeen  time.Time
	LastMark  catalog.MarkID
	LastFrame catalog.FrameID
	Returned  bool
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
		newest := p.Sightings[len(p.Sightings)-1]
		last := newest.UTC
		e := Expected{Passage: kept[i], LastSeen: last, Coming: p.Coming(at)}
		if e.LastMark, err = catalog.ParseMarkID(newest.ID); err != nil {
			return nil, err
		}
		if e.LastFrame, err = catalog.ParseFrameID(newest.Frame); err != nil {
			return nil, err
		}
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
	var faces facesOf
	err := v.EachSighted(store.Query{From: from, To: to}, func(e store.Sighted) error {
		if e.Join == nil {
			return nil
		}
		s := sightingAt(e, faces.at(e.UTC))
		s.ID, s.Frame, s.Pinned = e.Mark.String(), faces.frame(e.Frame), e.Join.Passage.String()
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
	result, err := follow.Follow(v.Context(), sightings, follow.Options{Habits: habits})
	if err != nil {
		return nil, nil, err
	}
	ids := make([]catalog.PassageID, len(result.Passages))
	for i, p := range result.Passages {
		if ids[i], err = catalog.ParsePassageID(p.Sightings[0].Pinned); err != nil {
			return nil, nil, err
		}
	}
	kept, err := passagesNamed(v, ids)
	return result.Passages, kept, err
}

// passagesNamed reads passages, in the order of their ids' list.
func passagesNamed(v *store.View, ids []catalog.PassageID) ([]catalog.Passage, error) {
	known, err := v.PassagesOf(ids)
	if err != nil {
		return nil, err
	}
	kept := make([]catalog.Passage, len(ids))
	for i, id := range ids {
		p, there := known[id]
		if !there {
			return nil, &store.NotFoundError{Noun: "passage", ID: id.String()}
		}
		kept[i] = p
	}
	return kept, nil
}
