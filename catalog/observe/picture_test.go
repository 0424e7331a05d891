package observe_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/picture/capture"
	"limbwatch/testdata"
)

// copyOf puts a copy of a file into a folder of its own, under a name.
func copyOf(t *testing.T, path, name string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	to := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(to, data, 0o644))
	return to
}

func TestAPictureIsAddedOnceAndFoundAgainWhenItMoved(t *testing.T) {
	path := copyOf(t, testdata.Shared(t, "data", "hmi-continuum-daily", "20240701_0000_hmiigr_512.jpg"), "sun.jpg")
	k := keeper(t)
	_, site, setup := yard(t, k)
	at := time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)

	_, err := k.AddFrame(ctx, observe.NewFrame{Path: path})
	_, noTime := errors.AsType[*capture.NoTimeError](err)
	require.True(t, noTime, "a picture without a time is refused: %v", err)

	added, err := k.AddFrame(ctx, observe.NewFrame{Path: path, Taken: at, Role: catalog.RoleSurface})
	require.NoError(t, err)
	require.NotNil(t, added.Disc, "refused: %v", added.DiscRefused)
	assert.Equal(t, site.ID, added.Sitting.Site)
	assert.Equal(t, setup.ID, added.Sitting.Setup)

	_, err = k.AddFrame(ctx, observe.NewFrame{Path: path, Taken: at})
	twice, ok := errors.AsType[*observe.DuplicateError](err)
	require.True(t, ok, "%v", err)
	assert.Equal(t, added.Frame.ID, twice.Frame.ID)

	moved := filepath.Join(t.TempDir(), "else.jpg")
	require.NoError(t, os.Rename(path, moved))
	again, err := k.AddFrame(ctx, observe.NewFrame{Path: moved, Taken: at})
	require.NoError(t, err)
	assert.True(t, again.Moved)
	assert.Equal(t, added.Frame.ID, again.Frame.ID)
	pic, _, err := k.OpenFrame(ctx, added.Frame.ID)
	require.NoError(t, err)
	assert.Equal(t, 512, pic.Width)

	require.NoError(t, os.WriteFile(moved, []byte("no longer a picture"), 0o644))
	_, _, err = k.OpenFrame(ctx, added.Frame.ID)
	assert.Error(t, err)
}

func TestPositionsFollowDiscNorthTimeAndClock(t *testing.T) {
	path := copyOf(t, testdata.Shared(t, "data", "hmi-continuum-daily", "20240701_0000_hmiigr_512.jpg"), "sun.jpg")
	k := keeper(t)
	yard(t, k)
	at := time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)
	added, err := k.AddFrame(ctx, observe.NewFrame{Path: path, Taken: at})
	require.NoError(t, err)
	id, centre := added.Frame.ID, added.Disc.Limb.Centre
	mark, err := k.AddMark(ctx, catalog.Mark{Frame: id, Kind: catalog.Sunspot, Geometry: catalog.Geometry{
		Shape: catalog.Point, Pixels: []coords.Pixel{{X: centre.X + 100, Y: centre.Y}}}})
	require.NoError(t, err)
	position := func() catalog.Position {
		p, err := k.Store.Read(ctx).Position(mark.ID)
		require.NoError(t, err)
		return p
	}
	assert.Equal(t, observe.ErrNoNorth.Error(), position().Reason)

	_, err = k.SetNorth(ctx, catalog.North{Frame: id, Toward: catalog.TowardSolar, Sigma: deg(0.5)}, 0)
	require.NoError(t, err)
	first := position()
	require.NotNil(t, first.Disc)
	assert.Greater(t, first.Disc.CMD.Degrees(), 20.0, "right of the centre is west when solar north is up")

	// The Sun turns 13.2 degrees a day toward the west limb, so the same pixel an
	// hour later shows a longitude 0.55 degrees less.
	frame := added.Frame
	frame.Taken = at.Add(time.Hour)
	frame, err = k.EditFrame(ctx, frame)
	require.NoError(t, err)
	assert.InDelta(t, -0.55, (position().Disc.L - first.Disc.L).Wrap180().Degrees(), 0.01)

	sitting, err := k.Store.Read(ctx).Sitting(frame.Sitting)
	require.NoError(t, err)
	sitting.ClockCorrectionS = -3600
	_, err = k.EditSitting(ctx, sitting)
	require.NoError(t, err)
	assert.InDelta(t, 0, (position().Disc.L - first.Disc.L).Wrap180().Degrees(), 1e-9)
	entries, err := k.Store.Read(ctx).Entries(store.Query{From: at, To: at.Add(time.Second)})
	require.NoError(t, err)
	require.Len(t, entries, 1, "the log goes by the corrected clock")

	north, err := k.Store.Read(ctx).North(id)
	require.NoError(t, err)
	north.Angle, north.Method = deg(180), ""
	_, err = k.SetNorth(ctx, north, north.Revision)
	require.NoError(t, err)
	assert.InDelta(t, -first.Disc.CMD.Degrees(), position().Disc.CMD.Degrees(), 1.0, "upside down, right is east")

	circle := added.Disc.Limb
	circle.Centre.X += 100
	_, err = k.SetCircle(ctx, id, circle, nil, added.Disc.Revision)
	require.NoError(t, err)
	assert.InDelta(t, 0, position().Disc.CMD.Degrees(), 0.2)

	stored, err := k.Store.Read(ctx).Mark(mark.ID)
	require.NoError(t, err)
	assert.Equal(t, mark, stored, "derived positions are no edits")
	for range 4 {
		_, err = k.Undo(ctx)
		require.NoError(t, err)
	}
	assert.Equal(t, first, position())
}

// The disc and solar north that a FITS header gives, against the README's own words
// are checked in coords/picture/wcs; here that they reach the catalogue.
func TestAFITSHeaderGivesTimeDiscAndNorth(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	added, err := k.AddFrame(ctx, observe.NewFrame{Path: testdata.Shared(t, "data", "bbso-halpha-2002", "bbso_halpha_20020430_165555_cleaned.fits")})
	require.NoError(t, err)
	assert.Equal(t, time.Date(2002, 4, 30, 16, 55, 55, 0, time.UTC), added.Frame.Taken.Truncate(time.Second))
	assert.Equal(t, "FITS header", added.Frame.TimeSource)
	t.Logf("disc %+v north %+v refused %v warnings %v", added.Disc, added.North, added.DiscRefused, added.Warnings)
	require.NotNil(t, added.Disc)
}
