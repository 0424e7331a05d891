package observe_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// TestHeightOfAPassage: a filament that stands 40 Mm high at 20° north and turns by the
// law of d'Azambuja & d'Azambuja 1948, 14.48 − 2.16 sin² B degrees a day, is seen
// displaced toward the limb; its height comes back, and goes into the edge check.
func TestHeightOfAPassage(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,lon_deg,pa_deg,r,sigma_r,sigma_pa_deg,sigma_deg\n")
	const lat, height = 20.0, 40.0
	start := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	lon := ephemeris.At(start).L0.Degrees() - 66
	sin := (lat * coords.Degree).Sin()
	for day := range 12 {
		at := start.AddDate(0, 0, day)
		place := coords.Heliographic{B: lat * coords.Degree, L: (coords.Angle(lon) * coords.Degree).Wrap360()}
		p := disc.View{Face: ephemeris.At(at)}.ProjectPolar(place, height)
		kind := "filament"
		if day == 11 {
			kind, p.R = "prominence", 1+30/coords.SolarRadiusMm
		}
		fmt.Fprintf(&csv, "%s,%s,,,%.4f,%.5f,0.002,0.1,\n", kind, at.Format(time.RFC3339), p.PositionAngle.Wrap360().Degrees(), p.R)
		fmt.Fprintf(&csv, "sunspot,%s,-12,%.2f,,,,,0.3\n", at.Format(time.RFC3339), 100.0)
		lon += 14.48 - 2.16*sin*sin - 14.1844
	}
	csv.WriteString("filament,2026-03-01T12:00:00Z,-30,200,,,,,0.5\n")
	_, err := k.ImportPositions(ctx, strings.NewReader(csv.String()), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	v := k.Store.Read(ctx)
	p, err := v.PassageNamed("2026-fil-2")
	require.NoError(t, err)
	fit, err := k.PassageHeight(ctx, p.ID)
	require.NoError(t, err)
	assert.InDelta(t, height, fit.HeightMm, 2*fit.SigmaMm)
	assert.Less(t, fit.SigmaMm, 12.0)
	assert.InDelta(t, 14.48-2.16*sin*sin, fit.RateDegPerDay, 3*fit.SigmaRate)
	assert.Greater(t, fit.FlatRateDegPerDay, fit.RateDegPerDay+0.1, "what stands high seems to turn too fast")

	single, err := v.PassageNamed("2026-fil-1")
	require.NoError(t, err)
	_, err = k.PassageHeight(ctx, single.ID)
	var refused *follow.HeightError
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, refused.Reason, "1 reading")
	spot, err := v.PassageNamed("2026-spot-1")
	require.NoError(t, err)
	_, err = k.PassageHeight(ctx, spot.ID)
	assert.ErrorIs(t, err, observe.ErrFlat)

	at := start.AddDate(0, 0, 11)
	edge := disc.View{Face: ephemeris.At(at)}.ProjectPolar(coords.Heliographic{B: lat * coords.Degree, L: (ephemeris.At(at).L0 + 90*coords.Degree).Wrap360()}, 0)
	answer, err := k.EdgeAt(ctx, follow.AtEdge{UTC: at, PA: edge.PositionAngle, SigmaPA: coords.Degree, TopMm: 50, SigmaTopMm: 3})
	require.NoError(t, err)
	require.NotEmpty(t, answer.Candidates)
	assert.Equal(t, "2026-fil-2", answer.Candidates[0].Passage.Name)
	require.NotNil(t, answer.Candidates[0].Height)
	assert.InDelta(t, fit.HeightMm, answer.Candidates[0].Height.HeightMm, 1e-6)
	assert.InDelta(t, 50, answer.Top.HeightMm, 1e-9)
	entries, err := v.Entries(store.Query{Passage: p.ID})
	require.NoError(t, err)
	for _, seen := range observe.HeightsAtEdge(entries) {
		assert.InDelta(t, 30, seen.Height.HeightMm, 1, "as it was marked")
	}
}
