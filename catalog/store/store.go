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
	"database/sql/driver"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"sync/atomic"
	"time"

	"github.com/mattn/go-sqlite3"

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
	file   *file
	write  *sql.DB // one connection: changes queue here
	read   *sql.DB
	derive Deriver
	still  bool // for reading only
	logged bool // with a log beside it

	changed atomic.Bool
}

// busyTimeout is how long a change waits for another program's to end. An import
// of a million marks takes some 20 s.
const busyTimeout = 30 * time.Second

// Open opens the catalogue at path and makes it, with its folder, when there is
// none. An older one is brought up to date, after a copy of it was made beside it;
// one of a newer limbwatch is refused with a *NewerError, a file that is something
// else, or nothing, with a *ForeignError, one that is no longer whole with a
// *DamagedError. Such a file is never written to.
func Open(ctx context.Context, path string, derive Deriver) (*Store, error) {
	if derive == nil {
		return nil, errors.New("a catalogue needs a way to derive positions")
	}
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("catalogue %s: %w", path, err)
	}
	s := &Store{path: path, derive: derive}
	if err := s.open(ctx); err != nil {
		return nil, fmt.Errorf("catalogue %s: %w", path, err)
	}
	return s, nil
}

func (s *Store) open(ctx context.Context) (err error) {
	if err := makeNew(ctx, s.path); err != nil {
		return err
	}
	if s.file, err = openFile(s.path); err != nil {
		return err
	}
	if s.file.readOnly || !mayMakeFiles(filepath.Dir(s.path)) {
		return s.openStill(ctx)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.file.release())
		}
	}()
	if err := s.file.ownLog(); err != nil {
		return err
	}
	if err := s.file.whole(); err != nil {
		return err
	}
	if err := s.file.takeBack(ctx); err != nil {
		return err
	}
	if err := s.file.logFits(ctx); err != nil {
		return err
	}
	if err := s.file.bringUpToDate(ctx); err != nil {
		return err
	}
	s.write = connect(s.path, "_journal_mode=WAL&_txlock=immediate", 1, s.file.inPlace)
	s.read = connect(s.path, "_query_only=true", 4, s.file.inPlace)
	page, err := sequencePage(ctx, s.write)
	if err != nil {
		return errors.Join(err, s.write.Close(), s.read.Close())
	}
	s.file.watch(page)
	return nil
}

// connect opens a pool of at most n connections. Each new one is looked at by check, which
// may be nil: a pool connects again whenever it needs to.
func connect(path, option string, n int, check func() error) *sql.DB {
	db := sql.OpenDB(connector{dsn(path, option), check})
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	return db
}

type connector struct {
	dsn   string
	check func() error
}

// Driver is part of what database/sql wants of a connector.
func (c connector) Driver() driver.Driver {
	return &sqlite3.SQLiteDriver{ConnectHook: func(conn *sqlite3.SQLiteConn) error {
		if _, err := conn.Exec("PRAGMA temp_store = MEMORY", nil); err != nil {
			return err
		}
		if c.check == nil {
			return nil
		}
		return c.check()
	}}
}

// Connect opens the file once more.
func (c connector) Connect(context.Context) (driver.Conn, error) { return c.Driver().Open(c.dsn) }

// dsn is the driver's address of a file, with what every connection is to be:
// foreign keys obeyed (SQLite ignores them unasked), commits safe against a power
// cut. Temporary tables are in memory (see Driver), and so is what a statement of many
// rows notes to be able to take itself back, which is written four times as often as rows.
func dsn(path, option string) string {
	file := url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath()}
	file.RawQuery = fmt.Sprintf("%s&_foreign_keys=on&_busy_timeout=%d&_synchronous=FULL&_stmt_cache_size=64",
		option, busyTimeout.Milliseconds())
	return file.String()
}

// Path is where the catalogue lies.
func (s *Store) Path() string { return s.path }

// Close ends the use of the catalogue. It fails with a *ReplacedError when another file
// has taken its place meanwhile.
func (s *Store) Close() error {
	if s.still {
		return errors.Join(s.stoodStill(), s.read.Close(), s.file.release())
	}
	if err := s.file.inPlace(); err != nil {
		// SQLite, when it closes, writes what is in its log into the file, which is another's
		// by now. Its handles are left to the end of the program.
		return err
	}
	return errors.Join(s.read.Close(), s.write.Close(), s.file.release())
}

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

// Context is that of the one who reads: what is worked out of what was read ends with it.
func (v *View) Context() context.Context { return v.ctx }

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
	if op.ID != 0 {
		s.changed.Store(true)
	}
	return op, nil
}

// Changed says whether an operation was kept since the catalogue was opened here.
func (s *Store) Changed() bool { return s.changed.Load() }

// transact runs fn in a writing transaction. Nothing is said to be kept that went into a
// file that lies elsewhere by now: SQLite would say nothing of it.
func (s *Store) transact(ctx context.Context, c Change, fn func(*Tx) error) error {
	if err := c.Origin.Validate(); err != nil {
		return err
	}
	if c.At.IsZero() {
		return errors.New("change without a time")
	}
	if s.still {
		return &ReadOnlyError{Path: s.path, Err: errors.New("it, or its folder, may only be read")}
	}
	if err := s.file.inPlace(); err != nil {
		return err
	}
	err := s.change(ctx, c, fn)
	if replaced := s.file.inPlace(); replaced != nil {
		return replaced
	}
	return asBusy(err)
}

func (s *Store) change(ctx context.Context, c Change, fn func(*Tx) error) error {
	sqlTx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer sqlTx.Rollback() // does nothing after a commit
	tx, err := newTx(ctx, sqlTx, s.derive, c)
	if err != nil {
		return err
	}
	defer tx.close()
	if err := fn(tx); err != nil {
		return err
	}
	if err := s.file.inPlace(); err != nil {
		return err
	}
	return sqlTx.Commit()
}
