package exchange

import (
	"encoding/csv"
	"fmt"
	"io"
	"unicode"
	"unicode/utf8"
)

// MaxRowBytes bounds a row of a table: a note has 20 000 at most.
const MaxRowBytes = 1 << 20

// RowTooLongError is a row that does not end, as of a file that is no table at all.
type RowTooLongError struct{ Row int }

func (e *RowTooLongError) Error() string {
	return fmt.Sprintf("row %d has more than %d bytes: is a quote not closed, or is this no CSV?", e.Row, MaxRowBytes)
}

// Rows reads a table row by row as CSV, and gives up on a row that does not end before it
// has filled the memory.
type Rows struct {
	*csv.Reader
	from *bounded
	row  int
}

// NewRows reads rows from r.
func NewRows(r io.Reader) *Rows {
	from := &bounded{Reader: r}
	return &Rows{Reader: csv.NewReader(from), from: from}
}

// Read reads one row. Errors: those of csv.Reader.Read, *RowTooLongError.
func (r *Rows) Read() ([]string, error) {
	r.row++
	r.from.left = MaxRowBytes
	record, err := r.Reader.Read()
	if r.from.left <= 0 && err != nil {
		return nil, &RowTooLongError{r.row}
	}
	return record, err
}

// bounded gives out no more than what is left.
type bounded struct {
	io.Reader
	left int
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, io.ErrUnexpectedEOF
	}
	n, err := b.Reader.Read(p[:min(len(p), b.left)])
	b.left -= n
	return n, err
}

// AppendRow appends a row to a line of CSV, without its line feed, quoted where it must
// be, as encoding/csv writes it: for rows by the million, to which more is added.
func AppendRow(line []byte, record []string) []byte {
	for i, cell := range record {
		if i > 0 {
			line = append(line, ',')
		}
		if !mustQuote(cell) {
			line = append(line, cell...)
			continue
		}
		line = append(line, '"')
		for j := range len(cell) {
			if cell[j] == '"' {
				line = append(line, '"')
			}
			line = append(line, cell[j])
		}
		line = append(line, '"')
	}
	return line
}

// mustQuote says that a cell would be read as something else without quotes.
func mustQuote(cell string) bool {
	if cell == "" {
		return false
	}
	for i := range len(cell) {
		switch cell[i] {
		case ',', '"', '\r', '\n':
			return true
		}
	}
	first, _ := utf8.DecodeRuneInString(cell)
	return unicode.IsSpace(first) || cell == `\.`
}
