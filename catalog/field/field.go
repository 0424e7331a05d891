// Package field describes what is kept and told of each noun, field by field and once:
// how a field is called wherever it is written, its unit, what it means, and how it is
// read and set. The catalogue's columns, the record that travels, tables and JSON, the
// help that lists them and the comparing of two records follow from these descriptions.
//
// To add a field: the noun in package catalog, its description here, a migration.
package field

import (
	"fmt"

	"limbwatch/catalog"
)

// Field is one thing that is kept or told of a T.
//
//	Name    as everywhere written; that of a quantity ends in its unit, as in lat_deg
//	Unit    in the spelling of the VOUnits standard; empty: none
//	UCD     what kind of quantity it is (IVOA's Unified Content Descriptors 1+)
//	About   what it means, in a few words
//	Refers  the noun whose id a Ref holds
//	Once    names that it had before, in older records and in older entries of the history
//	Get     its value: nil when there is none, else of the type of its Kind
//	Set     the reverse; nil: the field follows from others and cannot be set
type Field[T any] struct {
	Name, Unit, UCD, About string
	Kind                   Kind
	Refers                 string
	Once                   []Former
	Get                    func(*T) any
	Set                    func(*T, any) error
}

// Kind is of which type the values of a field are.
type Kind uint8

// The kinds of values, and their types.
const (
	Text    Kind = iota + 1 // string: somebody's words, one of some names, a time
	Number                  // float64
	Whole                   // int64
	Yes                     // int64, 0 or 1
	Ref                     // int64, the id of another thing
	Figures                 // string: JSON of what is more than one figure
	Names                   // []string
)

// Former is a name that a field had, and by how much its values then have to be
// multiplied, 0 for not at all. A dot leads into an object.
type Former struct {
	Name  string
	Times float64
}

// Noun is all that is kept of a T.
//
//	Name    in the record that travels
//	Said    as people say it
//	Letter  before the numbers by which people call it
//	Head    where a thing keeps its id and its record
type Noun[T any, ID ~int64] struct {
	Name, Said, Letter string
	Head               func(*T) (*ID, *catalog.Record)
	Fields             []Field[T]
}

// TableOf is where the catalogue keeps the things of a noun.
func TableOf(noun string) string { return noun + "s" }

// Today gives the value that a field of this former name has under its name of today.
func (f Former) Today(value any) any {
	if f.Times == 0 {
		return value
	}
	number, err := asNumber(value)
	switch {
	case value == nil || err != nil:
		return value
	case f.Times == kmInMm:
		return kmOfMm(number)
	}
	return number * f.Times
}

// Column is the name of the field in the catalogue.
func (f Field[T]) Column() string {
	if f.Kind == Ref {
		return f.Name + "_id"
	}
	return f.Name
}

// Values reads all fields of a thing.
func Values[T any](fields []Field[T], of *T) []any {
	values := make([]any, len(fields))
	for i := range fields {
		values[i] = fields[i].Get(of)
	}
	return values
}

// SetAll sets all fields of a thing, in their order.
func SetAll[T any](fields []Field[T], of *T, values []any) error {
	for i := range fields {
		if err := fields[i].Set(of, values[i]); err != nil {
			return fmt.Errorf("%s: %w", fields[i].Name, err)
		}
	}
	return nil
}
