package read

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/testdata/years"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func keeper(t *testing.T) observe.Keeper {
	t.Helper()
	k, err := observe.Open(context.Background(), filepath.Join(t.TempDir(), "c.db"), catalog.Terminal, func() time.Time { return noon })
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, k.Close()) })
	return k
}

func update(t *testing.T, k observe.Keeper, fn func(tx *store.Tx)) {
	t.Helper()
	_, err := k.Store.Update(context.Background(), store.Change{Title: "a test", Origin: catalog.Terminal, At: noon}, func(tx *store.Tx) error {
		fn(tx)
		return nil
	})
	require.NoError(t, err)
}

// picture is a frame with a file; n tells its content from others'.
func picture(n int, sitting catalog.SittingID, at time.Time, role catalog.Role) catalog.Frame {
	return catalog.Frame{Sitting: sitting, Taken: at, Moment: catalog.MomentMiddle, Role: role, Path: fmt.Sprintf("/sun/%d.png", n), SHA256: fmt.Sprintf("%064x", n), WidthPx: 100, HeightPx: 100}
}

// Whoever walks the days from any of them to either end meets each once, in the order of
// time, however sittings lie within one another, however many there are at a time.
func TestEveryDayIsMetOnce(t *testing.T) {
	for seed := range uint64(8) {
		k, r := keeper(t), rand.New(rand.NewPCG(seed, 7))
		wanted := map[string]bool{}
		update(t, k, func(tx *store.Tx) {
			n := 0
			for range 40 {
				begun := noon.Add(time.Duration(r.IntN(60)) * time.Hour) // crowded: they overlap, and begin together
				var s catalog.Sitting
				var err error
				if r.IntN(4) > 0 {
					s, err = tx.AddSitting(catalog.Sitting{Day: catalog.DayOf(begun)})
					require.NoError(t, err)
				}
				for range 1 + r.IntN(3) {
					f := picture(n, s.ID, begun.Add(time.Duration(r.IntN(9))*time.Hour), catalog.Role(r.IntN(4)))
					n++
					f.Reference = r.IntN(10) == 0
					if r.IntN(10) == 0 {
						f.Path, f.SHA256, f.WidthPx, f.HeightPx = "", "", 0, 0
					}
					f, err = tx.AddFrame(f)
					require.NoError(t, err)
					if f.HasFile() && !f.Reference {
						wanted[Key(f)] = true
					}
				}
			}
		})
		v := k.Store.Read(context.Background())
		met := map[string]bool{}
		page, err := DaysAround(v, noon.Add(time.Duration(r.IntN(70))*time.Hour), 6)
		require.NoError(t, err)
		var all []Day
		meet := func(days []Day) {
			for _, d := range days {
				if !met[d.Key()] {
					met[d.Key()] = true
					all = append(all, d)
				}
			}
		}
		meet(page.Days)
		for before, earlier := page.From, page.Earlier; earlier; {
			page, err := DaysBefore(v, before, 4)
			require.NoError(t, err)
			require.True(t, !page.Earlier || page.From.Before(before))
			meet(page.Days)
			before, earlier = page.From, page.Earlier
		}
		for after, later := page.To, page.Later; later; {
			page, err := DaysFrom(v, after, 4)
			require.NoError(t, err)
			require.True(t, !page.Later || page.To.After(after))
			meet(page.Days)
			after, later = page.To, page.Later
		}
		require.Equal(t, wanted, met, "seed %d", seed)
		require.Len(t, all, len(met))
		require.True(t, slices.IsSortedFunc(page.Days, func(a, b Day) int { return a.Middle.Compare(b.Middle) }))
	}
}

func TestNothingHasNoDays(t *testing.T) {
	v := keeper(t).Store.Read(context.Background())
	days, err := DaysBefore(v, noon, 10)
	require.NoError(t, err)
	assert.Empty(t, days.Days)
	assert.False(t, days.Earlier)
	_, any, err := NewestDay(v)
	require.NoError(t, err)
	assert.False(t, any)
	change, err := Since(v, 0)
	require.NoError(t, err)
	assert.Zero(t, change.Version)
	assert.False(t, change.Much)
	assert.Empty(t, change.Days)
}

// The picture to open is that of the disc; a mark counts where it has no place too.
func TestADayInSmall(t *testing.T) {
	k := keeper(t)
	var edge, disc catalog.Frame
	update(t, k, func(tx *store.Tx) {
		s, err := tx.AddSitting(catalog.Sitting{Day: catalog.DayOf(noon)})
		require.NoError(t, err)
		edge, err = tx.AddFrame(picture(1, s.ID, noon, catalog.RoleLimb))
		require.NoError(t, err)
		disc, err = tx.AddFrame(picture(2, s.ID, noon.Add(time.Minute), catalog.RoleSurface))
		require.NoError(t, err)
		_, err = tx.SetDisc(catalog.Disc{Frame: disc.ID, Limb: coords.Limb{Centre: coords.Pixel{X: 50, Y: 50}, RadiusPx: 40}, LayerFrom: catalog.LayerNamed, Method: catalog.DiscTyped})
		require.NoError(t, err)
		_, err = tx.SetNorth(catalog.North{Frame: disc.ID, Toward: catalog.TowardSolar, Sigma: coords.Degree, Method: "typed"})
		require.NoError(t, err)
		for _, f := range []catalog.FrameID{edge.ID, disc.ID} { // the edge has no disc: no place
			_, err = tx.AddMark(catalog.Mark{Frame: f, Kind: catalog.Plage, MarkedAt: noon, Geometry: catalog.Geometry{Shape: catalog.Point, SigmaClickPx: 0.5, Pixels: []coords.Pixel{{X: 50, Y: 30}}}})
			require.NoError(t, err)
		}
	})
	day, any, err := NewestDay(k.Store.Read(context.Background()))
	require.NoError(t, err)
	require.True(t, any)
	assert.Equal(t, disc.ID, day.Open)
	assert.Equal(t, []catalog.FrameID{edge.ID, disc.ID}, day.Frames)
	assert.Equal(t, 2, day.Marks)
	require.Len(t, day.Dots, 1)
	// Half a radius above the centre of a picture with solar north up: by construction.
	assert.InDelta(t, 0, day.Dots[0].U, 1e-6)
	assert.InDelta(t, 0.5, day.Dots[0].V, 1e-6)
}

// What changed is told once and whole: through whatever table, and when it is taken back.
func TestSinceTellsWhatChanged(t *testing.T) {
	ctx := context.Background()
	k := keeper(t)
	made, err := years.Fill(ctx, k, 3*years.MarksADay)
	require.NoError(t, err)
	v := k.Store.Read(ctx)
	b, err := v.Bearings(made.Last)
	require.NoError(t, err)
	sitting := b.Frame.Sitting.String()
	mark := catalog.Mark{Frame: made.Last, Kind: catalog.Sunspot, Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{{X: 1200, Y: 1000}}}}
	var id catalog.MarkID
	for _, c := range []struct {
		name         string
		change       func() error
		marks, gone  bool // of id alone
		frames, much bool
	}{
		{name: "marked", marks: true, change: func() error {
			m, err := k.AddMark(ctx, mark)
			id = m.ID
			return err
		}},
		{name: "joined", marks: true, change: func() error { return k.JoinMarks(ctx, made.Passage, []catalog.MarkID{id}) }},
		{name: "taken back", marks: true, change: func() error { _, err := k.Undo(ctx); return err }},
		{name: "removed", gone: true, change: func() error { return k.RemoveMark(ctx, id, store.Newest) }},
		{name: "removal taken back", marks: true, change: func() error { _, err := k.Undo(ctx); return err }},
		{name: "adding taken back", gone: true, change: func() error { _, err := k.Undo(ctx); return err }},
		{name: "its north", frames: true, change: func() error {
			_, err := k.SetNorth(ctx, catalog.North{Frame: made.Last, Angle: 3 * coords.Degree, Sigma: coords.Degree, Method: "typed"}, b.North.Revision)
			return err
		}},
		{name: "its disc", frames: true, change: func() error {
			update(t, k, func(tx *store.Tx) { require.NoError(t, tx.RemoveDisc(b.Disc.ID, store.Newest)) })
			return nil
		}},
		{name: "an observer's name", much: true, change: func() error {
			o, err := v.DefaultObserver()
			if err == nil {
				o.Name = "Another"
				_, err = k.EditObserver(ctx, o)
			}
			return err
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			before, err := v.Newest()
			require.NoError(t, err)
			require.NoError(t, c.change())
			change, err := Since(v, before)
			require.NoError(t, err)
			now, err := v.Newest()
			require.NoError(t, err)
			require.Equal(t, now, change.Version)
			require.Equal(t, c.much, change.Much)
			if c.much {
				return
			}
			assert.Equal(t, c.marks, slices.Equal(change.Marks, []catalog.MarkID{id}), "%v", change.Marks)
			assert.Equal(t, c.gone, slices.Equal(change.Gone, []catalog.MarkID{id}), "%v", change.Gone)
			assert.Equal(t, c.frames, slices.Contains(change.Frames, made.Last), "%v", change.Frames)
			require.Len(t, change.Days, 1)
			assert.Equal(t, sitting, change.Days[0].Key())
			again, err := Since(v, now)
			require.NoError(t, err)
			assert.Equal(t, now, again.Version)
			assert.Zero(t, len(again.Marks)+len(again.Gone)+len(again.Frames)+len(again.Sittings)+len(again.Days)+len(again.GoneDays), "nothing since: %+v", again)
		})
	}
	all, err := Since(v, 0)
	require.NoError(t, err)
	assert.True(t, all.Much, "the whole record")
}

// A day whose last picture went is gone; one that a picture moved to is told as well as the
// one that it left.
func TestSinceTellsDaysThatGo(t *testing.T) {
	ctx := context.Background()
	k := keeper(t)
	var f catalog.Frame
	var from, to catalog.Sitting
	update(t, k, func(tx *store.Tx) {
		var err error
		from, err = tx.AddSitting(catalog.Sitting{Day: catalog.DayOf(noon)})
		require.NoError(t, err)
		to, err = tx.AddSitting(catalog.Sitting{Day: catalog.DayOf(noon)})
		require.NoError(t, err)
		f, err = tx.AddFrame(picture(1, from.ID, noon, catalog.RoleSurface))
		require.NoError(t, err)
	})
	v := k.Store.Read(ctx)
	since := func(fn func(tx *store.Tx)) Change {
		before, err := v.Newest()
		require.NoError(t, err)
		update(t, k, fn)
		change, err := Since(v, before)
		require.NoError(t, err)
		return change
	}
	moved := since(func(tx *store.Tx) {
		f.Sitting = to.ID
		var err error
		f, err = tx.EditFrame(f)
		require.NoError(t, err)
	})
	require.Len(t, moved.Days, 1)
	assert.Equal(t, to.ID.String(), moved.Days[0].Key())
	assert.Equal(t, []string{from.ID.String()}, moved.GoneDays)
	gone := since(func(tx *store.Tx) { require.NoError(t, tx.RemoveFrame(f.ID, store.Newest)) })
	assert.Empty(t, gone.Days)
	assert.Equal(t, []string{to.ID.String()}, gone.GoneDays)
}
