package observe_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// warningsOf are a frame's warnings by their causes.
func warningsOf(t *testing.T, k observe.Keeper, id catalog.FrameID) map[catalog.Cause]catalog.Warning {
	t.Helper()
	all, err := k.Store.Read(ctx).WarningsOf(id)
	require.NoError(t, err)
	found := map[catalog.Cause]catalog.Warning{}
	for _, w := range all {
		found[w.Cause] = w
	}
	return found
}

func TestAWarningStaysUntilAPersonSettlesIt(t *testing.T) {
	k := keeper(t)
	o, _, _ := yard(t, k)
	f := paintedFrame(t, k, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), middle).Frame
	w := warningsOf(t, k, f.ID)[catalog.CauseSize]
	require.True(t, w.Open())
	assert.Contains(t, w.Words, "78 % smaller than focal length and pixel of the set-up promise")

	_, err := k.Settle(ctx, observe.Settling{Frame: f.ID})
	assert.ErrorContains(t, err, "for a reason")
	settled, err := k.Settle(ctx, observe.Settling{Frame: f.ID, Why: "resized export, looked at it"})
	require.NoError(t, err)
	require.Len(t, settled, 1)
	w = warningsOf(t, k, f.ID)[catalog.CauseSize]
	require.False(t, w.Open())
	assert.Equal(t, catalog.Settlement{At: k.Now(), By: o.ID, Why: "resized export, looked at it"}, *w.Settled)
	_, err = k.Settle(ctx, observe.Settling{Frame: f.ID, Why: "again"})
	assert.EqualError(t, err, "frame F1 has no warning that is not settled")

	// What is worked out anew finds it settled.
	f.Note = "thin cloud"
	_, err = k.EditFrame(ctx, f)
	require.NoError(t, err)
	assert.False(t, warningsOf(t, k, f.ID)[catalog.CauseSize].Open())

	for range 2 {
		_, err = k.Undo(ctx)
		require.NoError(t, err)
	}
	assert.True(t, warningsOf(t, k, f.ID)[catalog.CauseSize].Open(), "taken back")
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	assert.Empty(t, warningsOf(t, k, f.ID), "with its frame")
}

func TestWarningsComeAndGoWithTheirCause(t *testing.T) {
	k := keeper(t)
	_, site, _ := yard(t, k)
	noon := time.Date(2026, 3, 14, 11, 0, 0, 0, time.UTC)
	a, b := paintedFrame(t, k, noon, middle).Frame, paintedFrame(t, k, noon.Add(time.Minute), coords.Pixel{X: 195, Y: 195}).Frame
	large := coords.Limb{Centre: middle, RadiusPx: 200, Cov: coords.LimbCovariance{XX: 0.01, YY: 0.01, RR: 0.01}}
	_, err := k.SetCircle(ctx, a.ID, large, nil, store.Newest)
	require.NoError(t, err)
	require.NoError(t, k.RemoveDisc(ctx, b.ID, store.Newest))
	c := paintedFrame(t, k, noon.Add(2*time.Minute), coords.Pixel{X: 205, Y: 195}).Frame
	assert.Contains(t, warningsOf(t, k, c.ID)[catalog.CauseSize].Words, "25 % smaller than that of F1")

	t.Run("another disc put right takes it away, and undo brings it back", func(t *testing.T) {
		small := large
		small.RadiusPx = 150
		_, err := k.SetCircle(ctx, a.ID, small, nil, store.Newest)
		require.NoError(t, err)
		assert.Empty(t, warningsOf(t, k, c.ID))
		_, err = k.Undo(ctx)
		require.NoError(t, err)
		assert.Contains(t, warningsOf(t, k, c.ID), catalog.CauseSize)
	})
	t.Run("the Sun below the horizon by time, by site, by clock", func(t *testing.T) {
		assert.NotContains(t, warningsOf(t, k, a.ID), catalog.CauseHorizon)
		a.Taken = noon.Add(12 * time.Hour)
		a, err = k.EditFrame(ctx, a)
		require.NoError(t, err)
		w := warningsOf(t, k, a.ID)[catalog.CauseHorizon]
		assert.Contains(t, w.Words, "below the horizon of Yard")
		assert.Contains(t, w.Words, "twelve hours apart")
		a.Taken = noon
		a, err = k.EditFrame(ctx, a)
		require.NoError(t, err)
		assert.NotContains(t, warningsOf(t, k, a.ID), catalog.CauseHorizon)
		site.LonDeg = 165.6 // the other side of the Earth
		_, err = k.EditSite(ctx, site)
		require.NoError(t, err)
		assert.Contains(t, warningsOf(t, k, b.ID), catalog.CauseHorizon)
	})
}

// The Sun rose at Yard, 50.1 N 14.4 E, on 14 March 2026 at about 5:18 UT: declination
// −2.6°, semidiurnal arc acos(−tan 50.1° tan −2.6°) = 86.9°, with −0.83° of altitude 88.2°
// (Meeus, Astronomical Algorithms, ch. 15), before the transit of 11:11:40 UT (equation
// of time −9.2 min).
func TestTheHorizonIsThatOfTheSite(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	before := paintedFrame(t, k, time.Date(2026, 3, 14, 5, 9, 0, 0, time.UTC), middle)
	assert.Contains(t, warningsOf(t, k, before.Frame.ID), catalog.CauseHorizon)
	assert.NotEmpty(t, before.Warnings, "told at once")
	after := paintedFrame(t, k, time.Date(2026, 3, 14, 5, 25, 0, 0, time.UTC), coords.Pixel{X: 195, Y: 195})
	assert.NotContains(t, warningsOf(t, k, after.Frame.ID), catalog.CauseHorizon)
	slip := paintedFrame(t, k, time.Date(2026, 3, 14, 4, 58, 0, 0, time.UTC), coords.Pixel{X: 190, Y: 195})
	assert.Contains(t, warningsOf(t, k, slip.Frame.ID)[catalog.CauseHorizon].Words, "if the time is UTC and was taken for that of Europe/Prague")
}

func TestAnArchivesPictureHasNoHorizon(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	f := paintedFrame(t, k, time.Date(2026, 3, 14, 23, 0, 0, 0, time.UTC), middle).Frame
	require.Contains(t, warningsOf(t, k, f.ID), catalog.CauseHorizon)
	f.Reference = true
	_, err := k.EditFrame(ctx, f)
	require.NoError(t, err)
	assert.NotContains(t, warningsOf(t, k, f.ID), catalog.CauseHorizon)
}

func TestSettledWarningsTravel(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	f := paintedFrame(t, k, time.Date(2026, 3, 14, 23, 0, 0, 0, time.UTC), middle).Frame
	size := warningsOf(t, k, f.ID)[catalog.CauseSize]
	_, err := k.Settle(ctx, observe.Settling{Frame: f.ID, Warnings: []catalog.WarningID{size.ID}, Why: "binned"})
	require.NoError(t, err)
	r, err := k.RecordBetween(ctx, time.Time{}, time.Time{})
	require.NoError(t, err)
	var text bytes.Buffer
	require.NoError(t, exchange.Write(&text, r, "test", k.Now()))
	read, _, err := exchange.Read(bytes.NewReader(text.Bytes()))
	require.NoError(t, err)

	other := keeper(t)
	_, err = other.ImportRecord(ctx, read, observe.MergeOptions{})
	require.NoError(t, err)
	there := warningsOf(t, other, 1)
	assert.Equal(t, "binned", there[catalog.CauseSize].Settled.Why)
	assert.NotZero(t, there[catalog.CauseSize].Settled.By)
	assert.True(t, there[catalog.CauseHorizon].Open())
	again, err := other.ImportRecord(ctx, read, observe.MergeOptions{})
	require.NoError(t, err, "nothing of it contradicts")
	assert.Empty(t, again.Conflicts)

	// One who has the picture and has not settled it yet takes the other's word.
	third := keeper(t)
	open := read
	open.Warnings = nil
	_, err = third.ImportRecord(ctx, open, observe.MergeOptions{})
	require.NoError(t, err)
	require.True(t, warningsOf(t, third, 1)[catalog.CauseSize].Open())
	_, err = third.ImportRecord(ctx, read, observe.MergeOptions{})
	require.NoError(t, err)
	assert.False(t, warningsOf(t, third, 1)[catalog.CauseSize].Open())
}
