package observe

import (
	"context"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// SightingOf is what a new mark is, by the observer's word: a passage's feature, or
// that of an earlier mark. The zero says nothing.
type SightingOf struct {
	Passage catalog.PassageID
	Mark    catalog.MarkID
}

// AddSighting keeps a mark and joins it to the passage that it is a sighting of, as
// one operation. The passage of an earlier mark that has none begins with both.
func (k Keeper) AddSighting(ctx context.Context, m catalog.Mark, of SightingOf) (catalog.Mark, error) {
	err := k.update(ctx, "mark add", func(tx *store.Tx) error {
		added, err := k.addMarks(tx, []catalog.Mark{m})
		if err != nil {
			return err
		}
		m = added[0]
		passage, err := passageOf(tx, of)
		if err != nil {
			return err
		}
		tx.SetTitle("mark add %s to %s", m.ID, passage.Name)
		return joinByWord(tx, passage.ID, []catalog.MarkID{m.ID})
	})
	return m, err
}

// passageOf is the passage that is named, or that of an earlier mark; begun when it
// has none.
func passageOf(tx *store.Tx, of SightingOf) (catalog.Passage, error) {
	if of.Mark == 0 {
		return tx.Passage(of.Passage)
	}
	if _, err := tx.Mark(of.Mark); err != nil {
		return catalog.Passage{}, err
	}
	joins, err := tx.JoinsOf(of.Mark)
	if err != nil {
		return catalog.Passage{}, err
	}
	if len(joins) > 0 && joins[0].State == catalog.Made {
		return tx.Passage(joins[0].Passage)
	}
	fresh, err := beginPassage(tx, []catalog.MarkID{of.Mark})
	if err != nil {
		return fresh, err
	}
	return fresh, joinByWord(tx, fresh.ID, []catalog.MarkID{of.Mark})
}
