package store

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

// table describes one content table. All of them begin with the same five columns
// (see migrations); columns names the rest of the truth, derived what the program
// itself writes there, once the names that columns had.
type table struct {
	name    string
	noun    string // as people say it
	letter  string // of its short ids
	columns []string
	derived []string
	refs    []reference
	once    map[string]renamed
}

// renamed is what a column of an earlier schema is called today.
type renamed struct {
	column string
	from   field.Former
}

// reference is a column that names a row of another table.
type reference struct{ column, table string }

// shortID is what people call a row.
func (t *table) shortID(id int64) string { return fmt.Sprintf("%s%d", t.letter, id) }

// selection is the list of columns that a noun scans, each under the alias.
func (t *table) selection(alias string) string {
	columns := append([]string{"id", "uuid", "revision"}, t.columns...)
	for i, c := range columns {
		columns[i] = alias + "." + c
	}
	return strings.Join(columns, ", ")
}

// noun binds a table to the catalog's type for its rows.
//
//	fields         describe the table's columns, in their order
//	derivedValues  what stands in its derived columns when a row is new
//	head           where a row keeps its id and its record
type noun[T any, ID ~int64] struct {
	table
	fields        []field.Field[T]
	derivedValues func(T) []any
	head          func(*T) (*ID, *catalog.Record)
}

// kept is the noun that a description tells how to keep.
func kept[T any, ID ~int64](of field.Noun[T, ID]) noun[T, ID] {
	n := noun[T, ID]{table: table{name: field.TableOf(of.Name), noun: of.Said, letter: of.Letter, once: map[string]renamed{}}, fields: of.Fields, head: of.Head}
	for _, f := range of.Fields {
		for _, former := range f.Once {
			n.once[former.Name] = renamed{f.Column(), former}
		}
		n.columns = append(n.columns, f.Column())
		if f.Kind == field.Ref {
			n.refs = append(n.refs, reference{f.Column(), field.TableOf(f.Refers)})
		}
	}
	return n
}

// values is what stands in the columns, in their order.
func (n *noun[T, ID]) values(row T) []any { return field.Values(n.fields, &row) }

// scan reads the columns of a selection.
func (n *noun[T, ID]) scan(scan scanner) (row T, err error) {
	id, record := n.head(&row)
	values := make([]any, len(n.fields))
	targets := make([]any, 0, 3+len(values))
	targets = append(targets, id, &record.UUID, &record.Revision)
	for i := range values {
		targets = append(targets, &values[i])
	}
	if err := scan(targets...); err != nil {
		return row, err
	}
	return row, field.SetAll(n.fields, &row, values)
}

// scanner reads the columns of one row into its targets.
type scanner func(targets ...any) error

// with puts targets of other columns before those that a noun scans.
func (s scanner) with(before ...any) scanner {
	return func(targets ...any) error {
		return s(append(before[:len(before):len(before)], targets...)...)
	}
}

// get reads one row by its id; a removed one is not found, and its error says so.
func get[T any, ID ~int64](v *View, n *noun[T, ID], id ID) (T, error) {
	var none T
	var removed bool
	query := "SELECT t.removed, " + n.selection("t") + " FROM " + n.name + " t WHERE t.id = ?"
	line := v.q.QueryRowContext(v.ctx, query, int64(id))
	row, err := n.scan(scanner(line.Scan).with(&removed))
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return none, &NotFoundError{Noun: n.noun, ID: n.shortID(int64(id))}
	case err != nil:
		return none, fmt.Errorf("%s %s: %w", n.noun, n.shortID(int64(id)), asBusy(err))
	case removed:
		return none, &NotFoundError{Noun: n.noun, ID: n.shortID(int64(id)), Removed: true}
	}
	return row, nil
}

// each gives fn the rows of a query, one after the other; an error from fn ends it.
func (v *View) each(query string, args []any, fn func(scan scanner) error) error {
	lines, err := v.q.QueryContext(v.ctx, query, args...)
	if err != nil {
		return asBusy(err)
	}
	defer lines.Close()
	scan := scanner(lines.Scan)
	for lines.Next() {
		if err := fn(scan); err != nil {
			return err
		}
	}
	return asBusy(lines.Err())
}

// find reads the live rows that a condition on t chooses, in the order it gives.
func find[T any, ID ~int64](v *View, n *noun[T, ID], condition string, args ...any) (rows []T, err error) {
	query := "SELECT " + n.selection("t") + " FROM " + n.name + " t WHERE t.removed = 0 AND " + condition
	err = v.each(query, args, func(scan scanner) error {
		row, err := n.scan(scan)
		if err != nil {
			return fmt.Errorf("%s: %w", n.noun, err)
		}
		rows = append(rows, row)
		return nil
	})
	return rows, err
}

// findOne reads the one live row that a condition chooses; said names it in the
// error when there is none.
func findOne[T any, ID ~int64](v *View, n *noun[T, ID], said, condition string, args ...any) (T, error) {
	rows, err := find(v, n, condition+" LIMIT 1", args...)
	if err == nil && len(rows) == 0 {
		err = &NotFoundError{Noun: n.noun, ID: said}
	}
	if err != nil {
		var none T
		return none, err
	}
	return rows[0], nil
}

// tables lists all content tables; references between them are checked when rows
// leave or enter sight.
var tables = map[string]*table{}

func register(list ...*table) {
	for _, t := range list {
		tables[t.name] = t
	}
}

func init() {
	register(&observers.table, &sites.table, &instruments.table, &setups.table,
		&sittings.table, &frames.table, &discs.table, &norths.table, &marks.table,
		&passages.table, &joins.table, &links.table)
}
