package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// killedWithALog makes a catalogue, an earlier copy of it, and lets a program that changed
// it die with 40 observers in its log. It gives the paths of both.
func killedWithALog(t *testing.T) (path, earlier string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "catalogue.db")
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	require.NoError(t, addObserver(s, "before the copy"))
	require.NoError(t, s.Close())
	earlier = filepath.Join(t.TempDir(), "earlier.db")
	copyFile(t, path, earlier)
	for _, name := range []string{"after the copy", "and after that"} {
		s, err = Open(ctx, path, byFigures)
		require.NoError(t, err)
		require.NoError(t, addObserver(s, name))
		require.NoError(t, s.Close())
	}
	cmd := child(t, "leaves", path)
	cmd.Stderr = os.Stderr
	require.NoError(t, cmd.Run())
	info, err := os.Stat(path + "-wal")
	require.NoError(t, err, "the program left no log")
	require.NotZero(t, info.Size())
	return path, earlier
}

func copyFile(t testing.TB, from, to string) {
	t.Helper()
	require.NoError(t, os.WriteFile(to, contents(t, from), 0o644))
}

func observersIn(t *testing.T, path string) int {
	t.Helper()
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	all, err := s.Read(ctx).Observers()
	require.NoError(t, err)
	var sound string
	require.NoError(t, s.read.QueryRow("PRAGMA integrity_check").Scan(&sound))
	assert.Equal(t, "ok", sound)
	require.NoError(t, s.Close())
	return len(all)
}

// What people do who put a copy back by hand, while a log of what stood there is left.
func TestTheLogOfAnotherFileIsRefused(t *testing.T) {
	for name, restore := range map[string]func(t *testing.T, path, earlier string){
		"moved away, the copy put in its place": func(t *testing.T, path, earlier string) {
			require.NoError(t, os.Rename(path, path+".old"))
			copyFile(t, earlier, path)
		},
		"removed, the copy put in its place": func(t *testing.T, path, earlier string) {
			require.NoError(t, os.Remove(path)) // and its inode may be given to the next
			copyFile(t, earlier, path)
		},
		"the copy renamed over it": func(t *testing.T, path, earlier string) {
			beside := path + ".copy"
			copyFile(t, earlier, beside)
			require.NoError(t, os.Rename(beside, path))
		},
		"the copy written into it": func(t *testing.T, path, earlier string) {
			copyFile(t, earlier, path) // the inode stays
		},
		"a snapshot written into it": func(t *testing.T, path, earlier string) {
			s := openAt(t, earlier)
			snapshotFile(t, s, earlier+".snapshot")
			copyFile(t, earlier+".snapshot", path)
		},
	} {
		t.Run(name, func(t *testing.T) {
			path, earlier := killedWithALog(t)
			restore(t, path, earlier)
			main, log := contents(t, path), contents(t, path+"-wal")
			for range 2 { // the second look is as good as the first
				_, err := Open(ctx, path, byFigures)
				strange, ok := errors.AsType[*StrangeLogError](err)
				require.True(t, ok, "%v", err)
				assert.Equal(t, path, strange.Path)
			}
			assert.Equal(t, len(main), len(contents(t, path)))
			assert.Equal(t, main, contents(t, path))
			assert.Equal(t, log, contents(t, path+"-wal"))

			// What the advice says: the log goes where its file is, and both open.
			require.NoError(t, os.Rename(path+"-wal", path+".old-wal"))
			require.NoError(t, os.RemoveAll(path+"-shm"))
			assert.Equal(t, 1, observersIn(t, path))
			if _, err := os.Stat(path + ".old"); err == nil {
				assert.Equal(t, 43, observersIn(t, path+".old"), "nothing of what stood there before is lost")
			}
		})
	}
}

// What people do who mean no harm: all of it opens, with everything in it.
func TestALogOpensWhereItsFileIs(t *testing.T) {
	for name, c := range map[string]struct {
		change func(t *testing.T, path string) (now string)
		want   int
	}{
		"as the killed program left it": {func(t *testing.T, path string) string { return path }, 43},
		"the folder was moved": {func(t *testing.T, path string) string {
			to := filepath.Join(t.TempDir(), "elsewhere")
			require.NoError(t, os.Rename(filepath.Dir(path), to))
			return filepath.Join(to, "catalogue.db")
		}, 43},
		"the folder was copied": {func(t *testing.T, path string) string {
			to := filepath.Join(t.TempDir(), "copy")
			require.NoError(t, os.CopyFS(to, os.DirFS(filepath.Dir(path))))
			return filepath.Join(to, "catalogue.db")
		}, 43},
		"the three files were copied": {func(t *testing.T, path string) string {
			to := filepath.Join(t.TempDir(), "copy.db")
			for _, end := range []string{"", "-wal", "-shm"} {
				copyFile(t, path+end, to+end)
			}
			return to
		}, 43},
		"the file and the log were copied": {func(t *testing.T, path string) string {
			to := filepath.Join(t.TempDir(), "copy.db")
			copyFile(t, path+"-wal", to+"-wal")
			copyFile(t, path, to)
			return to
		}, 43},
		"the file alone was copied": {func(t *testing.T, path string) string {
			to := filepath.Join(t.TempDir(), "copy.db")
			copyFile(t, path, to)
			return to
		}, 3},
		"all was put back where it stood": {func(t *testing.T, path string) string {
			to := filepath.Join(t.TempDir(), "copy")
			folder := filepath.Dir(path)
			require.NoError(t, os.CopyFS(to, os.DirFS(folder)))
			require.NoError(t, os.RemoveAll(folder))
			require.NoError(t, os.CopyFS(folder, os.DirFS(to)))
			return path
		}, 43},
		"made before logs had an owner": {func(t *testing.T, path string) string {
			require.NoError(t, os.Remove(ownerPath(path)))
			return path
		}, 43},
		"its owner was cut off": {func(t *testing.T, path string) string {
			require.NoError(t, os.Truncate(ownerPath(path), 10))
			return path
		}, 43},
	} {
		t.Run(name, func(t *testing.T) {
			path, _ := killedWithALog(t)
			now := c.change(t, path)
			assert.Equal(t, c.want, observersIn(t, now))
			assert.Equal(t, c.want, observersIn(t, now), "once more")
		})
	}
}

// A copy that was put back properly, with no log beside it, has the owner for itself from
// its first opening on.
func TestTheOwnerFollowsACopyThatWasPutBack(t *testing.T) {
	path, earlier := killedWithALog(t)
	assert.Equal(t, 43, observersIn(t, path)) // which ends the log
	require.NoError(t, os.Remove(path))
	copyFile(t, earlier, path)
	assert.Equal(t, 1, observersIn(t, path))
	cmd := child(t, "leaves", path)
	cmd.Stderr = os.Stderr
	require.NoError(t, cmd.Run())
	assert.Equal(t, 41, observersIn(t, path))
}
