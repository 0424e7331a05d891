package observe

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/catalog/field"
	"limbwatch/coords/timescale"
)

// positionReader reads a CSV of positions. Its header names the columns, in any
// order (see positionColumns). Where columns are apart by semicolons a comma is the
// decimal sign too.
type positionReader struct {
	csv      *exchange.Rows
	header   []string
	at       [columns]int  // where a column stands, -1 for nowhere
	inMm     [columns]bool // it is one of megametres, as columns were before
	decimals [columns]int  // the most that a column of longitudes has had
	ignored  []string      // columns that are not known
	follow   []string      // columns of "export marks" that follow from others
	extent   catalog.Extent
	written  string    // the instant of the row read last
	utc      time.Time // and what it is
	moment   moment    // of the row read last: rows of one instant mostly stand together
}

func newPositionReader(r io.Reader) (*positionReader, error) {
	buffered := bufio.NewReaderSize(r, 1<<16)
	if mark, _ := buffered.Peek(3); string(mark) == "\uFEFF" { // spreadsheets write one
		if _, err := buffered.Discard(3); err != nil {
			return nil, err
		}
	}
	p := &positionReader{csv: exchange.NewRows(buffered)}
	if head, _ := buffered.Peek(buffered.Size() / 2); strings.Contains(firstLine(head), ";") && !strings.Contains(firstLine(head), ",") {
		p.csv.Comma = ';'
	}
	header, err := p.csv.Read()
	if err == io.EOF {
		return nil, errors.New("empty file, want a line that names the columns")
	}
	if err != nil {
		return nil, err
	}
	p.header = slices.Clone(header)
	p.csv.ReuseRecord = true
	return p, p.find()
}

// find finds the columns by their names.
func (p *positionReader) find() error {
	for c := range p.at {
		p.at[c] = -1
	}
	seen := map[string]bool{}
	for i, name := range p.header {
		name = strings.TrimSpace(name)
		if seen[name] {
			return fmt.Errorf("column %q is there twice", name)
		}
		seen[name] = true
		old, former := formerColumns[name]
		switch c := slices.Index(positionColumns[:], name); {
		case c >= 0 && p.at[c] >= 0:
			return fmt.Errorf("column %q is there twice, as %q too", name, p.header[p.at[c]])
		case c >= 0:
			p.at[c] = i
		case former && p.at[old] >= 0:
			return fmt.Errorf("column %q is there twice, as %q too", name, p.header[p.at[old]])
		case former:
			p.at[old], p.inMm[old] = i, true
		case slices.Contains(followingColumns, name):
			p.follow = append(p.follow, name)
		default:
			p.ignored = append(p.ignored, name)
		}
	}
	for _, needed := range []column{kindColumn, utcColumn} {
		if p.at[needed] < 0 {
			return fmt.Errorf("no column %q; there are %s", positionColumns[needed], strings.Join(p.header, ", "))
		}
	}
	return nil
}

func firstLine(text []byte) string {
	line, _, _ := strings.Cut(string(text), "\n")
	return line
}

// BadRow is a row that cannot be kept, and why.
type BadRow struct {
	Line int
	Err  error
}

func (b *BadRow) Error() string { return fmt.Sprintf("line %d: %v", b.Line, b.Err) }

// next reads one row: a mark, or a *BadRow as its error; io.EOF at the end. The
// record is good until the next call.
func (p *positionReader) next() (importedMark, []string, error) {
	record, err := p.csv.Read()
	if broken, ok := errors.AsType[*csv.ParseError](err); ok {
		if errors.Is(err, csv.ErrFieldCount) {
			return importedMark{}, record, &BadRow{broken.Line, fmt.Errorf("%d columns, want %d", len(record), len(p.header))}
		}
		return importedMark{}, nil, &BadRow{broken.Line, broken.Err}
	}
	if err != nil {
		return importedMark{}, nil, err
	}
	m, err := p.parse(record)
	m.line = p.line()
	if err != nil {
		return m, record, &BadRow{m.line, err}
	}
	return m, record, nil
}

// line is where in the file the row stands that was read last.
func (p *positionReader) line() int {
	line, _ := p.csv.FieldPos(0)
	return line
}

// field gives a column's text, empty when there is no such column.
func (p *positionReader) field(record []string, c column) string {
	i := p.at[c]
	if i < 0 {
		return ""
	}
	return strings.TrimSpace(record[i])
}

// number reads a field; false when it is empty.
func (p *positionReader) number(record []string, c column) (float64, bool, error) {
	text := p.field(record, c)
	if text == "" {
		return 0, false, nil
	}
	if p.csv.Comma == ';' { // where the comma is the decimal sign
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		if strings.Contains(text, ",") {
			return 0, false, fmt.Errorf("%s %q: want a decimal point", p.header[p.at[c]], text)
		}
		return 0, false, fmt.Errorf("%s %q is no number", p.header[p.at[c]], text)
	}
	if p.inMm[c] {
		v = field.Megametres(v).Km()
	}
	return v, true, nil
}

// sigma reads a standard error, 0 when the field is empty.
func (p *positionReader) sigma(record []string, c column) (float64, error) {
	v, given, err := p.number(record, c)
	if err == nil && given && v <= 0 {
		err = fmt.Errorf("%s %g: want more than 0, or nothing", p.header[p.at[c]], v)
	}
	return v, err
}

// ParseUTC reads an instant that is known to be UTC: a date and a time, with or
// without a Z. Another zone's offset is refused.
func ParseUTC(text string) (time.Time, error) {
	clock, hasTime, behind, err := timescale.ParseClock(text)
	if err != nil || !hasTime || behind != "" && behind != "Z" {
		return time.Time{}, fmt.Errorf("utc %q: want a date and time, as in 2026-03-14T09:12:05Z", text)
	}
	return clock.At(0)
}
