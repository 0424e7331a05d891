// Package store keeps the catalogue in one SQLite file. It speaks SQL so that
// nothing else has to: values of the catalog package go in and come out.
//
// Reading is done on a View, changing on a Tx inside Store.Update. Every Update
// is one operation of the history and can be taken back by Undo. Positions
// derived from marks are rewritten in the same transaction as what they follow
// from; the function that derives them is given to Open, since this package knows
// no geometry.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"time"

	_ "github.com/mattn/go-sqlite3" // the driver

	"limbwatch/catalog"
)

// Deriver computes the positions of marks of one frame, one for each mark in
// their order. A mark of a passage whose height was found comes with that height,
// unless the observer gave it one.
type Deriver func(catalog.Bearings, []catalog.Mark) []catalog.Position

// Store is an open catalogue. It may be used by many goroutines, and several
// programs may have the same catalogue open.
type Store struct {
	path   string
	write  *sql.DB // one connection: changes queue here
	read   *sql.DB
	derive Deriver
}

// busyTimeout is how long a change waits for another program's to end. An import
// of a million marks takes some 20 s.
const busyTimeout = 30 * time.Second

// Open opens the catalogue at path and makes it, with its folder, when there is
// none. An older one is brought up to date, after a copy of it was made beside it;
// one of a newer limbwatch is refused with a *NewerError, a file that is something
// else with a *ForeignError, one that is no longer whole with a *DamagedError.
func Open(ctx context.Context, path string, derive Deriver) (*Store, error) {
	if derive == nil {
		return nil, errors.New("a catalogue needs a way to derive positions")
	}
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("catalogue %s: %w", path, err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, fmt.Errorf("catalogue %s: %w", path, err)
	}
	if err := bringUpToDate(ctx, path); err != nil {
		return nil, fmt.Errorf("catalogue %s: %w", path, err)
	}
	s := &Store{path: path, derive: derive}
	if s.write, err = connect(path, "_txlock=immediate", 1); err != nil {
		return nil, err
	}
	if s.read, err = connect(path, "_query_only=true", 4); err != nil {
		return nil, errors.Join(err, s.write.Close())
	}
	return s, nil
}

// connect opens a pool of at most n connections.
func connect(path, option string, n int) (*sql.DB, error) {
	db, err := sql.Open("sqlite3", dsn(path, option))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	return db, nil
}

// dsn is the driver's address of a file, with what every connection is to be:
// foreign keys obeyed (SQLite ignores them unasked), commits safe against a power
// cut, temporary tables in memory.
func dsn(path, option string) string {
	file := url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath()}
	file.RawQuery = fmt.Sprintf("_foreign_keys=on&_busy_timeout=%d&_synchronous=FULL&_stmt_cache_size=64&%s",
		busyTimeout.Milliseconds(), option)
	return file.String()
}

// Path is where the catalogue lies.
func (s *Store) Path() string { return s.path }

// Close ends the use of the catalogue.
func (s *Store) Close() error { return errors.Join(s.read.Close(), s.write.Close()) }

// Read gives a view of the newest state; each call on it sees what is newest then.
func (s *Store) Read(ctx context.Context) *View { return &View{ctx: ctx, q: s.read} }

// View runs fn on one state of the catalogue, that no change made meanwhile
// disturbs.
func (s *Store) View(ctx context.Context, fn func(*View) error) error {
	tx, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return asBusy(err)
	}
	defer tx.Rollback() // nothing was written
	return fn(&View{ctx: ctx, q: tx})
}

// View reads the catalogue.
type View struct {
	ctx context.Context
	q   querier
}

// querier is what a database and a transaction have in common.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// Change says what an Update is, for the history.
//
//	Title   in a few words: "mark add M12"; may be set later by Tx.SetTitle, when the
//	        id is known
//	Origin  whose undo takes it back
//	At      now, UTC
type Change struct {
	Title  string
	Origin catalog.Origin
	At     time.Time
}

// Update makes a change: all of what fn does, or nothing when it fails. The
// operation returned is zero when fn changed nothing.
func (s *Store) Update(ctx context.Context, c Change, fn func(*Tx) error) (catalog.Operation, error) {
	var op catalog.Operation
	err := s.transact(ctx, c, func(tx *Tx) error {
		if err := fn(tx); err != nil {
			return err
		}
		done, err := tx.finish(catalog.Done, 0)
		op = done
		return err
	})
	if err != nil {
		return catalog.Operation{}, err
	}
	return op, nil
}

// transact runs fn in a writing transaction.
func (s *Store) transact(ctx context.Context, c Change, fn func(*Tx) error) error {
	if err := c.Origin.Validate(); err != nil {
		return err
	}
	if c.At.IsZero() {
		return errors.New("change without a time")
	}
	sqlTx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return asBusy(err)
	}
	defer sqlTx.Rollback() // does nothing after a commit
	tx, err := newTx(ctx, sqlTx, s.derive, c)
	if err != nil {
		return err
	}
	defer tx.close()
	if err := fn(tx); err != nil {
		return asBusy(err)
	}
	return asBusy(sqlTx.Commit())
}
