package read

import (
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// Passage is a passage as a list shows it, with all its marks.
//
//	Marks        how many it has
//	First, Last  when it was seen
//	Place        the newest on the disc, read at PlaceUTC; nil: it was never seen there
type Passage struct {
	catalog.Passage
	Marks       int
	First, Last time.Time
	Place       *coords.Measured
	PlaceUTC    time.Time
}

// Passages lists the passages that have a mark which a query chooses, in the order in which
// they were first seen.
func Passages(v *store.View, q store.Query) ([]Passage, error) {
	var ids []catalog.PassageID // nil: all
	if len(q.Kinds) > 0 || !q.From.IsZero() || !q.To.IsZero() {
		seen, err := v.PassagesSeen(q)
		if err != nil || len(seen) == 0 {
			return nil, err
		}
		ids = seen
	}
	known, err := passagesOf(v, ids)
	if err != nil {
		return nil, err
	}
	list := make([]Passage, len(known))
	at := make(map[catalog.PassageID]int, len(known))
	for i, p := range known {
		list[i].Passage, at[p.ID] = p, i
	}
	err = v.EachPassing(ids, q.References, func(m store.Passing) error {
		if i, there := at[m.Passage]; there {
			list[i].see(m)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	list = slices.DeleteFunc(list, func(p Passage) bool { return p.Marks == 0 })
	slices.SortStableFunc(list, func(a, b Passage) int { return a.First.Compare(b.First) })
	return list, nil
}

// passagesOf reads passages by id; of nil all.
func passagesOf(v *store.View, ids []catalog.PassageID) ([]catalog.Passage, error) {
	if ids == nil {
		return v.Passages()
	}
	known, err := v.PassagesOf(ids)
	if err != nil {
		return nil, err
	}
	list := make([]catalog.Passage, 0, len(ids))
	for _, id := range ids {
		if p, there := known[id]; there {
			list = append(list, p)
		}
	}
	return list, nil
}

// see counts a mark; they come in the order of time, so that the place is the newest.
func (p *Passage) see(m store.Passing) {
	if p.Marks == 0 {
		p.First = m.UTC
	}
	p.Marks++
	p.Last = m.UTC
	if m.Place != nil {
		p.Place, p.PlaceUTC = m.Place, m.UTC
	}
}
