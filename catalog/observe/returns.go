package observe

import (
	"context"
	"fmt"
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
		settled := settledReturns(links)
		list = nil
		for _, r := range follow.Returns(passages) {
			found := Returned{From: kept[r.Earlier], To: kept[r.Later], State: catalog.Proposed, By: catalog.ByProgram, Return: r}
			if settled.against(found.From.ID, found.To.ID) {
				continue
			}
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

// settledSet holds what observers said of returns: of which passages each is the return,
// and as which each came back.
type settledSet struct {
	pairs    map[[2]catalog.PassageID]bool
	from, to map[catalog.PassageID]bool
}

func settledReturns(links []catalog.Link) settledSet {
	s := settledSet{map[[2]catalog.PassageID]bool{}, map[catalog.PassageID]bool{}, map[catalog.PassageID]bool{}}
	for _, l := range links {
		if l.Relation == catalog.Return && l.By == catalog.ByObserver && l.State == catalog.Made {
			s.pairs[[2]catalog.PassageID{l.From, l.To}], s.from[l.From], s.to[l.To] = true, true, true
		}
	}
	return s
}

// against says whether an observer knows one of two passages to belong to another.
func (s settledSet) against(from, to catalog.PassageID) bool {
	return !s.pairs[[2]catalog.PassageID{from, to}] && (s.from[from] || s.to[to])
}

// SayReturn keeps the observer's word of whether a passage is an earlier one come back.
// Once it is, what the program held for possible of either goes.
func (k Keeper) SayReturn(ctx context.Context, from, to catalog.PassageID, is bool) error {
	word := "track returns: %s is %s come back"
	if !is {
		word = "track returns: %s is not %s come back"
	}
	return k.update(ctx, "track returns", func(tx *store.Tx) error {
		earlier, later, err := inOrder(tx, from, to)
		if err != nil {
			return err
		}
		tx.SetTitle(word, later.Name, earlier.Name)
		links, err := tx.Links()
		if err != nil {
			return err
		}
		said := catalog.Link{From: from, To: to, Relation: catalog.Return, State: catalog.Refused, By: catalog.ByObserver}
		if is {
			said.State = catalog.Made
		}
		known := false
		for _, l := range links {
			same := l.From == from && l.To == to
			reverse := l.From == to && l.To == from
			switch {
			case l.Relation != catalog.Return:
			case same:
				known = true
				said.ID, said.Record, said.Note = l.ID, l.Record, l.Note
			case is && l.By == catalog.ByProgram && (l.From == from || l.To == to || reverse):
				if err := tx.RemoveLink(l.ID, store.Newest); err != nil {
					return err
				}
			}
		}
		if known {
			_, err = tx.EditLink(said)
		} else {
			_, err = tx.AddLink(said)
		}
		return err
	})
}

// inOrder reads two passages, of which the one must have been seen before the other.
func inOrder(tx *store.Tx, from, to catalog.PassageID) (earlier, later catalog.Passage, err error) {
	if earlier, err = tx.Passage(from); err != nil {
		return earlier, later, err
	}
	if later, err = tx.Passage(to); err != nil {
		return earlier, later, err
	}
	seen := map[catalog.PassageID][]catalog.Entry{}
	for _, id := range []catalog.PassageID{from, to} {
		if seen[id], err = tx.Entries(store.Query{Passage: id, References: true}); err != nil {
			return earlier, later, err
		}
	}
	before, after := seen[from], seen[to]
	if from == to || (len(before) > 0 && len(after) > 0 && !before[len(before)-1].Position.UTC.Before(after[0].Position.UTC)) {
		return earlier, later, &store.InvalidError{Err: fmt.Errorf("%s cannot be %s come back: it must have been seen later, from its first mark on", later.Name, earlier.Name)}
	}
	return earlier, later, nil
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
