package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/store"
)

// logOptions choose what the log shows, and how.
type logOptions struct {
	when           rangeFlags
	kinds          []string
	frame, passage string
	label          string
	references     bool
	json, csv, tsv bool
}

func (o *logOptions) addFlags(cmd *cobra.Command) {
	o.when.addFlags(cmd)
	f := cmd.Flags()
	f.StringSliceVar(&o.kinds, "kind", nil, "only these `kinds`: sunspot, plage, filament, prominence, other")
	f.StringVar(&o.frame, "frame", "", "only marks on this `frame`")
	f.StringVar(&o.passage, "passage", "", "only marks of this `passage`, by name or id")
	f.StringVar(&o.label, "label", "", "only marks with this `label` or alias")
	f.BoolVar(&o.references, "references", false, "marks on reference frames too")
	f.BoolVar(&o.csv, "csv", false, "write CSV with all digits, positions in degrees")
	f.BoolVar(&o.tsv, "tsv", false, "write the same with tabs")
	addJSONFlag(cmd, &o.json)
	cmd.MarkFlagsMutuallyExclusive("json", "csv", "tsv")
}

// query turns the options into what the store is asked.
func (o *logOptions) query(v *store.View) (q store.Query, err error) {
	if q.From, q.To, err = o.when.resolve(); err != nil {
		return q, err
	}
	for _, text := range o.kinds {
		kind, err := catalog.ParseKind(text)
		if err != nil {
			return q, &misuseError{err}
		}
		q.Kinds = append(q.Kinds, kind)
	}
	if o.frame != "" {
		if q.Frame, err = parseFrame(o.frame); err != nil {
			return q, err
		}
		if _, err := v.Frame(q.Frame); err != nil {
			return q, err
		}
	}
	if o.passage != "" {
		p, err := findPassage(v, o.passage)
		if err != nil {
			return q, err
		}
		q.Passage = p.ID
	}
	q.Label, q.References = o.label, o.references
	return q, nil
}

func newLogCommand(app *app) *cobra.Command {
	var opts logOptions
	cmd := &cobra.Command{
		Use:   "log",
		Short: "Print the marks with their positions and errors",
		Long: `Log prints marks in the order of time, with their positions and errors: as a table,
as CSV or TSV with every digit, or as JSON. The columns, and the names in JSON, are
those that "export marks --help" lists, measured areas and lengths with them.

The positions are read as on the photosphere; where a mark stands high the
corrected_… columns give its place at that height, with the height's error in
theirs. Longitudes are Carrington's, distances from the meridian (cmd_deg) west
positive. What stands beyond the limb has a position angle, from celestial north
through east, and a height, for people in megametres (Mm), in CSV, TSV and JSON in
kilometres.`,
		Example: `  limbwatch log
  limbwatch log --from 2026-03-01 --to 2026-03-31 --kind filament,prominence
  limbwatch log --csv > march.csv`,
		Args: onlySubcommands,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			w := cmd.OutOrStdout()
			if opts.csv || opts.tsv {
				w = app.data()
			}
			return runLog(ctx, w, k, &opts)
		}),
	}
	opts.addFlags(cmd)
	cmd.AddCommand(newLogReportCommand(app), begins(newLogDayCommand(app), ""))
	return cmd
}

func runLog(ctx context.Context, w io.Writer, k observe.Keeper, opts *logOptions) error {
	v := k.Store.Read(ctx)
	q, err := opts.query(v)
	if err != nil {
		return err
	}
	switch {
	case opts.json:
		return logJSON(ctx, w, k, q)
	case opts.csv:
		return logSeparated(ctx, w, k, q, ',')
	case opts.tsv:
		return logSeparated(ctx, w, k, q, '\t')
	}
	return logTable(w, v, q)
}

func logTable(w io.Writer, v *store.View, q store.Query) error {
	t := newTable("", "middle of the exposure", "kind", "position", "passage", "label")
	err := v.EachEntry(q, func(e catalog.Entry) error {
		t.add(e.Mark.ID.String(), e.Position.UTC.UTC().Format("2006-01-02 15:04:05Z"), e.Mark.Kind.String(), where(e.Position), e.PassageName, e.Mark.Label)
		return nil
	})
	if err != nil {
		return err
	}
	return t.print(w, "no mark in this range: limbwatch mark add KIND --frame FRAME --point X,Y")
}

// logSeparated writes CSV or TSV row by row, so that a long log needs no memory. Its
// columns are those of export marks.
func logSeparated(ctx context.Context, w io.Writer, k observe.Keeper, q store.Query, comma rune) error {
	measurer := gather.NewMeasurer(ctx, k)
	table, err := report.NewMarkWriter(w, comma)
	if err != nil {
		return err
	}
	err = k.Store.Read(ctx).EachEntry(q, func(e catalog.Entry) error {
		m, err := measurer.Measure(e)
		if err != nil {
			return err
		}
		return table.Write(m)
	})
	if err != nil {
		return err
	}
	return table.Close()
}

// logJSON writes a list, one mark after the other.
func logJSON(ctx context.Context, w io.Writer, k observe.Keeper, q store.Query) error {
	measurer := gather.NewMeasurer(ctx, k)
	buffer := bufio.NewWriterSize(w, 1<<16)
	separator := "[\n"
	err := k.Store.Read(ctx).EachEntry(q, func(e catalog.Entry) error {
		m, err := measurer.Measure(e)
		if err != nil {
			return err
		}
		text, err := json.MarshalIndent(markRow{m}, "  ", "  ")
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(buffer, "%s  %s", separator, text)
		separator = ",\n"
		return err
	})
	if err != nil {
		return err
	}
	if separator == "[\n" {
		buffer.WriteString("[")
	}
	buffer.WriteString("\n]\n")
	return buffer.Flush()
}

// findPassage takes an id or a name.
func findPassage(v *store.View, text string) (catalog.Passage, error) {
	if id, err := catalog.ParsePassageID(text); err == nil {
		p, err := v.Passage(id)
		return p, adviseStore(err)
	}
	p, err := v.PassageNamed(text)
	if err != nil {
		return p, withHint(err, "see limbwatch track list")
	}
	return p, nil
}
