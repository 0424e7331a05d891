package observe

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// JoinMarks puts marks into a passage by the observer's word, which stands against
// the program's; where they were before they are no more.
func (k Keeper) JoinMarks(ctx context.Context, id catalog.PassageID, marks []catalog.MarkID) error {
	return k.update(ctx, fmt.Sprintf("track join %s", id), func(tx *store.Tx) error {
		if _, err := tx.Passage(id); err != nil {
			return err
		}
		return joinByWord(tx, id, marks)
	})
}

// joinByWord makes joins of the observer.
func joinByWord(tx *store.Tx, id catalog.PassageID, marks []catalog.MarkID) error {
	for _, mark := range marks {
		if _, err := tx.Mark(mark); err != nil {
			return err
		}
		left, err := takeOut(tx, mark, id)
		if err != nil {
			return err
		}
		if _, err := tx.AddJoin(catalog.Join{Mark: mark, Passage: id, State: catalog.Made, By: catalog.ByObserver}); err != nil {
			return err
		}
		if left != 0 && left != id {
			if err := endIfEmpty(tx, left); err != nil {
				return err
			}
		}
	}
	return nil
}

// takeOut ends the mark's join that is made, and all that is said of it and the
// passage to which it goes; it tells the passage that it left.
func takeOut(tx *store.Tx, mark catalog.MarkID, to catalog.PassageID) (left catalog.PassageID, err error) {
	joins, err := tx.JoinsOf(mark)
	if err != nil {
		return 0, err
	}
	for _, j := range joins {
		if j.State == catalog.Made {
			left = j.Passage
		}
		if j.State == catalog.Made || j.Passage == to {
			if err := tx.RemoveJoin(j.ID, store.Newest); err != nil {
				return 0, err
			}
		}
	}
	return left, nil
}

// endIfEmpty takes a passage out of sight to which nothing belongs any more.
func endIfEmpty(tx *store.Tx, id catalog.PassageID) error {
	joins, err := tx.JoinsTo(id)
	if err != nil || len(joins) > 0 {
		return err
	}
	links, err := tx.LinksOf(id)
	if err != nil || len(links) > 0 {
		return err
	}
	return tx.RemovePassage(id, store.Newest)
}

// SplitPassage begins a new passage with some marks of another, by the observer's
// word, and notes that the one came from the other.
func (k Keeper) SplitPassage(ctx context.Context, from catalog.PassageID, marks []catalog.MarkID) (catalog.Passage, error) {
	var fresh catalog.Passage
	err := k.update(ctx, fmt.Sprintf("track split %s", from), func(tx *store.Tx) error {
		parent, err := tx.Passage(from)
		if err != nil {
			return err
		}
		if err := someStay(tx, parent, marks); err != nil {
			return err
		}
		if fresh, err = beginPassage(tx, marks); err != nil {
			return err
		}
		for _, mark := range marks {
			joins, err := tx.JoinsOf(mark)
			if err != nil {
				return err
			}
			if len(joins) == 0 || joins[0].State != catalog.Made || joins[0].Passage != from {
				return &store.InvalidError{Err: fmt.Errorf("mark %s does not belong to passage %s", mark, parent.Name)}
			}
		}
		if err := joinByWord(tx, fresh.ID, marks); err != nil {
			return err
		}
		_, err = tx.AddLink(catalog.Link{From: from, To: fresh.ID, Relation: catalog.Split, State: catalog.Made, By: catalog.ByObserver})
		return err
	})
	return fresh, err
}

// someStay refuses to split all marks off a passage.
func someStay(tx *store.Tx, p catalog.Passage, marks []catalog.MarkID) error {
	joins, err := tx.JoinsTo(p.ID)
	if err != nil {
		return err
	}
	for _, j := range joins {
		if !slices.Contains(marks, j.Mark) {
			return nil
		}
	}
	return &store.InvalidError{Err: fmt.Errorf("these are all the marks of passage %s: there is nothing to split them from", p.Name)}
}

// beginPassage makes a passage named for the first of some marks.
func beginPassage(tx *store.Tx, marks []catalog.MarkID) (catalog.Passage, error) {
	entries, err := tx.Entries(store.Query{Marks: marks})
	if err != nil {
		return catalog.Passage{}, err
	}
	if len(entries) == 0 {
		return catalog.Passage{}, &store.InvalidError{Err: errors.New("no mark to begin a passage with")}
	}
	first := entries[0]
	name, err := newNamer(&tx.View).next(first.Mark.Kind, first.Position.UTC.Year())
	if err != nil {
		return catalog.Passage{}, err
	}
	return tx.AddPassage(catalog.Passage{Name: name, Kind: first.Mark.Kind})
}

// BeginPassage begins a passage with marks, by the observer's word.
func (k Keeper) BeginPassage(ctx context.Context, marks []catalog.MarkID) (catalog.Passage, error) {
	var fresh catalog.Passage
	err := k.update(ctx, "track begin", func(tx *store.Tx) (err error) {
		if fresh, err = beginPassage(tx, marks); err != nil {
			return err
		}
		tx.SetTitle("track begin %s", fresh.Name)
		return joinByWord(tx, fresh.ID, marks)
	})
	return fresh, err
}

// RefuseJoin says that a mark does not belong to the passage it is in: the program
// will not put it there again.
func (k Keeper) RefuseJoin(ctx context.Context, mark catalog.MarkID) error {
	return k.RefuseJoins(ctx, []catalog.MarkID{mark})
}

// RefuseJoins says it of several marks, as one operation.
func (k Keeper) RefuseJoins(ctx context.Context, marks []catalog.MarkID) error {
	title := "track refuse"
	for _, mark := range marks {
		title += " " + mark.String()
	}
	return k.update(ctx, title, func(tx *store.Tx) error {
		for _, mark := range marks {
			if _, err := tx.Mark(mark); err != nil {
				return err
			}
			joins, err := tx.JoinsOf(mark)
			if err != nil {
				return err
			}
			if len(joins) == 0 || joins[0].State != catalog.Made {
				return &store.InvalidError{Err: fmt.Errorf("mark %s belongs to no passage", mark)}
			}
			refused := joins[0]
			refused.State, refused.By, refused.Odds = catalog.Refused, catalog.ByObserver, nil
			if _, err = tx.EditJoin(refused); err != nil {
				return err
			}
		}
		return nil
	})
}

// idLike is what the numbers of things look like, as M12.
var idLike = regexp.MustCompile(`^[A-Z][0-9]+$`)

// EditPassage keeps a changed name, kind or note.
func (k Keeper) EditPassage(ctx context.Context, p catalog.Passage) (catalog.Passage, error) {
	var was catalog.Passage
	write := func(tx *store.Tx, p catalog.Passage) (edited catalog.Passage, err error) {
		if was, err = tx.Passage(p.ID); err != nil {
			return p, err
		}
		if p.Name != was.Name && idLike.MatchString(p.Name) {
			return p, &store.InvalidError{Err: fmt.Errorf("passage name %q looks like the number of something else", p.Name)}
		}
		// What another was called once may be given to this one; what it is called now, not.
		if other, err := tx.PassageNamed(p.Name); err == nil && other.ID != p.ID && other.Name == p.Name {
			return p, &store.TakenError{What: fmt.Sprintf("passage name %q", p.Name), By: other.ID.String()}
		}
		return tx.EditPassage(p)
	}
	return save(ctx, k, "track edit", p, write, func(p catalog.Passage) string {
		if was.Name != p.Name {
			return fmt.Sprintf("%s, now called %s", was.Name, p.Name)
		}
		return p.Name
	})
}
