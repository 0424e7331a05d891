package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/store"
)

const markLong = `A mark is one thing marked on one frame: a point, a line along a spine, or an
outline, in the pixels of the picture. What was not marked on a picture can be
written by position angle and radius, or by latitude and longitude, with its own
time: sketches and old logs count.

The figures are kept as they were given, and the position follows from them: from
the disc and the north of the frame, and from the Sun at that instant.`

func newMarkCommand(app *app) *cobra.Command {
	return group("mark", "Mark sunspots, plage, filaments and prominences", markLong,
		begins(newMarkAddCommand(app), "frame"),
		newMarkListCommand(app),
		newMarkShowCommand(app),
		newMarkEditCommand(app),
		newMarkRemoveCommand(app),
	)
}

// markOptions are what a mark was given.
type markOptions struct {
	geometry      geometryFlags
	frame, at     string
	height        string
	group, single bool
	spots         int
	label, note   string
	aliases       []string
	sameAs        string
	circumstances circumstanceFlags
	force, json   bool
}

func newMarkAddCommand(app *app) *cobra.Command {
	var opts markOptions
	cmd := &cobra.Command{
		Use:   "add KIND",
		Short: "Add a mark: sunspot, plage, filament, prominence or other",
		Long: markLong + `

A prominence is best drawn as a line: one end of its base, its top, the other end.`,
		Example: `  limbwatch mark add sunspot --frame F3 --point 812.5,640 --group --spots 7
  limbwatch mark add filament --frame F3 --line "410,702 455,690 520,701" --label north
  limbwatch mark add prominence --frame F4 --line "1402,520 1431,540 1405,566"
  limbwatch mark add prominence --at 2026-03-14T15:23:10Z --pa 252 --r 1.04
  limbwatch mark add sunspot --at 2026-03-14T15:23:10Z --place N08E14 --sigma-deg 1`,
		Args:      cobra.ExactArgs(1),
		ValidArgs: []string{"sunspot", "plage", "filament", "prominence", "other"},
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			kind, err := catalog.ParseKind(args[0])
			if err != nil {
				return &misuseError{err}
			}
			m := catalog.Mark{Kind: kind}
			if err := opts.apply(ctx, k, cmd, &m); err != nil {
				return err
			}
			if m.Geometry.Vertices() == 0 {
				return withHint(misuse("a mark needs its figures"), "give --point, --line or --outline in pixels, --pa with --r, or --place")
			}
			added, err := opts.add(ctx, k, m)
			if err != nil {
				return err
			}
			if at, err := parseInstant(opts.at); err == nil { // of one on a frame that is the frame's
				noteFuture(cmd.ErrOrStderr(), added.ID.String(), at, k.Now())
			}
			return showNewMark(ctx, cmd, k, added.ID, opts.json)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&opts.frame, "frame", "", "the `frame` on which it was marked")
	f.StringVar(&opts.at, "at", "", "the `time` of a mark without a picture, as 2026-03-14T15:23:10Z")
	opts.addFlags(cmd)
	opts.circumstances.addFlags(cmd)
	cmd.MarkFlagsMutuallyExclusive("frame", "at")
	cmd.MarkFlagsOneRequired("frame", "at")
	return cmd
}

func (o *markOptions) addFlags(cmd *cobra.Command) {
	o.geometry.addFlags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.height, "height", "", "above the photosphere in megametres, as `MM` or MM,SIGMA (default: what is usual for its kind)")
	f.BoolVar(&o.group, "group", false, "of a sunspot: a whole group")
	f.BoolVar(&o.single, "single", false, "of a sunspot: a single spot")
	f.IntVar(&o.spots, "spots", 0, "how `many` spots were counted in it")
	f.StringVar(&o.label, "label", "", "the `name` that you call it by")
	f.StringSliceVar(&o.aliases, "alias", nil, "another `name`, such as an official number; with a comma or a quotation mark in it, as in a CSV file")
	f.StringVar(&o.note, "note", "", "anything else, as `text`")
	f.StringVar(&o.sameAs, "same-as", "", "the same thing as this `mark` of the same sitting")
	f.BoolVar(&o.force, "force", false, "keep figures that look like a slip")
	mayBeEmpty(cmd, "label", "alias", "note")
	addJSONFlag(cmd, &o.json)
	cmd.MarkFlagsMutuallyExclusive("group", "single")
}

// apply puts what was typed into a mark.
func (o *markOptions) apply(ctx context.Context, k observe.Keeper, cmd *cobra.Command, to *catalog.Mark) error {
	set := cmd.Flags().Changed
	if err := o.geometry.apply(set, &to.Geometry); err != nil {
		return err
	}
	if set("height") {
		height, err := parseMarkHeight(o.height)
		if err != nil {
			return err
		}
		to.Height = height
	}
	if o.group {
		to.Extent = catalog.SpotGroup
	}
	if o.single {
		to.Extent = catalog.SingleSpot
	}
	if set("spots") {
		to.Spots = o.spots
	}
	if set("label") {
		to.Label = o.label
	}
	if set("alias") {
		to.Aliases = o.aliases
	}
	if set("note") {
		to.Note = o.note
	}
	if set("same-as") {
		id, err := parseMark(o.sameAs)
		if err != nil {
			return err
		}
		if _, err := k.Store.Read(ctx).Mark(id); err != nil {
			return err
		}
		to.SameAs = id
	}
	return nil
}

// add keeps a new mark on its frame, or on one without a picture.
func (o *markOptions) add(ctx context.Context, k observe.Keeper, m catalog.Mark) (catalog.Mark, error) {
	probe := m // as it will be, but for what the keeper fills in
	probe.Frame, probe.MarkedAt = 1, k.Now()
	if err := typed(probe); err != nil {
		return m, err
	}
	k.Force = o.force
	if o.frame != "" {
		id, err := parseFrame(o.frame)
		if err != nil {
			return m, err
		}
		if o.circumstances != (circumstanceFlags{}) {
			return m, withHint(misuse("--observer, --setup and --site go with --at: a frame has its own"), "see limbwatch sitting edit")
		}
		m.Frame = id
		m, err = k.AddMark(ctx, m)
		return m, adviseOdd(err)
	}
	at, err := parseInstant(o.at)
	if err != nil {
		return m, &misuseError{err}
	}
	if err := typed(catalog.Frame{Taken: at}); err != nil {
		return m, err
	}
	if m.Geometry.Form() == catalog.FormPixels {
		return m, misuse("pixels need a picture: say --frame, not --at")
	}
	who, err := o.circumstances.resolve(k.Store.Read(ctx))
	if err != nil {
		return m, err
	}
	_, added, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: at, Circumstances: who}, []catalog.Mark{m})
	if err != nil {
		return m, adviseOdd(err)
	}
	return added[0], nil
}

func newMarkShowCommand(app *app) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "show MARK",
		Short:   "Show a mark with its position, both as on the photosphere and at its height",
		Example: "  limbwatch mark show M12",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseMark, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.MarkID) error {
			return showMark(ctx, cmd, k, id, asJSON)
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func newMarkListCommand(app *app) *cobra.Command {
	var opts logOptions
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List marks with their positions (the same as log)",
		Example: "  limbwatch mark list --frame F3",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			return runLog(ctx, cmd.OutOrStdout(), k, &opts)
		}),
	}
	opts.addFlags(cmd)
	return cmd
}

func newMarkRemoveCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "remove MARK|FIRST-LAST...",
		Short:   "Take marks out of sight, as one change (undo brings them back)",
		Example: "  limbwatch mark remove M12 M13\n  limbwatch mark remove M20-M35",
		Args:    cobra.MinimumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			marks, err := marksNamed(k.Store.Read(ctx), args)
			if err != nil {
				return err
			}
			return k.RemoveMarks(ctx, marks)
		}),
	}
}

func parseMark(text string) (catalog.MarkID, error) {
	id, err := catalog.ParseMarkID(text)
	if err != nil {
		return 0, withHint(&misuseError{err}, "see limbwatch log")
	}
	return id, nil
}

// showNewMark prints a mark as it has become, and says when it stands where its
// kind does not.
func showNewMark(ctx context.Context, cmd *cobra.Command, k observe.Keeper, id catalog.MarkID, asJSON bool) error {
	m, err := k.Store.Read(ctx).Mark(id)
	if err != nil {
		return err
	}
	p, err := k.Store.Read(ctx).Position(id)
	if err != nil {
		return err
	}
	if p.Edge != nil && !p.Edge.WithinLimb && (m.Kind == catalog.Sunspot || m.Kind == catalog.Plage) {
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s lies off the disc, where no %s is seen: check its figures, the disc and the kind\n", id, m.Kind)
	}
	hidden := observe.Hidden(m, p)
	switch {
	case p.Reason != "":
	case hidden > 0:
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s: %s\n", id, hidden)
	case p.Polar == nil:
	case p.Edge == nil && m.Kind == catalog.Prominence:
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s lies on the disc, where a prominence is a filament: check its figures, the disc and the kind\n", id)
	case p.Polar.R > 2.5:
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s lies %.1f radii from the centre, farther than anything is seen: check its figures and the disc\n", id, p.Polar.R)
	}
	return showMark(ctx, cmd, k, id, asJSON)
}

// showMark prints one mark with its position.
func showMark(ctx context.Context, cmd *cobra.Command, k observe.Keeper, id catalog.MarkID, asJSON bool) error {
	entries, err := k.Store.Read(ctx).Entries(store.Query{Marks: []catalog.MarkID{id}, References: true})
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		if _, err := k.Store.Read(ctx).Mark(id); err != nil {
			return err
		}
		return fmt.Errorf("mark %s has no entry in the log", id)
	}
	marked, err := gather.Measured(ctx, k, entries[0])
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(cmd.OutOrStdout(), markRow{marked})
	}
	if err := printMark(cmd.OutOrStdout(), entries[0]); err != nil {
		return err
	}
	for _, line := range report.Sizes(marked) {
		fmt.Fprintf(cmd.OutOrStdout(), "    %-15s %s\n", line.Label, line.Text)
	}
	return nil
}

func printMark(w io.Writer, e catalog.Entry) error {
	m, p := e.Mark, e.Position
	fmt.Fprintf(w, "%s  %s on %s, %s\n", m.ID, m.Kind, m.Frame, formatUTC(p.UTC))
	line := func(label, format string, args ...any) {
		fmt.Fprintf(w, "    %-15s "+format+"\n", append([]any{label}, args...)...)
	}
	if m.Label != "" {
		line("label", "%s", onOneLine(m.Label))
	}
	if len(m.Aliases) > 0 {
		line("also called", "%s", onOneLine(strings.Join(m.Aliases, ", ")))
	}
	if d := p.Disc; d != nil {
		sigmaLat, sigmaLon := sigmas(d.Cov)
		line("latitude", "%s", withLeast(d.B.Degrees(), sigmaLat, p.LeastLat, true))
		line("from meridian", "%s, west positive", withLeast(d.CMD.Degrees(), sigmaLon, p.LeastLon, true))
		line("longitude", "%s, Carrington", withLeast(d.L.Degrees(), sigmaLon, p.LeastLon, false))
	}
	if h := p.High; h != nil {
		sigmaLat, sigmaLon := sigmas(h.Cov)
		line("at its height", "latitude %s, from meridian %s, longitude %s (%.3g Mm assumed)", withError(h.B.Degrees(), sigmaLat, "°", true),
			withError(h.CMD.Degrees(), sigmaLon, "°", true), withError(h.L.Degrees(), sigmaLon, "°", false), h.Height.HeightMm)
	}
	if g := p.Edge; g != nil {
		feet := ""
		if g.From != g.To {
			feet = fmt.Sprintf(", from %.1f° to %.1f°", g.From.Degrees(), g.To.Degrees())
		}
		line("at the edge", "position angle %s%s", withError(g.PA.Degrees(), positive(g.SigmaPA), "°", false), feet)
		line("", "the limb there lies at latitude %s, longitude %.1f°", withError(g.Lat.Degrees(), positive(g.SigmaLat), "°", true), g.Lon.Degrees())
		line("", "top %.1f″ above the limb, %s above the photosphere", g.HeightArcsec, withError(g.HeightMm, known(g.SigmaMm), " Mm", false))
	}
	if p.Lacks != "" {
		line("not given", "%s: what it would move has no error here", p.Lacks)
	}
	if p.NearLimb {
		line("", "the limb is too near to tell the side: the errors are a guide and no more")
	}
	if p.Reason != "" {
		line("no position", "%s", p.Reason)
	}
	if e.Join != nil {
		odds := ""
		if e.Join.Odds != nil {
			odds = fmt.Sprintf(" (probability %.2f)", *e.Join.Odds)
		}
		line("passage", "%s, joined by the %s%s", e.PassageName, e.Join.By, odds)
	}
	if m.Note != "" {
		line("note", "%s", onOneLine(m.Note))
	}
	return nil
}
