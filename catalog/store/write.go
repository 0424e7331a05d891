package store

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

// validated is what every noun of the catalogue can say of itself.
type validated interface{ Validate() error }

// add inserts a row and gives it back with its id and record.
func add[T validated, ID ~int64](tx *Tx, n *noun[T, ID], row T) (T, error) {
	rows, err := addAll(tx, n, []T{row})
	if err != nil {
		return row, err
	}
	return rows[0], nil
}

// addAll inserts rows, with ids that follow one another, and gives them back as they
// will be read. The slice handed in is changed.
func addAll[T validated, ID ~int64](tx *Tx, n *noun[T, ID], rows []T) ([]T, error) {
	if len(rows) == 0 {
		return rows, nil
	}
	next, err := tx.nextID(n.name)
	if err != nil {
		return nil, err
	}
	b := newBatch(tx, "INSERT INTO "+n.name, append([]string{"id", "uuid", "revision", "operation_id"}, slices.Concat(n.columns, n.derived)...))
	for i := range rows {
		if err := rows[i].Validate(); err != nil {
			return nil, &InvalidError{Err: err}
		}
		id, record := n.head(&rows[i])
		*id = ID(next + int64(i))
		if record.UUID == uuid.Nil { // a row from another catalogue keeps its own
			record.UUID = catalog.NewUUID()
		}
		record.Revision = 1
		values := n.values(rows[i])
		b.args = append(append(b.args, int64(*id), record.UUID[:], int64(1), tx.op), values...)
		if n.derivedValues != nil {
			b.args = append(b.args, n.derivedValues(rows[i])...)
		}
		if err := b.row(); err != nil {
			return nil, err
		}
		var kept T
		keptID, keptRecord := n.head(&kept)
		*keptID, *keptRecord = *id, *record
		if err := field.SetAll(n.fields, &kept, values); err != nil {
			return nil, err
		}
		rows[i] = kept
	}
	if err := b.flush(); err != nil {
		return nil, err
	}
	s := span{next, next + int64(len(rows)) - 1}
	tx.changes.Inserted[n.name] = append(tx.changes.Inserted[n.name], s)
	tx.touch(n.name, inserted, s)
	return rows, nil
}

// batch gathers new rows of a table into few statements: fifty rows in one are
// some three times as fast as one by one. Columns that are empty in all of them are not
// named, since it costs as much to hand over nothing as to hand over a number.
type batch struct {
	tx      *Tx
	into    string
	columns []string
	rows    int
	args    []any // a row's values behind the other's
	given   []any // those of named columns
}

const batchRows = 50

// newBatch begins with a statement up to its columns, as "INSERT INTO marks". A column
// that may be empty must have no default.
func newBatch(tx *Tx, into string, columns []string) batch {
	return batch{tx: tx, into: into, columns: columns}
}

// row ends a row whose values were appended to args.
func (b *batch) row() error {
	if b.rows++; b.rows < batchRows {
		return nil
	}
	return b.flush()
}

func (b *batch) flush() error {
	if b.rows == 0 {
		return nil
	}
	n := len(b.columns)
	var named []string
	var at []int
	for c := range n {
		for i := c; i < len(b.args); i += n {
			if b.args[i] != nil {
				named, at = append(named, b.columns[c]), append(at, c)
				break
			}
		}
	}
	b.given = b.given[:0]
	for row := 0; row < len(b.args); row += n {
		for _, c := range at {
			b.given = append(b.given, b.args[row+c])
		}
	}
	query := b.into + " (" + strings.Join(named, ", ") + ") VALUES " + placeholders(b.rows, len(named))
	b.rows, b.args = 0, b.args[:0]
	return b.tx.exec(query, b.given...)
}

// Newest stands for the revision of an edit or a removal that is to be made
// whatever the newest version is: by someone who has just read it, or does not care.
const Newest int64 = -1

// edit writes a row that was read before and changed since. It refuses with a
// *StaleError when someone else has changed the row meanwhile, and does nothing
// when nothing differs.
func edit[T validated, ID ~int64](tx *Tx, n *noun[T, ID], row T) (T, error) {
	id, record := n.head(&row)
	current, err := get(&tx.View, n, *id)
	if err != nil {
		return row, err
	}
	if err := refuseStale(n, current, row, record.Revision); err != nil {
		return row, err
	}
	if err := row.Validate(); err != nil {
		return row, &InvalidError{Err: err}
	}
	var columns []string
	var after []any
	before, values := n.values(current), n.values(row)
	for i, column := range n.columns {
		if before[i] != values[i] {
			columns, after = append(columns, column), append(after, values[i])
		}
	}
	if len(columns) == 0 {
		return current, nil
	}
	if err := tx.alter(&n.table, int64(*id), changed, columns, after); err != nil {
		return row, err
	}
	return get(&tx.View, n, *id)
}

// remove takes a row out of sight; revision is the one that was seen, or Newest.
func remove[T any, ID ~int64](tx *Tx, n *noun[T, ID], id ID, revision int64) error {
	current, err := get(&tx.View, n, id)
	if err != nil {
		return err
	}
	if err := refuseStale(n, current, nil, revision); err != nil {
		return err
	}
	return tx.alter(&n.table, int64(id), removed, []string{"removed"}, []any{int64(1)})
}

// refuseStale compares the revision that an edit was made from with the newest.
func refuseStale[T any, ID ~int64](n *noun[T, ID], current T, yours any, revision int64) error {
	id, now := n.head(&current)
	if revision == Newest || now.Revision == revision {
		return nil
	}
	stale := &StaleError{Noun: n.noun, ID: n.shortID(int64(*id)), Yours: yours, Theirs: current,
		YourRevision: revision, NewRevision: now.Revision}
	if yours, ok := yours.(T); ok {
		mine, theirs := n.values(yours), n.values(current)
		for i, column := range n.columns {
			if mine[i] != theirs[i] {
				stale.Different = append(stale.Different, Difference{column, theirs[i], mine[i]})
			}
		}
	}
	return stale
}

// alter changes columns of a row and notes for the history what stood there.
func (tx *Tx) alter(t *table, id int64, how touch, columns []string, after []any) error {
	key := rowKey{t.name, id}
	if tx.insertedHere(key) {
		if how == removed {
			tx.dropped[key] = true
		}
	} else if err := tx.noteChange(t, key, columns, after); err != nil {
		return err
	}
	tx.touch(t.name, how, span{id, id})
	query := fmt.Sprintf("UPDATE %s SET %s = ?, revision = revision + 1, operation_id = ? WHERE id = ?",
		t.name, strings.Join(columns, " = ?, "))
	return tx.exec(query, append(after, tx.op, id)...)
}

// insertedHere says whether this very operation made the row.
func (tx *Tx) insertedHere(key rowKey) bool {
	for _, s := range tx.changes.Inserted[key.table] {
		if s[0] <= key.id && key.id <= s[1] {
			return true
		}
	}
	return false
}

// noteChange adds to the history what a row is about to lose and to gain. Several
// changes of one row are one: the first before, the last after.
func (tx *Tx) noteChange(t *table, key rowKey, columns []string, after []any) error {
	change, known := tx.byRow[key]
	if !known {
		change = &rowChange{Table: t.name, ID: key.id, Before: map[string]any{}, After: map[string]any{}}
		tx.byRow[key] = change
		tx.changes.Changed = append(tx.changes.Changed, change)
		columns = append(columns[:len(columns):len(columns)], "operation_id")
		after = append(after[:len(after):len(after)], tx.op)
	}
	stood, err := tx.raw(t, key.id, columns)
	if err != nil {
		return err
	}
	for i, column := range columns {
		if _, noted := change.Before[column]; !noted {
			change.Before[column] = stood[i]
		}
		change.After[column] = after[i]
	}
	return nil
}

// raw reads columns of a row as the database has them.
func (tx *Tx) raw(t *table, id int64, columns []string) ([]any, error) {
	values := make([]any, len(columns))
	targets := make([]any, len(columns))
	for i := range values {
		targets[i] = &values[i]
	}
	query := fmt.Sprintf("SELECT %s FROM %s WHERE id = ?", strings.Join(columns, ", "), t.name)
	err := tx.sql.QueryRowContext(tx.ctx, query, id).Scan(targets...)
	return values, err
}
