package store

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// snapshot is all that is in sight, row by row, as the database has it, without
// what counts changes (revision, operation_id).
func snapshot(t testing.TB, s *Store) map[string]string {
	t.Helper()
	state := map[string]string{}
	dump := func(name, columns, condition string) {
		lines, err := s.read.Query("SELECT " + columns + " FROM " + name + condition)
		require.NoError(t, err)
		defer lines.Close()
		names, err := lines.Columns()
		require.NoError(t, err)
		for lines.Next() {
			values, targets := make([]any, len(names)), make([]any, len(names))
			for i := range values {
				targets[i] = &values[i]
			}
			require.NoError(t, lines.Scan(targets...))
			state[fmt.Sprintf("%s %v", name, values[0])] = fmt.Sprint(values...)
		}
		require.NoError(t, lines.Err())
	}
	for name, table := range tables {
		columns := "id, hex(uuid)"
		for _, c := range append(table.columns, table.derived...) {
			columns += ", " + c
		}
		dump(name, columns, " WHERE removed = 0")
	}
	dump("positions", "*", "")
	return state
}

// checkDerived computes every position from what is in sight now and compares it
// with what is kept.
func checkDerived(t testing.TB, s *Store) {
	t.Helper()
	v := s.Read(ctx)
	kept := 0
	all, err := v.bearings("1")
	require.NoError(t, err)
	joinsOf := map[catalog.MarkID]coords.Layer{}
	joins, err := v.Joins()
	require.NoError(t, err)
	for _, j := range joins {
		p, err := v.Passage(j.Passage)
		require.NoError(t, err)
		if j.State == catalog.Made && p.Height != nil {
			joinsOf[j.Mark] = *p.Height
		}
	}
	for _, b := range all {
		marks, err := v.MarksOn(b.Frame.ID)
		require.NoError(t, err)
		for i, m := range marks {
			if h, ok := joinsOf[m.ID]; ok && m.Height == nil {
				marks[i].Height = &h
			}
		}
		for _, want := range byFigures(b, marks) {
			got, err := v.Position(want.Mark)
			require.NoError(t, err)
			requireSame(t, positionValues(want), positionValues(got))
			kept++
		}
		var middle string
		require.NoError(t, s.read.QueryRow("SELECT middle_utc FROM frames WHERE id = ?", int64(b.Frame.ID)).Scan(&middle))
		require.Equal(t, instant(b.Frame.Middle(b.ClockCorrectionS)), middle)
	}
	var rows int
	require.NoError(t, s.read.QueryRow("SELECT count(*) FROM positions").Scan(&rows))
	require.Equal(t, kept, rows, "positions of marks out of sight")
}

// requireSame compares figures that went into the database and came back, in which
// turning degrees to radians and back costs a last bit.
func requireSame(t testing.TB, want, got []any) {
	t.Helper()
	for i := range want {
		if number, ok := want[i].(float64); ok {
			require.InDelta(t, number, got[i], 1e-9, positionColumns[i])
			continue
		}
		require.Equal(t, want[i], got[i], positionColumns[i])
	}
}

// storm makes random changes of every kind that an observer, the page or the
// follower makes.
type storm struct {
	*rand.Rand
	names int
}

func pick[T any](r *storm, list []T, err error) (T, bool) {
	var none T
	if err != nil || len(list) == 0 {
		return none, false
	}
	return list[r.IntN(len(list))], true
}

func (r *storm) name() string { r.names++; return fmt.Sprintf("thing %d", r.names) }

// change does something random; it may come to nothing, or be refused.
func (r *storm) change(tx *Tx) error {
	frames, framesErr := tx.FramesBetween(time.Time{}.AddDate(1700, 0, 0), noon.AddDate(100, 0, 0))
	frame, haveFrame := pick(r, frames, framesErr)
	sites, sitesErr := tx.Sites()
	site, haveSite := pick(r, sites, sitesErr)
	sittings, sittingsErr := tx.SittingsBetween(noon.AddDate(-1, 0, 0), noon.AddDate(1, 0, 0))
	sitting, haveSitting := pick(r, sittings, sittingsErr)
	passages, passagesErr := tx.Passages()
	passage, havePassage := pick(r, passages, passagesErr)
	entries, entriesErr := tx.Entries(Query{})
	entry, haveMark := pick(r, entries, entriesErr)
	mark := entry.Mark
	switch n := r.IntN(22); {
	case n == 0:
		_, err := tx.AddSite(catalog.Site{Name: r.name(), LatDeg: float64(r.IntN(90)), Default: r.IntN(2) == 0})
		return err
	case n == 1 && haveSite:
		site.LatDeg, site.Default = float64(r.IntN(90)), r.IntN(2) == 0
		_, err := tx.EditSite(site)
		return err
	case n == 2 && haveSite:
		return tx.RemoveSite(site.ID, Newest)
	case n == 3:
		_, err := tx.AddSitting(catalog.Sitting{Site: site.ID, Day: catalog.DayOf(noon), Looked: map[catalog.Kind]catalog.Look{catalog.Plage: catalog.NoneSeen}})
		return err
	case n == 4 && haveSitting:
		sitting.ClockCorrectionS, sitting.Site = float64(r.IntN(7200)-3600), site.ID
		_, err := tx.EditSitting(sitting)
		return err
	case n == 5 && haveSitting:
		return tx.RemoveSitting(sitting.ID, Newest)
	case n <= 7:
		f := frameAt(noon.Add(time.Duration(r.IntN(1000)) * time.Minute))
		f.Sitting = sitting.ID
		_, err := tx.AddFrame(f)
		return err
	case n == 8 && haveFrame:
		frame.Taken, frame.Moment, frame.ExposureS = frame.Taken.Add(time.Duration(r.IntN(100))*time.Second), catalog.MomentStart, float64(r.IntN(60))
		_, err := tx.EditFrame(frame)
		return err
	case n == 9 && haveFrame:
		return tx.RemoveFrame(frame.ID, Newest)
	case n <= 11 && haveFrame:
		d, err := tx.Disc(frame.ID)
		if err != nil {
			d = catalog.Disc{Frame: frame.ID, Method: catalog.DiscTyped, LayerFrom: catalog.LayerNamed}
		}
		d.Limb.RadiusPx, d.Limb.Centre.X = 100, float64(r.IntN(50))
		_, err = tx.SetDisc(d)
		return err
	case n == 12 && haveFrame:
		d, err := tx.North(frame.ID)
		if err != nil {
			d = catalog.North{Frame: frame.ID, Method: "typed"}
		}
		d.Angle, d.Sigma = angle(float64(r.IntN(300))), angle(0.5)
		_, err = tx.SetNorth(d)
		return err
	case n <= 15 && haveFrame:
		m := pixelMark(frame.ID, float64(r.IntN(100)), float64(r.IntN(40)))
		if r.IntN(2) == 0 {
			m = placeMark(frame.ID, float64(r.IntN(90)), float64(r.IntN(359)))
		}
		added, err := tx.AddMark(m)
		if err == nil && r.IntN(3) == 0 { // and edits it at once
			added.Label = r.name()
			_, err = tx.EditMark(added)
		}
		if err == nil && r.IntN(8) == 0 { // or thinks better of it
			err = tx.RemoveMark(added.ID, Newest)
		}
		return err
	case n == 16 && haveMark:
		mark.Note, mark.Height = r.name(), &coords.Layer{HeightMm: float64(r.IntN(50)), SigmaMm: 1}
		_, err := tx.EditMark(mark)
		return err
	case n == 17 && haveMark:
		return tx.RemoveMark(mark.ID, Newest)
	case n == 18:
		_, err := tx.AddPassage(catalog.Passage{Name: r.name(), Kind: catalog.Filament, Height: &coords.Layer{HeightMm: float64(r.IntN(30))}})
		return err
	case n == 19 && havePassage:
		passage.Height = &coords.Layer{HeightMm: float64(r.IntN(30))}
		_, err := tx.EditPassage(passage)
		return err
	case n == 20 && havePassage && haveMark:
		if entry.Join != nil {
			return tx.RemoveJoin(entry.Join.ID, Newest)
		}
		_, err := tx.AddJoin(catalog.Join{Mark: mark.ID, Passage: passage.ID, State: catalog.Made, By: catalog.ByProgram})
		return err
	case n == 21 && havePassage:
		return tx.RemovePassage(passage.ID, Newest)
	}
	return nil
}

// refusal says whether an error is one of those that changes may well meet.
func refusal(err error) bool {
	_, used := errors.AsType[*InUseError](err)
	_, gone := errors.AsType[*NotFoundError](err)
	_, conflict := errors.AsType[*ConflictError](err)
	_, nothing := errors.AsType[*NothingToUndoError](err)
	return used || gone || conflict || nothing
}

func TestUndoingAllLeavesNothingAndRedoingAllGivesAllBack(t *testing.T) {
	operations := 120
	if testing.Short() {
		operations = 60
	}
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := openAt(t, path)
	r := &storm{Rand: rand.New(rand.NewPCG(2309, 14))}
	states := []map[string]string{snapshot(t, s)}
	require.Empty(t, states[0])
	for len(states) <= operations {
		op, err := s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error {
			for range 1 + r.IntN(3) {
				if err := r.change(tx); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			require.True(t, refusal(err), "%v", err)
			require.Equal(t, states[len(states)-1], snapshot(t, s), "a refused change changed something")
			continue
		}
		if op.ID != 0 {
			states = append(states, snapshot(t, s))
		}
	}
	checkDerived(t, s)
	for i := operations - 1; i >= 0; i-- {
		if i == operations/2 { // across a restart
			s = openAt(t, path)
		}
		op, err := s.Undo(ctx, at(catalog.Terminal))
		require.NoError(t, err)
		require.True(t, op.Undone)
		require.Equal(t, states[i], snapshot(t, s), "after undoing %s", op.ID)
	}
	_, err := s.Undo(ctx, at(catalog.Terminal))
	require.ErrorContains(t, err, "nothing to undo")
	for i := 1; i <= operations; i++ {
		if i == operations/2 {
			s = openAt(t, path)
		}
		op, err := s.Redo(ctx, at(catalog.Terminal))
		require.NoError(t, err)
		require.Equal(t, states[i], snapshot(t, s), "after redoing %s", op.ID)
	}
	_, err = s.Redo(ctx, at(catalog.Terminal))
	require.ErrorContains(t, err, "nothing to redo")
	checkDerived(t, s)
}

func TestAStormOfSeveralOriginsKeepsTheCatalogueSound(t *testing.T) {
	steps := 300
	if testing.Short() {
		steps = 100
	}
	s := open(t)
	r := &storm{Rand: rand.New(rand.NewPCG(7, 25))}
	origins := []catalog.Origin{catalog.Terminal, catalog.Desk("a"), catalog.Desk("b")}
	did := map[string]int{}
	for step := range steps {
		origin := origins[r.IntN(len(origins))]
		before := snapshot(t, s)
		var err error
		kind := []string{"do", "do", "do", "undo", "redo"}[r.IntN(5)]
		switch kind {
		case "do":
			_, err = s.Update(ctx, at(origin), r.change)
		case "undo":
			if _, err = s.Undo(ctx, at(origin)); err == nil {
				// What was just undone can be redone, and then all is as it was.
				_, err = s.Redo(ctx, at(origin))
				require.NoError(t, err)
				require.Equal(t, before, snapshot(t, s))
				_, err = s.Undo(ctx, at(origin))
			}
		case "redo":
			_, err = s.Redo(ctx, at(origin))
		}
		if err != nil {
			require.True(t, refusal(err), "step %d: %v", step, err)
			require.Equal(t, before, snapshot(t, s), "step %d: refused, and yet changed: %v", step, err)
			kind += " refused"
			if _, ok := errors.AsType[*ConflictError](err); ok {
				kind = "conflict"
			}
		}
		did[kind]++
		if step%25 == 0 {
			checkDerived(t, s)
		}
	}
	checkDerived(t, s)
	t.Log(did)
	assert.Greater(t, did["undo"], 10)
	if !testing.Short() { // long enough for all of it to happen
		assert.Greater(t, did["redo"], 5)
		assert.Greater(t, did["conflict"], 5, "origins stood in each other's way")
	}
	var broken int
	require.NoError(t, s.read.QueryRow("SELECT count(*) FROM pragma_foreign_key_check").Scan(&broken))
	assert.Zero(t, broken)
}
