//go:build unix

package store

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/testdata"
)

const manyObservers = `INSERT INTO observers (uuid, revision, operation_id, removed, name, code, note, is_default)
WITH RECURSIVE c (n) AS (VALUES (1) UNION ALL SELECT n + 1 FROM c WHERE n < ?) SELECT randomblob(16), 1, 1, 0, 'one more ' || n, '', '', 0 FROM c`

// ofSchema makes a catalogue of a kept schema at path, with so many marks more in it.
func ofSchema(t testing.TB, file, path string, more int) {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	_, err = db.Exec(string(text))
	require.NoError(t, err)
	_, err = db.Exec(manyObservers, more)
	require.NoError(t, err)
	require.NoError(t, db.Close())
}

// A migration that is killed, whenever, is made whole by the next that opens the catalogue:
// nothing that was in it is lost, and each copy from before that has its name is whole.
func TestAKilledMigrationLosesNothing(t *testing.T) {
	kept, err := filepath.Glob(filepath.Join(schemaFolder(), "*.sql"))
	require.NoError(t, err)
	kills := 1 + testdata.Kills()/len(kept)
	const more = 3000
	r := rand.New(rand.NewPCG(1859, 9))
	killed := 0
	for _, file := range kept {
		if filepath.Base(file) == fmt.Sprintf("%04d.sql", newest(t)) {
			continue
		}
		whole := filepath.Join(t.TempDir(), "catalogue.db")
		ofSchema(t, file, whole, more)
		begun := time.Now()
		usual := filepath.Join(t.TempDir(), "catalogue.db")
		copyFile(t, whole, usual)
		require.NoError(t, child(t, "open", usual).Run())
		takes := time.Since(begun)
		for range kills {
			path := filepath.Join(t.TempDir(), "catalogue.db")
			copyFile(t, whole, path)
			for range 2 { // and one more that begins where the first was killed
				cmd := child(t, "open", path)
				require.NoError(t, cmd.Start())
				killed += killWithin(t, cmd, path, r, takes)
			}
			for _, b := range backups(t, path) {
				copied := filepath.Join(t.TempDir(), "copied.db")
				copyFile(t, b, copied)
				migratedWhole(t, copied, more)
			}
			migratedWhole(t, path, more)
			require.NoError(t, addObserver(openAt(t, path), "and goes on"))
		}
	}
	t.Logf("%d migrations were killed in the middle", killed)
}

// killWithin kills a program at some instant of the time that it takes, or, every other
// time, just after it began to write. It gives how many it met alive.
func killWithin(t testing.TB, cmd *exec.Cmd, path string, r *rand.Rand, takes time.Duration) int {
	t.Helper()
	wait := time.Duration(r.Float64() * float64(takes))
	if r.IntN(2) == 0 {
		before := logBytes(path)
		for end := time.Now().Add(takes); logBytes(path) == before && time.Now().Before(end); {
			time.Sleep(100 * time.Microsecond)
		}
		wait = time.Duration(r.IntN(20_000)) * time.Microsecond
	}
	time.Sleep(wait)
	require.NoError(t, cmd.Process.Kill())
	if cmd.Wait() != nil {
		return 1
	}
	return 0
}

func migratedWhole(t testing.TB, path string, more int) {
	t.Helper()
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	faults, err := s.Check(ctx, false, nil) // the sample's figures are no true positions
	require.NoError(t, err)
	require.Empty(t, faults)
	all, err := s.Read(ctx).Observers()
	require.NoError(t, err)
	require.Len(t, all, 1+more)
	entries, err := s.Read(ctx).Entries(Query{Label: "x 7"})
	require.NoError(t, err)
	require.Len(t, entries, 1)
	require.NoError(t, s.Close())
}

// A copy that was just put in place has no log yet, and a program that is killed while it
// gives it one leaves a journal. Only who may write can take back what stands in it.
func TestAJournalThatWasLeftIsTakenBack(t *testing.T) {
	s := open(t)
	require.NoError(t, addObserver(s, "before"))
	path := filepath.Join(t.TempDir(), "catalogue.db")
	require.NoError(t, s.Snapshot(ctx, path))
	cmd := child(t, "spills", path)
	cmd.Stderr = os.Stderr
	require.NoError(t, cmd.Run())
	journal, err := os.Stat(path + "-journal")
	require.NoError(t, err, "the program left no journal")
	require.NotZero(t, journal.Size())
	assert.Equal(t, 1, observersIn(t, path))
}

// Five programs write at once, each on its own; all of it is kept, each change once and
// in one history.
func TestFiveProgramsWriteToOneCatalogue(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := openAt(t, path)
	programs := make([]*exec.Cmd, 5)
	said := make([]strings.Builder, len(programs))
	for i := range programs {
		programs[i] = child(t, "adds", path)
		programs[i].Stderr = &said[i]
		require.NoError(t, programs[i].Start())
	}
	for i, cmd := range programs {
		require.NoError(t, cmd.Wait(), said[i].String())
	}
	all, err := s.Read(ctx).Observers()
	require.NoError(t, err)
	assert.Len(t, all, 40*len(programs))
	entries, err := s.Read(ctx).History(catalog.Desk("child"), 1000)
	require.NoError(t, err)
	assert.Len(t, entries, 40*len(programs))
	faults, err := s.Check(ctx, true, nil)
	require.NoError(t, err)
	assert.Empty(t, faults)
}
