package report

import (
	"bufio"
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"limbwatch/catalog/exchange"
	"limbwatch/catalog/field"
	"limbwatch/catalog/measure"
)

// The formats of marks (CSV, ECSV, VOTable) have the same columns, each with a unit
// and a meaning. A value that is not known is missing, never zero.

// markColumn is a column of the marks.
type markColumn struct{ field.Field[measure.Marked] }

var markColumns = func() (columns []markColumn) {
	for _, f := range field.Marks {
		columns = append(columns, markColumn{f})
	}
	return columns
}()

// MarkColumns describes the columns of the marks, with units, one a line.
func MarkColumns() string {
	var b strings.Builder
	for _, c := range markColumns {
		fmt.Fprintf(&b, "  %-24s %-7s %s\n", c.Name, cmp.Or(c.Unit, "-"), c.About)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// cell is what a column says of a mark; empty when it is not known.
func (c markColumn) cell(m *measure.Marked) string {
	switch v := c.Get(m).(type) {
	case string:
		return v
	case []string:
		return exchange.Names(v)
	case float64:
		return numberText(v)
	case int64:
		if c.Kind == field.Yes {
			return strconv.FormatBool(v != 0)
		}
		return strconv.FormatInt(v, 10)
	}
	return ""
}

// numberText writes a number so that it is read again to the last bit.
func numberText(v float64) string {
	switch {
	case math.IsNaN(v):
		return ""
	case v != 0 && (math.Abs(v) < 1e-6 || math.Abs(v) >= 1e15):
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// freeText are the columns in which somebody's own words stand.
var freeText = map[string]bool{"label": true, "aliases": true, "note": true, "observer": true}

// plain keeps a spreadsheet from harm. The name of a passage, as 2026-fil-3, is what
// commands take, and gets an apostrophe only where it would be a formula.
func (c markColumn) plain(text string) string {
	switch {
	case freeText[c.Name], c.Name == "passage" && text != "" && strings.ContainsRune("=+-@\t\r'", rune(text[0])):
		return exchange.Harmless(text)
	}
	return text
}

// MarkWriter writes marks as a table, one after the other, so that many of them need no
// memory.
type MarkWriter struct {
	buffered *bufio.Writer
	out      *csv.Writer
	row      []string
}

// NewMarkWriter begins a table as CSV (RFC 4180, UTF-8, decimal points, a line of
// names), with comma between the columns.
func NewMarkWriter(w io.Writer, comma rune) (*MarkWriter, error) {
	t := &MarkWriter{buffered: bufio.NewWriterSize(w, 1<<16), row: make([]string, len(markColumns))}
	t.out = csv.NewWriter(t.buffered)
	t.out.Comma = comma
	for i, c := range markColumns {
		t.row[i] = c.Name
	}
	return t, t.out.Write(t.row)
}

// Write writes a mark.
func (t *MarkWriter) Write(m measure.Marked) error {
	for i, c := range markColumns {
		t.row[i] = c.plain(c.cell(&m))
	}
	return t.out.Write(t.row)
}

// Close ends the table.
func (t *MarkWriter) Close() error {
	t.out.Flush()
	if err := t.out.Error(); err != nil {
		return err
	}
	return t.buffered.Flush()
}

// WriteCSV writes marks as CSV.
func WriteCSV(w io.Writer, marks []measure.Marked) error {
	t, err := NewMarkWriter(w, ',')
	if err != nil {
		return err
	}
	for _, m := range marks {
		if err := t.Write(m); err != nil {
			return err
		}
	}
	return t.Close()
}
