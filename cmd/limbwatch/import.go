package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

func newImportCommand(app *app) *cobra.Command {
	return group("import", "Take records from elsewhere into the catalogue", "",
		begins(newImportPositionsCommand(app), dryRunFlag),
		begins(newImportRecordCommand(app), dryRunFlag),
	)
}

// importOptions are what "import positions" was told.
type importOptions struct {
	dryRun, keepGood bool
	again, force     bool
	group, single    bool
	observer         string
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
  utc        the instant, as 2026-03-14T09:12:05Z; Z may be left out. 24:00:00 is the
             end of that day, kept as its last millisecond
  lat_deg    heliographic latitude, north positive, with either of
  lon_deg    Carrington longitude, 0 to 360, which goes before
  cmd_deg    distance from the central meridian, west positive
  pa_deg     where there is no latitude: position angle from celestial north
             through east, with either of
  r          distance from the disc's centre in radii of the photosphere
  height_km  height above the photosphere in kilometres, which goes before

These may be missing or empty:

  sigma_deg, sigma_lat_deg, sigma_lon_deg, sigma_r, sigma_pa_deg, sigma_height_km
  pa_from_deg, pa_to_deg   the feet of what stands beyond the limb, or
  extent_deg               how far it reaches along the limb
  extent, spots            of a sunspot: group or single; how many spots were counted
  area_msh, length_km, tilt_deg, and sigma_area_msh and so on: its size as given
  given_height_km, sigma_given_height_km   height by the observer's word; beside a
                           place height_km means the same
  label, aliases (apart by |), note
  observer                 a name or code; one that is new is added
  uuid                     of the mark that the row was written from

So what "export marks" writes is read back; its other columns follow from these, and
passages from following. Columns in _mm, as older exports have them, are heights and
lengths in megametres. Other columns are told and left out. --group, --single and
--observer stand for rows that do not say.

A row that stands in the catalogue already, the same kind at the same instant in the
same place, is told and not kept again, as often as it stands there; --again keeps it.
Told row by row and kept are rows whose lon_deg and cmd_deg contradict each other beyond
the digits as printed, or their place and pa_deg with r; rows that stand twice in the
file; and places that lay behind the Sun. What can hardly be meant, as a prominence in
the middle of the disc, is refused unless --force is said.

Nothing is kept unless every row can be, or --keep-good is said; the refused rows then
go to a file with --rejects, each with the reason. A --dry-run with bad rows ends with
exit code 1 too. The whole import is one change, taken back by one undo.`,
		Example: `  limbwatch import positions old-log.csv --dry-run
  limbwatch import positions groups-1937.csv --group --observer "R. Vane"
  limbwatch import positions old-log.csv --keep-good --rejects bad.csv`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			if opts.rejects != "" && !opts.keepGood {
				return misuse("--rejects goes with --keep-good: otherwise nothing is kept while a row is bad")
			}
			k.Force = opts.force
			return runImportPositions(ctx, app, k, args[0], opts)
		}),
	}
	f := cmd.Flags()
	f.BoolVar(&opts.dryRun, "dry-run", false, "say what is wrong, row by row, and keep nothing")
	f.BoolVar(&opts.keepGood, "keep-good", false, "keep the good rows even when there are bad ones")
	f.StringVar(&opts.rejects, "rejects", "", "`file` for the refused rows, with the reasons")
	f.BoolVar(&opts.again, "again", false, "keep rows that are in the catalogue already, too")
	f.BoolVar(&opts.force, "force", false, "keep figures that look like a slip")
	f.BoolVar(&opts.group, "group", false, "sunspot rows that do not say are whole groups")
	f.BoolVar(&opts.single, "single", false, "sunspot rows that do not say are single spots")
	f.StringVar(&opts.observer, "observer", "", "who marked the rows that do not say, by `name`, code or id")
	cmd.MarkFlagsMutuallyExclusive("group", "single")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// extent is what the flags say of sunspot rows.
func (o importOptions) extent() catalog.Extent {
	switch {
	case o.group:
		return catalog.SpotGroup
	case o.single:
		return catalog.SingleSpot
	}
	return catalog.ExtentUnknown
}

func runImportPositions(ctx context.Context, app *app, k observe.Keeper, path string, opts importOptions) (err error) {
	in, source, err := app.openInput(path, "a CSV file")
	if err != nil {
		return err
	}
	defer in.Close()
	how := observe.ImportOptions{Source: source, DryRun: opts.dryRun, KeepGood: opts.keepGood, Again: opts.again, Extent: opts.extent()}
	if opts.observer != "" {
		who, err := findObserver(k.Store.Read(ctx), opts.observer)
		if err != nil {
			return err
		}
		how.Observer = who.ID
	}
	if opts.rejects != "" {
		rejects, oerr := newRejects(opts.rejects)
		if oerr != nil {
			return oerr
		}
		defer rejects.Discard()
		defer func() {
			if err == nil { // otherwise nothing was kept: no row was turned away
				err = rejects.Keep()
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
		err = printImported(app.stdout, app.stderr, done, opts)
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
	ToldRows  int      `json:"odd_rows_kept"`
	Told      []string `json:"odd"`
	Common    string   `json:"odd_in_common,omitempty"`
	Ignored   []string `json:"ignored_columns"`
	Following []string `json:"columns_worked_out_anew"`
	TwiceRows int      `json:"rows_there_already"`
	Twice     []string `json:"there_already"`
	Observers []string `json:"new_observers"`
	Unplaced  []string `json:"without_position"`
	FirstMark string   `json:"first_mark,omitempty"`
	LastMark  string   `json:"last_mark,omitempty"`
	DryRun    bool     `json:"dry_run"`
}

func newImportRow(done observe.Imported, dryRun bool) importRow {
	row := importRow{Rows: done.Rows, Kept: done.Kept, BadRows: done.BadRows, ToldRows: done.ToldRows, Common: done.Common,
		Bad: []string{}, Told: []string{}, Twice: []string{}, TwiceRows: done.TwiceRows, DryRun: dryRun,
		Unplaced: unplacedTexts(done.Unplaced), Ignored: listed(done.Ignored), Following: listed(done.Following), Observers: listed(done.Observers)}
	for _, bad := range done.Bad {
		row.Bad = append(row.Bad, bad.Error())
	}
	for _, told := range done.Told {
		row.Told = append(row.Told, told.String())
	}
	for _, twice := range done.Twice {
		row.Twice = append(row.Twice, twice.String())
	}
	if done.First != 0 {
		row.FirstMark, row.LastMark = done.First.String(), done.Last.String()
	}
	return row
}

// listed is a list that JSON writes as one even when it is empty.
func listed(texts []string) []string { return append([]string{}, texts...) }

func printBadRows(w io.Writer, done observe.Imported) {
	for _, bad := range done.Bad {
		fmt.Fprintf(w, "limbwatch: %v\n", bad)
	}
	if more := done.BadRows - len(done.Bad); more > 0 {
		fmt.Fprintf(w, "limbwatch: and %d more\n", more)
	}
}

// printTold tells of rows that are good and yet not as they seem.
func printTold(w io.Writer, done observe.Imported, opts importOptions) {
	const mostTold = 50
	for _, told := range done.Told[:min(mostTold, len(done.Told))] {
		fmt.Fprintf(w, "limbwatch: note: %s\n", told)
	}
	if more := done.ToldRows - mostTold; more > 0 {
		fmt.Fprintf(w, "limbwatch: note: and %d more such rows (--json lists the first %d)\n", more, observe.MaxBadRows)
	}
	if done.Common != "" {
		fmt.Fprintf(w, "limbwatch: note: %s: check the column utc\n", done.Common)
	}
	if len(done.Ignored) > 0 {
		fmt.Fprintf(w, "limbwatch: note: columns not read: %s\n", strings.Join(done.Ignored, ", "))
	}
	if len(done.Following) > 0 {
		fmt.Fprintf(w, "limbwatch: note: worked out anew and not read: %s\n", strings.Join(done.Following, ", "))
	}
	if len(done.Observers) > 0 {
		fmt.Fprintf(w, "limbwatch: note: new observers: %s\n", strings.Join(done.Observers, ", "))
	}
	if done.TwiceRows == 0 {
		return
	}
	const most = 3
	var first []string
	for _, twice := range done.Twice[:min(most, len(done.Twice))] {
		first = append(first, twice.String())
	}
	if done.TwiceRows > most {
		first = append(first, "…")
	}
	became := "not kept again; --again keeps them all the same"
	switch {
	case opts.again && opts.dryRun:
		became = "kept, they would stand twice"
	case opts.again:
		became = "they stand twice now; limbwatch undo takes the import back"
	}
	fmt.Fprintf(w, "limbwatch: note: in the catalogue already: %s (%s), %s\n", counted(done.TwiceRows, "row"), strings.Join(first, ", "), became)
}

func printImported(w, stderr io.Writer, done observe.Imported, opts importOptions) error {
	printBadRows(stderr, done)
	printUnplaced(stderr, done.Unplaced)
	printTold(stderr, done, opts)
	var err error
	switch {
	case opts.dryRun:
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
