package store

import (
	"bytes"
	"compress/flate"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"limbwatch/catalog"
)

// changes is what the history keeps of an operation: enough to take it back and
// to do it again. Of new rows the ids are enough, since nothing is ever deleted.
type changes struct {
	Inserted map[string][]span `json:"inserted,omitempty"`
	Changed  []*rowChange      `json:"changed,omitempty"`
}

// rowChange is what a row's columns were and became.
type rowChange struct {
	Table  string         `json:"table"`
	ID     int64          `json:"id"`
	Before map[string]any `json:"before"`
	After  map[string]any `json:"after"`
}

// record writes the entry of the history.
func (tx *Tx) record(act catalog.Act, of catalog.OperationID) (catalog.Operation, error) {
	op := catalog.Operation{
		ID: catalog.OperationID(tx.op), Act: act, Of: of,
		Title: tx.change.Title, Origin: tx.change.Origin, At: tx.change.At.UTC(),
	}
	op.UUID, op.Revision = catalog.NewUUID(), 1
	var packed any
	if act == catalog.Done {
		op.Of = op.ID
		var err error
		if packed, err = tx.packed(); err != nil {
			return op, err
		}
	}
	err := tx.exec("INSERT INTO operations (id, uuid, act, of_id, origin, title, at_utc, changes) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		tx.op, op.UUID[:], act.String(), orNullID(of), string(op.Origin), op.Title, instant(op.At), packed)
	return op, err
}

func (tx *Tx) packed() ([]byte, error) {
	for name, spans := range tx.changes.Inserted {
		for key := range tx.dropped {
			if key.table == name {
				spans = notIn(spans, []span{{key.id, key.id}})
			}
		}
		tx.changes.Inserted[name] = joined(spans)
	}
	var packed bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.DefaultCompression)
	if err != nil {
		return nil, err
	}
	if err := json.NewEncoder(w).Encode(tx.changes); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return packed.Bytes(), nil
}

func unpack(packed []byte) (c changes, err error) {
	d := json.NewDecoder(flate.NewReader(bytes.NewReader(packed)))
	d.UseNumber() // an integer must come back as one
	if err := d.Decode(&c); err != nil {
		return c, fmt.Errorf("history: %w", err)
	}
	for _, change := range c.Changed {
		if change.Before, err = asToday(change.Table, change.Before); err != nil {
			return c, err
		}
		if change.After, err = asToday(change.Table, change.After); err != nil {
			return c, err
		}
	}
	return c, nil
}

// asToday gives the columns of a row as the history keeps them the types that the database
// has, and the names and units of today where they were kept under an earlier schema.
func asToday(name string, kept map[string]any) (map[string]any, error) {
	t, ok := tables[name]
	if !ok {
		return nil, fmt.Errorf("history: of %q, which is no table", name)
	}
	image := make(map[string]any, len(kept))
	for column, value := range kept {
		if number, ok := value.(json.Number); ok {
			whole, err := number.Int64()
			if value = whole; err != nil {
				if value, err = number.Float64(); err != nil {
					return nil, err
				}
			}
		}
		if now, ok := t.once[column]; ok {
			column, value = now.column, now.from.Today(value)
		}
		image[column] = value
	}
	return image, nil
}

// Undo takes back the newest operation of c.Origin that still stands. It refuses
// with a *NothingToUndoError, or with a *ConflictError when a later change stands
// in the way.
func (s *Store) Undo(ctx context.Context, c Change) (catalog.Operation, error) {
	return s.goThrough(ctx, c, catalog.Undone)
}

// Redo does again what Undo of the same origin took back last, unless the origin
// has done something else since.
func (s *Store) Redo(ctx context.Context, c Change) (catalog.Operation, error) {
	return s.goThrough(ctx, c, catalog.Redone)
}

// goThrough undoes or redoes, and gives the operation that it went through.
func (s *Store) goThrough(ctx context.Context, c Change, act catalog.Act) (catalog.Operation, error) {
	var op catalog.Operation
	err := s.transact(ctx, c, func(tx *Tx) (err error) {
		if op, err = tx.candidate(c.Origin, act); err != nil {
			return err
		}
		conflict := &ConflictError{Operation: op, Redo: act == catalog.Redone}
		what, err := tx.changesOf(op.ID)
		if err != nil {
			return err
		}
		if act == catalog.Undone {
			err = tx.takeBack(what, conflict)
		} else {
			err = tx.doAgain(what, conflict)
		}
		if err != nil {
			return inTheWay(err, conflict)
		}
		if tx.change.Title == "" {
			tx.SetTitle("%s %s", map[catalog.Act]string{catalog.Undone: "undo", catalog.Redone: "redo"}[act], op.Title)
		}
		_, err = tx.finish(act, op.ID)
		return inTheWay(err, conflict)
	})
	if err != nil {
		return catalog.Operation{}, err
	}
	s.changed.Store(true)
	op.Undone = act == catalog.Undone
	return op, nil
}

// inTheWay turns what refuses a row into the conflict that it is here.
func inTheWay(err error, conflict *ConflictError) error {
	_, used := errors.AsType[*InUseError](err)
	_, taken := errors.AsType[*TakenError](err)
	_, gone := errors.AsType[*NotFoundError](err)
	_, cannot := errors.AsType[*InvalidError](err)
	if used || taken || gone || cannot {
		conflict.Err = err
		return conflict
	}
	return err
}

// candidate finds the operation to undo or redo: going back through the entries of
// one origin, what was undone last and not redone is redone next, unless something
// else was done since; what was done last and not undone is undone next.
func (tx *Tx) candidate(origin catalog.Origin, act catalog.Act) (catalog.Operation, error) {
	lines, err := tx.sql.QueryContext(tx.ctx,
		"SELECT "+operationColumns+" FROM operations o WHERE o.origin = ? ORDER BY o.id DESC", string(origin))
	if err != nil {
		return catalog.Operation{}, err
	}
	defer lines.Close()
	settled := map[catalog.OperationID]bool{} // operations whose newest entry was passed
	for lines.Next() {
		entry, err := scanOperation(lines.Scan)
		if err != nil {
			return catalog.Operation{}, err
		}
		switch {
		case act == catalog.Undone && !settled[entry.Of] && entry.Act != catalog.Undone,
			act == catalog.Redone && !settled[entry.Of] && entry.Act == catalog.Undone:
			lines.Close()
			return tx.Operation(entry.Of)
		case act == catalog.Redone && entry.Act == catalog.Done:
			return catalog.Operation{}, &NothingToUndoError{Origin: origin, Redo: true}
		}
		settled[entry.Of] = true
	}
	if err := lines.Err(); err != nil {
		return catalog.Operation{}, err
	}
	return catalog.Operation{}, &NothingToUndoError{Origin: origin, Redo: act == catalog.Redone}
}

func (tx *Tx) changesOf(id catalog.OperationID) (changes, error) {
	var packed []byte
	if err := tx.sql.QueryRowContext(tx.ctx, "SELECT changes FROM operations WHERE id = ?", int64(id)).Scan(&packed); err != nil {
		return changes{}, err
	}
	return unpack(packed)
}

// takeBack hides the rows that an operation made and gives the others their former
// columns, newest first.
func (tx *Tx) takeBack(what changes, conflict *ConflictError) error {
	op := int64(conflict.Operation.ID)
	for _, name := range slices.Sorted(maps.Keys(what.Inserted)) {
		for _, s := range what.Inserted[name] {
			if err := tx.flip(tables[name], s, op, removed, conflict); err != nil {
				return err
			}
		}
	}
	for _, c := range slices.Backward(what.Changed) {
		if err := tx.restore(c, c.After, c.Before, op, conflict); err != nil {
			return err
		}
	}
	return nil
}

// doAgain is the reverse of takeBack.
func (tx *Tx) doAgain(what changes, conflict *ConflictError) error {
	for _, c := range what.Changed {
		former, err := asID(c.Before["operation_id"])
		if err != nil {
			return err
		}
		if err := tx.restore(c, c.Before, c.After, former, conflict); err != nil {
			return err
		}
	}
	for _, name := range slices.Sorted(maps.Keys(what.Inserted)) {
		for _, s := range what.Inserted[name] {
			if err := tx.flip(tables[name], s, int64(conflict.Operation.ID), restored, conflict); err != nil {
				return err
			}
		}
	}
	return nil
}

// flip takes the rows that operation op made out of sight, or puts them back.
func (tx *Tx) flip(t *table, s span, op int64, how touch, conflict *ConflictError) error {
	to := 0
	if how == removed {
		to = 1
	}
	query := fmt.Sprintf("SELECT id, operation_id FROM %s WHERE id BETWEEN ? AND ? AND (operation_id <> %d OR removed = %d) LIMIT 1", t.name, op, to)
	id, later, err := tx.pair(query, s)
	if err != nil {
		return err
	}
	if id != 0 {
		return tx.standsInTheWay(t, id, later, conflict)
	}
	tx.touch(t.name, how, s)
	return tx.exec("UPDATE "+t.name+" SET removed = ?, revision = revision + 1 WHERE id BETWEEN ? AND ?", to, s[0], s[1])
}

// restore writes one side of a row change, if the row shows the other side still: the
// last to change it was the operation expected, and it is in sight unless it was the
// change that took it away. Of a row whose adding was taken back the last operation is
// still the adding.
func (tx *Tx) restore(c *rowChange, other, image map[string]any, expected int64, conflict *ConflictError) error {
	t := tables[c.Table]
	stood, err := tx.raw(t, c.ID, []string{"operation_id", "removed"})
	if err != nil {
		return err
	}
	last, err := asID(stood[0])
	if err != nil {
		return err
	}
	hidden, byThis := other["removed"]
	if !byThis {
		hidden = int64(0)
	}
	if last != expected {
		return tx.standsInTheWay(t, c.ID, last, conflict)
	}
	if stood[1] != hidden {
		return tx.isNotThere(t, c.ID, last, conflict)
	}
	columns := slices.Sorted(maps.Keys(image))
	args := make([]any, 0, len(columns)+1)
	for _, column := range columns {
		args = append(args, image[column])
	}
	how := changed
	if now, ok := image["removed"]; ok {
		how = restored
		if now == int64(1) {
			how = removed
		}
	}
	tx.touch(t.name, how, span{c.ID, c.ID})
	return tx.exec(fmt.Sprintf("UPDATE %s SET %s = ?, revision = revision + 1 WHERE id = ?",
		t.name, strings.Join(columns, " = ?, ")), append(args, c.ID)...)
}

func (tx *Tx) standsInTheWay(t *table, id, later int64, conflict *ConflictError) error {
	conflict.Noun, conflict.ID = t.noun, t.shortID(id)
	if later == int64(conflict.Operation.ID) {
		return conflict
	}
	var err error
	if conflict.Later, err = tx.Operation(catalog.OperationID(later)); err != nil {
		return err
	}
	return conflict
}

// isNotThere is the conflict with the taking back of the operation that added a row.
func (tx *Tx) isNotThere(t *table, id, added int64, conflict *ConflictError) error {
	var back int64
	err := tx.sql.QueryRowContext(tx.ctx, "SELECT max(id) FROM operations WHERE of_id = ?", added).Scan(&back)
	if err != nil {
		return err
	}
	conflict.Noun, conflict.ID, conflict.Gone = t.noun, t.shortID(id), true
	conflict.Later, err = tx.Operation(catalog.OperationID(back))
	if err != nil {
		return err
	}
	return conflict
}

func asID(value any) (int64, error) {
	id, ok := value.(int64)
	if !ok {
		return 0, fmt.Errorf("history: %v is no id", value)
	}
	return id, nil
}

const operationColumns = "o.id, o.uuid, o.act, o.of_id, o.origin, o.title, o.at_utc"

func scanOperation(scan scanner) (op catalog.Operation, err error) {
	var act, at string
	var of sql.Null[int64]
	if err := scan(&op.ID, &op.UUID, &act, &of, &op.Origin, &op.Title, &at); err != nil {
		return op, err
	}
	op.Revision, op.Of = 1, op.ID
	if of.Valid {
		op.Of = catalog.OperationID(of.V)
	}
	if op.Act, err = catalog.ParseAct(act); err != nil {
		return op, err
	}
	op.At, err = parseInstant(at)
	return op, err
}

// Operation reads one entry of the history.
func (v *View) Operation(id catalog.OperationID) (catalog.Operation, error) {
	line := v.q.QueryRowContext(v.ctx, "SELECT "+operationColumns+" FROM operations o WHERE o.id = ?", int64(id))
	op, err := scanOperation(line.Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return op, &NotFoundError{Noun: "operation", ID: id.String()}
	}
	return op, asBusy(err)
}

// History lists the newest entries of the history, newest first; of all origins
// when origin is empty. Undone is set on what stands taken back.
func (v *View) History(origin catalog.Origin, limit int) (entries []catalog.Operation, err error) {
	of, args := "", []any{limit}
	if origin != "" {
		of, args = " WHERE o.origin = ?", []any{string(origin), limit}
	}
	err = v.each(`
		SELECT `+operationColumns+`, coalesce((
			SELECT l.act = 'undone' FROM operations l WHERE l.of_id = o.id ORDER BY l.id DESC LIMIT 1), 0)
		FROM operations o`+of+` ORDER BY o.id DESC LIMIT ?`, args,
		func(scan scanner) error {
			var undone bool
			entry, err := scanOperation(func(targets ...any) error { return scan(append(targets, &undone)...) })
			entry.Undone = undone
			entries = append(entries, entry)
			return err
		})
	return entries, err
}
