package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// editOptions are what "mark edit" was told beside what a mark is given.
type editOptions struct {
	markOptions
	when     rangeFlags
	kinds    []string
	as       string
	observer string
	who      catalog.ObserverID // of that name
	dryRun   bool
}

func newMarkEditCommand(app *app) *cobra.Command {
	var opts editOptions
	cmd := &cobra.Command{
		Use:   "edit [MARK|FIRST-LAST]...",
		Short: "Change the figures, kind, label or note of marks; positions follow",
		Long: `Edit changes one mark, or many at once: named one by one, by ranges of their numbers
(M1-M3705), or by when they were seen (--from, --to) and what they are (--kind), which
of those that were named takes only some. Of a range the marks that are there count.

Figures, aliases and --same-as are for one mark. The whole is one change, taken back by
one undo; --dry-run says what it would be.

Of one mark that is named alone, --kind says the same as --as: what it is after all.`,
		Example: `  limbwatch mark edit M12 --point 813,641
  limbwatch mark edit M12 --as plage --note "no spot in it"
  limbwatch mark edit M1-M3705 --kind sunspot --group --dry-run
  limbwatch mark edit --kind sunspot --from 1937-01-01 --to 1937-12-31 --group`,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			k.Force = opts.force
			if err := opts.settle(cmd, args); err != nil {
				return err
			}
			if opts.observer != "" {
				who, err := findObserver(k.Store.Read(ctx), opts.observer)
				if err != nil {
					return err
				}
				opts.who = who.ID
			}
			marks, err := opts.choose(k.Store.Read(ctx), args)
			if err != nil {
				return err
			}
			if len(args) == 1 && !isRange(args[0]) && len(marks) == 1 && !opts.dryRun {
				return opts.editOne(ctx, cmd, k, marks[0])
			}
			return opts.editMany(ctx, cmd, k, marks)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&opts.as, "as", "", "the `kind` that it is after all: sunspot, plage, filament, prominence or other")
	f.StringVar(&opts.observer, "observer", "", "who marked it, by `name`, code or id")
	f.StringSliceVar(&opts.kinds, "kind", nil, "only marks of these `kinds`: sunspot, plage, filament, prominence, other")
	opts.when.addFlags(cmd)
	f.BoolVar(&opts.dryRun, "dry-run", false, "say what would be changed, and change nothing")
	opts.addFlags(cmd)
	asBefore(cmd, "sigma-click-px", "0.5")
	asBefore(cmd, "limb", "photosphere")
	return cmd
}

// chosen says whether marks are chosen by more than their numbers.
func (o *editOptions) chosen() bool { return len(o.kinds) > 0 || o.when != (rangeFlags{}) }

// choosing are the flags that choose marks, or say how, and change nothing.
var choosing = map[string]bool{"kind": true, "from": true, "to": true, "dry-run": true, "json": true, "force": true, "catalog": true}

// settle takes --kind for --as where a mark is named alone, and refuses what changes
// nothing or names nothing.
func (o *editOptions) settle(cmd *cobra.Command, args []string) error {
	set := cmd.Flags().Changed
	alone := len(args) == 1 && !isRange(args[0]) && o.when == (rangeFlags{})
	if alone && len(o.kinds) == 1 && o.as == "" {
		o.as, o.kinds = o.kinds[0], nil
	}
	if len(args) == 0 && !o.chosen() {
		return withHint(misuse("no mark is named"), "name marks, as M12 or M1-M3705, or choose them with --kind, --from and --to")
	}
	changes := o.as != ""
	cmd.Flags().Visit(func(f *pflag.Flag) { changes = changes || !choosing[f.Name] })
	if !changes {
		return withHint(misuse("nothing to change"), "say what is otherwise, as --group, --label NAME or --as KIND: see limbwatch mark edit --help")
	}
	if alone {
		return nil
	}
	for _, flag := range []string{"point", "line", "outline", "pa", "place", "lat", "alias", "same-as"} {
		if set(flag) {
			return misuse("--%s is for one mark: name it alone, as M12", flag)
		}
	}
	return nil
}

// choose gives the marks that were named, of them those that were chosen.
func (o *editOptions) choose(v *store.View, args []string) ([]catalog.Mark, error) {
	named, err := marksNamed(v, args)
	if err != nil || len(args) > 0 && !o.chosen() {
		return named, err
	}
	q := store.Query{References: true}
	if q.From, q.To, err = o.when.resolve(); err != nil {
		return nil, err
	}
	if q.Kinds, err = parseKinds(o.kinds); err != nil {
		return nil, err
	}
	from, to := q.From, q.To
	if to.IsZero() {
		to = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	in := map[catalog.MarkID]bool{}
	for _, m := range named {
		in[m.ID] = true
	}
	var marks []catalog.Mark
	err = v.EachMark(from, to, func(_ time.Time, m catalog.Mark) error {
		if (len(args) == 0 || in[m.ID]) && (len(q.Kinds) == 0 || slices.Contains(q.Kinds, m.Kind)) {
			marks = append(marks, m)
		}
		return nil
	})
	if err == nil && len(marks) == 0 {
		err = withHint(errors.New("no mark is chosen"), "see limbwatch log with the same --kind, --from and --to")
	}
	return marks, err
}

// change puts what was typed into a mark.
func (o *editOptions) change(ctx context.Context, k observe.Keeper, cmd *cobra.Command, m *catalog.Mark) (err error) {
	if o.as != "" {
		if m.Kind, err = catalog.ParseKind(o.as); err != nil {
			return &misuseError{err}
		}
		if m.Kind != catalog.Sunspot { // what only a sunspot has
			m.Extent, m.Spots = catalog.ExtentUnknown, 0
		}
	}
	if o.who != 0 {
		m.Observer = o.who
	}
	if err := o.apply(ctx, k, cmd, m); err != nil {
		return err
	}
	return typed(*m)
}

func (o *editOptions) editOne(ctx context.Context, cmd *cobra.Command, k observe.Keeper, m catalog.Mark) error {
	if err := o.change(ctx, k, cmd, &m); err != nil {
		return err
	}
	if _, err := k.EditMark(ctx, m); err != nil {
		return adviseOdd(err)
	}
	return showNewMark(ctx, cmd, k, m.ID, o.json)
}

// editedRow is what became of several marks, as JSON names it.
type editedRow struct {
	Marks   int      `json:"marks"`
	Changed int      `json:"changed"`
	Ids     []string `json:"changed_marks"`
	DryRun  bool     `json:"dry_run"`
}

func (o *editOptions) editMany(ctx context.Context, cmd *cobra.Command, k observe.Keeper, marks []catalog.Mark) error {
	row := editedRow{Marks: len(marks), Ids: []string{}, DryRun: o.dryRun}
	var changed []catalog.Mark
	for _, m := range marks {
		after := m
		if err := o.change(ctx, k, cmd, &after); err != nil {
			return withHint(fmt.Errorf("%s: %w", m.ID, err), "leave it out, or choose by --kind")
		}
		if !reflect.DeepEqual(m, after) {
			changed = append(changed, after)
			row.Ids = append(row.Ids, m.ID.String())
		}
	}
	row.Changed = len(changed)
	if len(changed) > 0 && !o.dryRun {
		if err := k.EditMarks(ctx, changed); err != nil {
			return adviseOdd(err)
		}
	}
	if o.json {
		return printJSON(cmd.OutOrStdout(), row)
	}
	return printEdited(cmd.OutOrStdout(), row)
}

func printEdited(w io.Writer, row editedRow) error {
	which := ""
	if n := len(row.Ids); n > 0 {
		const most = 6
		which = ": " + strings.Join(row.Ids[:min(n, most)], ", ")
		if n > most {
			which += fmt.Sprintf(", … %s", row.Ids[n-1])
		}
	}
	_, err := fmt.Fprintf(w, "%d of %s changed%s\n", row.Changed, counted(row.Marks, "mark"), which)
	if err == nil && row.DryRun {
		_, err = fmt.Fprintln(w, "dry run: nothing was changed")
	}
	return err
}

// adviseOdd adds to a refusal of figures that look like a slip how to keep them.
func adviseOdd(err error) error {
	if _, odd := errors.AsType[*observe.ImplausibleError](err); odd {
		return withHint(&misuseError{err}, "mend the figures, or say --force if they are meant")
	}
	return err
}
