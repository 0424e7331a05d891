package follow

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords/rotation"
)

// TestComingAgreesWithPublished carries NOAA region 2740 of 2019: N08E14 at 24h UT of
// May 8, N08W40 four days later (region summaries of May 9 and 13; positions to a
// whole degree). It rotates as Newton & Nunn's recurrent spots do, to W39.4.
func TestComingAgreesWithPublished(t *testing.T) {
	law, err := rotation.Parse("14.377,-2.77,0") // Newton & Nunn 1951
	require.NoError(t, err)
	seen := time.Date(2019, 5, 9, 0, 0, 0, 0, time.UTC)
	s := at(catalog.Sunspot, seen, 8, 307, 0.5)
	s.ID = "2740"
	res, err := Follow(t.Context(), []Sighting{s}, Options{Law: &law})
	require.NoError(t, err)
	p := res.Passages[0]

	then := p.Coming(seen.AddDate(0, 0, 4))
	assert.InDelta(t, 40, then.CMD.Degrees(), 1, "degrees west of the meridian, printed as W40")
	assert.True(t, then.InView)
	assert.Positive(t, then.Place.Cov.LL)

	// L0 was 321.05 at the start (2.4 of the trade's tables); the meridian comes when
	// it has fallen by 14°, at 13.2 + 0.14 − 0.05 a day.
	now := p.Coming(seen)
	require.True(t, now.Meridian.Known)
	assert.WithinDuration(t, seen.Add(25*time.Hour+20*time.Minute), now.Meridian.UTC, time.Hour)
	assert.True(t, now.Meridian.UTC.Before(now.WestEdge.UTC))
	assert.True(t, now.WestEdge.UTC.Before(now.EastEdge.UTC))
	// From edge to edge on the near side half a synodic rotation, 13.5 d, less what
	// the finite distance hides.
	nextWest := p.Coming(now.EastEdge.UTC.Add(time.Hour)).WestEdge.UTC
	assert.InDelta(t, 13.5, nextWest.Sub(now.EastEdge.UTC).Hours()/24, 0.3, "days in view")
	assert.Greater(t, now.EastEdge.Sigma, now.Meridian.Sigma, "errors grow with time")
	assert.Less(t, now.EastEdge.Alive, now.WestEdge.Alive)
}
