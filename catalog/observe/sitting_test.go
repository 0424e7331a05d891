package observe_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

func sittingOf(t *testing.T, k observe.Keeper, utc string) catalog.Sitting {
	t.Helper()
	at, err := observe.ParseUTC(utc)
	require.NoError(t, err)
	f, _, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: at}, []catalog.Mark{placeMark(catalog.Plage, 10, 20)})
	require.NoError(t, err)
	s, err := k.Store.Read(ctx).Sitting(f.Sitting)
	require.NoError(t, err)
	return s
}

func TestASittingIsADayOfTheSite(t *testing.T) {
	k := keeper(t)
	_, err := k.AddObserver(ctx, catalog.Observer{Name: "R. Vane"})
	require.NoError(t, err)
	_, err = k.AddSite(ctx, catalog.Site{Name: "West coast", LatDeg: 37, LonDeg: -122})
	require.NoError(t, err)
	// 16h UT is 8 in the morning there, 1h UT the evening of the same day.
	evening := sittingOf(t, k, "2026-03-15T01:00:00Z")
	morning := sittingOf(t, k, "2026-03-14T16:00:00Z")
	assert.Equal(t, evening.ID, morning.ID, "one that runs over 0h UT stays one")
	assert.Equal(t, "2026-03-14", morning.Day.Format("2006-01-02"), "under the day of its first frame")
	next := sittingOf(t, k, "2026-03-15T16:00:00Z")
	assert.NotEqual(t, evening.ID, next.ID)
	assert.Equal(t, next.ID, sittingOf(t, k, "2026-03-15T16:00:00Z").ID)
	frames, err := k.Store.Read(ctx).FramesOf(next.ID)
	require.NoError(t, err)
	assert.Len(t, frames, 1, "one frame for one instant")
}

// A day has its first instant and not that of the next: what is typed for 0h UT falls
// into one frame and one sitting like any other second, with a site and without.
func TestMidnightBelongsToTheDayThatItBegins(t *testing.T) {
	for name, site := range map[string]*catalog.Site{"no site": nil,
		"a site whose midnight is at 00:00:00Z":     {Name: "Meridian", LatDeg: 51},
		"a site whose midnight is at 09:18:44.571Z": {Name: "East coast", LatDeg: 35, LonDeg: 360 * (-0.38801587)}} {
		t.Run(name, func(t *testing.T) {
			k := keeper(t)
			begin := "2026-03-14T00:00:00Z"
			if site != nil {
				_, err := k.AddSite(ctx, *site)
				require.NoError(t, err)
				if site.LonDeg != 0 {
					begin = "2026-03-14T09:18:44.571Z"
				}
			}
			at, err := observe.ParseUTC(begin)
			require.NoError(t, err)
			of := func(at time.Time) catalog.Sitting { return sittingOf(t, k, at.Format("2006-01-02T15:04:05.000Z")) }
			first, again := of(at), of(at)
			assert.Equal(t, first.ID, again.ID)
			frames, err := k.Store.Read(ctx).FramesOf(first.ID)
			require.NoError(t, err)
			assert.Len(t, frames, 1, "one frame for one instant")
			assert.Equal(t, first.ID, of(at.Add(time.Hour)).ID)
			assert.Equal(t, first.ID, of(at.Add(24*time.Hour-time.Millisecond)).ID)
			assert.NotEqual(t, first.ID, of(at.Add(-time.Millisecond)).ID)
			assert.NotEqual(t, first.ID, of(at.Add(24*time.Hour)).ID)
		})
	}
}

func TestAFrameWhoseTimeWasWrongGoesToItsDay(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	first := sittingOf(t, k, "2026-03-14T09:00:00Z")
	second := sittingOf(t, k, "2026-03-14T10:00:00Z")
	require.Equal(t, first.ID, second.ID)
	frames, err := k.Store.Read(ctx).FramesOf(first.ID)
	require.NoError(t, err)
	frames[1].Taken = frames[1].Taken.AddDate(0, 0, -2)
	moved, err := k.EditFrame(ctx, frames[1])
	require.NoError(t, err)
	assert.NotEqual(t, first.ID, moved.Sitting)
	there, err := k.Store.Read(ctx).Sitting(moved.Sitting)
	require.NoError(t, err)
	assert.Equal(t, "2026-03-12", there.Day.Format("2006-01-02"))

	moved.Taken = moved.Taken.AddDate(0, 0, 1)
	moved, err = k.EditFrame(ctx, moved)
	require.NoError(t, err)
	assert.Equal(t, there.ID, moved.Sitting, "alone in its sitting, it takes it along")
	there, err = k.Store.Read(ctx).Sitting(there.ID)
	require.NoError(t, err)
	assert.Equal(t, "2026-03-13", there.Day.Format("2006-01-02"))
	for range 2 {
		_, err = k.Undo(ctx)
		require.NoError(t, err)
	}
	back, err := k.Store.Read(ctx).Frame(moved.ID)
	require.NoError(t, err)
	assert.Equal(t, first.ID, back.Sitting)
}

func TestASittingBegunByHandIsUsed(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	begun, err := k.AddSitting(ctx, catalog.Sitting{Day: time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC),
		Looked: map[catalog.Kind]catalog.Look{catalog.Sunspot: catalog.NoneSeen, catalog.Filament: catalog.LookedFor},
		Seeing: catalog.Rating{Value: "2", Scale: "Kiepenheuer, modified"}})
	require.NoError(t, err)
	assert.Equal(t, begun, sittingOf(t, k, "2026-03-14T09:00:00Z"))
	other := sittingOf(t, k, "2026-03-15T09:00:00Z")
	assert.NotEqual(t, begun.ID, other.ID)
	assert.Equal(t, catalog.NotLooked, other.Looked[catalog.Prominence], "nothing is known of what nobody looked for")

	_, err = k.AddSitting(ctx, catalog.Sitting{Day: begun.Day, Seeing: catalog.Rating{Value: "2"}})
	assert.ErrorContains(t, err, "name of its scale")
}

func TestTheFirstOfAKindIsTheDefaultUntilAnotherIsChosen(t *testing.T) {
	k := keeper(t)
	_, first, _ := yard(t, k)
	second, err := k.AddSite(ctx, catalog.Site{Name: "Hill"})
	require.NoError(t, err)
	assert.True(t, first.Default)
	assert.False(t, second.Default)
	second.Default = true
	_, err = k.EditSite(ctx, second)
	require.NoError(t, err)
	c, err := k.Circumstances(ctx, observe.Circumstances{})
	require.NoError(t, err)
	assert.Equal(t, second.ID, c.Site)
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	c, err = k.Circumstances(ctx, observe.Circumstances{})
	require.NoError(t, err)
	assert.Equal(t, first.ID, c.Site)
}
