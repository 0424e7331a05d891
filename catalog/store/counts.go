package store

import (
	"database/sql"

	"limbwatch/catalog"
)

var counts = noun[catalog.Count, catalog.CountID]{
	table: table{name: "counts", noun: "count", letter: "C",
		columns: []string{"sitting_id", "tally", "north", "south", "total"},
		refs:    []reference{{"sitting_id", "sittings"}}},
	values: func(c catalog.Count) []any {
		var north, south any
		if c.Split {
			north, south = int64(c.North), int64(c.South)
		}
		return []any{int64(c.Sitting), c.Tally.String(), north, south, int64(c.Total)}
	},
	scan: func(scan scanner) (c catalog.Count, err error) {
		var tally string
		var north, south sql.Null[int]
		if err := scan(&c.ID, &c.UUID, &c.Revision, &c.Sitting, &tally, &north, &south, &c.Total); err != nil {
			return c, err
		}
		c.Split, c.North, c.South = north.Valid, north.V, south.V
		c.Tally, err = catalog.ParseTally(tally)
		return c, err
	},
	head: func(c *catalog.Count) (*catalog.CountID, *catalog.Record) { return &c.ID, &c.Record },
}

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
