package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"limbwatch/catalog/exchange"
	"limbwatch/catalog/observe"
)

// importRecordOptions are what "import record" was told.
type importRecordOptions struct {
	dryRun  bool
	force   bool
	prefer  string
	partial bool
	json    bool
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
that the program weighed are no contradiction. Positions are computed anew. A mark that
can hardly be meant, as a prominence in the middle of the disc, makes the whole record
refused unless --force is said; one that lay behind the Sun is told and kept. The whole
import is one change, taken back by one undo; a --dry-run ends as it would.

A record ends with how much it holds and a check sum of its lines. One that was cut or
changed on its way is refused and what is missing is said; --partial brings in what is
there, without what names something that is missing. Records of older versions of the
format are read with a word that nothing tells whether they are whole.

` + exchange.Fields,
		Example: `  limbwatch import record march.jsonl --dry-run
  limbwatch import record march.jsonl --prefer mine
  limbwatch import record cut-off.jsonl --partial --dry-run`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			k.Force = opts.force
			return runImportRecord(ctx, app, k, args[0], opts)
		}),
	}
	cmd.Flags().BoolVar(&opts.dryRun, "dry-run", false, "say what would become of it, and keep nothing")
	cmd.Flags().StringVar(&opts.prefer, "prefer", "refuse", "whose `word` holds where they differ: refuse, mine or theirs")
	cmd.Flags().BoolVar(&opts.force, "force", false, "keep figures that look like a slip")
	cmd.Flags().BoolVar(&opts.partial, "partial", false, "bring in what there is of a record that was cut or changed")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

func runImportRecord(ctx context.Context, app *app, k observe.Keeper, path string, opts importRecordOptions) error {
	prefer, err := observe.ParsePreference(opts.prefer)
	if err != nil {
		return &misuseError{err}
	}
	in, source, err := app.openInput(path, "a file that limbwatch export record wrote")
	if err != nil {
		return err
	}
	defer in.Close()
	read := exchange.Read
	if opts.partial {
		read = exchange.ReadPartial
	}
	r, whole, err := read(in)
	if _, cut := errors.AsType[*exchange.NotWholeError](err); cut {
		err = withHint(err, "get the file once more from where it was written; --partial brings in what is there")
	}
	if err != nil {
		return fmt.Errorf("%s: %w", source, err)
	}
	switch {
	case !whole.Told:
		fmt.Fprintf(app.stderr, "limbwatch: note: %s: %s\n", source, whole.Words)
	case !whole.Whole:
		fmt.Fprintf(app.stderr, "limbwatch: note: %s: the record is not whole: %s\n", source, whole.Words)
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
	if slips, ok := errors.AsType[*observe.SlipsError](err); ok {
		printConflicts(app.stderr, slips.Merged)
		return withHint(err, keepSlips)
	}
	if err != nil {
		return err
	}
	if opts.json {
		err = printJSON(app.stdout, newMergedRow(done, whole, opts.dryRun))
	} else {
		printConflicts(app.stderr, done)
		err = printMerged(app.stdout, done, opts.dryRun)
	}
	if err == nil && opts.dryRun && prefer == observe.RefuseConflicts && len(done.Conflicts) > 0 {
		err = withHint(fmt.Errorf("%s here otherwise: nothing would be kept", stand(len(done.Conflicts))), "say --prefer mine or --prefer theirs")
	}
	if err == nil && len(done.Slips) > 0 {
		err = withHint(&observe.SlipsError{Merged: done}, keepSlips)
	}
	return err
}

const keepSlips = "put them right where the record is from, or keep them all the same with --force"

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
	printOdd(w, "", m.Slips)
	printOdd(w, "note: ", m.Hidden)
	printUnplaced(w, m.Unplaced)
}

// printOdd tells of marks about which something is odd.
func printOdd(w io.Writer, how string, marks []observe.OddMark) {
	for _, m := range marks[:min(len(marks), maxConflictsShown)] {
		fmt.Fprintf(w, "limbwatch: %s%s\n", how, m)
	}
	if more := len(marks) - maxConflictsShown; more > 0 {
		fmt.Fprintf(w, "limbwatch: %sand %d more\n", how, more)
	}
}

// oddTexts are such marks as JSON lists them.
func oddTexts(marks []observe.OddMark) []string {
	texts := make([]string, 0, len(marks))
	for _, m := range marks {
		texts = append(texts, m.String())
	}
	return texts
}

// printUnplaced tells which marks an import kept without a position.
func printUnplaced(w io.Writer, marks []observe.Unplaced) {
	if len(marks) == 0 {
		return
	}
	has, is := "marks have", "are"
	if len(marks) == 1 {
		has, is = "mark has", "is"
	}
	fmt.Fprintf(w, "limbwatch: note: %d %s no position and %s kept by the figures alone:\n", len(marks), has, is)
	for i, m := range marks {
		if i == maxConflictsShown {
			fmt.Fprintf(w, "limbwatch: and %d more\n", len(marks)-i)
			break
		}
		fmt.Fprintf(w, "limbwatch: %s\n", unplacedText(m))
	}
}

func unplacedText(m observe.Unplaced) string { return fmt.Sprintf("%s: %s", m.Mark, m.Reason) }

// unplacedTexts are the marks without a position as JSON lists them.
func unplacedTexts(marks []observe.Unplaced) []string {
	texts := make([]string, 0, len(marks))
	for _, m := range marks {
		texts = append(texts, unplacedText(m))
	}
	return texts
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

// mergedRow is what became of a record, as JSON names it. Whole is null where nothing in
// the file tells whether it is.
type mergedRow struct {
	Whole     *bool           `json:"whole"`
	About     string          `json:"about_whole,omitempty"`
	Nouns     []mergedNounRow `json:"nouns"`
	Conflicts []string        `json:"conflicts"`
	Notes     []string        `json:"notes"`
	Unplaced  []string        `json:"without_position"`
	Slips     []string        `json:"slips"`
	Hidden    []string        `json:"behind_the_sun"`
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

func newMergedRow(m observe.Merged, whole exchange.Wholeness, dryRun bool) mergedRow {
	row := mergedRow{Nouns: []mergedNounRow{}, Conflicts: []string{}, Notes: append([]string{}, m.Notes...), Unplaced: unplacedTexts(m.Unplaced),
		Slips: oddTexts(m.Slips), Hidden: oddTexts(m.Hidden), DryRun: dryRun, About: whole.Words}
	if whole.Told {
		row.Whole = &whole.Whole
	}
	for _, n := range m.Nouns {
		row.Nouns = append(row.Nouns, mergedNounRow(n))
	}
	for _, c := range m.Conflicts {
		row.Conflicts = append(row.Conflicts, c.String())
	}
	return row
}
