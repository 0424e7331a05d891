package observe_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// Marks whose positions were written as they came lie where they lie when all of it is
// derived anew, to the last bit, and what comes after them in the same change moves them
// or takes them away.
func TestMarksAreDerivedAsTheyCome(t *testing.T) {
	k := keeper(t)
	done, err := k.ImportPositions(ctx, strings.NewReader(manyRows(3000)), observe.ImportOptions{})
	require.NoError(t, err)
	require.Equal(t, 3000, done.Kept)
	positions := func() map[catalog.MarkID]catalog.Position {
		entries, err := k.Store.Read(ctx).Entries(store.Query{})
		require.NoError(t, err)
		all := map[catalog.MarkID]catalog.Position{}
		for _, e := range entries {
			all[e.Mark.ID] = e.Position
		}
		return all
	}
	asTheyCame := positions()
	require.NoError(t, k.Store.DeriveAnew(ctx, 1<<30))
	require.Equal(t, asTheyCame, positions())

	// One change adds marks on a frame that gets its disc and north afterwards, and
	// removes one of them again.
	var kept []catalog.Mark
	_, err = k.Store.Update(ctx, store.Change{Title: "x", Origin: catalog.Terminal, At: k.Now()}, func(tx *store.Tx) error {
		f, err := tx.AddFrames([]catalog.Frame{{Taken: k.Now(), Moment: catalog.MomentMiddle, TimeSource: "typed", Zone: "UTC"}})
		if err != nil {
			return err
		}
		m := catalog.Mark{Frame: f[0].ID, Kind: catalog.Sunspot, MarkedAt: k.Now(),
			Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{{X: 1100, Y: 900}}, SigmaClickPx: 0.5}}
		if kept, err = tx.AddMarks([]catalog.Mark{m, m, m}); err != nil {
			return err
		}
		if _, err := tx.SetDisc(catalog.Disc{Frame: f[0].ID, Method: catalog.DiscTyped, LayerFrom: catalog.LayerNamed, Limb: coords.Limb{Centre: coords.Pixel{X: 1000, Y: 1000}, RadiusPx: 900}}); err != nil {
			return err
		}
		if _, err := tx.SetNorth(catalog.North{Frame: f[0].ID, Method: "typed", Sigma: 0.5 * coords.Degree}); err != nil {
			return err
		}
		return tx.RemoveMark(kept[1].ID, store.Newest)
	})
	require.NoError(t, err)
	now := positions()
	assert.NotNil(t, now[kept[0].ID].Disc, "%+v", now[kept[0].ID])
	assert.NotNil(t, now[kept[2].ID].Disc)
	_, there := now[kept[1].ID]
	assert.False(t, there)
	_, err = k.Store.Read(ctx).Position(kept[1].ID)
	assert.Error(t, err)
}
