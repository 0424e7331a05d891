package observe_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

func count(t *testing.T, tally catalog.Tally, text string) catalog.Count {
	t.Helper()
	c, err := catalog.ParseCount(tally, text)
	require.NoError(t, err)
	return c
}

func TestADayTypedFromPaper(t *testing.T) {
	k := keeper(t)
	o, _, _ := yard(t, k)
	day := time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)
	seeing := catalog.Rating{Value: "2", Scale: "Kiepenheuer steadiness"}
	s, kept, err := k.LogDay(ctx, observe.DayCounts{
		Day: day, Seeing: &seeing, At: day.Add(9*time.Hour + 12*time.Minute),
		Counts: []catalog.Count{count(t, catalog.TallyGroups, "N2,S1"), count(t, catalog.TallySpots, "N11,S3"),
			count(t, catalog.TallyFilaments, "0")},
	})
	require.NoError(t, err)
	assert.Equal(t, o.ID, s.Observer)
	assert.Equal(t, seeing, s.Seeing)
	assert.Equal(t, map[catalog.Kind]catalog.Look{catalog.Sunspot: catalog.LookedFor, catalog.Filament: catalog.NoneSeen}, s.Looked)
	require.Len(t, kept, 3)
	frames, err := k.Store.Read(ctx).FramesOf(s.ID)
	require.NoError(t, err)
	require.Len(t, frames, 1)

	// Typed again it is put right, in the same sitting, and other counts stay.
	again, kept, err := k.LogDay(ctx, observe.DayCounts{Day: day,
		Counts: []catalog.Count{count(t, catalog.TallySpots, "14")}, Without: []catalog.Tally{catalog.TallyFilaments}})
	require.NoError(t, err)
	assert.Equal(t, s.ID, again.ID)
	assert.Equal(t, seeing, again.Seeing)
	require.Len(t, kept, 2)
	assert.Equal(t, "14", kept[1].String())

	_, err = k.Undo(ctx)
	require.NoError(t, err)
	counts, err := k.Store.Read(ctx).CountsOf(s.ID)
	require.NoError(t, err)
	require.Len(t, counts, 3)
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	_, err = k.Store.Read(ctx).Sitting(s.ID)
	assert.ErrorContains(t, err, "was removed")
}

func TestADayWithTwoSittingsMustNameOne(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	day := time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)
	first, err := k.AddSitting(ctx, catalog.Sitting{Day: day})
	require.NoError(t, err)
	_, err = k.AddSitting(ctx, catalog.Sitting{Day: day})
	require.NoError(t, err)
	spots := observe.DayCounts{Day: day, Counts: []catalog.Count{count(t, catalog.TallySpots, "1")}}
	_, _, err = k.LogDay(ctx, spots)
	several := new(observe.SeveralSittingsError)
	require.ErrorAs(t, err, &several)
	spots.Sitting = first.ID
	s, _, err := k.LogDay(ctx, spots)
	require.NoError(t, err)
	assert.Equal(t, first.ID, s.ID)
	spots.Day = day.AddDate(0, 0, 1)
	_, _, err = k.LogDay(ctx, spots)
	assert.ErrorContains(t, err, "is of 2026-03-14")
}
