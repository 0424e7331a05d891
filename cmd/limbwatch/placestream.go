package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"strconv"
	"strings"

	"limbwatch/catalog/exchange"
	"limbwatch/catalog/wholefile"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// runPlaceStream converts CSV to CSV row by row. ready is told which columns
// there are, once the header is read, and checks that the flags go with them.
func runPlaceStream(ctx context.Context, app *app, p *placer, rejectsPath string, ready func(polar bool) error) (err error) {
	in := exchange.NewRows(app.stdin)
	in.ReuseRecord = true
	in.FieldsPerRecord = -1
	first, err := in.Read()
	if errors.Is(err, io.EOF) {
		return withHint(misuse("no points: neither X,Y nor CSV on standard input"), "see limbwatch place --help")
	}
	if err != nil {
		return fmt.Errorf("reading the header line: %w", err)
	}
	columns, err := findPlaceColumns(first)
	if err != nil {
		return err
	}
	if err := ready(columns.polar); err != nil {
		return err
	}
	rejects, err := openRejects(rejectsPath, first)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rejects.close(app.stderr)) }()

	out := bufio.NewWriterSize(app.data(), 1<<16)
	defer func() { err = errors.Join(err, out.Flush()) }()
	line := append(exchange.AppendRow(nil, placeHeader(first, p.withHeight)), '\n')
	if _, err := out.Write(line); err != nil {
		return err
	}
	for rows := 0; ; rows++ {
		if rows%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		var place placeRow
		var number int
		if parse, bad := errors.AsType[*csv.ParseError](err); bad {
			number, err = parse.Line, parse.Err
		} else if err != nil {
			return fmt.Errorf("reading standard input: %w", err)
		} else {
			place, err = columns.place(p, record)
		}
		if err != nil {
			if number == 0 {
				number, _ = in.FieldPos(0)
			}
			if rejects == nil {
				return withHint(fmt.Errorf("line %d: %w", number, err), "mend it, or let --rejects FILE take such rows")
			}
			if err := rejects.write(record, number, err); err != nil {
				return err
			}
			continue
		}
		line = exchange.AppendRow(line[:0], record)
		line = append(place.appendCells(line, p.withHeight), '\n')
		if _, err := out.Write(line); err != nil {
			return err
		}
	}
}

// placeColumnSet says where the columns of a CSV stand.
type placeColumnSet struct {
	count     int
	utc, a, b int
	polar     bool
}

func findPlaceColumns(header []string) (placeColumnSet, error) {
	at := map[string]int{}
	for i, name := range header {
		at[strings.TrimSpace(strings.TrimPrefix(name, "\ufeff"))] = i
	}
	set := placeColumnSet{count: len(header)}
	has := func(names ...string) bool {
		for _, name := range names {
			if _, ok := at[name]; !ok {
				return false
			}
		}
		return true
	}
	switch {
	case has("utc", "pa_deg", "r"):
		set.polar, set.a, set.b = true, at["pa_deg"], at["r"]
	case has("utc", "x", "y"):
		set.a, set.b = at["x"], at["y"]
	default:
		return set, withHint(fmt.Errorf("header line %q has not the columns needed", strings.Join(header, ",")),
			"give utc,pa_deg,r or utc,x,y; other columns may stand beside them")
	}
	set.utc = at["utc"]
	return set, nil
}

// place converts one row.
func (c placeColumnSet) place(p *placer, record []string) (placeRow, error) {
	if len(record) != c.count {
		return placeRow{}, fmt.Errorf("%d fields where the header has %d", len(record), c.count)
	}
	if err := p.turnToWritten(record[c.utc]); err != nil {
		return placeRow{}, err
	}
	a, err := parseFinite(record[c.a])
	if err != nil {
		return placeRow{}, err
	}
	b, err := parseFinite(record[c.b])
	if err != nil {
		return placeRow{}, err
	}
	var found disc.Place
	// The bounds are those of what is kept.
	if c.polar {
		switch {
		case !(math.Abs(a) <= 360):
			return placeRow{}, fmt.Errorf("position angle %v: want -360 to 360 degrees", a)
		case b < 0:
			return placeRow{}, fmt.Errorf("r %v is less than 0", b)
		case b > 10:
			return placeRow{}, fmt.Errorf("r %v: want 0 to 10 radii", b)
		}
		found = p.sight.PlacePolar(coords.Angle(a)*coords.Degree, b, p.sigmaR, p.height)
	} else {
		if !(math.Abs(a) <= 1e6 && math.Abs(b) <= 1e6) {
			return placeRow{}, fmt.Errorf("point (%v, %v): want pixels up to a million either way", a, b)
		}
		found = p.sight.Place(coords.Pixel{X: a, Y: b}, p.clickPx, p.height)
	}
	if found.Where == disc.Nowhere {
		return placeRow{}, fmt.Errorf("(%v, %v) lies too far from the disc to be read", a, b)
	}
	return newPlaceRow(&found, p.withHeight), nil
}

// rejectFile takes the rows that cannot be read, with their line and reason.
// A nil one takes none.
type rejectFile struct {
	path   string
	file   *wholefile.File
	out    *csv.Writer
	fields int // of the header
	count  int
}

func openRejects(path string, header []string) (*rejectFile, error) {
	if path == "" {
		return nil, nil
	}
	file, err := newRejects(path)
	if err != nil {
		return nil, err
	}
	r := &rejectFile{path: path, file: file, out: csv.NewWriter(file), fields: len(header)}
	return r, r.out.Write(append(append([]string{}, header...), "line", "reason"))
}

// newRejects begins a file for refused rows.
func newRejects(path string) (*wholefile.File, error) {
	file, err := wholefile.New(path)
	if errors.Is(err, fs.ErrExist) {
		err = withHint(fmt.Errorf("file %q is there already", path), "name another one after --rejects")
	}
	return file, err
}

func (r *rejectFile) write(record []string, line int, reason error) error {
	r.count++
	row := make([]string, max(r.fields, len(record))) // a short row is filled up, so that line and reason stand under their names
	copy(row, record)
	return r.out.Write(append(row, strconv.Itoa(line), reason.Error()))
}

func (r *rejectFile) close(stderr io.Writer) error {
	if r == nil {
		return nil
	}
	defer r.file.Discard()
	r.out.Flush()
	if err := r.out.Error(); err != nil {
		return err
	}
	if err := r.file.Keep(); err != nil {
		return err
	}
	if r.count > 0 {
		fmt.Fprintf(stderr, "limbwatch: %d rows could not be read and went to %s\n", r.count, r.path)
	}
	return nil
}
