package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
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
		newMarkAddCommand(app),
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
	f.StringSliceVar(&o.aliases, "alias", nil, "another `name`, such as an official number")
	f.StringVar(&o.note, "note", "", "anything else, as `text`")
	f.StringVar(&o.sameAs, "same-as", "", "the same thing as this `mark` of the same sitting")
	f.BoolVar(&o.force, "force", false, "keep figures that look like a slip")
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

// plausible refuses figures that look like a slip, unless they are meant.
func (o *markOptions) plausible(m catalog.Mark) error {
	if o.force {
		return nil
	}
	if err := observe.Plausible(m); err != nil {
		return withHint(&misuseError{err}, "mend the figures, or say --force if they are meant")
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
	if err := o.plausible(m); err != nil {
		return m, err
	}
	if o.frame != "" {
		id, err := parseFrame(o.frame)
		if err != nil {
			return m, err
		}
		if o.circumstances != (circumstanceFlags{}) {
			return m, withHint(misuse("--observer, --setup and --site go with --at: a frame has its own"), "see limbwatch sitting edit")
		}
		m.Frame = id
		return k.AddMark(ctx, m)
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
		return m, err
	}
	return added[0], nil
}

func newMarkEditCommand(app *app) *cobra.Command {
	var opts markOptions
	var kind string
	cmd := &cobra.Command{
		Use:   "edit MARK",
		Short: "Change a mark's figures, kind, label or note; its position follows",
		Example: `  limbwatch mark edit M12 --point 813,641
  limbwatch mark edit M12 --kind plage --note "no spot in it"`,
		Args: cobra.ExactArgs(1),
		RunE: withID(app, parseMark, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.MarkID) error {
			m, err := k.Store.Read(ctx).Mark(id)
			if err != nil {
				return err
			}
			wasOdd := observe.Plausible(m) != nil // and kept so
			if kind != "" {
				if m.Kind, err = catalog.ParseKind(kind); err != nil {
					return &misuseError{err}
				}
				if m.Kind != catalog.Sunspot { // what only a sunspot has
					m.Extent, m.Spots = catalog.ExtentUnknown, 0
				}
			}
			if err := opts.apply(ctx, k, cmd, &m); err != nil {
				return err
			}
			if err := typed(m); err != nil {
				return err
			}
			if !wasOdd {
				if err := opts.plausible(m); err != nil {
					return err
				}
			}
			if _, err := k.EditMark(ctx, m); err != nil {
				return err
			}
			return showNewMark(ctx, cmd, k, id, opts.json)
		}),
	}
	cmd.Flags().StringVar(&kind, "kind", "", "the `kind` that it is after all: sunspot, plage, filament, prominence or other")
	opts.addFlags(cmd)
	asBefore(cmd, "sigma-click-px", "0.5")
	asBefore(cmd, "limb", "photosphere")
	return cmd
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
		Use:     "remove MARK...",
		Short:   "Take marks out of sight, as one change (undo brings them back)",
		Example: "  limbwatch mark remove M12 M13",
		Args:    cobra.MinimumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			var marks []catalog.Mark
			for i, text := range args {
				id, err := parseMark(text)
				if err != nil {
					return err
				}
				if slices.Contains(args[:i], text) {
					return misuse("mark %s is named twice", text)
				}
				m, err := k.Store.Read(ctx).Mark(id)
				if err != nil {
					return err
				}
				marks = append(marks, m)
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
	switch {
	case p.Reason != "":
	case p.Polar == nil:
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s lay behind the Sun at that time: check its figures and the time\n", id)
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
	row := newMarkRow(entries[0])
	if asJSON {
		return printJSON(cmd.OutOrStdout(), row)
	}
	marked, err := gather.Measured(ctx, k, entries[0])
	if err != nil {
		return err
	}
	if err := printMark(cmd.OutOrStdout(), &row); err != nil {
		return err
	}
	for _, line := range marked.Sizes() {
		fmt.Fprintf(cmd.OutOrStdout(), "    %-15s %s\n", line.Label, line.Text)
	}
	return nil
}

func printMark(w io.Writer, r *markRow) error {
	fmt.Fprintf(w, "%s  %s on %s, %s\n", r.Mark, r.Kind, r.Frame, r.UTC)
	if r.Label != "" {
		fmt.Fprintf(w, "    label           %s\n", onOneLine(r.Label))
	}
	if r.LatDeg != nil {
		fmt.Fprintf(w, "    latitude        %s\n", withError(*r.LatDeg, r.SigmaLat, "°", true))
		fmt.Fprintf(w, "    from meridian   %s, west positive\n", withError(*r.CMDDeg, r.SigmaLon, "°", true))
		fmt.Fprintf(w, "    longitude       %s, Carrington\n", withError(*r.LonDeg, r.SigmaLon, "°", false))
	}
	if r.CorrectedLatDeg != nil {
		fmt.Fprintf(w, "    at its height   latitude %s, from meridian %s, longitude %s (%.3g Mm assumed)\n",
			withError(*r.CorrectedLatDeg, r.CorrectedSigmaLat, "°", true), withError(*r.CorrectedCMDDeg, r.CorrectedSigmaLon, "°", true),
			withError(*r.CorrectedLonDeg, r.CorrectedSigmaLon, "°", false), *r.AssumedMm)
	}
	if r.LimbLatDeg != nil {
		fmt.Fprintf(w, "    at the edge     position angle %s", withError(*r.PADeg, r.SigmaPADeg, "°", false))
		if *r.PAFromDeg != *r.PAToDeg {
			fmt.Fprintf(w, ", from %.1f° to %.1f°", *r.PAFromDeg, *r.PAToDeg)
		}
		fmt.Fprintln(w)
		fmt.Fprintf(w, "                    the limb there lies at latitude %s, longitude %.1f°\n", withError(*r.LimbLatDeg, r.LimbSigmaLat, "°", true), *r.LimbLonDeg)
		fmt.Fprintf(w, "                    top %.1f″ above the limb, %s above the photosphere\n", *r.HeightArcsec, withError(*r.HeightMm, r.SigmaHeight, " Mm", false))
	}
	if r.NearLimb {
		fmt.Fprintln(w, "                    the limb is too near to tell the side: the errors are a guide and no more")
	}
	if r.Reason != "" {
		fmt.Fprintf(w, "    no position     %s\n", r.Reason)
	}
	if r.Passage != "" {
		fmt.Fprintf(w, "    passage         %s, joined by the %s", r.Passage, r.JoinedBy)
		if r.JoinOdds != nil {
			fmt.Fprintf(w, " (probability %.2f)", *r.JoinOdds)
		}
		fmt.Fprintln(w)
	}
	if r.Note != "" {
		fmt.Fprintf(w, "    note            %s\n", onOneLine(r.Note))
	}
	return nil
}
