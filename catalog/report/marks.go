package report

import (
	"bufio"
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"

	"limbwatch/catalog/exchange"
)

// cell is what a column says of a mark; empty when it is not known.
func (c markColumn) cell(m Marked) string {
	e := m.Entry
	switch {
	case c.size != nil:
		return numberText(c.size(m))
	case c.text != nil:
		return c.text(e)
	case c.number != nil:
		return numberText(c.number(e))
	case c.whole != nil:
		if n, ok := c.whole(e); ok {
			return strconv.FormatInt(n, 10)
		}
	case c.yes != nil:
		if yes, ok := c.yes(e); ok {
			return strconv.FormatBool(yes)
		}
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
var freeText = map[string]bool{"label": true, "aliases": true, "note": true}

// plain keeps a spreadsheet from harm. The name of a passage, as 2026-fil-3, is what
// commands take, and gets an apostrophe only where it would be a formula.
func (c markColumn) plain(text string) string {
	switch {
	case freeText[c.name], c.name == "passage" && text != "" && strings.ContainsRune("=+-@\t\r'", rune(text[0])):
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
		t.row[i] = c.name
	}
	return t, t.out.Write(t.row)
}

// Write writes a mark.
func (t *MarkWriter) Write(m Marked) error {
	for i, c := range markColumns {
		t.row[i] = c.plain(c.cell(m))
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
func WriteCSV(w io.Writer, marks []Marked) error {
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
