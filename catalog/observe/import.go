package observe

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// ImportOptions of ImportPositions.
//
//	Source    where the rows are from, a file's name: kept with their times
//	DryRun    find what is wrong, keep nothing
//	KeepGood  keep the good rows even when there are bad ones
//	Again     keep rows that stand in the catalogue already, too
//	Extent    what a sunspot row is that does not say: a group, or a single spot
//	Observer  who marked the rows that do not say
//	Rejects   takes the bad rows, under the header, when KeepGood; nil for nowhere
//	Progress  is told how many rows were read, from time to time; may be nil
type ImportOptions struct {
	Source   string
	DryRun   bool
	KeepGood bool
	Again    bool
	Extent   catalog.Extent
	Observer catalog.ObserverID
	Rejects  io.Writer
	Progress func(rows int)
}

// Imported tells what became of the rows of an import.
//
//	Bad        what is wrong, row by row; the first MaxBadRows of them
//	BadRows    how many rows are bad
//	Told       what is odd about rows that are good, as many; ToldRows is their number
//	Common     what would explain most of what is told, empty when nothing would
//	Ignored    columns that are not known
//	Following  columns that follow from the others and are worked out anew
//	Twice      the rows that stand in the catalogue already, from before: the same kind
//	           at the same instant in the same place, as often as it stands there; the
//	           first MaxBadRows of them. They are not kept, unless Again was said
//	TwiceRows  how many they are
//	Observers  who are new in the catalogue
//	Unplaced   what was kept without a position
//	First, Last  the marks, whose ids follow one another
type Imported struct {
	Rows, Kept, BadRows, ToldRows, TwiceRows int
	Bad                                      []*BadRow
	Told                                     []ToldRow
	Common                                   string
	Ignored, Following                       []string
	Twice                                    []TwiceRow
	Observers                                []string
	Unplaced                                 []Unplaced
	First, Last                              catalog.MarkID
}

// TwiceRow is a row that stands in the catalogue already, as a mark.
type TwiceRow struct {
	Line int
	Mark catalog.MarkID
}

func (r TwiceRow) String() string { return fmt.Sprintf("line %d: %s", r.Line, r.Mark) }

// MaxBadRows is how many bad rows an import describes.
const MaxBadRows = 1000

// BadRowsError says that nothing was kept because of bad rows.
type BadRowsError struct{ Imported Imported }

func (e *BadRowsError) Error() string {
	return fmt.Sprintf("%d of %d rows cannot be kept, so none was; the first: %v", e.Imported.BadRows, e.Imported.Rows, e.Imported.Bad[0])
}

// errDryRun takes everything back at the end of a dry run.
var errDryRun = errors.New("dry run")

// ImportPositions keeps marks by positions from a CSV (see positionReader) as one
// operation: all of them, or none when a row is bad and KeepGood is not set, which
// gives a *BadRowsError. Rows of one instant share a frame without a file; they
// belong to no sitting, for nobody says who looked for what.
func (k Keeper) ImportPositions(ctx context.Context, r io.Reader, opts ImportOptions) (Imported, error) {
	rows, err := newPositionReader(r)
	if err != nil {
		return Imported{}, err
	}
	rows.extent = opts.Extent
	im := importer{keeper: k, opts: opts, rows: rows, frames: map[time.Time]catalog.FrameID{}}
	im.done.Ignored, im.done.Following = rows.ignored, rows.follow
	if opts.Rejects != nil {
		im.rejects = newRejected(opts.Rejects, rows.header)
	}
	if opts.Source == "" {
		im.opts.Source = "import"
	}
	err = k.update(ctx, "import positions "+opts.Source, func(tx *store.Tx) error { return im.run(ctx, tx) })
	im.done.Common = commonMiss(im.misses, im.both)
	switch {
	case errors.Is(err, errDryRun):
		im.done.Kept, im.done.First, im.done.Last = 0, 0, 0
		return im.done, nil
	case err != nil:
		im.done.Kept, im.done.First, im.done.Last = 0, 0, 0
		return im.done, err
	}
	return im.done, nil
}

type importer struct {
	keeper    Keeper
	opts      ImportOptions
	rows      *positionReader
	rejects   *rejected
	frames    map[time.Time]catalog.FrameID
	observers map[string]catalog.ObserverID
	done      Imported
	waiting   []importedMark
	before    standing
	firsts    firsts
	misses    []float64 // of longitudes that contradict themselves, in degrees
	both      int       // rows that have both longitudes
}

// importChunk is how many rows are held in memory.
const importChunk = 5000

func (im *importer) run(ctx context.Context, tx *store.Tx) error {
	for {
		if im.done.Rows%importChunk == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		m, record, err := im.rows.next()
		if err == io.EOF {
			break
		}
		if err == nil && !im.keeper.Force {
			if odd := Plausible(m.mark, m.position); odd != nil {
				err = &BadRow{m.line, odd}
			}
		}
		bad, isBad := errors.AsType[*BadRow](err)
		if err != nil && !isBad {
			return err
		}
		im.done.Rows++
		if im.opts.Progress != nil && im.done.Rows%importChunk == 0 {
			im.opts.Progress(im.done.Rows)
		}
		if isBad {
			if err := im.refuse(bad, record); err != nil {
				return err
			}
			continue
		}
		if im.waiting = append(im.waiting, m); len(im.waiting) == importChunk {
			if err := im.keep(tx); err != nil {
				return err
			}
		}
	}
	if err := im.keep(tx); err != nil {
		return err
	}
	switch {
	case im.opts.DryRun:
		return errDryRun
	case im.done.BadRows > 0 && !im.opts.KeepGood:
		return &BadRowsError{Imported: im.done}
	}
	marks := "marks"
	if im.done.Kept == 1 {
		marks = "mark"
	}
	tx.SetTitle("import positions %s: %d %s", im.opts.Source, im.done.Kept, marks)
	if im.rejects != nil {
		return im.rejects.flush()
	}
	return nil
}

// refuse notes a bad row.
func (im *importer) refuse(bad *BadRow, record []string) error {
	im.done.BadRows++
	if len(im.done.Bad) < MaxBadRows {
		im.done.Bad = append(im.done.Bad, bad)
	}
	if im.rejects == nil || !im.opts.KeepGood || im.opts.DryRun {
		return nil
	}
	return im.rejects.write(record, bad)
}

// keep writes the rows that wait and are new; once a bad one was met that spoils all,
// there is no need to.
func (im *importer) keep(tx *store.Tx) error {
	defer func() { im.waiting = im.waiting[:0] }()
	if err := im.before.extend(tx, im.waiting, im.done.First); err != nil {
		return err
	}
	fresh := im.waiting[:0]
	for _, m := range im.waiting {
		if id, twice := im.before.take(m); twice {
			im.done.TwiceRows++
			if len(im.done.Twice) < MaxBadRows {
				im.done.Twice = append(im.done.Twice, TwiceRow{m.line, id})
			}
			if !im.opts.Again {
				continue
			}
		}
		im.tell(m)
		if err := im.name(tx, &m); err != nil {
			return err
		}
		fresh = append(fresh, m)
	}
	if len(fresh) == 0 || im.opts.DryRun || im.done.BadRows > 0 && !im.opts.KeepGood {
		return nil
	}
	var instants []catalog.Frame
	for _, m := range fresh {
		if _, known := im.frames[m.utc]; !known {
			im.frames[m.utc] = 0
			instants = append(instants, catalog.Frame{Taken: m.utc, Moment: catalog.MomentMiddle, TimeSource: im.opts.Source, Zone: "UTC"})
		}
	}
	frames, err := tx.AddFrames(instants)
	if err != nil {
		return err
	}
	for _, f := range frames {
		im.frames[f.Taken] = f.ID
	}
	now := im.keeper.Now().UTC().Round(time.Millisecond)
	marks := make([]catalog.Mark, len(fresh))
	for i, m := range fresh {
		marks[i] = m.mark
		marks[i].Frame, marks[i].MarkedAt = im.frames[m.utc], now
	}
	if marks, err = tx.AddMarks(marks); err != nil {
		return err
	}
	if im.done.Kept == 0 {
		im.done.First = marks[0].ID
	}
	im.done.Last = marks[len(marks)-1].ID
	im.done.Kept += len(marks)
	for i, m := range fresh {
		if why := m.position.Reason; why != "" {
			im.done.Unplaced = append(im.done.Unplaced, Unplaced{Mark: marks[i].ID, Reason: why})
		}
	}
	return nil
}

// name puts in who marked a row: an observer of that name or code, who is new when there
// is none.
func (im *importer) name(tx *store.Tx, m *importedMark) error {
	if m.observer == "" {
		m.mark.Observer = im.opts.Observer
		return nil
	}
	if im.observers == nil {
		im.observers = map[string]catalog.ObserverID{}
		all, err := tx.Observers()
		if err != nil {
			return err
		}
		for _, o := range all {
			if o.Code != "" {
				im.observers[o.Code] = o.ID
			}
		}
		for _, o := range all { // a name goes before another's code
			im.observers[o.Name] = o.ID
		}
	}
	id, known := im.observers[m.observer]
	if !known {
		im.done.Observers = append(im.done.Observers, m.observer)
		if !im.opts.DryRun {
			o, err := tx.AddObserver(catalog.Observer{Name: m.observer})
			if err != nil {
				return err
			}
			id = o.ID
		}
		im.observers[m.observer] = id
	}
	m.mark.Observer = id
	return nil
}

// rejected writes bad rows with what is wrong with them in a column of its own.
type rejected struct {
	out    *csv.Writer
	header []string
	width  int // of a row of the file
	reason int // where that column stands
	headed bool
}

func newRejected(w io.Writer, header []string) *rejected {
	r := &rejected{out: csv.NewWriter(w), header: slices.Clone(header), width: len(header), reason: slices.Index(header, rejectedColumn)}
	if r.reason < 0 {
		r.reason = len(r.header)
		r.header = append(r.header, rejectedColumn)
	}
	return r
}

// write writes a row; one that could not be taken apart at all leaves only its reason.
func (r *rejected) write(record []string, bad *BadRow) error {
	if !r.headed {
		r.headed = true
		if err := r.out.Write(r.header); err != nil {
			return err
		}
	}
	row := slices.Clone(record)
	for len(row) < len(r.header) {
		row = append(row, "")
	}
	if len(record) > r.width { // behind all of them
		row = append(row, bad.Error())
	} else {
		row[r.reason] = bad.Error()
	}
	return r.out.Write(row)
}

func (r *rejected) flush() error {
	r.out.Flush()
	return r.out.Error()
}
