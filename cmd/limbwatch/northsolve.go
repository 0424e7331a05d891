package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/north"
	"limbwatch/coords/plainfile"
)

// solveOptions are what "north solve" was told.
type solveOptions struct {
	drift                 []string
	stepFrom, stepTo      string
	pushed                string
	known                 []string
	list, listAt          string
	reference             string
	sigmaDeg              float64
	mirrored, notMirrored bool
	json                  bool
}

func newNorthSolveCommand(app *app) *cobra.Command {
	var opts solveOptions
	cmd := &cobra.Command{
		Use:   "solve FRAME",
		Short: "Find a frame's north: by a drift of the Sun, by known features, by another frame",
		Long: northLong + `

--drift names two or more frames taken with the tracking off and the camera
untouched: the disc moves due west (corrected for the Sun's own motion). That
gives no parity: say it, name one mark whose place is --known, or give a step in
declination, the disc's centre before (--step-from) and after (--step-to) the tube
was pushed toward celestial north.

--known says where marks of this frame are known to be, as M3=N08E14, at the time
of --list-at (official lists hold for 24h UT). --list reads such places from a CSV
file with the columns label,utc,lat_deg and lon_deg or cmd_deg, and finds the marks
by their label or alias. Both parities are tried, and the better one is told with
its odds.

--reference takes the marks with the same labels on another frame that is oriented,
as a picture of the same hour from elsewhere (frame add --reference).`,
		Example: `  limbwatch north solve F3 --drift F1,F2,F3 --not-mirrored
  limbwatch north solve F3 --drift F1,F2,F3 --known M4=N08E14
  limbwatch north solve F3 --drift F1,F2 --step-from 610,540 --step-to 598,702 --pushed north
  limbwatch north solve F3 --known M4=N08E14 --known M5=S17W40 --list-at 2026-03-14T00:00:00Z
  limbwatch north solve F3 --list regions.csv
  limbwatch north solve F3 --reference F9`,
		Args: cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			found, err := opts.solve(ctx, k, id)
			if err != nil {
				return adviseParity(err)
			}
			var from catalog.FrameID
			if opts.reference != "" {
				if from, err = parseFrame(opts.reference); err != nil {
					return err
				}
			}
			return holding(ctx, k, cmd, id, opts.json, func(k observe.Keeper) error {
				if _, err := k.KeepNorth(ctx, id, found, from, store.Newest); err != nil || opts.json {
					return err
				}
				_, err := fmt.Fprintf(cmd.OutOrStdout(), "%s\n", found.Why)
				return err
			})
		}),
	}
	f := cmd.Flags()
	f.StringSliceVar(&opts.drift, "drift", nil, "`frames` taken with the tracking off")
	f.StringVar(&opts.stepFrom, "step-from", "", "the disc's centre before a step in declination, as `X,Y`")
	f.StringVar(&opts.stepTo, "step-to", "", "the disc's centre after it, as `X,Y`")
	f.StringVar(&opts.pushed, "pushed", "north", "the `side` to which the tube was pushed: north or south")
	f.StringArrayVar(&opts.known, "known", nil, "a mark and its known place, as `M3=N08E14`; may be said again")
	f.StringVar(&opts.listAt, "list-at", "", "the `time` for which the places of --known hold (default: that of the frame)")
	f.StringVar(&opts.list, "list", "", "a CSV `file` of known places")
	f.Float64Var(&opts.sigmaDeg, "sigma-deg", 0.5, "standard error of known places along each direction, in `degrees`")
	f.StringVar(&opts.reference, "reference", "", "an oriented `frame` with the same features marked")
	f.BoolVar(&opts.mirrored, "mirrored", false, "the picture is known to be mirrored")
	f.BoolVar(&opts.notMirrored, "not-mirrored", false, "the picture is known not to be mirrored")
	addJSONFlag(cmd, &opts.json)
	cmd.MarkFlagsMutuallyExclusive("mirrored", "not-mirrored")
	cmd.MarkFlagsRequiredTogether("step-from", "step-to")
	cmd.MarkFlagsMutuallyExclusive("known", "list", "reference")
	cmd.MarkFlagsMutuallyExclusive("drift", "list", "reference")
	cmd.MarkFlagsOneRequired("drift", "known", "list", "reference")
	return cmd
}

// solve finds north in the way that was named.
func (o *solveOptions) solve(ctx context.Context, k observe.Keeper, id catalog.FrameID) (north.Found, error) {
	switch {
	case len(o.drift) > 0:
		return o.solveDrift(ctx, k, id)
	case o.reference != "":
		other, err := parseFrame(o.reference)
		if err != nil {
			return north.Found{}, err
		}
		solution, err := k.SolveReference(ctx, id, other, o.parity())
		return solution.Found, err
	}
	if !(o.sigmaDeg > 0) {
		return north.Found{}, misuse("--sigma-deg %v: an error is more than 0", o.sigmaDeg)
	}
	known, err := o.places(ctx, k, id)
	if err != nil {
		return north.Found{}, err
	}
	solution, err := k.SolveFeatures(ctx, id, known, o.parity())
	return solution.Found, err
}

func (o *solveOptions) parity() north.Parity {
	switch {
	case o.mirrored:
		return north.MirrorImage
	case o.notMirrored:
		return north.Upright
	}
	return north.Either
}

func (o *solveOptions) solveDrift(ctx context.Context, k observe.Keeper, of catalog.FrameID) (north.Found, error) {
	var run observe.DriftFrames
	for _, text := range o.drift {
		id, err := parseFrame(text)
		if err != nil {
			return north.Found{}, err
		}
		run.Frames = append(run.Frames, id)
	}
	if o.mirrored || o.notMirrored {
		run.Mirrored = &o.mirrored
	}
	if o.stepFrom != "" {
		step, err := o.step(ctx, k, run.Frames[0])
		if err != nil {
			return north.Found{}, err
		}
		run.Step = &step
	}
	if len(o.known) > 0 {
		if run.Mirrored != nil || run.Step != nil {
			return north.Found{}, misuse("--drift: the parity is told once, by --known, --step-from, --mirrored or --not-mirrored")
		}
		var err error
		if run.Known, err = o.places(ctx, k, of); err != nil {
			return north.Found{}, err
		}
		run.KnownOn = of
	}
	return k.SolveDrift(ctx, run)
}

// step reads the step in declination; its centres are as good as those of a frame
// of the run.
func (o *solveOptions) step(ctx context.Context, k observe.Keeper, of catalog.FrameID) (north.Step, error) {
	points, err := parsePoints([]string{o.stepFrom, o.stepTo})
	if err != nil {
		return north.Step{}, err
	}
	if o.pushed != "north" && o.pushed != "south" {
		return north.Step{}, misuse("--pushed %q: want north or south", o.pushed)
	}
	disc, err := k.Store.Read(ctx).Disc(of)
	if err != nil {
		return north.Step{}, err
	}
	const atLeastPx = 1 // a centre that was typed is no better
	return north.Step{
		From: points[0], To: points[1], TowardSouth: o.pushed == "south",
		SigmaPx: max(atLeastPx, disc.Limb.Cov.SigmaCentrePx()),
	}, nil
}

// places reads the known places, typed or from a list.
func (o *solveOptions) places(ctx context.Context, k observe.Keeper, id catalog.FrameID) ([]observe.KnownFeature, error) {
	if o.list != "" {
		list, err := o.readList()
		if err != nil {
			return nil, err
		}
		known, err := k.FeaturesByLabel(ctx, id, byLabel(list))
		if err == nil && len(known) < 2 {
			err = withHint(fmt.Errorf("%d marks of %s carry a label of %s, at least 2 are needed", len(known), id, o.list),
				"give marks their names of the list: limbwatch mark edit MARK --alias NAME")
		}
		return known, err
	}
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return nil, err
	}
	at := b.Frame.Middle(b.ClockCorrectionS)
	if o.listAt != "" {
		if at, err = parseInstant(o.listAt); err != nil {
			return nil, &misuseError{err}
		}
	}
	var known []observe.KnownFeature
	for _, text := range o.known {
		name, place, ok := strings.Cut(text, "=")
		if !ok {
			return nil, misuse("--known %q: want a mark and its place, as M3=N08E14", text)
		}
		mark, err := parseMark(name)
		if err != nil {
			return nil, err
		}
		lat, cmd, err := parseTradePlace(place)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(known, func(f observe.KnownFeature) bool { return f.Mark == mark }) {
			return nil, misuse("--known: %s has two places", mark)
		}
		known = append(known, o.feature(mark, at, lat, ephemeris.At(at).L0+cmd))
	}
	return known, nil
}

// feature is a mark at a known place, with the error that was said.
func (o *solveOptions) feature(mark catalog.MarkID, at time.Time, lat, lon coords.Angle) observe.KnownFeature {
	return observe.KnownFeature{
		Mark: mark, Epoch: at, Sigma: coords.Angle(o.sigmaDeg) * coords.Degree,
		Place: coords.Heliographic{B: lat, L: lon.Wrap360()},
	}
}

// maxListBytes is more than a list of known places has: some 100 000 of them.
const maxListBytes = 8 << 20

// listedPlace is a row of a list of places; its label may be empty.
type listedPlace struct {
	label string
	observe.KnownFeature
}

// byLabel are the places that have a label.
func byLabel(list []listedPlace) map[string]observe.KnownFeature {
	named := map[string]observe.KnownFeature{}
	for _, p := range list {
		if p.label != "" {
			named[p.label] = p.KnownFeature
		}
	}
	return named
}

// readList reads known places.
func (o *solveOptions) readList() ([]listedPlace, error) {
	text, err := plainfile.Read(o.list, maxListBytes)
	if err != nil {
		return nil, withHint(err, "name a CSV file with the columns label,utc,lat_deg and lon_deg or cmd_deg")
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err == nil && len(rows) == 0 {
		err = errEmptyList
	}
	if err != nil {
		return nil, withHint(fmt.Errorf("%s is no list of places: %w", o.list, err), "it is a CSV file with the columns label,utc,lat_deg and lon_deg or cmd_deg")
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[strings.TrimSpace(strings.TrimPrefix(name, "\ufeff"))] = i
	}
	var list []listedPlace
	for n, row := range rows[1:] {
		label, place, err := o.listRow(at, row)
		if err != nil {
			return nil, fmt.Errorf("%s line %d: %w", o.list, n+2, err)
		}
		list = append(list, listedPlace{label, place})
	}
	return list, nil
}

var errEmptyList = errors.New("it is empty")

func (o *solveOptions) listRow(at map[string]int, row []string) (string, observe.KnownFeature, error) {
	field := func(name string) (string, bool) {
		i, ok := at[name]
		if !ok {
			return "", false
		}
		return strings.TrimSpace(row[i]), true
	}
	label, _ := field("label")
	utc, hasUTC := field("utc")
	latText, hasLat := field("lat_deg")
	lonText, hasLon := field("lon_deg")
	cmdText, hasCMD := field("cmd_deg")
	if !hasUTC || !hasLat || !(hasLon || hasCMD) {
		return "", observe.KnownFeature{}, errors.New("want the columns label,utc,lat_deg and lon_deg or cmd_deg")
	}
	when, err := parseUTC(utc)
	if err != nil {
		return "", observe.KnownFeature{}, err
	}
	latDeg, err := parseFinite(latText)
	if err != nil {
		return "", observe.KnownFeature{}, err
	}
	lat := coords.Angle(latDeg) * coords.Degree
	if hasLon && lonText != "" {
		lon, err := parseFinite(lonText)
		return label, o.feature(0, when, lat, coords.Angle(lon)*coords.Degree), err
	}
	cmd, err := parseFinite(cmdText)
	return label, o.feature(0, when, lat, ephemeris.At(when).L0+coords.Angle(cmd)*coords.Degree), err
}
