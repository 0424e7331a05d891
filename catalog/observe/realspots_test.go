package observe_test

import (
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/testdata"
)

// A real FITS picture that lies upside down is added; time, disc and north come from
// its header; eight spots are marked at their pixels; and the log gives the places
// that SunPy gives by the same header (shared/data/sunpy-test/hmi_spots.csv). The
// list is printed to 0.1 degrees and 0.01 px, 0.06 in all; the header's radius is that
// of a Sun of 696 000 km, and its observer circles the Earth, some hundredths each. So
// 0.2 degrees are allowed, a sixth of a pixel.
func TestSpotsOfARealPictureLieWhereItsHeaderSays(t *testing.T) {
	folder := testdata.Shared(t, "data", "sunpy-test")
	k := keeper(t)
	yard(t, k)
	added, err := k.AddFrame(ctx, observe.NewFrame{Path: filepath.Join(folder, "resampled_hmi.fits")})
	require.NoError(t, err)
	require.NotNil(t, added.Disc)
	require.NotNil(t, added.North)
	assert.Equal(t, catalog.DiscHeader, added.Disc.Method)
	assert.Equal(t, catalog.TowardSolar, added.North.Toward)
	assert.WithinDuration(t, time.Date(2014, 3, 1, 0, 0, 27, 0, time.UTC), added.Frame.Taken, time.Second)

	rows := testdata.Table(t, filepath.Join(folder, "hmi_spots.csv"))
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return v
	}
	var marks []catalog.Mark
	for _, row := range rows {
		marks = append(marks, catalog.Mark{Frame: added.Frame.ID, Kind: catalog.Sunspot, Geometry: catalog.Geometry{
			Shape: catalog.Point, Pixels: []coords.Pixel{{X: number(row["x"]), Y: number(row["y"])}}}})
	}
	marks, err = k.AddMarks(ctx, marks)
	require.NoError(t, err)
	entries, err := k.Store.Read(ctx).Entries(store.Query{Kinds: []catalog.Kind{catalog.Sunspot}})
	require.NoError(t, err)
	require.Len(t, entries, len(rows))
	for i, row := range rows {
		at := slices.IndexFunc(entries, func(e catalog.Entry) bool { return e.Mark.ID == marks[i].ID })
		p := entries[at].Position
		require.NotNil(t, p.Disc, p.Reason)
		assert.InDelta(t, number(row["lat_deg"]), p.Disc.B.Degrees(), 0.2)
		assert.InDelta(t, number(row["lon_stonyhurst_deg"]), p.Disc.CMD.Degrees(), 0.2)
	}
}
