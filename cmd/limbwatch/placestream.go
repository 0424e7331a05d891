package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// runPlaceStream converts CSV to CSV row by row. ready is told which columns
// there are, once the header is read, and checks that the flags go with them.
func runPlaceStream(ctx context.Context, app *app, p *placer, rejectsPath string, ready func(polar bool) error) (err error) {
	in := csv.NewReader(bufio.NewReaderSize(app.stdin, 1<<16))
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

	out := csv.NewWriter(bufio.NewWriterSize(app.stdout, 1<<16))
	defer func() {
		out.Flush()
		err = errors.Join(err, out.Error())
	}()
	if err := out.Write(placeHeader(first, p.withHeight)); err != nil {
		return err
	}
	var fields []string
	for rows := 0; ; rows++ {
		if rows%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		var place placeRow
		var line int
		if parse, bad := errors.AsType[*csv.ParseError](err); bad {
			line, err = parse.Line, parse.Err
		} else if err != nil {
			return fmt.Errorf("reading standard input: %w", err)
		} else {
			line, _ = in.FieldPos(0)
			place, err = columns.place(p, record)
		}
		if err != nil {
			if rejects == nil {
				return withHint(fmt.Errorf("line %d: %w", line, err), "mend it, or let --rejects FILE take such rows")
			}
			if err := rejects.write(record, line, err); err != nil {
				return err
			}
			continue
		}
		fields = place.appendFields(append(fields[:0], record...), p.withHeight)
		if err := out.Write(fields); err != nil {
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
	at, err := parseUTC(record[c.utc])
	if err != nil {
		return placeRow{}, err
	}
	if err := ephemeris.Check(at); err != nil {
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
	view := p.view(at)
	var found disc.Place
	if c.polar {
		if b < 0 {
			return placeRow{}, fmt.Errorf("r %v is less than 0", b)
		}
		found = view.PlacePolar(coords.Angle(a)*coords.Degree, b, p.sigmaR, p.height)
	} else {
		found = view.Place(coords.Pixel{X: a, Y: b}, p.clickPx, p.height)
	}
	if found.Where == disc.Nowhere {
		return placeRow{}, fmt.Errorf("(%v, %v) lies too far from the disc to be read", a, b)
	}
	return newPlaceRow(view, found, p.withHeight), nil
}

// rejectFile takes the rows that cannot be read, with their line and reason.
// A nil one takes none.
type rejectFile struct {
	path   string
	file   *os.File
	out    *csv.Writer
	fields int // of the header
	count  int
}

func openRejects(path string, header []string) (*rejectFile, error) {
	if path == "" {
		return nil, nil
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, os.ErrExist) {
		return nil, withHint(fmt.Errorf("file %q is there already", path), "name another one after --rejects")
	}
	if err != nil {
		return nil, err
	}
	r := &rejectFile{path: path, file: file, out: csv.NewWriter(file), fields: len(header)}
	return r, r.out.Write(append(append([]string{}, header...), "line", "reason"))
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
	r.out.Flush()
	if r.count > 0 {
		fmt.Fprintf(stderr, "limbwatch: %d rows could not be read and went to %s\n", r.count, r.path)
	}
	return errors.Join(r.out.Error(), r.file.Close())
}
