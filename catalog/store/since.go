package store

import (
	"slices"

	"limbwatch/catalog"
)

// Touched is what entries of the history touched, each id once and in order.
//
//	Version   the newest of these entries
//	Marks     made, changed, taken out of sight or put back, or joined to passages otherwise
//	Frames    whose picture, time, disc, north or warnings changed, or that came or went
//	Sittings  of which something was put right
//	Much      more than is worth telling one by one: the rest is then empty
type Touched struct {
	Version  catalog.OperationID
	Marks    []catalog.MarkID
	Frames   []catalog.FrameID
	Sittings []catalog.SittingID
	Much     bool
}

// What is told one by one: so many entries, each of so many packed bytes, and rows.
const (
	entriesTold = 32
	bytesTold   = 64 << 10
	rowsTold    = 400
)

// TouchedSince tells what the entries of the history after one touched.
func (v *View) TouchedSince(after catalog.OperationID) (t Touched, err error) {
	t.Version = after
	rows := map[string]map[int64]bool{} // by table
	entries, count := 0, 0
	note := func(table string, id int64) {
		if rows[table] == nil {
			rows[table] = map[int64]bool{}
		}
		if !rows[table][id] {
			rows[table][id] = true
			count++
		}
	}
	err = v.each("SELECT o.id, d.changes, length(d.changes) > ? FROM operations o JOIN operations d ON d.id = coalesce(o.of_id, o.id)"+
		" WHERE o.id > ? ORDER BY o.id", []any{bytesTold, int64(after)}, func(scan scanner) error {
		var packed []byte
		var large bool
		if err := scan(&t.Version, &packed, &large); err != nil {
			return err
		}
		entries++
		if t.Much = t.Much || large || entries > entriesTold || count > rowsTold; t.Much {
			return nil
		}
		what, err := unpack(packed)
		if err != nil {
			return err
		}
		for table, spans := range what.Inserted {
			for _, s := range spans {
				for id := s[0]; id <= s[1] && count <= rowsTold; id++ {
					note(table, id)
				}
			}
		}
		for _, c := range what.Changed {
			note(c.Table, c.ID)
			if c.Table != "frames" {
				continue
			}
			for _, image := range []map[string]any{c.Before, c.After} { // from one sitting to another
				if sitting, moved := image["sitting_id"].(int64); moved {
					note("sittings", sitting)
				}
			}
		}
		return nil
	})
	if err != nil {
		return t, err
	}
	if t.Much = t.Much || count > rowsTold || hasSetting(rows); t.Much {
		return t, nil
	}
	return t, v.resolve(&t, rows)
}

// hasSetting says whether something was touched on which any picture may hang: a site, a
// telescope, an observer's name.
func hasSetting(rows map[string]map[int64]bool) bool {
	for _, table := range []string{"sites", "instruments", "setups", "observers"} {
		if len(rows[table]) > 0 {
			return true
		}
	}
	return false
}

// shownBy says where a row of a table shows: as a mark or as a frame.
var shownBy = []struct {
	table, query string
	mark         bool
}{
	{"joins", "SELECT mark_id FROM joins WHERE id IN ", true},
	{"passages", "SELECT mark_id FROM joins WHERE removed = 0 AND passage_id IN ", true},
	{"discs", "SELECT frame_id FROM discs WHERE id IN ", false},
	{"norths", "SELECT frame_id FROM norths WHERE id IN ", false},
	{"warnings", "SELECT frame_id FROM warnings WHERE id IN ", false},
}

// resolve brings touched rows to what shows them.
func (v *View) resolve(t *Touched, rows map[string]map[int64]bool) error {
	marks, frames := rows["marks"], rows["frames"]
	if marks == nil {
		marks = map[int64]bool{}
	}
	if frames == nil {
		frames = map[int64]bool{}
	}
	for _, shown := range shownBy {
		ids := sortedIDs[int64](rows[shown.table])
		if len(ids) == 0 {
			continue
		}
		into := frames
		if shown.mark {
			into = marks
		}
		err := v.each(shown.query+placeholders(1, len(ids)), numbers(ids), func(scan scanner) error {
			var id int64
			err := scan(&id)
			into[id] = true
			return err
		})
		if err != nil {
			return err
		}
	}
	t.Marks, t.Frames = sortedIDs[catalog.MarkID](marks), sortedIDs[catalog.FrameID](frames)
	t.Sittings = sortedIDs[catalog.SittingID](rows["sittings"])
	if t.Much = len(t.Marks)+len(t.Frames) > 2*rowsTold; t.Much {
		t.Marks, t.Frames, t.Sittings = nil, nil, nil
	}
	return nil
}

func sortedIDs[ID ~int64](set map[int64]bool) []ID {
	ids := make([]ID, 0, len(set))
	for id := range set {
		ids = append(ids, ID(id))
	}
	slices.Sort(ids)
	return ids
}

// Whereabouts says on which frame, and in which sitting, a mark or a frame is kept.
//
//	Gone     it is out of sight
//	Sitting  0: of none
type Whereabouts struct {
	Frame   catalog.FrameID
	Sitting catalog.SittingID
	Gone    bool
}

// MarksAt tells where marks are, those out of sight too.
func (v *View) MarksAt(ids []catalog.MarkID) (map[catalog.MarkID]Whereabouts, error) {
	return whereabouts(v, "SELECT t.id, f.id, coalesce(f.sitting_id, 0), t.removed OR f.removed FROM marks t JOIN frames f ON f.id = t.frame_id WHERE t.id IN ", ids)
}

// FramesAt tells the same of frames.
func (v *View) FramesAt(ids []catalog.FrameID) (map[catalog.FrameID]Whereabouts, error) {
	return whereabouts(v, "SELECT f.id, f.id, coalesce(f.sitting_id, 0), f.removed FROM frames f WHERE f.id IN ", ids)
}

func whereabouts[ID ~int64](v *View, query string, ids []ID) (map[ID]Whereabouts, error) {
	all := make(map[ID]Whereabouts, len(ids))
	for some := range slices.Chunk(ids, idsAtOnce) {
		err := v.each(query+placeholders(1, len(some)), numbers(some), func(scan scanner) error {
			var id ID
			var at Whereabouts
			err := scan(&id, &at.Frame, &at.Sitting, &at.Gone)
			all[id] = at
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}
