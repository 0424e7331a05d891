package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"limbwatch/catalog"
)

// Tx changes the catalogue, inside Store.Update. It sees its own changes.
type Tx struct {
	View
	sql        *sql.Tx
	derive     Deriver
	change     Change
	op         int64 // the id that this operation will have in the history
	statements map[string]*sql.Stmt
	changes    changes
	byRow      map[rowKey]*rowChange
	dropped    map[rowKey]bool // inserted and removed again by this operation
	touched    map[touchKey][]span
	placed     []span // inserted marks whose positions are written, in their order
	followed   []instantRange
}

type rowKey struct {
	table string
	id    int64
}

// touchKey is a way in which rows of a table were touched.
type touchKey struct {
	table string
	how   touch
}

type touch uint8

const (
	inserted touch = iota
	changed
	removed
	restored
)

// span is a range of ids, both ends included.
type span [2]int64

func newTx(ctx context.Context, sqlTx *sql.Tx, derive Deriver, c Change) (*Tx, error) {
	tx := &Tx{
		View: View{ctx: ctx, q: sqlTx}, sql: sqlTx, derive: derive, change: c,
		statements: map[string]*sql.Stmt{},
		changes:    changes{Inserted: map[string][]span{}},
		byRow:      map[rowKey]*rowChange{},
		dropped:    map[rowKey]bool{},
		touched:    map[touchKey][]span{},
	}
	var err error
	tx.op, err = tx.nextID("operations")
	return tx, err
}

func (tx *Tx) close() {
	for _, s := range tx.statements {
		s.Close()
	}
}

// SetTitle names the operation once it is known what it touched.
func (tx *Tx) SetTitle(format string, args ...any) { tx.change.Title = fmt.Sprintf(format, args...) }

// OperationID is the id that this change will have in the history.
func (tx *Tx) OperationID() catalog.OperationID { return catalog.OperationID(tx.op) }

// exec runs a statement, prepared once a transaction.
func (tx *Tx) exec(query string, args ...any) error {
	statement, ok := tx.statements[query]
	if !ok {
		var err error
		if statement, err = tx.sql.PrepareContext(tx.ctx, query); err != nil {
			return fmt.Errorf("%s: %w", query, err)
		}
		tx.statements[query] = statement
	}
	_, err := statement.ExecContext(tx.ctx, args...)
	return asTaken(err)
}

// nextID is the id that the next row of a table gets. SQLite remembers the highest
// that was ever given; no other program can take it while this one writes.
func (tx *Tx) nextID(table string) (int64, error) {
	var next int64
	err := tx.sql.QueryRowContext(tx.ctx,
		"SELECT coalesce((SELECT seq FROM sqlite_sequence WHERE name = ?), 0) + 1", table).Scan(&next)
	return next, err
}

// touch notes that rows were touched, so that references are checked and derived
// values follow.
func (tx *Tx) touch(table string, how touch, s span) {
	key := touchKey{table, how}
	spans := tx.touched[key]
	if n := len(spans); n > 0 && spans[n-1][1]+1 == s[0] {
		spans[n-1][1] = s[1]
		return
	}
	tx.touched[key] = append(spans, s)
}

// finish checks that nothing in sight hangs on anything out of sight, rewrites what
// is derived, and writes the entry of the history.
func (tx *Tx) finish(act catalog.Act, of catalog.OperationID) (catalog.Operation, error) {
	if len(tx.touched) == 0 && act == catalog.Done {
		return catalog.Operation{}, nil
	}
	if err := tx.checkReferences(); err != nil {
		return catalog.Operation{}, err
	}
	if err := tx.checkReturns(); err != nil {
		return catalog.Operation{}, err
	}
	if err := tx.refresh(); err != nil {
		return catalog.Operation{}, err
	}
	return tx.record(act, of)
}

// checkReferences refuses rows in sight that name rows out of sight. Of several it names
// the same one each time.
func (tx *Tx) checkReferences() error {
	keys := slices.SortedFunc(maps.Keys(tx.touched), func(a, b touchKey) int {
		return cmp.Or(cmp.Compare(a.table, b.table), cmp.Compare(a.how, b.how))
	})
	for _, key := range keys {
		for _, s := range joined(tx.touched[key]) {
			var err error
			if key.how == removed {
				err = tx.checkChildren(tables[key.table], s)
			} else {
				err = tx.checkParents(tables[key.table], s)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// checkChildren refuses rows out of sight that something in sight still names.
func (tx *Tx) checkChildren(parent *table, s span) error {
	for _, name := range slices.Sorted(maps.Keys(tables)) {
		child := tables[name]
		for _, ref := range child.refs {
			if ref.table != parent.name {
				continue
			}
			query := fmt.Sprintf("SELECT c.%[1]s, c.id FROM %[2]s c JOIN %[3]s p ON p.id = c.%[1]s"+
				" WHERE c.removed = 0 AND p.removed = 1 AND c.%[1]s BETWEEN ? AND ? LIMIT 1",
				ref.column, child.name, parent.name)
			used, by, err := tx.pair(query, s)
			if err != nil {
				return err
			}
			if used != 0 {
				return &InUseError{Noun: parent.noun, ID: parent.shortID(used), ByNoun: child.noun, ByID: child.shortID(by)}
			}
		}
	}
	return nil
}

// checkParents refuses rows in sight that name something out of sight.
func (tx *Tx) checkParents(child *table, s span) error {
	for _, ref := range child.refs {
		parent := tables[ref.table]
		query := fmt.Sprintf("SELECT c.%[1]s, c.id FROM %[2]s c JOIN %[3]s p ON p.id = c.%[1]s"+
			" WHERE c.removed = 0 AND p.removed = 1 AND c.id BETWEEN ? AND ? LIMIT 1",
			ref.column, child.name, parent.name)
		missing, by, err := tx.pair(query, s)
		if err != nil {
			return err
		}
		if missing != 0 {
			return fmt.Errorf("%s %s: %w", child.noun, child.shortID(by),
				&NotFoundError{Noun: parent.noun, ID: parent.shortID(missing), Removed: true})
		}
	}
	return nil
}

// checkReturns refuses links by which a passage would be its own return, in one step or
// in several: time runs one way.
func (tx *Tx) checkReturns() error {
	for _, how := range []touch{inserted, changed, restored} {
		for _, s := range joined(tx.touched[touchKey{"links", how}]) {
			lines, err := tx.sql.QueryContext(tx.ctx, returnsToItself, s[0], s[1])
			if err != nil {
				return err
			}
			var from, to string
			found := lines.Next()
			if found {
				err = lines.Scan(&from, &to)
			}
			if err := errors.Join(err, lines.Err(), lines.Close()); err != nil {
				return err
			}
			if found {
				return &InvalidError{Err: fmt.Errorf("%s cannot be %s come back: %s is kept as a return of %s already", to, from, from, to)}
			}
		}
	}
	return nil
}

// returnsToItself finds a return, kept or proposed, from whose later passage others lead
// back to the earlier one.
const returnsToItself = `
WITH RECURSIVE
	returns (id, earlier, later) AS (
		SELECT id, from_passage_id, to_passage_id FROM links
		WHERE removed = 0 AND relation = 'return' AND state <> 'refused'),
	leads (earlier, later) AS (
		SELECT earlier, later FROM returns WHERE id BETWEEN ? AND ?
		UNION SELECT l.earlier, r.later FROM leads l JOIN returns r ON r.earlier = l.later)
SELECT a.name, b.name FROM leads l
JOIN returns r ON r.earlier = l.later AND r.later = l.earlier
JOIN passages a ON a.id = l.earlier JOIN passages b ON b.id = l.later LIMIT 1`

// pair reads the first row of a query for two ids; zeros when there is none.
func (tx *Tx) pair(query string, s span) (a, b int64, err error) {
	lines, err := tx.sql.QueryContext(tx.ctx, query, s[0], s[1])
	if err != nil {
		return 0, 0, err
	}
	defer lines.Close()
	if lines.Next() {
		if err := lines.Scan(&a, &b); err != nil {
			return 0, 0, err
		}
	}
	return a, b, lines.Err()
}

// joined sorts spans and makes one of those that touch.
func joined(spans []span) []span {
	spans = slices.Clone(spans)
	slices.SortFunc(spans, func(a, b span) int { return int(a[0] - b[0]) })
	var out []span
	for _, s := range spans {
		if n := len(out); n > 0 && s[0] <= out[n-1][1]+1 {
			out[n-1][1] = max(out[n-1][1], s[1])
			continue
		}
		out = append(out, s)
	}
	return out
}

// placeholders is "(?, ?, …), (…)" for rows of n values.
func placeholders(rows, n int) string {
	one := "(" + strings.TrimSuffix(strings.Repeat("?, ", n), ", ") + ")"
	return strings.TrimSuffix(strings.Repeat(one+", ", rows), ", ")
}
