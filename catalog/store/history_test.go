package store

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// someMark puts a mark on a frame of its own.
func someMark(t testing.TB, s *Store) (catalog.Frame, catalog.Mark) {
	t.Helper()
	var f catalog.Frame
	var m catalog.Mark
	update(t, s, func(tx *Tx) (err error) {
		if f, err = tx.AddFrame(frameAt(noon)); err != nil {
			return err
		}
		m, err = tx.AddMark(placeMark(f.ID, 10, 20))
		return err
	})
	return f, m
}

func note(t testing.TB, s *Store, origin catalog.Origin, id catalog.MarkID, text string) catalog.Operation {
	t.Helper()
	op, err := s.Update(ctx, at(origin), func(tx *Tx) error {
		m, err := tx.Mark(id)
		if err != nil {
			return err
		}
		m.Note = text
		_, err = tx.EditMark(m)
		return err
	})
	require.NoError(t, err)
	return op
}

func TestAStaleEditIsRefusedWithBothVersions(t *testing.T) {
	s := open(t)
	_, mine := someMark(t, s)
	theirs := mine
	theirs.Note = "theirs"
	update(t, s, func(tx *Tx) (err error) { theirs, err = tx.EditMark(theirs); return err })
	assert.EqualValues(t, 2, theirs.Revision)

	mine.Note = "mine"
	_, err := s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error { _, err := tx.EditMark(mine); return err })
	stale, ok := errors.AsType[*StaleError](err)
	require.True(t, ok, "%v", err)
	assert.Equal(t, mine, stale.Yours)
	assert.Equal(t, theirs, stale.Theirs)
	assert.EqualError(t, err, "mark M1 was changed meanwhile: yours was made from revision 1, it stands at 2")

	_, err = s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error { return tx.RemoveMark(mine.ID, mine.Revision) })
	_, ok = errors.AsType[*StaleError](err)
	assert.True(t, ok, "a stale removal is refused too: %v", err)

	// Undo does not bring an old revision back to life: what was seen before the
	// edit is not what stands there after edit and undo, for someone may have acted
	// on the edit.
	_, err = s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	now, err := s.Read(ctx).Mark(mine.ID)
	require.NoError(t, err)
	assert.Empty(t, now.Note)
	assert.EqualValues(t, 3, now.Revision)
}

func TestASecondDiscForAFrameIsStale(t *testing.T) {
	s := open(t)
	f, _ := someMark(t, s)
	d := catalog.Disc{Frame: f.ID, Limb: coords.Limb{RadiusPx: 100}, Method: catalog.DiscTyped, LayerFrom: catalog.LayerNamed}
	update(t, s, func(tx *Tx) error { _, err := tx.SetDisc(d); return err })
	_, err := s.Update(ctx, at(catalog.Desk("x")), func(tx *Tx) error { _, err := tx.SetDisc(d); return err })
	_, ok := errors.AsType[*StaleError](err)
	assert.True(t, ok, "%v", err)
}

func TestAnEditThatChangesNothingIsNoOperation(t *testing.T) {
	s := open(t)
	_, m := someMark(t, s)
	op := update(t, s, func(tx *Tx) error { _, err := tx.EditMark(m); return err })
	assert.Zero(t, op)
	entries, err := s.Read(ctx).History("", 10)
	require.NoError(t, err)
	assert.Len(t, entries, 1)
}

func TestUndoGoesThroughItsOwnOriginAndStopsAtLaterChanges(t *testing.T) {
	s := open(t)
	_, m := someMark(t, s)
	page := catalog.Desk("page")
	note(t, s, catalog.Terminal, m.ID, "first")
	later := note(t, s, page, m.ID, "second")

	_, err := s.Undo(ctx, at(catalog.Terminal))
	conflict, ok := errors.AsType[*ConflictError](err)
	require.True(t, ok, "%v", err)
	assert.Equal(t, later.ID, conflict.Later.ID)
	assert.Equal(t, "M1", conflict.ID)
	assert.EqualError(t, err, `cannot undo H2 "test": mark M1 was changed later by H3 "test" of desk:page`)

	_, err = s.Undo(ctx, at(page))
	require.NoError(t, err)
	_, err = s.Undo(ctx, at(page))
	_, ok = errors.AsType[*NothingToUndoError](err)
	assert.True(t, ok, "the page has done nothing else: %v", err)
	op, err := s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	assert.EqualValues(t, 2, op.ID)
	_, err = s.Redo(ctx, at(page))
	_, ok = errors.AsType[*ConflictError](err)
	assert.True(t, ok, "the page's note was made on the first one: %v", err)
}

// The page adds a mark, the terminal removes it and takes that back, the page takes its
// adding back: there is no mark now that the terminal could remove once more.
func TestARemovalIsNotDoneAgainOnWhatIsNotThere(t *testing.T) {
	s := open(t)
	f, _ := someMark(t, s)
	page := catalog.Desk("page")
	var m catalog.Mark
	_, err := s.Update(ctx, at(page), func(tx *Tx) (err error) {
		m, err = tx.AddMark(placeMark(f.ID, 1, 2))
		return err
	})
	require.NoError(t, err)
	update(t, s, func(tx *Tx) error { return tx.RemoveMark(m.ID, m.Revision) })
	_, err = s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	_, err = s.Undo(ctx, at(page))
	require.NoError(t, err)

	_, err = s.Redo(ctx, at(catalog.Terminal))
	conflict, ok := errors.AsType[*ConflictError](err)
	require.True(t, ok, "%v", err)
	assert.Equal(t, "M2", conflict.ID)
	assert.EqualError(t, err, `cannot redo H3 "test": mark M2 is not there: H5 "test" of desk:page took it away`)
	entries, err := s.Read(ctx).Entries(Query{})
	require.NoError(t, err)
	assert.Len(t, entries, 1)
	_, err = s.Redo(ctx, at(page))
	require.NoError(t, err)
	_, err = s.Redo(ctx, at(catalog.Terminal))
	require.NoError(t, err, "once it is there again, it is removed again")
}

func TestUndoOfAnAdditionStopsAtWhatWasHungOnItLater(t *testing.T) {
	s := open(t)
	f, _ := someMark(t, s)
	_, err := s.Update(ctx, at(catalog.Desk("page")), func(tx *Tx) error {
		_, err := tx.AddMark(placeMark(f.ID, 1, 2))
		return err
	})
	require.NoError(t, err)
	_, err = s.Undo(ctx, at(catalog.Terminal))
	conflict, ok := errors.AsType[*ConflictError](err)
	require.True(t, ok, "%v", err)
	used, ok := errors.AsType[*InUseError](conflict)
	require.True(t, ok, "%v", err)
	assert.Equal(t, "M2", used.ByID)
}

func TestRedoEndsWhenSomethingElseIsDone(t *testing.T) {
	s := open(t)
	_, m := someMark(t, s)
	note(t, s, catalog.Terminal, m.ID, "a")
	note(t, s, catalog.Terminal, m.ID, "b")
	for range 2 {
		_, err := s.Undo(ctx, at(catalog.Terminal))
		require.NoError(t, err)
	}
	_, err := s.Redo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	note(t, s, catalog.Terminal, m.ID, "c")
	_, err = s.Redo(ctx, at(catalog.Terminal))
	_, ok := errors.AsType[*NothingToUndoError](err)
	assert.True(t, ok, "%v", err)
	_, err = s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	_, err = s.Redo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	now, err := s.Read(ctx).Mark(m.ID)
	require.NoError(t, err)
	assert.Equal(t, "c", now.Note)
	_, err = s.Redo(ctx, at(catalog.Terminal))
	assert.Error(t, err, `"b" is gone from the way`)

	history, err := s.Read(ctx).History(catalog.Terminal, 100)
	require.NoError(t, err)
	var acts []string
	for _, h := range history {
		acts = append(acts, h.Act.String()+" "+h.Of.String())
	}
	assert.Equal(t, []string{"redone H7", "undone H7", "done H7", "redone H2", "undone H2", "undone H3", "done H3", "done H2", "done H1"}, acts)
	assert.False(t, history[2].Undone)
	assert.True(t, history[6].Undone, "H3 stands taken back")
}

func TestShortIDsAreNeverGivenAgain(t *testing.T) {
	s := open(t)
	f, m := someMark(t, s)
	update(t, s, func(tx *Tx) error { return tx.RemoveMark(m.ID, m.Revision) })
	var next catalog.Mark
	update(t, s, func(tx *Tx) (err error) { next, err = tx.AddMark(placeMark(f.ID, 1, 2)); return err })
	assert.Equal(t, "M2", next.ID.String())
	_, err := s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	update(t, s, func(tx *Tx) (err error) { next, err = tx.AddMark(placeMark(f.ID, 1, 2)); return err })
	assert.Equal(t, "M3", next.ID.String())
	_, err = s.Read(ctx).Mark(1)
	gone, ok := errors.AsType[*NotFoundError](err)
	require.True(t, ok)
	assert.True(t, gone.Removed)
}

func TestWhatIsInUseIsNotRemoved(t *testing.T) {
	s := open(t)
	f, _ := someMark(t, s)
	_, err := s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error { return tx.RemoveFrame(f.ID, Newest) })
	assert.EqualError(t, err, "frame F1 is still used by mark M1")
}

// Of several things that are in the way it is the same one that is named each time.
func TestARefusalSaysTheSameEachTime(t *testing.T) {
	s := open(t)
	var observer catalog.Observer
	update(t, s, func(tx *Tx) (err error) {
		if observer, err = tx.AddObserver(catalog.Observer{Name: "A"}); err != nil {
			return err
		}
		if _, err = tx.AddSitting(catalog.Sitting{Day: catalog.DayOf(noon), Observer: observer.ID}); err != nil {
			return err
		}
		f, err := tx.AddFrame(frameAt(noon))
		if err != nil {
			return err
		}
		m := placeMark(f.ID, 10, 20)
		m.Observer = observer.ID
		_, err = tx.AddMark(m)
		return err
	})
	said := map[string]bool{}
	for range 40 {
		_, err := s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error { return tx.RemoveObserver(observer.ID, Newest) })
		require.Error(t, err)
		said[err.Error()] = true
	}
	assert.Len(t, said, 1, "%v", said)
}

func TestNamesAndPicturesAreTakenOnce(t *testing.T) {
	s := open(t)
	add := func(tx *Tx) error { _, err := tx.AddSite(catalog.Site{Name: "Yard"}); return err }
	update(t, s, add)
	_, err := s.Update(ctx, at(catalog.Terminal), add)
	assert.EqualError(t, err, "site name already taken")
	update(t, s, func(tx *Tx) error { return tx.RemoveSite(1, Newest) })
	update(t, s, add)
	_, err = s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	_, err = s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err, "the removed one comes back")
}

func TestPassagesGoStaleWhenTheirMarksMove(t *testing.T) {
	s := open(t)
	f, m := someMark(t, s)
	var p catalog.Passage
	update(t, s, func(tx *Tx) (err error) {
		if p, err = tx.AddPassage(catalog.Passage{Name: "Alder", Kind: catalog.Filament}); err != nil {
			return err
		}
		_, err = tx.AddJoin(catalog.Join{Mark: m.ID, Passage: p.ID, State: catalog.Made, By: catalog.ByProgram})
		tx.Followed(time.Time{}, time.Time{})
		return err
	})
	stale := func() []catalog.PassageID {
		ids, err := s.Read(ctx).StalePassages()
		require.NoError(t, err)
		return ids
	}
	note(t, s, catalog.Terminal, m.ID, "a note moves nothing")
	assert.Empty(t, stale())
	f.Taken = f.Taken.Add(time.Hour)
	update(t, s, func(tx *Tx) error { _, err := tx.EditFrame(f); return err })
	assert.Equal(t, []catalog.PassageID{p.ID}, stale())
	again, err := s.Read(ctx).Passage(p.ID)
	require.NoError(t, err)
	assert.True(t, again.Stale)
	assert.Equal(t, p.Revision, again.Revision, "going stale is no edit")
	update(t, s, func(tx *Tx) error {
		again.Height = &coords.Layer{HeightMm: 12, SigmaMm: 3}
		again, err = tx.EditPassage(again)
		tx.Followed(time.Time{}, time.Time{})
		return err
	})
	assert.Empty(t, stale())
	e, err := s.Read(ctx).Entries(Query{Passage: p.ID})
	require.NoError(t, err)
	require.Len(t, e, 1)
	assert.Equal(t, "Alder", e[0].PassageName)
	assert.InDelta(t, 20+1+12, e[0].Position.Disc.L.Degrees(), 1e-9, "the height that following found counts")
}

// Rows written by hand, around the program, obey too.
func TestTheDatabaseGuardsWhatTheTypesPromise(t *testing.T) {
	s := open(t)
	someMark(t, s)
	for _, statement := range []string{
		"UPDATE operations SET title = 'another'",
		"DELETE FROM operations",
		"UPDATE marks SET kind = 'comet'",
		"UPDATE marks SET kind = 7",
		"UPDATE marks SET vertices = '[[1,2],[3,4]]'",
		"UPDATE marks SET vertices = 'nonsense'",
		"UPDATE marks SET shape = 'outline'",
		"UPDATE marks SET form = 'pixels'",
		"UPDATE marks SET frame_id = 99",
		"UPDATE marks SET revision = 0",
		"UPDATE marks SET removed = 2",
		"UPDATE marks SET marked_utc = '2026-03-14 12:00'",
		"UPDATE marks SET marked_utc = '2026-02-30T12:00:00.000Z'",
		"UPDATE marks SET height_km = 3",
		"UPDATE marks SET spots = 0",
		"UPDATE marks SET kind = 'plage', spots = 3",
		"UPDATE marks SET uuid = x'00'",
		"UPDATE frames SET taken_utc = '2026-13-14T12:00:00.000Z'",
		"UPDATE frames SET path = '/x'",
		"UPDATE frames SET role = 'all'",
		"UPDATE frames SET sigma_s = 0",
		"UPDATE positions SET lat_deg = 91",
		"UPDATE positions SET lon_deg = 360",
		"UPDATE positions SET lat_deg = NULL",
		"DELETE FROM frames",
		"INSERT INTO sites (uuid, revision, operation_id, name, lat_deg, lon_deg) VALUES (randomblob(16), 1, 1, 'x', 95, 0)",
		"INSERT INTO norths (uuid, revision, operation_id, frame_id, angle_deg, toward, mirrored, sigma_deg, method) VALUES (randomblob(16), 1, 1, 1, 0, 'celestial', 0, 0, 'typed')",
		"INSERT INTO sittings (uuid, revision, operation_id, day, seeing) VALUES (randomblob(16), 1, 1, '2026-03-14', '3')",
		"INSERT INTO sittings (uuid, revision, operation_id, day) VALUES (randomblob(16), 1, 1, '14.3.2026')",
	} {
		_, err := s.write.Exec(statement)
		assert.Error(t, err, statement)
	}
}

func TestAChangeWithoutOriginOrTimeIsRefused(t *testing.T) {
	s := open(t)
	nothing := func(*Tx) error { return nil }
	_, err := s.Update(ctx, Change{Origin: "someone", At: noon}, nothing)
	assert.ErrorContains(t, err, `origin "someone"`)
	_, err = s.Update(ctx, Change{Origin: catalog.Terminal}, nothing)
	assert.ErrorContains(t, err, "without a time")
}

func TestAViewStandsStill(t *testing.T) {
	s := open(t)
	_, m := someMark(t, s)
	require.NoError(t, s.View(ctx, func(v *View) error {
		before, err := v.Mark(m.ID)
		require.NoError(t, err)
		note(t, s, catalog.Terminal, m.ID, "meanwhile")
		after, err := v.Mark(m.ID)
		require.NoError(t, err)
		assert.Equal(t, before, after)
		return nil
	}))
}

func TestPositionsDerivedInAnOlderWayAreDerivedAnew(t *testing.T) {
	s := open(t)
	_, m := someMark(t, s)
	require.NoError(t, s.DeriveAnew(ctx, 1))
	s.derive = func(b catalog.Bearings, marks []catalog.Mark) []catalog.Position {
		positions := byFigures(b, marks)
		for i := range positions {
			positions[i].Disc.B += angle(1)
		}
		return positions
	}
	lat := func() float64 {
		p, err := s.Read(ctx).Position(m.ID)
		require.NoError(t, err)
		return p.Disc.B.Degrees()
	}
	require.NoError(t, s.DeriveAnew(ctx, 1))
	assert.InDelta(t, 10, lat(), 1e-9)
	require.NoError(t, s.DeriveAnew(ctx, 2))
	assert.InDelta(t, 11, lat(), 1e-9)
	history, err := s.Read(ctx).History("", 10)
	require.NoError(t, err)
	assert.Len(t, history, 1, "that is no operation")
}

// A passage is no return of its own, in however many steps, and whoever says so when.
func TestReturnsRunOneWay(t *testing.T) {
	s := open(t)
	var p []catalog.Passage
	update(t, s, func(tx *Tx) error {
		for _, name := range []string{"Alder", "Birch", "Cedar"} {
			added, err := tx.AddPassage(catalog.Passage{Name: name, Kind: catalog.Filament})
			if err != nil {
				return err
			}
			p = append(p, added)
		}
		return nil
	})
	say := func(origin catalog.Origin, from, to int, relation catalog.Relation, state catalog.Standing) error {
		_, err := s.Update(ctx, at(origin), func(tx *Tx) error {
			_, err := tx.AddLink(catalog.Link{From: p[from].ID, To: p[to].ID, Relation: relation, State: state, By: catalog.ByObserver})
			return err
		})
		return err
	}
	page := catalog.Desk("page")
	require.NoError(t, say(catalog.Terminal, 0, 1, catalog.Return, catalog.Made))
	err := say(page, 1, 0, catalog.Return, catalog.Made)
	assert.EqualError(t, err, "Alder cannot be Birch come back: Birch is kept as a return of Alder already")
	_, ok := errors.AsType[*InvalidError](err)
	assert.True(t, ok)
	assert.Error(t, say(page, 1, 0, catalog.Return, catalog.Proposed))
	require.NoError(t, say(page, 1, 2, catalog.Return, catalog.Made))
	assert.Error(t, say(page, 2, 0, catalog.Return, catalog.Made), "through a third")
	require.NoError(t, say(page, 2, 0, catalog.Return, catalog.Refused), "that it is none may be said")
	require.NoError(t, say(page, 1, 0, catalog.Split, catalog.Made), "and so may other things")

	other := catalog.Desk("other")
	_, err = s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	require.NoError(t, say(other, 1, 0, catalog.Return, catalog.Made))
	_, err = s.Redo(ctx, at(catalog.Terminal))
	_, ok = errors.AsType[*ConflictError](err)
	assert.True(t, ok, "doing it again is refused too: %v", err)
}
