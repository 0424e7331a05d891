package observe_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// What a spreadsheet of a country with decimal commas saves: semicolons, commas, a
// byte order mark, and the apostrophes that keep labels from becoming dates.
func TestPositionsFromASpreadsheetWithDecimalCommas(t *testing.T) {
	k := keeper(t)
	done, err := k.ImportPositions(ctx, strings.NewReader("\uFEFFkind;utc;lat_deg;lon_deg;sigma_lat_deg;sigma_lon_deg;label\r\n"+
		"sunspot;2026-03-14T09:12:05Z;12,25;281,4;0,3;0,5;'1-2\r\n"), observe.ImportOptions{})
	require.NoError(t, err)
	require.Equal(t, 1, done.Kept)
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	p := entries[0].Position.Disc
	assert.InDelta(t, 12.25, p.B.Degrees(), 1e-9)
	assert.InDelta(t, 281.4, p.L.Degrees(), 1e-9)
	assert.InDelta(t, 0.5*0.97723, p.Cov.SigmaB().Degrees(), 1e-4, "the larger of 0.3° and 0.5° cos 12.25°")
	assert.Equal(t, "1-2", entries[0].Mark.Label)
}

// A height above the photosphere needs no limb to be named; a distance in radii does,
// and a file has it in radii of the picture's own.
func TestAHeightGoesBeforeADistanceInRadii(t *testing.T) {
	k := keeper(t)
	_, err := k.ImportPositions(ctx, strings.NewReader("kind,utc,pa_deg,r,height_mm,sigma_height_mm,sigma_pa_deg\n"+
		"prominence,2026-03-14T09:12:05Z,75,1.02,30,2,0.4\n"), observe.ImportOptions{})
	require.NoError(t, err)
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	edge := entries[0].Position.Edge
	require.NotNil(t, edge)
	assert.InDelta(t, 30, edge.HeightMm, 1e-6)
	assert.InDelta(t, 75, edge.PA.Degrees(), 1e-9)
	assert.InDelta(t, 2, edge.SigmaMm, 0.05)
}
