package store

import (
	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var counts = kept(field.Count)

func init() { register(&counts.table) }

// CountsOf lists what was counted on paper at a sitting.
func (v *View) CountsOf(id catalog.SittingID) ([]catalog.Count, error) {
	return find(v, &counts, "t.sitting_id = ? ORDER BY t.id", int64(id))
}

// Counts lists all counts on paper.
func (v *View) Counts() ([]catalog.Count, error) {
	return find(v, &counts, "1 ORDER BY t.sitting_id, t.id")
}

// SetCount keeps a count: a new one, or a changed one when it has an id.
func (tx *Tx) SetCount(c catalog.Count) (catalog.Count, error) {
	if c.ID != 0 {
		return edit(tx, &counts, c)
	}
	return add(tx, &counts, c)
}

// RemoveCount takes a count out of sight.
func (tx *Tx) RemoveCount(id catalog.CountID, revision int64) error {
	return remove(tx, &counts, id, revision)
}
