package observe_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// aRotationLater is an invented record: a plage seen on five days, and two of its latitude
// 27 days later, 6° of longitude apart.
func aRotationLater() string {
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,lon_deg,label,sigma_deg\n")
	for day := range 5 {
		at := time.Date(2026, 3, 10+day, 12, 0, 0, 0, time.UTC)
		fmt.Fprintf(&csv, "plage,%s,12,120,first,0.3\n", at.Format(time.RFC3339))
		for label, lon := range map[string]float64{"near": 121, "far": 127} {
			fmt.Fprintf(&csv, "plage,%s,12,%g,%s,0.3\n", at.AddDate(0, 0, 27).Format(time.RFC3339), lon, label)
		}
	}
	return csv.String()
}

func TestWhatTheObserverSaysOfAReturnStands(t *testing.T) {
	k := openKeeper(t)
	_, err := k.ImportPositions(ctx, strings.NewReader(aRotationLater()), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	passage := func(label string) catalog.Passage {
		p, err := k.Store.Read(ctx).PassageNamed(passagesByLabel(t, k)[label][0])
		require.NoError(t, err)
		return p
	}
	first, near, far := passage("first"), passage("near"), passage("far")
	found := func() map[string]string {
		list, err := k.TrackReturns(ctx, time.Time{}, time.Time{})
		require.NoError(t, err)
		said := map[string]string{}
		for _, r := range list {
			said[r.To.Name] = r.State.String() + " by " + r.By.String()
		}
		return said
	}
	before := found()
	require.Contains(t, before, near.Name)
	require.Contains(t, before, far.Name, "two that may be it")

	require.NoError(t, k.SayReturn(ctx, first.ID, far.ID, true))
	assert.Equal(t, map[string]string{far.Name: "made by observer"}, found(), "what it was held for besides is gone")
	require.NoError(t, k.SayReturn(ctx, first.ID, far.ID, false))
	after := found()
	assert.Equal(t, "refused by observer", after[far.Name])
	assert.Contains(t, after, near.Name)

	err = k.SayReturn(ctx, near.ID, first.ID, true)
	assert.ErrorContains(t, err, "must have been seen later")
	err = k.SayReturn(ctx, first.ID, first.ID, true)
	assert.ErrorContains(t, err, "cannot be")
	invalid := new(store.InvalidError)
	assert.ErrorAs(t, err, &invalid)
	_, err = k.Undo(ctx) // the last look for returns
	require.NoError(t, err)
	_, err = k.Undo(ctx) // the refusal
	require.NoError(t, err)
	links, err := k.Store.Read(ctx).LinksOf(far.ID)
	require.NoError(t, err)
	require.Len(t, links, 1)
	assert.Equal(t, catalog.Made, links[0].State)
	assert.Equal(t, catalog.ByObserver, links[0].By)
}

// Two passages without marks have no order of their own: what was said first gives it.
func TestTwoPassagesAreNotReturnsOfOneAnother(t *testing.T) {
	k := openKeeper(t)
	var a, b catalog.Passage
	_, err := k.Store.Update(ctx, store.Change{Title: "test", Origin: catalog.Terminal, At: time.Now()}, func(tx *store.Tx) (err error) {
		if a, err = tx.AddPassage(catalog.Passage{Name: "Alder", Kind: catalog.Plage}); err != nil {
			return err
		}
		b, err = tx.AddPassage(catalog.Passage{Name: "Birch", Kind: catalog.Plage})
		return err
	})
	require.NoError(t, err)
	require.NoError(t, k.SayReturn(ctx, a.ID, b.ID, true))
	err = k.SayReturn(ctx, b.ID, a.ID, true)
	require.ErrorContains(t, err, "Alder cannot be Birch come back")
	require.NoError(t, k.SayReturn(ctx, a.ID, b.ID, false))
	require.NoError(t, k.SayReturn(ctx, b.ID, a.ID, true), "once the other was taken back")
}
