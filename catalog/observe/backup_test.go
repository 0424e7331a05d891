package observe_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// backedBench is a catalogue with a clock that is set by hand, with one mark and a picture in its
// own folder.
func backedBench(t *testing.T) (k observe.Keeper, clock *time.Time, picture string) {
	t.Helper()
	folder := t.TempDir()
	clock = new(time.Time)
	*clock = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
	k, err := observe.Open(ctx, filepath.Join(folder, "catalogue.db"), catalog.Terminal, func() time.Time { return *clock })
	require.NoError(t, err)
	picture = filepath.Join(folder, "pictures", "sun.png")
	require.NoError(t, os.MkdirAll(filepath.Dir(picture), 0o755))
	content := []byte("as good as a picture")
	require.NoError(t, os.WriteFile(picture, content, 0o644))
	_, err = k.Store.Update(ctx, store.Change{Title: "frame add", Origin: catalog.Terminal, At: *clock}, func(tx *store.Tx) error {
		_, err := tx.AddFrame(catalog.Frame{Taken: *clock, Path: picture, SHA256: sha256Of(content), WidthPx: 10, HeightPx: 10})
		return err
	})
	require.NoError(t, err)
	markNow(t, k, clock)
	return k, clock, picture
}

func markNow(t *testing.T, k observe.Keeper, clock *time.Time) {
	t.Helper()
	_, err := k.Store.Update(ctx, store.Change{Title: "mark add", Origin: catalog.Terminal, At: *clock}, func(tx *store.Tx) error {
		_, err := tx.AddMark(catalog.Mark{Frame: 1, Kind: catalog.Plage, MarkedAt: *clock, Geometry: catalog.Geometry{
			Shape: catalog.Point, Places: []catalog.PlacePoint{{B: 0.1, Lon: 1}}}})
		return err
	})
	require.NoError(t, err)
}

func TestABackupBringsAllBack(t *testing.T) {
	k, clock, picture := backedBench(t)
	done, err := k.Backup(ctx, observe.BackupOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, done.Pictures)
	*clock = clock.Add(time.Hour)
	markNow(t, k, clock)
	path := k.Store.Path()
	_, err = observe.Restore(ctx, path, done.Path, k.Now)
	_, inUse := errors.AsType[*store.InUseElsewhereError](err)
	assert.True(t, inUse, "while it is open it is not replaced: %v", err)
	require.NoError(t, k.Close())
	require.NoError(t, os.Remove(picture)) // on one disk the backup has a second name of it
	require.NoError(t, os.WriteFile(picture, []byte("something else"), 0o644))

	different, err := observe.Compare(ctx, path, done.Path, k.Now)
	require.NoError(t, err)
	require.Len(t, different.Days, 1)
	assert.Equal(t, 2, different.Days[0].Now.Marks)
	assert.Equal(t, 1, different.Days[0].Then.Marks)
	assert.Len(t, different.Undoing, 1)
	restored, err := observe.Restore(ctx, path, done.Path, k.Now)
	require.NoError(t, err)
	assert.Equal(t, 1, restored.Pictures)
	text, err := os.ReadFile(picture)
	require.NoError(t, err)
	assert.Equal(t, "as good as a picture", string(text))

	marksIn := func(path string) int {
		k, err := observe.Open(ctx, path, catalog.Terminal, k.Now)
		require.NoError(t, err)
		defer k.Close()
		c, err := k.Check(ctx, observe.CheckOptions{Pictures: true})
		require.NoError(t, err)
		assert.Empty(t, c.Faults)
		return c.Marks
	}
	assert.Equal(t, 1, marksIn(path))
	assert.Equal(t, 2, marksIn(restored.Aside), "what stood there is kept, with what was in its log")
}

// What two restorations within one second replace is kept under two names, catalogue and
// picture alike.
func TestTwoRestorationsInOneSecondKeepBoth(t *testing.T) {
	k, clock, picture := backedBench(t)
	path := k.Store.Path()
	done, err := k.Backup(ctx, observe.BackupOptions{})
	require.NoError(t, err)
	markNow(t, k, clock)
	require.NoError(t, k.Close())
	require.NoError(t, os.Remove(picture))
	var asides []string
	for _, says := range []string{"one", "other"} {
		require.NoError(t, os.WriteFile(picture, []byte(says), 0o644))
		restored, err := observe.Restore(ctx, path, done.Path, k.Now)
		require.NoError(t, err)
		asides = append(asides, restored.Aside)
		require.NoError(t, os.Remove(picture))
	}
	require.NoError(t, os.Remove(path)) // now only its log is there to be set aside
	for _, says := range []string{"third", "fourth"} {
		require.NoError(t, os.WriteFile(path+"-wal", []byte(says), 0o644))
		_, err := observe.Restore(ctx, path, done.Path, k.Now)
		require.NoError(t, err)
		require.NoError(t, os.Remove(path))
	}
	assert.NotEqual(t, asides[0], asides[1])
	for i, want := range []int{2, 1} {
		k, err := observe.Open(ctx, asides[i], catalog.Terminal, k.Now)
		require.NoError(t, err)
		c, err := k.Check(ctx, observe.CheckOptions{})
		require.NoError(t, err)
		assert.Equal(t, want, c.Marks, asides[i])
		require.NoError(t, k.Close())
	}
	for pattern, want := range map[string][]string{picture + ".replaced-*": {"one", "other"}, path + ".replaced-*-wal": {"third", "fourth"}} {
		names, err := filepath.Glob(pattern)
		require.NoError(t, err)
		var kept []string
		for _, name := range names {
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			kept = append(kept, string(text))
		}
		assert.ElementsMatch(t, want, kept, pattern)
	}
}

// A backup in which bytes have changed on the disk is not put in place, and for its sake
// no good one goes.
func TestADamagedBackupHarmsNothing(t *testing.T) {
	k, clock, _ := backedBench(t)
	first, err := k.Backup(ctx, observe.BackupOptions{})
	require.NoError(t, err)
	*clock = clock.Add(2 * time.Hour)
	second, err := k.Backup(ctx, observe.BackupOptions{Keep: 2})
	require.NoError(t, err)
	whole, err := os.ReadFile(second.Path)
	require.NoError(t, err)
	copy(whole[len(whole)/3:], bytes.Repeat([]byte{0xa5}, 30_000))
	require.NoError(t, os.WriteFile(second.Path, whole, 0o644))
	_, err = observe.Restore(ctx, k.Store.Path(), second.Path, k.Now)
	require.Error(t, err)
	_, err = os.Stat(k.Store.Path())
	require.NoError(t, err, "the catalogue stands where it stood")
	*clock = clock.AddDate(0, 0, 1)
	_, err = k.Backup(ctx, observe.BackupOptions{})
	require.NoError(t, err)
	_, err = os.Stat(first.Path)
	assert.NoError(t, err, "the only whole one of its day")
	require.NoError(t, k.Close())
}

func TestTheDaysBackupIsMadeWhenItIsDue(t *testing.T) {
	k, clock, _ := backedBench(t)
	due := func() bool {
		done, err := k.DayBackup(ctx, "", false)
		require.NoError(t, err)
		return done != nil
	}
	assert.True(t, due(), "something was marked today")
	assert.False(t, due())
	markNow(t, k, clock)
	assert.False(t, due(), "one a day")
	*clock = clock.Add(2 * time.Hour)
	assert.True(t, due(), "until it is an hour old and there is more")
	*clock = clock.Add(2 * time.Hour)
	assert.False(t, due(), "nothing has changed")
	*clock = clock.AddDate(0, 0, 1)
	assert.False(t, due(), "never before the day's first mark")
	markNow(t, k, clock)
	assert.True(t, due())
	list, err := observe.Backups(k.Store.Path(), observe.BackupFolder(k.Store.Path()))
	require.NoError(t, err)
	assert.Len(t, list, 2, "one a day")
	require.NoError(t, k.Close())
}

func sha256Of(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}
