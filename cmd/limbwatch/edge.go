package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/figure"
)

// edgeOptions are what "edge" was told. Angles are in degrees, as typed.
type edgeOptions struct {
	at, limb                 string
	paDeg, sigmaPADeg, width float64
	heightArcsec             float64
	accept                   string
	all                      bool
	when                     rangeFlags
	json                     bool
}

func newEdgeCommand(app *app) *cobra.Command {
	var opts edgeOptions
	cmd := &cobra.Command{
		Use:   "edge [MARK]",
		Short: "Tell which filament a prominence at the edge is, with the odds and the reason",
		Long: `A filament and a prominence are the same cloud seen from two sides. Edge weighs which
followed filament a prominence at the edge is: at the west edge one that has just
crossed the disc; at the east edge one that comes onto it in the next days (so that
the answer is clearer later), or one that went round the west edge half a rotation
before. It weighs the mismatch in latitude and longitude with the errors of both, the
spread of rotation over the gap, the height (a high cloud is seen while its foot is
well behind the limb), how long filaments live, and how many unknown ones there are.

The prominence is a mark, or typed with --at and --pa. --accept joins the mark to a
passage by your word. --all goes through all prominences of a range.`,
		Example: `  limbwatch edge M80
  limbwatch edge --at 2026-03-11T13:40:00Z --pa 274 --height 38
  limbwatch edge M80 --accept 2026-fil-3
  limbwatch edge --all --from 2026-03-01 --to 2026-03-31`,
		Args: cobra.MaximumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			set := cmd.Flags().Changed
			switch {
			case opts.all && (len(args) > 0 || set("at")):
				return misuse("--all goes through a range; leave the mark and --at out")
			case opts.all:
				return runEdgeAll(ctx, cmd.OutOrStdout(), k, opts)
			case len(args) == 1 && set("at"), len(args) == 0 && !set("at"):
				return withHint(misuse("want one prominence: a mark, or --at with --pa"), "see limbwatch edge --help")
			case len(args) == 0 && !set("pa"):
				return misuse("--at goes with --pa, the position angle of the prominence")
			}
			var answer observe.EdgeAnswer
			var err error
			if len(args) == 1 {
				for _, flag := range []string{"pa", "sigma-pa-deg", "width", "height", "limb"} {
					if set(flag) {
						return misuse("--%s goes with --at: a mark has its own figures", flag)
					}
				}
				answer, err = edgeOfMark(ctx, cmd.ErrOrStderr(), k, args[0], opts.accept)
			} else {
				if opts.accept != "" {
					return misuse("--accept joins a mark: add the prominence as a mark first")
				}
				answer, err = opts.typed(ctx, k)
			}
			if err != nil {
				return err
			}
			if opts.json {
				return printJSON(cmd.OutOrStdout(), gather.Edge(answer))
			}
			if err := printEdge(cmd.OutOrStdout(), answer); err != nil || opts.accept == "" {
				return err
			}
			p, err := findPassage(k.Store.Read(ctx), opts.accept)
			if err == nil {
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "\n%s is joined to %s by your word\n", answer.Mark.Mark.ID, p.Name)
			}
			return err
		}),
	}
	f := cmd.Flags()
	f.StringVar(&opts.at, "at", "", "the `time` of a typed prominence, as 2026-03-14T15:23:10Z")
	f.Float64Var(&opts.paDeg, "pa", 0, "its position angle from celestial north through east, `degrees`")
	f.Float64Var(&opts.sigmaPADeg, "sigma-pa-deg", 1, "standard error of that, `degrees`")
	f.Float64Var(&opts.width, "width", 0, "its width along the limb, `degrees`")
	f.Float64Var(&opts.heightArcsec, "height", 0, "height of its top above the limb, `arcseconds`")
	f.StringVar(&opts.limb, "limb", "chromosphere", "which limb that counts from: photosphere, chromosphere or its height in `Mm`")
	f.StringVar(&opts.accept, "accept", "", "join the mark to this `passage`")
	f.BoolVar(&opts.all, "all", false, "all prominences of a range")
	opts.when.addFlags(cmd)
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// edgeOfMark checks a mark, and joins it when a passage was accepted.
func edgeOfMark(ctx context.Context, stderr io.Writer, k observe.Keeper, text, accept string) (observe.EdgeAnswer, error) {
	id, err := parseMark(text)
	if err != nil {
		return observe.EdgeAnswer{}, err
	}
	answer, err := k.EdgeOfMark(ctx, id)
	if err != nil || accept == "" {
		return answer, adviseEdge(err)
	}
	p, err := findPassage(k.Store.Read(ctx), accept)
	if err != nil {
		return answer, err
	}
	return answer, joinMarks(ctx, stderr, k, p, []catalog.MarkID{id})
}

// adviseEdge adds what to do with a mark that is no prominence at the edge.
func adviseEdge(err error) error {
	e, ok := errors.AsType[*observe.NotAtEdgeError](err)
	switch {
	case !ok:
		return err
	case e.Kind == catalog.Filament:
		return withHint(err, "a filament is what a prominence may be: check that one (limbwatch edge --all lists them); if this stands beyond the limb: limbwatch mark edit %s --as prominence", e.Mark)
	}
	return withHint(err, "see limbwatch mark show %s; limbwatch edge --all lists the prominences that stand at the edge", e.Mark)
}

// typed checks a prominence that was typed.
func (o *edgeOptions) typed(ctx context.Context, k observe.Keeper) (observe.EdgeAnswer, error) {
	at, err := parseInstant(o.at)
	if err != nil {
		return observe.EdgeAnswer{}, &misuseError{err}
	}
	if err := ephemeris.Check(at); err != nil {
		return observe.EdgeAnswer{}, err
	}
	limb, err := parseLimb(o.limb)
	if err != nil {
		return observe.EdgeAnswer{}, err
	}
	if !(o.heightArcsec >= 0 && o.heightArcsec <= 2000) {
		return observe.EdgeAnswer{}, misuse("--height %v: want 0 to 2000 arcseconds above the limb", o.heightArcsec)
	}
	if !(math.Abs(o.paDeg) <= 360) {
		return observe.EdgeAnswer{}, misuse("--pa %g: want 0 to 360 degrees", o.paDeg)
	}
	e := follow.AtEdge{
		UTC: at, PA: (coords.Angle(o.paDeg) * coords.Degree).Wrap360(), SigmaPA: coords.Angle(o.sigmaPADeg) * coords.Degree,
		Width: coords.Angle(o.width) * coords.Degree, Limb: limb,
	}
	if o.heightArcsec > 0 {
		face := ephemeris.At(at)
		radius := face.Semidiameter.Arcseconds() * (1 + limb.HeightMm/coords.SolarRadiusMm)
		view := disc.View{Layer: limb, Face: face}
		e.TopMm = view.PlacePolar(e.PA, 1+o.heightArcsec/radius, 0, disc.Height{}).Beyond.AboveSunMm
		e.SigmaTopMm = e.TopMm / 10
	}
	if err := e.Validate(); err != nil {
		return observe.EdgeAnswer{}, &misuseError{err}
	}
	return k.EdgeAt(ctx, e)
}

func printEdge(w io.Writer, a observe.EdgeAnswer) error {
	sigma := a.Sigma.Degrees()
	places := figure.Decimals(sigma, 4)
	fmt.Fprintf(w, "%s edge, %s ± %.*f°, limb at longitude %s°\n", gather.EdgeName(a.East), tradeAngle(a.Lat.Degrees(), places, "N", "S"), places, sigma, a.LimbL.TurnText(1))
	fmt.Fprintf(w, "%s: %s\n\n", a.Word, a.Reason)
	t := newTable("probability", "filament", "", "latitude off by", "behind the limb by", "its middle passes the limb")
	for _, c := range a.Candidates {
		latSigma, lonSigma := c.SigmaLat.Degrees(), c.SigmaLon.Degrees()
		t.add(figure.Percent(c.Probability), c.Passage.Name, c.Way.String(),
			withError(c.MissLat.Degrees(), &latSigma, "°", true), withError(c.Beyond.Degrees(), &lonSigma, "°", true),
			fmt.Sprintf("%s ± %.0f h", c.LimbPassage.UTC().Round(time.Hour).Format("02 Jan 15Z"), max(1, c.SigmaPassage.Hours())))
	}
	none, percent := gather.NoneOf(a)
	t.add(percent, none)
	if len(t.rows) > 0 {
		if err := t.print(w, ""); err != nil {
			return err
		}
	}
	for _, k := range gather.Edge(a).Kin {
		fmt.Fprintf(w, "\n%s\n", k)
	}
	printEdgeHeights(w, a)
	if len(a.Looks) > 0 {
		fmt.Fprintln(w, "\nwhat would decide it:")
	}
	for _, l := range a.Looks {
		fmt.Fprintf(w, "  look on %s near position angle %.0f°, %.2f radii from the centre: %s\n", l.UTC.UTC().Round(time.Hour).Format("2 January, 15Z"), l.PA.Wrap360().Degrees(), l.R, l.Why)
	}
	return nil
}

// printEdgeHeights sets the height of the prominence against those of the candidates.
func printEdgeHeights(w io.Writer, a observe.EdgeAnswer) {
	for _, c := range a.Candidates {
		h := c.Height
		if h == nil {
			continue
		}
		fmt.Fprintf(w, "\n%s stands %s high as its motion across the disc tells", c.Passage.Name, layerText(*h))
		if a.Top != nil {
			fmt.Fprintf(w, "; the top at the limb, %s%s", layerText(*a.Top), againstFit(*a.Top, h))
		}
		fmt.Fprintln(w)
	}
}

// runEdgeAll checks every prominence of a range.
func runEdgeAll(ctx context.Context, w io.Writer, k observe.Keeper, opts edgeOptions) error {
	from, to, err := opts.when.resolve()
	if err != nil {
		return err
	}
	entries, err := k.Store.Read(ctx).Entries(store.Query{From: from, To: to, Kinds: []catalog.Kind{catalog.Prominence}})
	if err != nil {
		return err
	}
	var ids []catalog.MarkID
	for _, e := range entries {
		if e.Position.Edge != nil {
			ids = append(ids, e.Mark.ID)
		}
	}
	answers, err := k.EdgeOfMarks(ctx, ids)
	if err != nil {
		return err
	}
	rows := []gather.EdgeFigures{}
	t := newTable("", "when", "edge", "latitude", "", "filament", "probability", "reason")
	for _, a := range answers {
		if a.Mark == nil {
			continue // it was removed just now
		}
		rows = append(rows, gather.Edge(a))
		mark, when := a.Mark.Mark.ID.String(), a.Mark.Position.UTC.Format("2006-01-02 15:04Z")
		if a.Err != nil {
			t.add(mark, when, "", "", "not weighed", "", "", a.Err.Error())
			continue
		}
		filament, odds := "none of those known", a.None
		if a.Word == follow.CannotSay {
			filament, odds = "", math.NaN()
		}
		if len(a.Candidates) > 0 && a.Candidates[0].Probability > a.None {
			filament, odds = a.Candidates[0].Passage.Name, a.Candidates[0].Probability
		}
		t.add(mark, when, gather.EdgeName(a.East), tradeAngle(a.Lat.Degrees(), 0, "N", "S"),
			a.Word.String(), filament, figure.Percent(odds), a.Reason)
	}
	if opts.json {
		return printJSON(w, rows)
	}
	return t.print(w, "no prominence at the edge in this range: limbwatch mark add prominence")
}
