package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"limbwatch/catalog/exchange"
	"limbwatch/catalog/observe"
)

// importRecordOptions are what "import record" was told.
type importRecordOptions struct {
	dryRun bool
	prefer string
	json   bool
}

func newImportRecordCommand(app *app) *cobra.Command {
	opts := importRecordOptions{prefer: "refuse"}
	cmd := &cobra.Command{
		Use:   "record FILE.jsonl|-",
		Short: "Bring a whole record from another catalogue in, as one change",
		Long: `Record reads a file that "export record" wrote and brings it into this catalogue.
What has the same UUID is the same thing; so is what there can be only one of: an
observer or a site of a name, a picture of that content, the disc of a frame. Two
passages of one name stay two, and the new one gets a number behind its name.

Where the file contradicts the catalogue nothing is kept, unless --prefer says whose
word holds: mine leaves what stands here, theirs takes what the file says. Other odds
that the program weighed are no contradiction. Positions are computed anew. The whole
import is one change, taken back by one undo; a --dry-run ends as it would.

` + exchange.Fields,
		Example: `  limbwatch import record march.jsonl --dry-run
  limbwatch import record march.jsonl --prefer mine`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			return runImportRecord(ctx, app, k, args[0], opts)
		}),
	}
	cmd.Flags().BoolVar(&opts.dryRun, "dry-run", false, "say what would become of it, and keep nothing")
	cmd.Flags().StringVar(&opts.prefer, "prefer", "refuse", "whose `word` holds where they differ: refuse, mine or theirs")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

func runImportRecord(ctx context.Context, app *app, k observe.Keeper, path string, opts importRecordOptions) error {
	prefer, err := observe.ParsePreference(opts.prefer)
	if err != nil {
		return &misuseError{err}
	}
	in, source := app.stdin, "standard input"
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return withHint(err, "name a file that limbwatch export record wrote, or - for standard input")
		}
		defer file.Close()
		in, source = file, filepath.Base(path)
	}
	r, err := exchange.Read(in)
	if err != nil {
		return fmt.Errorf("%s: %w", source, err)
	}
	done, err := k.ImportRecord(ctx, r, observe.MergeOptions{Source: source, DryRun: opts.dryRun, Prefer: prefer})
	if clash, ok := errors.AsType[*observe.ConflictsError](err); ok {
		printConflicts(app.stderr, clash.Merged)
		err = withHint(err, "see it with --dry-run, then say --prefer mine or --prefer theirs")
		if slices.ContainsFunc(clash.Merged.Conflicts, func(c observe.Conflict) bool { return c.Removed }) {
			err = withHint(err, "what was removed here stays so with mine; if it came with an import that was undone, limbwatch redo brings that back")
		}
		return err
	}
	if err != nil {
		return err
	}
	if opts.json {
		err = printJSON(app.stdout, newMergedRow(done, opts.dryRun))
	} else {
		printConflicts(app.stderr, done)
		err = printMerged(app.stdout, done, opts.dryRun)
	}
	if err == nil && opts.dryRun && prefer == observe.RefuseConflicts && len(done.Conflicts) > 0 {
		err = withHint(fmt.Errorf("%s here otherwise: nothing would be kept", stand(len(done.Conflicts))), "say --prefer mine or --prefer theirs")
	}
	return err
}

func stand(things int) string {
	if things == 1 {
		return "one thing of the record stands"
	}
	return fmt.Sprintf("%d things of the record stand", things)
}

// maxConflictsShown is how many contradictions are told on the terminal.
const maxConflictsShown = 50

func printConflicts(w io.Writer, m observe.Merged) {
	for i, c := range m.Conflicts {
		if i == maxConflictsShown {
			fmt.Fprintf(w, "limbwatch: and %d more\n", len(m.Conflicts)-i)
			break
		}
		fmt.Fprintf(w, "limbwatch: %s\n", c)
	}
	for _, note := range m.Notes {
		fmt.Fprintf(w, "limbwatch: note: %s\n", note)
	}
}

func printMerged(w io.Writer, m observe.Merged, dryRun bool) error {
	t := newTable("", "in the file", "new", "here already", "changed", "left out")
	for _, n := range m.Nouns {
		t.add(n.Noun, fmt.Sprint(n.Read), fmt.Sprint(n.Added), fmt.Sprint(n.Same), fmt.Sprint(n.Changed), fmt.Sprint(n.LeftOut))
	}
	if err := t.print(w, "an empty record"); err != nil {
		return err
	}
	if dryRun {
		_, err := fmt.Fprintln(w, "dry run: nothing was kept")
		return err
	}
	return nil
}

// mergedRow is what became of a record, as JSON names it.
type mergedRow struct {
	Nouns     []mergedNounRow `json:"nouns"`
	Conflicts []string        `json:"conflicts"`
	Notes     []string        `json:"notes"`
	DryRun    bool            `json:"dry_run"`
}

type mergedNounRow struct {
	Noun    string `json:"noun"`
	Read    int    `json:"read"`
	Added   int    `json:"added"`
	Same    int    `json:"same"`
	Changed int    `json:"changed"`
	LeftOut int    `json:"left_out"`
}

func newMergedRow(m observe.Merged, dryRun bool) mergedRow {
	row := mergedRow{Nouns: []mergedNounRow{}, Conflicts: []string{}, Notes: append([]string{}, m.Notes...), DryRun: dryRun}
	for _, n := range m.Nouns {
		row.Nouns = append(row.Nouns, mergedNounRow(n))
	}
	for _, c := range m.Conflicts {
		row.Conflicts = append(row.Conflicts, c.String())
	}
	return row
}
