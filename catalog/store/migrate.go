package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"github.com/mattn/go-sqlite3"
	"github.com/pressly/goose/v3"

	"limbwatch/catalog/wholefile"
	"limbwatch/migrations"
)

// applicationID marks a SQLite file as a catalogue of limbwatch ("LIMW").
const applicationID = 1279872343

// makeNew makes the catalogue when there is nothing at its path, with its folder: under
// another name, so that it stands there whole or not at all. What is there already is
// left alone, whatever it is.
func makeNew(ctx context.Context, path string) error {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return asClosed(filepath.Dir(path), err)
	}
	return underLock(ctx, path, func() error {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return err // another came first
		}
		folder := filepath.Dir(path)
		_, _ = wholefile.Sweep(folder) // what a killed program left; what stays is in nobody's way
		fresh, err := wholefile.New(path)
		if err != nil {
			return err
		}
		defer fresh.Discard()
		// It counts from its renaming on: until then no step of it has to be safe.
		db := connect(fresh.Name(), "_journal_mode=MEMORY&_synchronous=OFF", 1, nil)
		if err := errors.Join(migrateUp(ctx, db, migrations.FS), db.Close()); err != nil {
			return asBusy(err)
		}
		if err := fresh.Keep(); !errors.Is(err, fs.ErrExist) { // else another came first
			return err
		}
		return nil
	})
}

// bringUpToDate claims the log of what is known to be a catalogue by now, and migrates an
// older one, once, whoever opens it at the same time. Nothing is written to one that is up
// to date.
func (f *file) bringUpToDate(ctx context.Context) error {
	newest, err := newestSchema(migrations.FS)
	if err != nil {
		return err
	}
	have, err := schemaOf(ctx, f.path)
	if err != nil {
		return err
	}
	if have > newest {
		return &NewerError{Have: have, Know: newest}
	}
	if err := f.claimLog(); err != nil || have == newest {
		return err
	}
	return underLock(ctx, f.path, func() error { return migrate(ctx, f.path, migrations.FS) })
}

var migrationName = regexp.MustCompile(`^(\d+)_.*\.sql$`)

// newestSchema is the number of the last migration.
func newestSchema(files fs.FS) (newest int64, err error) {
	entries, err := fs.ReadDir(files, ".")
	if err != nil {
		return 0, err
	}
	for _, entry := range entries {
		if m := migrationName.FindStringSubmatch(entry.Name()); m != nil {
			n, err := strconv.ParseInt(m[1], 10, 64)
			if err != nil {
				return 0, err
			}
			newest = max(newest, n)
		}
	}
	return newest, nil
}

// schemaOf is the number of the last migration that a catalogue has seen. It writes
// nothing.
func schemaOf(ctx context.Context, path string) (int64, error) {
	db := connect(path, "mode=ro", 1, nil)
	defer db.Close()
	return schemaOfOpen(ctx, db)
}

func schemaOfOpen(ctx context.Context, db *sql.DB) (int64, error) {
	var id, tables int64
	if err := db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return 0, asForeign(err)
	}
	if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_master WHERE name NOT LIKE 'goose_%' AND name NOT LIKE 'sqlite_%'").Scan(&tables); err != nil {
		return 0, asForeign(err)
	}
	switch {
	case id != applicationID && tables > 0:
		return 0, &ForeignError{Why: "a SQLite file of something else"}
	case id != applicationID:
		return 0, &ForeignError{Why: "a SQLite file without anything in it"}
	}
	var version sql.Null[int64]
	err := db.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version WHERE is_applied").Scan(&version)
	if err != nil {
		return 0, asForeign(err)
	}
	return version.V, nil
}

// asForeign names what says that a file is no catalogue: that SQLite does not know it,
// or that it lacks a table. Other errors, as a full disk's, any catalogue may give.
func asForeign(err error) error {
	if known := asBusy(err); known != err {
		return known
	}
	if e, ok := errors.AsType[sqlite3.Error](err); ok && (e.Code == sqlite3.ErrNotADB || e.Code == sqlite3.ErrError) {
		return &ForeignError{Why: err.Error()}
	}
	return err
}

// underLock runs fn while no other program does the same for this catalogue. The
// lock is an exclusive transaction on a file of its own beside it: SQLite knows how
// to lock on every system, and the system lets go of it when a program dies. It
// cannot lie on the catalogue itself, for a copy cannot be made inside a
// transaction. The file stays, empty: another program may be waiting for it.
func underLock(ctx context.Context, path string, fn func() error) error {
	lock := connect(path+".lock", "_txlock=exclusive", 1, nil)
	defer lock.Close()
	tx, err := lock.BeginTx(ctx, nil)
	if err != nil {
		return asBusy(err)
	}
	defer tx.Rollback() // nothing was written
	return fn()
}

// migrate brings the file to the newest of files, under the lock.
func migrate(ctx context.Context, path string, files fs.FS) error {
	newest, err := newestSchema(files)
	if err != nil {
		return err
	}
	have, err := schemaOf(ctx, path) // anew: another may have come first
	if err != nil {
		return err
	}
	if have > newest {
		return &NewerError{Have: have, Know: newest}
	}
	if have == newest {
		return nil
	}
	db := connect(path, "_journal_mode=WAL", 1, nil)
	defer db.Close()
	_, _ = wholefile.Sweep(filepath.Dir(path)) // what a killed migration left; what stays is in nobody's way
	if err := backUp(ctx, db, path, have); err != nil {
		return err
	}
	if err := migrateUp(ctx, db, files); err != nil {
		return fmt.Errorf("bringing schema %d to %d: %w", have, newest, err)
	}
	return nil
}

// migrateUp makes all migrations that a database has not seen yet.
func migrateUp(ctx context.Context, db *sql.DB, files fs.FS) error {
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, files)
	if err != nil {
		return err
	}
	_, err = provider.Up(ctx)
	return err
}

// backUp copies the catalogue to a file beside it that says which schema it has.
func backUp(ctx context.Context, db *sql.DB, path string, schema int64) error {
	name := fmt.Sprintf("%s.schema%d.backup", path, schema)
	copied, err := wholefile.New(name)
	for i := 2; errors.Is(err, fs.ErrExist); i++ {
		name = fmt.Sprintf("%s.schema%d-%d.backup", path, schema, i)
		copied, err = wholefile.New(name)
	}
	if err == nil {
		defer copied.Discard()
		_, err = db.ExecContext(ctx, "VACUUM INTO ?", copied.Name()) // into an empty file, which SQLite allows
		err = errors.Join(err, copied.Like(path))
	}
	if err == nil {
		err = copied.Keep()
	}
	if err != nil {
		return fmt.Errorf("copy before the migration, %s: %w", name, err)
	}
	return nil
}
