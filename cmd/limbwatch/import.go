package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

func newImportCommand(app *app) *cobra.Command {
	return group("import", "Take records from elsewhere into the catalogue", "",
		newImportPositionsCommand(app),
		newImportRecordCommand(app),
	)
}

// importOptions are what "import positions" was told.
type importOptions struct {
	dryRun, keepGood bool
	rejects          string
	json             bool
}

func newImportPositionsCommand(app *app) *cobra.Command {
	var opts importOptions
	cmd := &cobra.Command{
		Use:   "positions FILE.csv|-",
		Short: "Import marks by their positions from a CSV file, as one change",
		Long: `Positions reads a CSV file whose first line names its columns, in any order:

  kind       sunspot, plage, filament, prominence or other
  utc        the instant, as 2026-03-14T09:12:05Z; Z may be left out
  lat_deg    heliographic latitude, north positive, with either of
  lon_deg    Carrington longitude, 0 to 360
  cmd_deg    distance from the central meridian, west positive
  pa_deg     where there is no latitude: position angle from celestial north
             through east, with either of
  r          distance from the disc's centre in radii of the photosphere
  height_mm  height above the photosphere, in megametres (Mm)
  label, note, sigma_deg, sigma_r, sigma_pa_deg  may be missing or empty, as may
  sigma_lat_deg, sigma_lon_deg and sigma_height_mm

Other columns are told and left out. Nothing is kept unless every row can be, or
--keep-good is said; the refused rows then go to a file with --rejects. A --dry-run
with bad rows ends with exit code 1 too. The whole import is one change, taken back by
one undo.`,
		Example: `  limbwatch import positions old-log.csv --dry-run
  limbwatch import positions old-log.csv
  limbwatch import positions old-log.csv --keep-good --rejects bad.csv`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			if opts.rejects != "" && !opts.keepGood {
				return misuse("--rejects goes with --keep-good: otherwise nothing is kept while a row is bad")
			}
			return runImportPositions(ctx, app, k, args[0], opts)
		}),
	}
	f := cmd.Flags()
	f.BoolVar(&opts.dryRun, "dry-run", false, "say what is wrong, row by row, and keep nothing")
	f.BoolVar(&opts.keepGood, "keep-good", false, "keep the good rows even when there are bad ones")
	f.StringVar(&opts.rejects, "rejects", "", "`file` for the refused rows")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

func runImportPositions(ctx context.Context, app *app, k observe.Keeper, path string, opts importOptions) (err error) {
	in, source := app.stdin, "standard input"
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return withHint(err, "name a CSV file, or - for standard input")
		}
		defer file.Close()
		in, source = file, filepath.Base(path)
	}
	how := observe.ImportOptions{Source: source, DryRun: opts.dryRun, KeepGood: opts.keepGood}
	if opts.rejects != "" {
		rejects, oerr := os.OpenFile(opts.rejects, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if errors.Is(oerr, os.ErrExist) {
			return withHint(fmt.Errorf("file %q is there already", opts.rejects), "name another one after --rejects")
		}
		if oerr != nil {
			return oerr
		}
		defer func() {
			err = errors.Join(err, rejects.Close())
			if err != nil { // nothing was kept: no row was turned away
				err = errors.Join(err, os.Remove(opts.rejects))
			}
		}()
		how.Rejects = rejects
	}
	spinner := newSpinner(app.stderr, "rows read")
	how.Progress = spinner.at
	done, err := k.ImportPositions(ctx, in, how)
	spinner.clear()
	if bad, ok := errors.AsType[*observe.BadRowsError](err); ok {
		printBadRows(app.stderr, bad.Imported)
		return withHint(err, "mend the rows, or keep the good ones with --keep-good")
	}
	if err != nil {
		return fmt.Errorf("%s: %w", source, err)
	}
	if opts.json {
		err = printJSON(app.stdout, newImportRow(done, opts.dryRun))
	} else {
		err = printImported(app.stdout, app.stderr, done, opts.dryRun)
	}
	if err == nil && opts.dryRun && done.BadRows > 0 && !opts.keepGood {
		err = withHint(&observe.BadRowsError{Imported: done}, "mend the rows, or keep the good ones with --keep-good")
	}
	return err
}

// importRow is what became of an import, as JSON names it.
type importRow struct {
	Rows      int      `json:"rows"`
	Kept      int      `json:"kept"`
	BadRows   int      `json:"bad_rows"`
	Bad       []string `json:"bad"`
	Ignored   []string `json:"ignored_columns"`
	Twice     int      `json:"rows_there_already"`
	FirstMark string   `json:"first_mark,omitempty"`
	LastMark  string   `json:"last_mark,omitempty"`
	DryRun    bool     `json:"dry_run"`
}

func newImportRow(done observe.Imported, dryRun bool) importRow {
	row := importRow{Rows: done.Rows, Kept: done.Kept, BadRows: done.BadRows, Bad: []string{}, Ignored: done.Ignored, Twice: done.Twice, DryRun: dryRun}
	if row.Ignored == nil {
		row.Ignored = []string{}
	}
	for _, bad := range done.Bad {
		row.Bad = append(row.Bad, bad.Error())
	}
	if done.First != 0 {
		row.FirstMark, row.LastMark = done.First.String(), done.Last.String()
	}
	return row
}

func printBadRows(w io.Writer, done observe.Imported) {
	for _, bad := range done.Bad {
		fmt.Fprintf(w, "limbwatch: %v\n", bad)
	}
	if more := done.BadRows - len(done.Bad); more > 0 {
		fmt.Fprintf(w, "limbwatch: and %d more\n", more)
	}
}

func printImported(w, stderr io.Writer, done observe.Imported, dryRun bool) error {
	printBadRows(stderr, done)
	if len(done.Ignored) > 0 {
		fmt.Fprintf(stderr, "limbwatch: note: columns not read: %s\n", strings.Join(done.Ignored, ", "))
	}
	if done.Twice > 0 {
		advice := "limbwatch undo takes the import back"
		if dryRun {
			advice = "kept, they would stand twice"
		}
		fmt.Fprintf(stderr, "limbwatch: note: %d of the rows are in the catalogue already, the same kind in the same place at the same time: %s\n", done.Twice, advice)
	}
	var err error
	switch {
	case dryRun:
		_, err = fmt.Fprintf(w, "dry run: %s, %d of them bad; nothing was kept\n", counted(done.Rows, "row"), done.BadRows)
	case done.First == catalog.MarkID(0):
		_, err = fmt.Fprintf(w, "%s, none kept\n", counted(done.Rows, "row"))
	case done.First == done.Last:
		_, err = fmt.Fprintf(w, "%d of %s kept, mark %s\n", done.Kept, counted(done.Rows, "row"), done.First)
	default:
		_, err = fmt.Fprintf(w, "%d of %s kept, marks %s to %s\n", done.Kept, counted(done.Rows, "row"), done.First, done.Last)
	}
	return err
}
