package store

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"limbwatch/catalog"
)

// Row is anything that a catalogue keeps and another can hand to it.
type Row interface {
	catalog.Observer | catalog.Site | catalog.Instrument | catalog.Setup | catalog.Sitting | catalog.Count |
		catalog.Frame | catalog.Disc | catalog.North | catalog.Mark | catalog.Passage | catalog.Join | catalog.Link
}

// Meeting is what a row from another catalogue meets in this one.
//
//	Found    something that is the same thing
//	ByName   by its UUID; else by what there can be only one of: a name, a file's
//	         content, the disc of a frame
//	Removed  it was taken out of sight here
//	Mine     the row here
type Meeting[T Row] struct {
	Found, ByName, Removed bool
	Mine                   T
}

// Difference is a column in which two rows differ, as the catalogue's file names it.
type Difference struct {
	Column      string
	Here, There any
}

// String tells the difference.
func (d Difference) String() string {
	said := func(v any) string {
		switch v := v.(type) {
		case nil:
			return "nothing"
		case string:
			return fmt.Sprintf("%.60s", v)
		}
		return fmt.Sprint(v)
	}
	return fmt.Sprintf("%s is %s here and %s there", d.Column, said(d.Here), said(d.There))
}

// Meet finds what a row from another catalogue is in this one. References in the
// row are those of this catalogue.
func Meet[T Row](v *View, row T) (Meeting[T], error) { return behind[T]().meet(v, row) }

// Differences compares two rows of a noun, ids and records apart.
func Differences[T Row](here, there T) []Difference { return behind[T]().differences(here, there) }

// Insert keeps new rows with the UUIDs they have.
func Insert[T Row](tx *Tx, rows []T) ([]T, error) { return behind[T]().insert(tx, rows) }

// Overwrite gives the row that stands here another's content; it puts it back in
// sight when it was removed.
func Overwrite[T Row](tx *Tx, stood Meeting[T], with T) (T, error) {
	return behind[T]().overwrite(tx, stood, with)
}

// handle is a noun whose type of ids does not matter.
type handle[T Row] interface {
	meet(*View, T) (Meeting[T], error)
	differences(here, there T) []Difference
	insert(*Tx, []T) ([]T, error)
	overwrite(*Tx, Meeting[T], T) (T, error)
}

// behind is the noun of a type.
func behind[T Row]() handle[T] {
	var none T
	var n any
	switch any(none).(type) {
	case catalog.Observer:
		n = merging[catalog.Observer, catalog.ObserverID]{&observers}
	case catalog.Site:
		n = merging[catalog.Site, catalog.SiteID]{&sites}
	case catalog.Instrument:
		n = merging[catalog.Instrument, catalog.InstrumentID]{&instruments}
	case catalog.Setup:
		n = merging[catalog.Setup, catalog.SetupID]{&setups}
	case catalog.Sitting:
		n = merging[catalog.Sitting, catalog.SittingID]{&sittings}
	case catalog.Count:
		n = merging[catalog.Count, catalog.CountID]{&counts}
	case catalog.Frame:
		n = merging[catalog.Frame, catalog.FrameID]{&frames}
	case catalog.Disc:
		n = merging[catalog.Disc, catalog.DiscID]{&discs}
	case catalog.North:
		n = merging[catalog.North, catalog.NorthID]{&norths}
	case catalog.Mark:
		n = merging[catalog.Mark, catalog.MarkID]{&marks}
	case catalog.Passage:
		n = merging[catalog.Passage, catalog.PassageID]{&passages}
	case catalog.Join:
		n = merging[catalog.Join, catalog.JoinID]{&joins}
	case catalog.Link:
		n = merging[catalog.Link, catalog.LinkID]{&links}
	}
	return n.(handle[T])
}

// onlyOne names the columns in which no two rows in sight are alike, and which say
// that two rows mean the same thing. Passages are called by people: two of one name
// in two catalogues are two.
var onlyOne = map[string][]string{
	"observers": {"name"}, "sites": {"name"}, "instruments": {"name"}, "setups": {"instrument_id", "name"},
	"frames": {"sha256"}, "discs": {"frame_id"}, "norths": {"frame_id"}, "counts": {"sitting_id", "tally"},
	"joins": {"mark_id", "passage_id"}, "links": {"from_passage_id", "to_passage_id", "relation"},
}

type rowOf[T any] interface {
	Row
	validated
}

// merging is a noun at the meeting of two catalogues.
type merging[T rowOf[T], ID ~int64] struct{ *noun[T, ID] }

func (m merging[T, ID]) meet(v *View, row T) (met Meeting[T], err error) {
	_, record := m.head(&row)
	line := v.q.QueryRowContext(v.ctx, "SELECT t.removed, "+m.selection("t")+" FROM "+m.name+" t WHERE t.uuid = ?", record.UUID[:])
	met.Mine, err = m.scan(scanner(line.Scan).with(&met.Removed))
	if err == nil {
		met.Found, met.ByName = true, true
		return met, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return met, asBusy(err)
	}
	condition, args := m.alike(row)
	if condition == "" {
		return Meeting[T]{}, nil
	}
	rows, err := find(v, m.noun, condition, args...)
	if err != nil || len(rows) == 0 {
		return Meeting[T]{}, err
	}
	return Meeting[T]{Found: true, Mine: rows[0]}, nil
}

// alike is the condition for rows that mean the same thing; empty when there can be
// none.
func (m merging[T, ID]) alike(row T) (condition string, args []any) {
	values := m.values(row)
	var parts []string
	for _, unique := range onlyOne[m.name] {
		for i, column := range m.columns {
			if column == unique && values[i] != nil {
				parts, args = append(parts, "t."+column+" = ?"), append(args, values[i])
			}
		}
	}
	if len(parts) != len(onlyOne[m.name]) {
		return "", nil
	}
	return strings.Join(parts, " AND "), args
}

func (m merging[T, ID]) differences(here, there T) (out []Difference) {
	mine, theirs := m.values(here), m.values(there)
	for i, column := range m.columns {
		if mine[i] != theirs[i] {
			out = append(out, Difference{column, mine[i], theirs[i]})
		}
	}
	return out
}

func (m merging[T, ID]) insert(tx *Tx, rows []T) ([]T, error) { return addAll(tx, m.noun, rows) }

func (m merging[T, ID]) overwrite(tx *Tx, stood Meeting[T], with T) (T, error) {
	mine, _ := m.head(&stood.Mine)
	if stood.Removed {
		if err := tx.alter(&m.table, int64(*mine), restored, []string{"removed"}, []any{int64(0)}); err != nil {
			return with, err
		}
	}
	id, record := m.head(&with)
	*id, record.Revision = *mine, Newest
	return edit(tx, m.noun, with)
}
