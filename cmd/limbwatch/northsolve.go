package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/north"
)

// solveOptions are what "north solve" was told.
type solveOptions struct {
	drift                 []string
	stepFrom, stepTo      string
	pushed                string
	mirrored, notMirrored bool
	json                  bool
}

func newNorthSolveCommand(app *app) *cobra.Command {
	var opts solveOptions
	cmd := &cobra.Command{
		Use:   "solve FRAME",
		Short: "Find a frame's north by a drift of the Sun across the field",
		Long: northLong + `

--drift names two or more frames taken with the tracking off and the camera
untouched: the disc moves due west (corrected for the Sun's own motion). That
gives no parity: say it, or give a step in declination, the disc's centre before
(--step-from) and after (--step-to) the tube was pushed toward celestial north.`,
		Example: `  limbwatch north solve F3 --drift F1,F2,F3 --not-mirrored
  limbwatch north solve F3 --drift F1,F2 --step-from 610,540 --step-to 598,702 --pushed north`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			id, err := parseFrame(args[0])
			if err != nil {
				return err
			}
			found, err := opts.solve(ctx, k)
			if err != nil {
				return adviseParity(err)
			}
			if _, err := k.KeepNorth(ctx, id, found, 0, store.Newest); err != nil {
				return err
			}
			if !opts.json {
				fmt.Fprintf(cmd.OutOrStdout(), "%s\n", found.Why)
			}
			return showFrame(ctx, cmd, k, id, opts.json)
		}),
	}
	f := cmd.Flags()
	f.StringSliceVar(&opts.drift, "drift", nil, "`frames` taken with the tracking off")
	f.StringVar(&opts.stepFrom, "step-from", "", "the disc's centre before a step in declination, as `X,Y`")
	f.StringVar(&opts.stepTo, "step-to", "", "and after it")
	f.StringVar(&opts.pushed, "pushed", "north", "where the tube was pushed: north or south")
	f.BoolVar(&opts.mirrored, "mirrored", false, "the picture is known to be mirrored")
	f.BoolVar(&opts.notMirrored, "not-mirrored", false, "the picture is known not to be mirrored")
	addJSONFlag(cmd, &opts.json)
	cmd.MarkFlagsMutuallyExclusive("mirrored", "not-mirrored")
	cmd.MarkFlagsRequiredTogether("step-from", "step-to")
	cmd.MarkFlagsOneRequired("drift")
	return cmd
}

// solve finds north in the way that was named.
func (o *solveOptions) solve(ctx context.Context, k observe.Keeper) (north.Found, error) {
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
