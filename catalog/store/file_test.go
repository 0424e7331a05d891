package store

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

func addObserver(s *Store, name string) error {
	_, err := s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error {
		_, err := tx.AddObserver(catalog.Observer{Name: name})
		return err
	})
	return err
}

// snapshotFile writes all of a catalogue to another file, as SQLite copies one.
func snapshotFile(t testing.TB, s *Store, path string) {
	t.Helper()
	_, err := s.write.Exec("VACUUM INTO ?", path)
	require.NoError(t, err)
}

func contents(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}

// A catalogue that a full disk or a copy broken off cut to nothing is not made anew: its
// observer would never learn that it is gone.
func TestAnExistingFileThatIsNoCatalogueIsNeverWritten(t *testing.T) {
	s, err := Open(ctx, filepath.Join(t.TempDir(), "catalogue.db"), byFigures)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	whole := contents(t, s.Path())
	empty := filepath.Join(t.TempDir(), "empty.db")
	db, err := sql.Open("sqlite3", empty)
	require.NoError(t, err)
	_, err = db.Exec("VACUUM")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	for name, held := range map[string][]byte{
		"nothing": {}, "a byte": whole[:1], "a line feed": []byte("\n"), "half a header": whole[:60], "a header": whole[:100],
		"nothing but zeros": make([]byte, 8192), "a text": []byte(strings.Repeat("seeing 3\n", 50)),
		"a SQLite file without anything": contents(t, empty),
	} {
		t.Run(name, func(t *testing.T) {
			folder := t.TempDir()
			path := filepath.Join(folder, "catalogue.db")
			require.NoError(t, os.WriteFile(path, held, 0o644))
			_, err := Open(ctx, path, byFigures)
			require.Error(t, err)
			_, foreign := errors.AsType[*ForeignError](err)
			_, damaged := errors.AsType[*DamagedError](err)
			assert.True(t, foreign || damaged, "%v", err)
			assert.True(t, bytes.Equal(held, contents(t, path)), "it was written to")
			left, err := os.ReadDir(folder)
			require.NoError(t, err)
			assert.Len(t, left, 1, "nothing was made beside it: %v", left)
		})
	}
}

// What happens to a catalogue that is open, by hands that do not know it.
func TestNothingIsKeptInAFileThatLiesElsewhere(t *testing.T) {
	for name, change := range map[string]func(t *testing.T, path, earlier string){
		"moved away":                      func(t *testing.T, path, _ string) { require.NoError(t, os.Rename(path, path+".old")) },
		"removed":                         func(t *testing.T, path, _ string) { require.NoError(t, os.Remove(path)) },
		"cut to nothing":                  func(t *testing.T, path, _ string) { require.NoError(t, os.Truncate(path, 0)) },
		"an earlier copy renamed over it": func(t *testing.T, path, earlier string) { require.NoError(t, os.Rename(earlier, path)) },
		"an earlier copy written into it": func(t *testing.T, path, earlier string) {
			require.NoError(t, os.WriteFile(path, contents(t, earlier), 0o644))
		},
		"moved away, an earlier copy in it": func(t *testing.T, path, earlier string) {
			require.NoError(t, os.Rename(path, path+".old"))
			require.NoError(t, os.WriteFile(path, contents(t, earlier), 0o644))
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "catalogue.db")
			s, err := Open(ctx, path, byFigures)
			require.NoError(t, err)
			require.NoError(t, addObserver(s, "before the copy"))
			earlier := path + ".earlier"
			snapshotFile(t, s, earlier)
			require.NoError(t, addObserver(s, "after the copy"))
			change(t, path, earlier)
			there, _ := os.ReadFile(path)

			err = addObserver(s, "into nowhere")
			replaced, ok := errors.AsType[*ReplacedError](err)
			require.True(t, ok, "%v", err)
			assert.Equal(t, path, replaced.Path)
			_, err = s.Undo(ctx, at(catalog.Terminal))
			_, ok = errors.AsType[*ReplacedError](err)
			assert.True(t, ok, "%v", err)
			err = s.Close()
			_, ok = errors.AsType[*ReplacedError](err)
			assert.True(t, ok, "%v", err)
			after, _ := os.ReadFile(path)
			assert.True(t, bytes.Equal(there, after), "what stands there now was written to")
		})
	}
}

// checkpoint brings the log into the file.
func checkpoint(t testing.TB, s *Store) {
	t.Helper()
	var busy, all, done int
	require.NoError(t, s.write.QueryRow("PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &all, &done))
	require.Equal(t, all, done)
}

// cp, unlike mv, writes into the file that is there, and it keeps its inode. An earlier copy
// of the catalogue itself is told by what it lacks.
func TestAnEarlierCatalogueWrittenIntoTheFileIsNoticed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	earlier := path + ".earlier"
	for i := range 5 {
		require.NoError(t, addObserver(s, fmt.Sprint("observer ", i)))
		checkpoint(t, s)
		if i == 2 {
			copyFile(t, path, earlier)
		}
	}
	copyFile(t, earlier, path)
	there := contents(t, path)
	err = addObserver(s, "into nowhere")
	_, ok := errors.AsType[*ReplacedError](err)
	require.True(t, ok, "%v", err)
	err = s.Close()
	_, ok = errors.AsType[*ReplacedError](err)
	assert.True(t, ok, "%v", err)
	assert.True(t, bytes.Equal(there, contents(t, path)), "what stands there now was written to")
}

// A copy that lacks nothing that the file held is the file, and the log beside it, or what a
// program has of it, goes on fitting: nothing is refused, and nothing is lost.
func TestTheFileItselfWrittenIntoItIsNoOther(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := openAt(t, path)
	require.NoError(t, addObserver(s, "before"))
	checkpoint(t, s)
	copied := contents(t, path)
	require.NoError(t, addObserver(s, "in the log"))
	require.NoError(t, os.WriteFile(path, copied, 0o644))
	require.NoError(t, addObserver(s, "after"))
	checkpoint(t, s)
	faults, err := s.Check(ctx, true, nil)
	require.NoError(t, err)
	assert.Empty(t, faults)
	all, err := s.Read(ctx).Observers()
	require.NoError(t, err)
	assert.Len(t, all, 3)
}

// The page that is watched may be anything: it is read, or it is not, and nothing breaks.
func FuzzNewestOperation(f *testing.F) {
	page := make([]byte, 512)
	copy(page, []byte{leafOfTable, 0, 0, 0, 1, 0, 200, 0, 0, 200})
	row := append([]byte{15, 1, 3, 13 + 2*10, 2}, "operations\x01\x2c"...)
	copy(page[200:], row)
	operation, known := newestOperation(page)
	require.True(f, known)
	require.EqualValues(f, 300, operation)
	f.Add(page)
	f.Add(page[:210])
	f.Add([]byte{leafOfTable})
	f.Fuzz(func(t *testing.T, page []byte) { newestOperation(page) })
}

// The file may be changed in the middle of a change.
func TestAFileReplacedInTheMiddleOfAChange(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	_, err = s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error {
		if _, err := tx.AddObserver(catalog.Observer{Name: "R. Vane"}); err != nil {
			return err
		}
		return os.Rename(path, path+".old")
	})
	_, ok := errors.AsType[*ReplacedError](err)
	assert.True(t, ok, "%v", err)
	require.Error(t, s.Close())
}

// A pool opens further connections when it needs them: none of them reads another file.
func TestNoReaderOpensTheFileThatCameLater(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	other := openAt(t, filepath.Join(t.TempDir(), "other.db"))
	require.NoError(t, addObserver(other, "of another catalogue"))
	require.NoError(t, os.Rename(path, path+".old"))
	snapshotFile(t, other, path)
	_, err = s.Read(ctx).Observers()
	_, ok := errors.AsType[*ReplacedError](err)
	assert.True(t, ok, "%v", err)
	require.Error(t, s.Close())
}

// Two stores of one program, of which the one is closed: the other's locks stand, and
// another program does not take the log for its own to remove.
func TestClosingOneOfTwoStoresLeavesTheLocksOfTheOther(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	first := openAt(t, path)
	second, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	require.NoError(t, addObserver(second, "second"))
	require.NoError(t, second.Close())
	cmd := child(t, "adds", path)
	cmd.Stderr = os.Stderr
	require.NoError(t, cmd.Run())
	require.NoError(t, addObserver(first, "first"))
	all, err := first.Read(ctx).Observers()
	require.NoError(t, err)
	assert.Len(t, all, 42)
	_, err = os.Stat(path + "-wal")
	assert.NoError(t, err, "the other program left the log in use")
}

// What was made for nothing goes; what somebody has kept, or has open, stays.
func TestACatalogueMadeForNothingIsWithdrawn(t *testing.T) {
	made := func() *Store {
		s, err := Open(ctx, filepath.Join(t.TempDir(), "catalogue.db"), byFigures)
		require.NoError(t, err)
		return s
	}
	s := made()
	gone, err := s.Withdraw(ctx)
	require.NoError(t, err)
	assert.True(t, gone)
	left, err := os.ReadDir(filepath.Dir(s.Path()))
	require.NoError(t, err)
	assert.Empty(t, left)

	s = made()
	cmd := child(t, "adds", s.Path())
	require.NoError(t, cmd.Run())
	gone, err = s.Withdraw(ctx)
	require.NoError(t, err)
	assert.False(t, gone, "another program kept something")
	assert.Equal(t, 40, observersIn(t, s.Path()))

	s = made()
	cmd = child(t, "waits", s.Path())
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	_, err = out.Read(make([]byte, 5))
	require.NoError(t, err)
	gone, err = s.Withdraw(ctx)
	require.NoError(t, err)
	assert.False(t, gone, "another program has it open")
	require.NoError(t, cmd.Process.Kill())
	_ = cmd.Wait()
	assert.Equal(t, 0, observersIn(t, s.Path()))
}

// A disk without room is called so, and what was there before is there after.
func TestAFullDiskIsCalledSo(t *testing.T) {
	s := openAt(t, filepath.Join(t.TempDir(), "catalogue.db"))
	require.NoError(t, addObserver(s, "before"))
	var pages int
	require.NoError(t, s.write.QueryRow("PRAGMA page_count").Scan(&pages))
	_, err := s.write.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages))
	require.NoError(t, err)
	for i := 0; err == nil && i < 10_000; i++ {
		err = addObserver(s, strings.Repeat("x", 150)+fmt.Sprint(i))
	}
	_, full := errors.AsType[*FullError](err)
	assert.True(t, full, "%v", err)
	faults, err := s.Check(ctx, true, nil)
	require.NoError(t, err)
	assert.Empty(t, faults)
	_, err = s.Read(ctx).ObserverNamed("before")
	assert.NoError(t, err)
}

// What a check is for: each fault put in by hand is found, and where nothing is wrong it
// finds nothing.
func TestACheckFindsWhatIsWrong(t *testing.T) {
	for says, statement := range map[string]string{
		"comes out as":                  "UPDATE positions SET lat_deg = lat_deg + 0.01",
		"its middle is kept":            "UPDATE frames SET middle_utc = '2026-03-14T13:00:00.000Z'",
		"has no row among":              "DELETE FROM positions",
		"hangs on frame F1":             "UPDATE frames SET removed = 1",
		"which the history does not":    "UPDATE marks SET operation_id = 99",
		"has a position, and was remov": "UPDATE marks SET removed = 1",
		"names something of frames":     "PRAGMA foreign_keys = off; UPDATE marks SET frame_id = 99",
	} {
		t.Run(says, func(t *testing.T) {
			s := open(t)
			someMark(t, s)
			faults, err := s.Check(ctx, true, nil)
			require.NoError(t, err)
			require.Empty(t, faults)
			_, err = s.write.Exec(statement)
			require.NoError(t, err)
			faults, err = s.Check(ctx, true, nil)
			require.NoError(t, err)
			require.NotEmpty(t, faults)
			assert.Contains(t, fmt.Sprint(faults), says)
		})
	}
}
