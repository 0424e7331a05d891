package observe_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// filamentSeason is an invented record: filaments that turn as they do (14.45 − 0.11
// sin² B − 3.69 sin⁴ B degrees a day sidereal, Brajša et al. 1991), seen on most days
// while before the disc and, some of them, as a prominence of 35 arcseconds on the day
// they meet an edge, with prominences of nothing known among them.
func filamentSeason(r *rand.Rand, days int) string {
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,lon_deg,pa_deg,r,sigma_deg\n")
	first := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	for range days / 2 {
		lat, lon := 80*r.Float64()-40, 360*r.Float64()
		birth := r.IntN(days)
		for day := birth; day < min(days, birth+40); day++ {
			at := first.AddDate(0, 0, day)
			sin2 := coords.Angle(lat * float64(coords.Degree)).Sin()
			sin2 *= sin2
			lon += 14.45 - 0.11*sin2 - 3.69*sin2*sin2 - 14.1844
			place := coords.Heliographic{B: coords.Angle(lat) * coords.Degree, L: (coords.Angle(lon) * coords.Degree).Wrap360()}
			face := ephemeris.At(at)
			cmd := face.CMD(place).Abs().Degrees()
			polar := disc.View{Face: face}.ProjectPolar(place, 0)
			switch {
			case cmd < 80 && r.Float64() < 0.7:
				fmt.Fprintf(&csv, "filament,%s,%.2f,%.2f,,,0.7\n", at.Format(time.RFC3339), lat, place.L.Degrees())
			case cmd > 84 && cmd < 96 && r.Float64() < 0.8:
				fmt.Fprintf(&csv, "prominence,%s,,,%.2f,1.036,0.7\n", at.Format(time.RFC3339), polar.PositionAngle.Wrap360().Degrees())
			}
		}
	}
	for range days {
		fmt.Fprintf(&csv, "prominence,%s,,,%.2f,1.04,0.7\n", first.AddDate(0, 0, r.IntN(days)).Format(time.RFC3339), 360*r.Float64())
	}
	return csv.String()
}

// TestManyEdgesAreWeighedAsOneByOne: what is asked together does not matter to an
// answer, nor what the marks are called or in which order they are named.
func TestManyEdgesAreWeighedAsOneByOne(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	k.Now = func() time.Time { return time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC) }
	_, err := k.ImportPositions(ctx, strings.NewReader(filamentSeason(rand.New(rand.NewPCG(4, 1)), 60)), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	prominences, err := k.Store.Read(ctx).Entries(store.Query{Kinds: []catalog.Kind{catalog.Prominence}})
	require.NoError(t, err)
	filaments, err := k.Store.Read(ctx).Entries(store.Query{Kinds: []catalog.Kind{catalog.Filament}})
	require.NoError(t, err)

	ids := []catalog.MarkID{filaments[0].Mark.ID, 1_000_000}
	for _, i := range rand.New(rand.NewPCG(4, 2)).Perm(len(prominences)) {
		ids = append(ids, prominences[i].Mark.ID)
	}
	start := time.Now()
	together, err := k.EdgeOfMarks(ctx, ids)
	require.NoError(t, err)
	require.Len(t, together, len(ids))
	took := time.Since(start)
	candidates, joined, some := 0, 0, 0
	start = time.Now()
	for i, id := range ids {
		if i > 1 && i%3 != 0 {
			continue
		}
		some++
		alone, err := k.EdgeOfMark(ctx, id)
		assert.Equal(t, alone.Err, err, "%s", id)
		require.Equal(t, alone, together[i], "%s", id)
		candidates += min(1, len(alone.Candidates))
		if alone.Mark != nil && alone.Mark.Join != nil {
			joined++
		}
	}
	t.Logf("%d prominences together in %v, %d one by one in %v; of these %d with a candidate, %d in a passage", len(ids), took, some, time.Since(start), candidates, joined)
	assert.Greater(t, candidates, some/4, "with a candidate")
	assert.Greater(t, joined, some/8, "whose own mark is in a passage, and does not count")

	filament := &observe.NotAtEdgeError{}
	require.ErrorAs(t, together[0].Err, &filament)
	assert.Equal(t, catalog.Filament, filament.Kind)
	missing := &store.NotFoundError{}
	require.ErrorAs(t, together[1].Err, &missing)
	none, err := k.EdgeOfMarks(ctx, nil)
	require.NoError(t, err)
	assert.Empty(t, none)
}
