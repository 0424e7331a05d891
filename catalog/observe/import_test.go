package observe_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

func manyRows(n int) string {
	var b bytes.Buffer
	b.WriteString("kind,utc,lat_deg,lon_deg,label,sigma_deg\n")
	day := time.Date(1950, 1, 1, 12, 0, 0, 0, time.UTC)
	for i := range n {
		fmt.Fprintf(&b, "sunspot,%s,%.1f,%.1f,%d,0.5\n", day.Add(time.Duration(i/10)*24*time.Hour).Format("2006-01-02T15:04:05Z"),
			float64(i%60)-30, float64(i*7%3600)/10, 10000+i/50)
	}
	return b.String()
}

func TestManyPositionsAreImportedQuickly(t *testing.T) {
	n := 100_000
	if testing.Short() {
		n = 5000
	}
	k := keeper(t)
	start := time.Now()
	done, err := k.ImportPositions(ctx, strings.NewReader(manyRows(n)), observe.ImportOptions{Source: "many.csv"})
	require.NoError(t, err)
	t.Logf("%d positions imported in %.2f s", n, time.Since(start).Seconds())
	assert.Equal(t, n, done.Kept)

	start = time.Now()
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	t.Logf("read as entries in %.2f s", time.Since(start).Seconds())
	require.Len(t, entries, n)

	history, err := k.Store.Read(ctx).History("", 10)
	require.NoError(t, err)
	require.Len(t, history, 1, "an import is one operation")

	start = time.Now()
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	t.Logf("undone in %.2f s", time.Since(start).Seconds())
	entries, err = k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	assert.Empty(t, entries)
	start = time.Now()
	_, err = k.Redo(ctx)
	require.NoError(t, err)
	t.Logf("redone in %.2f s", time.Since(start).Seconds())
}
