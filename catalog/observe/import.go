package observe

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// ImportOptions of ImportPositions.
//
//	Source    where the rows are from, a file's name: kept with their times
//	DryRun    find what is wrong, keep nothing
//	KeepGood  keep the good rows even when there are bad ones
//	Rejects   takes the bad rows, under the header, when KeepGood; nil for nowhere
//	Progress  is told how many rows were read, from time to time; may be nil
type ImportOptions struct {
	Source   string
	DryRun   bool
	KeepGood bool
	Rejects  io.Writer
	Progress func(rows int)
}

// Imported tells what became of the rows of an import.
//
//	Bad        what is wrong, row by row; the first MaxBadRows of them
//	BadRows    how many rows are bad
//	Ignored    columns that are not read
//	Twice      how many of the rows kept are in the catalogue already, from before: the
//	           same kind at the same instant in the same place
//	First, Last  the marks, whose ids follow one another
type Imported struct {
	Rows, Kept, BadRows, Twice int
	Bad                        []*BadRow
	Ignored                    []string
	First, Last                catalog.MarkID
}

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
	im := importer{keeper: k, opts: opts, rows: rows, frames: map[time.Time]catalog.FrameID{}}
	im.done.Ignored = rows.ignored
	if opts.Rejects != nil {
		im.rejects = csv.NewWriter(opts.Rejects)
	}
	if opts.Source == "" {
		im.opts.Source = "import"
	}
	err = k.update(ctx, "import positions "+opts.Source, im.run)
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
	keeper  Keeper
	opts    ImportOptions
	rows    *positionReader
	rejects *csv.Writer
	frames  map[time.Time]catalog.FrameID
	done    Imported
	waiting []importedMark
	before  standing
	headed  bool // the rejects have their header
}

// importChunk is how many rows are held in memory.
const importChunk = 5000

func (im *importer) run(tx *store.Tx) error {
	for {
		m, record, err := im.rows.next()
		if err == io.EOF {
			break
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
		im.rejects.Flush()
		return im.rejects.Error()
	}
	return nil
}

// refuse notes a bad row.
func (im *importer) refuse(bad *BadRow, record []string) error {
	im.done.BadRows++
	if len(im.done.Bad) < MaxBadRows {
		im.done.Bad = append(im.done.Bad, bad)
	}
	if im.rejects == nil || !im.opts.KeepGood || im.opts.DryRun || record == nil {
		return nil
	}
	if !im.headed {
		im.headed = true
		if err := im.rejects.Write(im.rows.header); err != nil {
			return err
		}
	}
	return im.rejects.Write(record)
}

// keep writes the rows that wait; once a bad one was met that spoils all, there is
// no need to.
func (im *importer) keep(tx *store.Tx) error {
	defer func() { im.waiting = im.waiting[:0] }()
	twice, err := im.before.count(tx, im.waiting, im.done.First)
	if err != nil {
		return err
	}
	im.done.Twice += twice
	if len(im.waiting) == 0 || im.opts.DryRun || im.done.BadRows > 0 && !im.opts.KeepGood {
		return nil
	}
	var instants []catalog.Frame
	for _, m := range im.waiting {
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
	marks := make([]catalog.Mark, len(im.waiting))
	for i, m := range im.waiting {
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
	return nil
}
