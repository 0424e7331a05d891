package report

import (
	"bufio"
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
)

// cell is what a column says of a mark; empty when it is not known.
func (c markColumn) cell(e catalog.Entry) string {
	switch {
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
var freeText = map[string]bool{"label": true, "aliases": true, "note": true, "passage": true}

// WriteCSV writes marks as CSV (RFC 4180, UTF-8, decimal points, a line of names).
func WriteCSV(w io.Writer, entries []catalog.Entry) error {
	buffered := bufio.NewWriterSize(w, 1<<16)
	out := csv.NewWriter(buffered)
	row := make([]string, len(markColumns))
	for i, c := range markColumns {
		row[i] = c.name
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for _, e := range entries {
		for i, c := range markColumns {
			row[i] = c.cell(e)
			if freeText[c.name] {
				row[i] = exchange.Harmless(row[i])
			}
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return err
	}
	return buffered.Flush()
}
