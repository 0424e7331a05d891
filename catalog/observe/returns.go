package observe

import (
	"context"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
)

// surelyReturned is the odds from which a return is held for made, and not for
// proposed only.
const surelyReturned = 0.9

// Returned is a passage that is likely to be an earlier one come back.
type Returned struct {
	From, To catalog.Passage
	State    catalog.Standing
	By       catalog.Voice
	follow.Return
}

// TrackReturns finds which passages are earlier ones come back a rotation later, and
// keeps that as links between them, with odds: passages are never merged. What the
// observer said of a pair stands. A zero range means all.
func (k Keeper) TrackReturns(ctx context.Context, from, to time.Time) ([]Returned, error) {
	var list []Returned
	err := k.update(ctx, "track returns", func(tx *store.Tx) error {
		passages, kept, err := passagesSeen(&tx.View, from, to)
		if err != nil {
			return err
		}
		links, err := tx.Links()
		if err != nil {
			return err
		}
		said := map[[2]catalog.PassageID]catalog.Link{}
		for _, l := range links {
			if l.Relation == catalog.Return {
				said[[2]catalog.PassageID{l.From, l.To}] = l
			}
		}
		list = nil
		for _, r := range follow.Returns(passages) {
			found := Returned{From: kept[r.Earlier], To: kept[r.Later], State: catalog.Proposed, By: catalog.ByProgram, Return: r}
			if r.Odds >= surelyReturned {
				found.State = catalog.Made
			}
			key := [2]catalog.PassageID{found.From.ID, found.To.ID}
			before, known := said[key]
			delete(said, key)
			if err := keepReturn(tx, &found, before, known); err != nil {
				return err
			}
			list = append(list, found)
		}
		return dropReturns(tx, said, kept)
	})
	return list, err
}

// keepReturn writes a return down; the observer's word about it stands.
func keepReturn(tx *store.Tx, found *Returned, before catalog.Link, known bool) error {
	odds := found.Odds
	if known && before.By == catalog.ByObserver {
		found.State, found.By = before.State, before.By
		return nil
	}
	link := catalog.Link{From: found.From.ID, To: found.To.ID, Relation: catalog.Return, State: found.State, By: catalog.ByProgram, Odds: &odds}
	if !known {
		_, err := tx.AddLink(link)
		return err
	}
	link.ID, link.Record, link.Note = before.ID, before.Record, before.Note
	_, err := tx.EditLink(link)
	return err
}

// dropReturns takes away what the program said of passages looked at, and no longer
// says.
func dropReturns(tx *store.Tx, said map[[2]catalog.PassageID]catalog.Link, looked []catalog.Passage) error {
	here := map[catalog.PassageID]bool{}
	for _, p := range looked {
		here[p.ID] = true
	}
	for key, l := range said {
		if l.By == catalog.ByProgram && here[key[0]] && here[key[1]] {
			if err := tx.RemoveLink(l.ID, store.Newest); err != nil {
				return err
			}
		}
	}
	return nil
}
