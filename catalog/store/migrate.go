package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strconv"

	"github.com/mattn/go-sqlite3"
	"github.com/pressly/goose/v3"

	"limbwatch/migrations"
)

// applicationID marks a SQLite file as a catalogue of limbwatch ("LIMW").
const applicationID = 1279872343

// bringUpToDate makes the catalogue or migrates an older one, once, whoever opens
// it at the same time. Nothing is written to one that is up to date.
func bringUpToDate(ctx context.Context, path string) error {
	newest, err := newestSchema(migrations.FS)
	if err != nil {
		return err
	}
	have, err := schemaOf(ctx, path)
	if err != nil {
		return err
	}
	switch {
	case have > newest:
		return &NewerError{Have: have, Know: newest}
	case have == newest:
		return nil
	}
	return underLock(ctx, path, func() error { return migrate(ctx, path, migrations.FS) })
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

// schemaOf is the number of the last migration a file has seen; 0 for a file that
// is missing or empty. It writes nothing.
func schemaOf(ctx context.Context, path string) (int64, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, nil
	case err != nil:
		return 0, err
	case info.IsDir():
		return 0, &ForeignError{Why: "it is a folder"}
	case info.Size() == 0:
		return 0, nil
	}
	db, err := connect(path, "mode=ro", 1)
	if err != nil {
		return 0, err
	}
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
	if id != applicationID {
		if tables > 0 {
			return 0, &ForeignError{Why: "a SQLite file of something else"}
		}
		return 0, nil // only just begun
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
	lock, err := connect(path+".lock", "_txlock=exclusive", 1)
	if err != nil {
		return err
	}
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
	db, err := connect(path, "_journal_mode=WAL", 1)
	if err != nil {
		return err
	}
	defer db.Close()
	if have > 0 {
		if err := backUp(ctx, db, path, have); err != nil {
			return err
		}
	}
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, files)
	if err != nil {
		return err
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bringing schema %d to %d: %w", have, newest, err)
	}
	return nil
}

// backUp copies the catalogue to a file beside it that says which schema it has.
func backUp(ctx context.Context, db *sql.DB, path string, schema int64) error {
	name := fmt.Sprintf("%s.schema%d.backup", path, schema)
	for i := 2; ; i++ {
		if _, err := os.Stat(name); errors.Is(err, fs.ErrNotExist) {
			break
		}
		name = fmt.Sprintf("%s.schema%d-%d.backup", path, schema, i)
	}
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", name); err != nil {
		return fmt.Errorf("copy before the migration, %s: %w", name, err)
	}
	return nil
}
