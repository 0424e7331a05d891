package store

import (
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var marks = kept(field.Mark)

// Mark reads one mark.
func (v *View) Mark(id catalog.MarkID) (catalog.Mark, error) { return get(v, &marks, id) }

// MarksOn lists the marks of a frame in the order in which they were made.
func (v *View) MarksOn(id catalog.FrameID) ([]catalog.Mark, error) {
	return find(v, &marks, "t.frame_id = ? ORDER BY t.id", int64(id))
}

// MarksFrom lists the marks from one number to another, both included.
func (v *View) MarksFrom(first, last catalog.MarkID) ([]catalog.Mark, error) {
	return find(v, &marks, "t.id BETWEEN ? AND ? ORDER BY t.id", int64(first), int64(last))
}

// EachMark gives fn the marks whose instants lie in from ≤ t < to, with these, one after
// the other; an error from fn ends it.
func (v *View) EachMark(from, to time.Time, fn func(utc time.Time, m catalog.Mark) error) error {
	return v.each("SELECT f.middle_utc, "+marks.selection("t")+" FROM frames f JOIN marks t ON t.frame_id = f.id"+
		" WHERE f.removed = 0 AND t.removed = 0 AND f.middle_utc >= ? AND f.middle_utc < ? ORDER BY f.middle_utc, t.id",
		[]any{instant(from), instant(to)}, func(scan scanner) error {
			var middle string
			m, err := marks.scan(scan.with(&middle))
			if err != nil {
				return err
			}
			utc, err := parseInstant(middle)
			if err != nil {
				return err
			}
			return fn(utc, m)
		})
}

// AddMark keeps a new mark.
func (tx *Tx) AddMark(m catalog.Mark) (catalog.Mark, error) { return add(tx, &marks, m) }

// AddMarks keeps many at once, quickly.
func (tx *Tx) AddMarks(m []catalog.Mark) ([]catalog.Mark, error) {
	m, err := addAll(tx, &marks, m)
	if err != nil || len(m) == 0 {
		return m, err
	}
	return m, tx.place(m)
}

// EditMark keeps a changed mark.
func (tx *Tx) EditMark(m catalog.Mark) (catalog.Mark, error) { return edit(tx, &marks, m) }

// RemoveMark takes a mark out of sight, with what joined it to passages and what
// says that other marks are the same thing.
func (tx *Tx) RemoveMark(id catalog.MarkID, revision int64) error {
	held, err := tx.JoinsOf(id)
	if err != nil {
		return err
	}
	for _, j := range held {
		if err := remove(tx, &joins, j.ID, Newest); err != nil {
			return err
		}
	}
	same, err := find(&tx.View, &marks, "t.same_as_id = ?", int64(id))
	if err != nil {
		return err
	}
	for _, m := range same {
		if err := tx.alter(&marks.table, int64(m.ID), changed, []string{"same_as_id"}, []any{nil}); err != nil {
			return err
		}
	}
	return remove(tx, &marks, id, revision)
}
