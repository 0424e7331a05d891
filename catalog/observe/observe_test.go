package observe_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

var ctx = context.Background()

// keeper opens a new catalogue whose clock stands still.
func keeper(t testing.TB) observe.Keeper {
	t.Helper()
	now := time.Date(2026, 3, 15, 20, 0, 0, 0, time.UTC)
	k, err := observe.Open(ctx, filepath.Join(t.TempDir(), "catalogue.db"), catalog.Terminal, func() time.Time { return now })
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, k.Close()) })
	return k
}

func deg(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

// yard gives the catalogue an observer, a site and an instrument.
func yard(t testing.TB, k observe.Keeper) (catalog.Observer, catalog.Site, catalog.Setup) {
	t.Helper()
	o, err := k.AddObserver(ctx, catalog.Observer{Name: "R. Vane"})
	require.NoError(t, err)
	s, err := k.AddSite(ctx, catalog.Site{Name: "Yard", LatDeg: 50.1, LonDeg: 14.4, Zone: "Europe/Prague"})
	require.NoError(t, err)
	_, u, err := k.AddInstrument(ctx, catalog.Instrument{Name: "60 mm", ApertureMm: 60, FocalMm: 500},
		catalog.Setup{Name: "single stack", PassbandA: 0.7, Stacked: 1, PixelUm: 3.45})
	require.NoError(t, err)
	return o, s, u
}

func placeMark(kind catalog.Kind, latDeg, lonDeg float64) catalog.Mark {
	return catalog.Mark{Kind: kind, Geometry: catalog.Geometry{Shape: catalog.Point, SigmaPlace: deg(1),
		Places: []catalog.PlacePoint{{B: deg(latDeg), Lon: deg(lonDeg)}}}}
}

func TestAMarkWithoutAPictureIsAFullMember(t *testing.T) {
	k := keeper(t)
	o, s, _ := yard(t, k)
	at := time.Date(2026, 3, 14, 9, 12, 0, 0, time.UTC)
	m := placeMark(catalog.Sunspot, 8, 14)
	m.Geometry.Places[0].ByCMD = true
	f, added, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: at}, []catalog.Mark{m})
	require.NoError(t, err)
	assert.False(t, f.HasFile())
	assert.Equal(t, o.ID, added[0].Observer)
	sitting, err := k.Store.Read(ctx).Sitting(f.Sitting)
	require.NoError(t, err)
	assert.Equal(t, s.ID, sitting.Site)

	p, err := k.Store.Read(ctx).Position(added[0].ID)
	require.NoError(t, err)
	assert.InDelta(t, 8, p.Disc.B.Degrees(), 1e-9)
	assert.InDelta(t, 14, p.Disc.CMD.Degrees(), 1e-9)
	assert.InDelta(t, 1, p.Disc.Cov.SigmaB().Degrees(), 1e-9)

	_, err = k.Undo(ctx)
	require.NoError(t, err)
	_, err = k.Store.Read(ctx).Mark(added[0].ID)
	assert.ErrorContains(t, err, "mark M1 was removed")
	_, err = k.Redo(ctx)
	require.NoError(t, err)
	again, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	require.Len(t, again, 1)
	assert.Equal(t, p, again[0].Position)
}
