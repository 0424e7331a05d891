package years

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// A day's content is the same in a catalogue of a week and of two months.
func TestDaysAreAlike(t *testing.T) {
	for _, days := range []int{7, 60} {
		k, err := observe.Open(context.Background(), filepath.Join(t.TempDir(), "c.db"), catalog.Terminal, time.Now)
		require.NoError(t, err)
		defer k.Close()
		made, err := Fill(context.Background(), k, days*MarksADay)
		require.NoError(t, err)
		require.Equal(t, days*MarksADay, made.Marks)
		onDisc, joined := 0, 0
		entries, err := k.Store.Read(context.Background()).Entries(store.Query{From: End})
		require.NoError(t, err)
		for _, e := range entries {
			if e.Position.Disc != nil {
				onDisc++
			}
			if e.Join != nil {
				joined++
			}
			require.Empty(t, e.Position.Reason)
		}
		require.Len(t, entries, MarksADay)
		require.Equal(t, 34, onDisc)
		require.Greater(t, joined, 26)
	}
}
