package store

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// refresh rewrites all that is derived from what this operation touched: the
// middles of frames, the positions of marks, and whether passages are stale.
func (tx *Tx) refresh() error {
	if err := tx.refreshMiddles(); err != nil {
		return err
	}
	if err := tx.gatherMoved(); err != nil {
		return err
	}
	if err := tx.refreshPositions(); err != nil {
		return err
	}
	if err := tx.unfollow(); err != nil {
		return err
	}
	return tx.settle()
}

// Refresh brings what is derived up to date before the change has ended, which does so
// in any case: for who wants to see it inside.
func (tx *Tx) Refresh() error {
	if err := tx.checkReferences(); err != nil {
		return err
	}
	return tx.refresh()
}

// DeriveAnew rewrites all positions when they were derived in an older way than
// version, which counts the ways of the Deriver. It is no operation.
func (s *Store) DeriveAnew(ctx context.Context, version int64) error {
	var have int64
	if err := s.read.QueryRowContext(ctx, "PRAGMA user_version").Scan(&have); err != nil || have >= version {
		return asBusy(err)
	}
	// The origin and the time are for a history that is not written.
	return s.transact(ctx, Change{Origin: catalog.Terminal, At: time.Unix(0, 0)}, func(tx *Tx) error {
		if err := tx.emptyMoved(); err != nil {
			return err
		}
		if err := tx.exec("INSERT INTO temp.moved SELECT id FROM marks WHERE removed = 0"); err != nil {
			return err
		}
		if err := tx.refreshPositions(); err != nil {
			return err
		}
		return tx.exec(fmt.Sprintf("PRAGMA user_version = %d", version))
	})
}

// refreshMiddles puts right the middles of touched frames, and of all frames of
// touched sittings. A new frame without a sitting had it right from the first.
func (tx *Tx) refreshMiddles() error {
	var stale []frameMiddle
	gather := func(condition string, spans []span) error {
		for _, s := range joined(spans) {
			found, err := tx.middles(condition, s)
			if err != nil {
				return err
			}
			stale = append(stale, found...)
		}
		return nil
	}
	for _, how := range []touch{inserted, changed, restored} {
		condition := "f.id BETWEEN ? AND ?"
		if how == inserted {
			condition += " AND s.clock_correction_s <> 0"
		}
		if err := gather(condition, tx.touched[touchKey{"frames", how}]); err != nil {
			return err
		}
	}
	if err := gather("f.sitting_id BETWEEN ? AND ?", tx.touched[touchKey{"sittings", changed}]); err != nil {
		return err
	}
	for _, m := range stale {
		if err := tx.exec("UPDATE frames SET middle_utc = ? WHERE id = ?", m.middle, m.id); err != nil {
			return err
		}
	}
	return nil
}

type frameMiddle struct {
	id     int64
	middle string
}

func (tx *Tx) middles(condition string, s span) (found []frameMiddle, err error) {
	err = tx.each("SELECT coalesce(s.clock_correction_s, 0), "+frames.selection("f")+
		" FROM frames f LEFT JOIN sittings s ON s.id = f.sitting_id WHERE "+condition, []any{s[0], s[1]},
		func(scan scanner) error {
			var correction float64
			f, err := frames.scan(scan.with(&correction))
			found = append(found, frameMiddle{int64(f.ID), instant(f.Middle(correction))})
			return err
		})
	return found, err
}

// movers says which marks m may lie elsewhere once rows of a table were touched.
// New frames, sittings and sites have no marks but new ones.
var movers = []struct {
	table string
	how   []touch
	marks string
}{
	{"marks", []touch{inserted, changed, restored, removed}, "SELECT id FROM marks WHERE id BETWEEN ? AND ?"},
	{"frames", []touch{changed}, "SELECT id FROM marks WHERE frame_id BETWEEN ? AND ?"},
	{"discs", []touch{inserted, changed, restored, removed},
		"SELECT m.id FROM discs d JOIN marks m ON m.frame_id = d.frame_id WHERE d.id BETWEEN ? AND ?"},
	{"norths", []touch{inserted, changed, restored, removed},
		"SELECT m.id FROM norths n JOIN marks m ON m.frame_id = n.frame_id WHERE n.id BETWEEN ? AND ?"},
	{"sittings", []touch{changed},
		"SELECT m.id FROM frames f JOIN marks m ON m.frame_id = f.id WHERE f.sitting_id BETWEEN ? AND ?"},
	{"sites", []touch{changed},
		"SELECT m.id FROM sittings s JOIN frames f ON f.sitting_id = s.id JOIN marks m ON m.frame_id = f.id WHERE s.site_id BETWEEN ? AND ?"},
	{"joins", []touch{inserted, changed, restored, removed},
		"SELECT j.mark_id FROM joins j JOIN passages p ON p.id = j.passage_id WHERE p.height_km IS NOT NULL AND j.id BETWEEN ? AND ?"},
	{"passages", []touch{changed},
		"SELECT mark_id FROM joins WHERE passage_id BETWEEN ? AND ?"},
}

// gatherMoved collects the marks whose positions are to be computed anew in the
// temporary table moved.
func (tx *Tx) gatherMoved() error {
	if err := tx.emptyMoved(); err != nil {
		return err
	}
	for _, mover := range movers {
		for _, how := range mover.how {
			spans := joined(tx.touched[touchKey{mover.table, how}])
			if mover.table == marks.name && how == inserted {
				spans = notIn(spans, tx.placed)
			}
			for _, s := range spans {
				if err := tx.exec("INSERT OR IGNORE INTO temp.moved "+mover.marks, s[0], s[1]); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// emptyMoved makes the table, or clears it.
func (tx *Tx) emptyMoved() error {
	if err := tx.exec("CREATE TEMP TABLE IF NOT EXISTS moved (mark_id INTEGER PRIMARY KEY)"); err != nil {
		return err
	}
	return tx.exec("DELETE FROM temp.moved")
}

// refreshPositions derives the positions of the marks in moved, some thousands at
// a time, and writes those that differ.
func (tx *Tx) refreshPositions() error {
	// From moved on: the marks that were ever removed are many.
	const gone = " FROM positions WHERE mark_id IN (SELECT v.mark_id FROM temp.moved v CROSS JOIN marks m ON m.id = v.mark_id WHERE m.removed = 1)"
	if err := tx.exec("INSERT OR IGNORE INTO unfollowed SELECT utc" + gone); err != nil {
		return err
	}
	if err := tx.exec("DELETE" + gone); err != nil {
		return err
	}
	const chunk = 2000
	for last := int64(0); ; {
		s := span{}
		err := tx.sql.QueryRowContext(tx.ctx, "SELECT coalesce(min(mark_id), 0), coalesce(max(mark_id), 0) FROM"+
			" (SELECT mark_id FROM temp.moved WHERE mark_id > ? ORDER BY mark_id LIMIT ?)", last, chunk).Scan(&s[0], &s[1])
		if err != nil || s[1] == 0 {
			return err
		}
		if err := tx.refreshSpan(s); err != nil {
			return err
		}
		last = s[1]
	}
}

// refreshSpan does it for the marks of moved within a span.
func (tx *Tx) refreshSpan(s span) error {
	const moved = "(SELECT mark_id FROM temp.moved WHERE mark_id BETWEEN ? AND ?)"
	all, err := find(&tx.View, &marks, "t.id IN "+moved+" ORDER BY t.frame_id, t.id", s[0], s[1])
	if err != nil {
		return err
	}
	bearings, err := tx.bearings("f.id IN (SELECT m.frame_id FROM marks m WHERE m.id IN "+moved+")", s[0], s[1])
	if err != nil {
		return err
	}
	heights, err := tx.passageHeights(moved, s)
	if err != nil {
		return err
	}
	stood, err := tx.stoodAt(moved, s)
	if err != nil {
		return err
	}
	w := newPositionWriter(tx, stood)
	for _, b := range bearings {
		n := 0
		for n < len(all) && all[n].Frame == b.Frame.ID {
			if h, ok := heights[all[n].ID]; ok && all[n].Height == nil {
				all[n].Height = &h
			}
			n++
		}
		if err := w.write(all[:n], tx.derive(b, all[:n])); err != nil {
			return err
		}
		all = all[n:]
	}
	if len(all) > 0 {
		return fmt.Errorf("mark %s hangs on frame %s, which is not there", all[0].ID, all[0].Frame)
	}
	return w.flush()
}

// place derives the positions of marks that were just inserted, while they are at hand:
// to read a million of them again at the end takes as long as to write them. What is
// touched later in this operation moves them as it moves others.
func (tx *Tx) place(inserted []catalog.Mark) error {
	byFrame := map[catalog.FrameID][]catalog.Mark{}
	for _, m := range inserted {
		byFrame[m.Frame] = append(byFrame[m.Frame], m)
	}
	bearings, err := tx.BearingsOf(slices.Collect(maps.Keys(byFrame)))
	if err != nil || len(bearings) < len(byFrame) { // a frame that is out of sight is refused in the end
		return err
	}
	w := newPositionWriter(tx, nil)
	for _, b := range bearings {
		on := byFrame[b.Frame.ID]
		if err := w.write(on, tx.derive(b, on)); err != nil {
			return err
		}
	}
	tx.placed = append(tx.placed, span{int64(inserted[0].ID), int64(inserted[len(inserted)-1].ID)})
	return w.flush()
}

// notIn takes some spans, in their order, out of others, which are joined.
func notIn(spans, some []span) (left []span) {
	for _, s := range spans {
		for _, hole := range some {
			if hole[1] < s[0] || hole[0] > s[1] {
				continue
			}
			if hole[0] > s[0] {
				left = append(left, span{s[0], hole[0] - 1})
			}
			s[0] = hole[1] + 1
		}
		if s[0] <= s[1] {
			left = append(left, s)
		}
	}
	return left
}

// stoodAt reads the columns of the positions as they stand.
func (v *View) stoodAt(moved string, s span) (map[catalog.MarkID][]any, error) {
	stood := map[catalog.MarkID][]any{}
	err := v.each("SELECT p.mark_id, "+positionSelection("p")+" FROM positions p WHERE p.mark_id IN "+moved, []any{s[0], s[1]},
		func(scan scanner) error {
			var id catalog.MarkID
			values := make([]any, len(positionColumns))
			targets := []any{&id}
			for i := range values {
				targets = append(targets, &values[i])
			}
			err := scan(targets...)
			stood[id] = values
			return err
		})
	return stood, err
}

// positionWriter writes positions that differ from what stood, fifty in one
// statement, notes their instants, the former ones too, as not followed, and makes the
// passages of moved marks stale.
type positionWriter struct {
	batch
	stood map[catalog.MarkID][]any
	noted any // the instant noted last: marks of one frame have one
}

func newPositionWriter(tx *Tx, stood map[catalog.MarkID][]any) positionWriter {
	return positionWriter{stood: stood,
		batch: newBatch(tx, "INSERT OR REPLACE INTO positions", append([]string{"mark_id"}, positionColumns...))}
}

func (w *positionWriter) write(marks []catalog.Mark, positions []catalog.Position) error {
	if len(positions) != len(marks) {
		return fmt.Errorf("%d positions derived for %d marks", len(positions), len(marks))
	}
	for i, p := range positions {
		values := positionValues(p)
		before, known := w.stood[marks[i].ID]
		if known && slices.Equal(before, values) {
			continue
		}
		if known {
			if err := w.tx.exec("UPDATE passages SET stale = 1 WHERE stale = 0 AND id IN"+
				" (SELECT passage_id FROM joins WHERE mark_id = ? AND removed = 0 AND state = 'made')", int64(marks[i].ID)); err != nil {
				return err
			}
		}
		if known && before[0] != values[0] {
			if err := w.note(before[0]); err != nil {
				return err
			}
		}
		if err := w.note(values[0]); err != nil {
			return err
		}
		w.args = append(append(w.args, int64(marks[i].ID)), values...)
		if err := w.row(); err != nil {
			return err
		}
	}
	return nil
}

func (w *positionWriter) note(utc any) error {
	if utc == w.noted {
		return nil
	}
	w.noted = utc
	return w.tx.exec("INSERT OR IGNORE INTO unfollowed (utc) VALUES (?)", utc)
}

// passageHeights reads the heights that following found for the passages of marks.
func (v *View) passageHeights(moved string, s span) (map[catalog.MarkID]coords.Layer, error) {
	heights := map[catalog.MarkID]coords.Layer{}
	err := v.each("SELECT j.mark_id, p.height_km, p.sigma_height_km"+
		" FROM joins j JOIN passages p ON p.id = j.passage_id"+
		" WHERE j.removed = 0 AND j.state = 'made' AND p.removed = 0 AND p.height_km IS NOT NULL AND j.mark_id IN "+moved, []any{s[0], s[1]},
		func(scan scanner) error {
			var id catalog.MarkID
			var heightKm, sigmaKm float64
			err := scan(&id, &heightKm, &sigmaKm)
			heights[id] = coords.Layer{HeightMm: heightKm / 1000, SigmaMm: sigmaKm / 1000}
			return err
		})
	return heights, err
}
