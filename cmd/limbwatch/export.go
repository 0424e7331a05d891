package main

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/store"
)

func newExportCommand(app *app) *cobra.Command {
	return group("export", "Write the record to files that other programs read", "",
		newExportMarksCommand(app),
		newExportRecordCommand(app),
	)
}

// exportOptions are what an export was told.
type exportOptions struct {
	when      rangeFlags
	kinds     []string
	fileNames bool
	force     bool
}

func newExportMarksCommand(app *app) *cobra.Command {
	var opts exportOptions
	cmd := &cobra.Command{
		Use:   "marks FILE.csv|.ecsv|.vot|-",
		Short: "Write the marks with their positions and errors as a table",
		Long: `Marks writes one line a mark, as CSV, ECSV 1.0 or VOTable 1.4: the file's ending says
which; - writes CSV to standard output. What is not known is empty (NaN, and -1 for
counts, in a VOTable). Text that a spreadsheet would take for a formula, a number or a
date gets an apostrophe before it in CSV, which "import positions" takes off again.
The columns, with their units:

` + report.MarkColumns() + `

"import positions" reads the CSV back; columns that follow from others, and passages,
are worked out anew.`,
		Example: `  limbwatch export marks march.csv --from 2026-03-01 --to 2026-03-31
  limbwatch export marks filaments.vot --kind filament`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			return runExportMarks(ctx, app, k, args[0], opts)
		}),
	}
	opts.when.addFlags(cmd)
	cmd.Flags().StringSliceVar(&opts.kinds, "kind", nil, "only these `kinds`: sunspot, plage, filament, prominence, other")
	cmd.Flags().BoolVar(&opts.force, "force", false, "write over a file that is there")
	return cmd
}

func runExportMarks(ctx context.Context, app *app, k observe.Keeper, path string, opts exportOptions) error {
	format := strings.TrimPrefix(strings.ToLower(filepath.Ext(path)), ".")
	switch {
	case path == "-":
		format = "csv"
	case format == "xml", format == "votable":
		format = "vot"
	case format != "csv" && format != "ecsv" && format != "vot":
		return misuse("file %q: want one that ends in .csv, .ecsv or .vot", path)
	}
	q := store.Query{}
	var err error
	if q.From, q.To, err = opts.when.resolve(); err != nil {
		return err
	}
	for _, text := range opts.kinds {
		kind, err := catalog.ParseKind(text)
		if err != nil {
			return &misuseError{err}
		}
		q.Kinds = append(q.Kinds, kind)
	}
	entries, err := k.Store.Read(ctx).Entries(q)
	if err != nil {
		return err
	}
	marks, err := gather.MeasureAll(ctx, k, entries)
	if err != nil {
		return err
	}
	about := report.Origin{Title: "Marks on the Sun", Program: programName(), Made: formatUTC(app.now())}
	if path == "-" {
		return report.WriteCSV(app.data(), marks)
	}
	var made bytes.Buffer
	if err := writeMarks(&made, format, marks, about); err != nil {
		return err
	}
	if err := writeNew(ctx, k, path, made.Bytes(), opts.force); err != nil {
		return err
	}
	if len(entries) == 0 {
		fmt.Fprintln(app.stderr, "limbwatch: note: no mark was found; limbwatch log shows what there is, limbwatch mark add makes the first")
	}
	_, err = fmt.Fprintf(app.stdout, "%s in %s\n", counted(len(entries), "mark"), path)
	return err
}

func newExportRecordCommand(app *app) *cobra.Command {
	var opts exportOptions
	cmd := &cobra.Command{
		Use:   "record FILE.jsonl|-",
		Short: "Write everything the catalogue keeps, to be read back to the last digit",
		Long: `Record writes all observers, sites, instruments, sittings, counts, frames, discs,
norths, warnings, marks, passages, joins and links as JSON Lines; "import record" reads
them back to the last digit, into this or another catalogue. With --from and --to it
writes what was seen in that time and all it names. Pictures, the history and what was
removed are not in the file. Its last line tells whoever reads it whether it is whole.

` + exchange.Fields,
		Example: `  limbwatch export record everything.jsonl
  limbwatch export record march.jsonl --from 2026-03-01 --to 2026-03-31 --file-names`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			return runExportRecord(ctx, app, k, args[0], opts)
		}),
	}
	opts.when.addFlags(cmd)
	cmd.Flags().BoolVar(&opts.fileNames, "file-names", false, "of pictures the file's name only, not your folders")
	cmd.Flags().BoolVar(&opts.force, "force", false, "write over a file that is there")
	return cmd
}

func runExportRecord(ctx context.Context, app *app, k observe.Keeper, path string, opts exportOptions) error {
	from, to, err := opts.when.resolve()
	if err != nil {
		return err
	}
	r, err := k.RecordBetween(ctx, from, to)
	if err != nil {
		return err
	}
	if opts.fileNames {
		for i := range r.Frames {
			if r.Frames[i].HasFile() {
				r.Frames[i].Path = filepath.Base(r.Frames[i].Path)
			}
		}
	}
	if path == "-" {
		return exchange.Write(app.data(), r, programName(), app.now())
	}
	var made bytes.Buffer
	if err := exchange.Write(&made, r, programName(), app.now()); err != nil {
		return err
	}
	if err := writeNew(ctx, k, path, made.Bytes(), opts.force); err != nil {
		return err
	}
	if len(r.Sittings)+len(r.Frames)+len(r.Marks) == 0 {
		fmt.Fprintln(app.stderr, "limbwatch: note: nothing was observed in this range; limbwatch sitting list shows when something was")
	}
	_, err = fmt.Fprintf(app.stdout, "%s, %s, %s, %s in %s\n",
		counted(len(r.Sittings), "sitting"), counted(len(r.Frames), "frame"), counted(len(r.Marks), "mark"), counted(len(r.Passages), "passage"), path)
	return err
}
