package observe

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

func rowsFrom(year, n int) string {
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,cmd_deg,sigma_deg\n")
	for i := range n {
		at := time.Date(year, 3, 1+i/20, 12, 0, 0, 0, time.UTC)
		fmt.Fprintf(&csv, "plage,%s,%d,%g,0.5\n", at.Format(time.RFC3339), 3*(i%20)-30, -60+13.2*float64(i/20%9))
	}
	return csv.String()
}

// What others change while marks are followed is heeded, and what has nothing to do with
// it holds nothing up: following reads, works and then writes.
func TestOthersChangeTheCatalogueWhileMarksAreFollowed(t *testing.T) {
	ctx := t.Context()
	path := filepath.Join(t.TempDir(), "c.db")
	k, err := Open(ctx, path, catalog.Terminal, time.Now)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, k.Close()) })
	other, err := Open(ctx, path, catalog.Terminal, time.Now)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, other.Close()) })
	_, err = k.ImportPositions(ctx, strings.NewReader(rowsFrom(2025, 400)), ImportOptions{})
	require.NoError(t, err)

	plan := followPlan{}
	require.NoError(t, k.Store.View(ctx, func(v *store.View) error { return plan.read(v, FollowOptions{}) }))
	touched := func() bool {
		yes, err := k.Store.Read(ctx).FollowingTouchedSince(plan.seen)
		require.NoError(t, err)
		return yes
	}
	require.False(t, touched())
	_, err = other.AddObserver(ctx, catalog.Observer{Name: "R. Vane"})
	require.NoError(t, err)
	require.False(t, touched(), "an observer has nothing to do with it")
	require.NoError(t, plan.follow(ctx))
	_, err = k.Store.Update(ctx, k.change("track follow"), func(tx *store.Tx) error {
		_, err := plan.keep(tx)
		return err
	})
	require.NoError(t, err)

	plan = followPlan{}
	require.NoError(t, k.Store.View(ctx, func(v *store.View) error { return plan.read(v, FollowOptions{}) }))
	_, err = other.ImportPositions(ctx, strings.NewReader(rowsFrom(2026, 20)), ImportOptions{})
	require.NoError(t, err)
	require.True(t, touched())
	_, err = other.Undo(ctx)
	require.NoError(t, err)
	require.True(t, touched(), "what was undone too")

	// Marks come while it is followed: nothing is lost, and none stays behind.
	came := make(chan error, 1)
	go func() {
		var err error
		for year := 1990; year < 1994 && err == nil; year++ {
			_, err = other.ImportPositions(ctx, strings.NewReader(rowsFrom(year, 40)), ImportOptions{})
		}
		came <- err
	}()
	for range 2 {
		_, err = k.TrackFollow(ctx, FollowOptions{All: true})
		require.NoError(t, err)
	}
	require.NoError(t, <-came)
	_, err = k.TrackFollow(ctx, FollowOptions{})
	require.NoError(t, err)
	left, err := k.Store.Read(ctx).Unfollowed()
	require.NoError(t, err)
	assert.Empty(t, left)
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	for _, e := range entries {
		require.NotNil(t, e.Join, "%s", e.Mark.ID)
	}
}
