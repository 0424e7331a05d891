package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/migrations"
)

var ctx = context.Background()

// withOneMore are the migrations and one that makes a table, slowly enough for
// another opener to come in between.
func withOneMore(t testing.TB, statement string) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{}
	entries, err := migrations.FS.ReadDir(".")
	require.NoError(t, err)
	for _, e := range entries {
		data, err := migrations.FS.ReadFile(e.Name())
		require.NoError(t, err)
		files[e.Name()] = &fstest.MapFile{Data: data}
	}
	files["9999_later.sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\n" + statement)}
	return files
}

const slowTable = `
CREATE TABLE later (n INTEGER);
INSERT INTO later WITH RECURSIVE c(n) AS (VALUES (1) UNION ALL SELECT n + 1 FROM c WHERE n < 200000) SELECT n FROM c;`

func backups(t testing.TB, path string) []string {
	t.Helper()
	found, err := filepath.Glob(path + "*.backup")
	require.NoError(t, err)
	return found
}

// newest is the schema of this program.
func newest(t testing.TB) int64 {
	t.Helper()
	n, err := newestSchema(migrations.FS)
	require.NoError(t, err)
	return n
}

func TestAnOlderCatalogueIsCopiedAndMigratedOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := openAt(t, path)
	update(t, s, func(tx *Tx) error {
		_, err := tx.AddObserver(catalog.Observer{Name: "R. Vane"})
		return err
	})
	require.Empty(t, backups(t, path), "a new catalogue needs no copy")

	files := withOneMore(t, slowTable)
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			assert.NoError(t, underLock(ctx, path, func() error { return migrate(ctx, path, files) }))
		})
	}
	wait.Wait()
	require.Len(t, backups(t, path), 1, "one migration, one copy")

	schema, err := schemaOf(ctx, path)
	require.NoError(t, err)
	assert.EqualValues(t, 9999, schema)
	db, err := sql.Open("sqlite3", dsn(path, ""))
	require.NoError(t, err)
	defer db.Close()
	var rows int
	require.NoError(t, db.QueryRow("SELECT count(*) FROM later").Scan(&rows))
	assert.Equal(t, 200_000, rows)

	copied := backups(t, path)[0]
	old, err := schemaOf(ctx, copied)
	require.NoError(t, err)
	assert.Equal(t, newest(t), old)
	kept := openAt(t, copied)
	o, err := kept.Read(ctx).ObserverNamed("R. Vane")
	require.NoError(t, err)
	assert.EqualValues(t, 1, o.ID)

	_, err = Open(ctx, path, byFigures)
	newer, ok := errors.AsType[*NewerError](err)
	require.True(t, ok, "%v", err)
	assert.EqualValues(t, 9999, newer.Have)
	assert.ErrorContains(t, err, "written by a newer limbwatch")
}

func TestAFailedMigrationLeavesTheCatalogueAsItWas(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	require.NoError(t, openAt(t, path).View(ctx, func(*View) error { return nil }))
	files := withOneMore(t, "CREATE TABLE later (n INTEGER); INSERT INTO nowhere VALUES (1);")
	err := underLock(ctx, path, func() error { return migrate(ctx, path, files) })
	require.ErrorContains(t, err, "nowhere")
	schema, err := schemaOf(ctx, path)
	require.NoError(t, err)
	assert.Equal(t, newest(t), schema)
	openAt(t, path)
	require.NoError(t, underLock(ctx, path, func() error { return migrate(ctx, path, withOneMore(t, slowTable)) }))
	assert.Len(t, backups(t, path), 2, "no copy is written over another")
}

func TestWhatIsNoCatalogueIsRefusedAndLeftAlone(t *testing.T) {
	folder := t.TempDir()
	text := filepath.Join(folder, "notes.txt")
	require.NoError(t, os.WriteFile(text, []byte(strings.Repeat("seeing 3, clouds later\n", 100)), 0o644))
	other := filepath.Join(folder, "other.db")
	db, err := sql.Open("sqlite3", other)
	require.NoError(t, err)
	_, err = db.Exec("CREATE TABLE songs (title TEXT)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	for _, path := range []string{text, other, folder} {
		before, _ := os.ReadFile(path)
		_, err := Open(ctx, path, byFigures)
		_, ok := errors.AsType[*ForeignError](err)
		assert.True(t, ok, "%s: %v", path, err)
		after, _ := os.ReadFile(path)
		assert.Equal(t, before, after, "%s was touched", path)
	}
}

// A catalogue of which a part is missing, as after a copy that was broken off, is not
// taken for something else: its observer would look elsewhere for it.
func TestADamagedCatalogueIsCalledSo(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoError(t, os.Truncate(path, 20_000))
	_, err = Open(ctx, path, byFigures)
	_, ok := errors.AsType[*DamagedError](err)
	assert.True(t, ok, "%v", err)
}

func TestAPathWithOddCharactersIsJustAPath(t *testing.T) {
	path := filepath.Join(t.TempDir(), "año 50% ?mode=memory#x", "cat&alogue.db")
	openAt(t, path)
	_, err := os.Stat(path)
	assert.NoError(t, err)
}

// TestMain lets the test binary play a second program (see child).
func TestMain(m *testing.M) {
	if role := os.Getenv("LIMBWATCH_STORE_CHILD"); role != "" {
		childMain(role, os.Getenv("LIMBWATCH_STORE_PATH"))
	}
	os.Exit(m.Run())
}

// child starts this test binary as another program on a catalogue.
func child(t testing.TB, role, path string) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run=^$")
	cmd.Env = append(os.Environ(), "LIMBWATCH_STORE_CHILD="+role, "LIMBWATCH_STORE_PATH="+path)
	return cmd
}

// childMain is the other program: "open" opens (and so may make) the catalogue;
// "adds" adds 40 observers, each on its own; "waits" has it open; "leaves" adds them
// at once, and its log is left; "dies" is killed in the middle of a
// change that it has not ended, after saying so; "spills" ends in the middle of writing to
// a file that has no log, and its journal is left.
func childMain(role, path string) {
	fail := func(err error) {
		if err != nil {
			println(err.Error())
			os.Exit(3)
		}
	}
	if role == "spills" {
		db, err := sql.Open("sqlite3", path)
		fail(err)
		db.SetMaxOpenConns(1)
		for _, statement := range []string{"PRAGMA cache_size = 1", "BEGIN", manyObservers} {
			_, err = db.Exec(strings.ReplaceAll(statement, "?", "5000"))
			fail(err)
		}
		os.Exit(0)
	}
	s, err := Open(ctx, path, byFigures)
	fail(err)
	switch role {
	case "adds":
		for range 40 {
			_, err := s.Update(ctx, at(catalog.Desk("child")), func(tx *Tx) error {
				_, err := tx.AddObserver(catalog.Observer{Name: catalog.NewUUID().String()})
				return err
			})
			fail(err)
		}
	case "waits":
		_, err := s.Read(ctx).Observers()
		fail(err)
		os.Stdout.WriteString("open\n")
		time.Sleep(time.Minute)
	case "leaves":
		_, err := s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error {
			for range 40 {
				_, err := tx.AddObserver(catalog.Observer{Name: catalog.NewUUID().String()})
				fail(err)
			}
			return nil
		})
		fail(err)
	case "dies":
		_, err := s.Update(ctx, at(catalog.Terminal), func(tx *Tx) error {
			f, err := tx.AddFrame(frameAt(noon))
			fail(err)
			for range 20_000 {
				_, err := tx.AddMark(placeMark(f.ID, 1, 2))
				fail(err)
			}
			os.Stdout.WriteString("in the middle\n")
			time.Sleep(time.Minute)
			return nil
		})
		fail(err)
	}
	os.Exit(0)
}

func TestProgramsThatOpenANewCatalogueAtOnceMakeItOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	var programs []*exec.Cmd
	for range 4 {
		cmd := child(t, "open", path)
		cmd.Stderr = os.Stderr
		require.NoError(t, cmd.Start())
		programs = append(programs, cmd)
	}
	for _, cmd := range programs {
		assert.NoError(t, cmd.Wait())
	}
	s := openAt(t, path)
	var applied int
	require.NoError(t, s.read.QueryRow("SELECT count(*) FROM goose_db_version WHERE version_id = 1").Scan(&applied))
	assert.Equal(t, 1, applied)
}

func TestAProgramKilledInTheMiddleLeavesNothingHalfDone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := openAt(t, path)
	update(t, s, func(tx *Tx) error {
		_, err := tx.AddObserver(catalog.Observer{Name: "R. Vane"})
		return err
	})
	cmd := child(t, "dies", path)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	said := make([]byte, 14)
	_, err = out.Read(said)
	require.NoError(t, err)
	require.NoError(t, cmd.Process.Kill())
	_ = cmd.Wait()

	again := openAt(t, path)
	entries, err := again.Read(ctx).Entries(Query{})
	require.NoError(t, err)
	assert.Empty(t, entries)
	var sound string
	require.NoError(t, again.read.QueryRow("PRAGMA integrity_check").Scan(&sound))
	assert.Equal(t, "ok", sound)
	op := update(t, again, func(tx *Tx) error {
		f, err := tx.AddFrame(frameAt(noon))
		assert.Equal(t, "F1", f.ID.String())
		return err
	})
	assert.EqualValues(t, 2, op.ID)
}
