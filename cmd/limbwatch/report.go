package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog/exchange"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/measure"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/wholefile"
	"limbwatch/coords/plainfile"
)

// reportOptions are what "log report" was told.
type reportOptions struct {
	period   periodFlags
	observer string
	out      string
	words    string
	k        float64
	paper    string
	formats  []string
	force    bool
}

// reportFormats are the files of a report, by their endings.
var reportFormats = []string{"html", "pdf", "md", "csv", "ecsv", "vot", "jsonl"}

func newLogReportCommand(app *app) *cobra.Command {
	opts := reportOptions{k: 1, paper: "A4", formats: reportFormats}
	cmd := &cobra.Command{
		Use:   "report",
		Short: "Write the report of a month or a rotation for others to read",
		Long: `Report writes the observer's record of a month, a rotation or any stretch of UT days
as one HTML file that needs no other and as a PDF of the same: the days observed, the
daily counts by hemisphere, mean daily frequencies, filaments with their passages,
prominences and the filaments they belong to, an annotated disc a day, the strip map
of the rotation, how it was measured and how exactly.

Blank is not zero: a kind that no sitting of a day looked for is blank, one that was
looked for and not seen is 0. A thing marked on two frames of a day counts once.

Beside them go, under the same name, the marks as CSV (.csv), ECSV 1.0 (.ecsv) and
VOTable 1.4 (.vot), the text as Markdown (.md), and the whole record of these days as
JSON Lines (.jsonl), which "import record" reads back. The columns of the marks:

` + report.MarkColumns() + `

Nothing is written over unless --force says so.`,
		Example: `  limbwatch log report --month 2026-03
  limbwatch log report --rotation 2309 --out reports
  limbwatch log report --from 2026-03-10 --to 2026-03-20 --out march.pdf --words words.txt`,
		Args: cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			return runReport(ctx, app, cmd.OutOrStdout(), k, opts)
		}),
	}
	f := cmd.Flags()
	opts.period.addFlags(cmd)
	f.StringVar(&opts.observer, "observer", "", "only what this observer saw, by `name`, code or id (default: everybody)")
	f.StringVar(&opts.out, "out", ".", "`folder` for the files, or one file, whose ending says which format")
	f.StringVar(&opts.words, "words", "", "`file` with your own words, put in front; paragraphs apart by empty lines")
	f.Float64Var(&opts.k, "k", 1, "the observer's `factor` in R = k (10 g + f)")
	f.StringVar(&opts.paper, "paper", "A4", "`paper` of the PDF, A4 or Letter")
	f.StringSliceVar(&opts.formats, "formats", reportFormats, "the `formats` to write, when --out is a folder")
	f.BoolVar(&opts.force, "force", false, "write over files that are there")
	return cmd
}

// periodFlags choose the days of a report.
type periodFlags struct {
	month, from, to string
	rotation        int
}

func (p *periodFlags) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&p.month, "month", "", "calendar `month` of UT, as 2026-03")
	f.IntVar(&p.rotation, "rotation", 0, "Carrington rotation, by its `number`")
	f.StringVar(&p.from, "from", "", "first UT `day`, as 2026-03-01")
	f.StringVar(&p.to, "to", "", "last UT `day`, the whole of it")
	cmd.MarkFlagsMutuallyExclusive("month", "rotation", "from")
	cmd.MarkFlagsRequiredTogether("from", "to")
}

// maxReportDays bounds a report: a longer one draws more discs than anybody looks at.
const maxReportDays = 400

func (p *periodFlags) resolve() (report.Period, error) {
	switch {
	case p.month != "":
		t, err := time.Parse("2006-01", p.month)
		if err != nil {
			return report.Period{}, misuse("month %q: want it as 2026-03", p.month)
		}
		return report.Month(t), nil
	case p.rotation != 0:
		if p.rotation < 1 || p.rotation > 5000 {
			return report.Period{}, misuse("rotation %d: want 1 to 5000", p.rotation)
		}
		return report.Rotation(p.rotation), nil
	case p.from == "":
		return report.Period{}, misuse("a report of when? Say --month 2026-03, --rotation 2309, or --from and --to")
	}
	from, err := time.Parse(time.DateOnly, p.from)
	if err != nil {
		return report.Period{}, misuse("day %q: want it as 2026-03-14", p.from)
	}
	to, err := time.Parse(time.DateOnly, p.to)
	if err != nil {
		return report.Period{}, misuse("day %q: want it as 2026-03-14", p.to)
	}
	period := report.Period{From: from, To: to.AddDate(0, 0, 1)}
	if !from.Before(period.To) {
		return report.Period{}, misuse("--from %s is after --to %s", p.from, p.to)
	}
	if period.Days() > maxReportDays {
		return report.Period{}, misuse("a report of %d days: at most %d", period.Days(), maxReportDays)
	}
	return period, nil
}

func runReport(ctx context.Context, app *app, w io.Writer, k observe.Keeper, opts reportOptions) error {
	period, err := opts.period.resolve()
	if err != nil {
		return err
	}
	files, err := opts.files(period)
	if err != nil {
		return err
	}
	choice := gather.ReportOptions{Period: period, Note: func(text string) { fmt.Fprintf(app.stderr, "limbwatch: note: %s\n", text) }}
	if opts.observer != "" {
		o, err := findObserver(k.Store.Read(ctx), opts.observer)
		if err != nil {
			return err
		}
		choice.Observer = o.ID
	}
	in, err := gather.Report(ctx, k, choice)
	if err != nil {
		return err
	}
	in.Cautions, in.Program = cautions, programName()
	if in.K = opts.k; !(in.K > 0 && in.K < 100) {
		return misuse("--k %g: want more than 0 and less than 100", opts.k)
	}
	if opts.words != "" {
		words, err := plainfile.Read(opts.words, maxWordsBytes)
		if err != nil {
			return withHint(err, "name a text file after --words")
		}
		in.Words = string(words)
	}
	if err := opts.write(ctx, k, in, files); err != nil {
		return err
	}
	if len(in.Sittings)+len(in.Entries) == 0 {
		fmt.Fprintln(app.stderr, "limbwatch: note: an empty report: nothing was observed in this time; limbwatch sitting list shows when something was")
	}
	for _, f := range files {
		fmt.Fprintln(w, f.path)
	}
	return nil
}

// maxWordsBytes is more than anybody writes before a report.
const maxWordsBytes = 1 << 20

// reportFile is a file to be written.
type reportFile struct{ path, format string }

// files says which files are wanted, and refuses to write over any unasked.
func (o reportOptions) files(period report.Period) ([]reportFile, error) {
	var files []reportFile
	if format := strings.TrimPrefix(strings.ToLower(filepath.Ext(o.out)), "."); format != "" && !isFolder(o.out) {
		if !knownFormat(format) {
			return nil, misuse("--out %q: want a folder, or a file that ends in .%s", o.out, strings.Join(reportFormats, ", ."))
		}
		files = append(files, reportFile{o.out, format})
	} else {
		for _, format := range o.formats {
			if !knownFormat(format) {
				return nil, misuse("--formats %q: want %s", format, strings.Join(reportFormats, ", "))
			}
			files = append(files, reportFile{filepath.Join(o.out, "sun-"+periodName(period)+"."+format), format})
		}
	}
	for _, f := range files {
		if info, err := os.Stat(f.path); err == nil && !o.force && info.Mode().IsRegular() {
			return nil, withHint(fmt.Errorf("file %q is there already", f.path), "name another place with --out, or say --force")
		} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
	return files, nil
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

func knownFormat(format string) bool {
	for _, f := range reportFormats {
		if f == format {
			return true
		}
	}
	return false
}

// periodName is what files of a period are called.
func periodName(p report.Period) string {
	switch {
	case p.Rotation > 0:
		return fmt.Sprintf("rotation-%d", p.Rotation)
	case p == report.Month(p.From):
		return p.From.Format("2006-01")
	}
	return p.From.Format(time.DateOnly) + "-to-" + p.To.AddDate(0, 0, -1).Format(time.DateOnly)
}

// write makes all files in memory first, so that an error leaves none.
func (o reportOptions) write(ctx context.Context, k observe.Keeper, in report.Input, files []reportFile) error {
	paper, err := report.ParsePaper(o.paper)
	if err != nil {
		return &misuseError{err}
	}
	var doc report.Document
	for _, f := range files {
		if f.format == "html" || f.format == "pdf" || f.format == "md" {
			if doc, err = report.New(in); err != nil {
				return err
			}
			break
		}
	}
	made, failed := make([]bytes.Buffer, len(files)), make([]error, len(files))
	var writers sync.WaitGroup
	for i, f := range files {
		writers.Go(func() { failed[i] = writeReport(ctx, k, &made[i], f.format, doc, in, paper) })
	}
	writers.Wait()
	for i, err := range failed {
		if err != nil {
			return fmt.Errorf("%s: %w", files[i].path, err)
		}
	}
	for i, f := range files {
		if err := wholefile.Folder(filepath.Dir(f.path)); err != nil {
			return err
		}
		if err := writeNew(ctx, k, f.path, made[i].Bytes(), o.force); err != nil {
			return err
		}
	}
	return nil
}

func writeReport(ctx context.Context, k observe.Keeper, w io.Writer, format string, doc report.Document, in report.Input, paper report.Paper) error {
	switch format {
	case "html":
		return report.WriteHTML(w, doc)
	case "pdf":
		return report.WritePDF(w, doc, paper)
	case "md":
		return report.WriteMarkdown(w, doc)
	case "jsonl":
		r, err := k.RecordBetween(ctx, in.Period.From, in.Period.To)
		if err != nil {
			return err
		}
		return exchange.Write(w, r, in.Program, in.Made)
	}
	marks, err := gather.MeasureAll(ctx, k, in.Entries)
	if err != nil {
		return err
	}
	return writeMarks(w, format, marks, report.OriginOf(in))
}

// writeMarks writes marks as CSV, ECSV or VOTable.
func writeMarks(w io.Writer, format string, entries []measure.Marked, about report.Origin) error {
	switch format {
	case "csv":
		return report.WriteCSV(w, entries)
	case "ecsv":
		return report.WriteECSV(w, entries, about)
	}
	return report.WriteVOTable(w, entries, about)
}
