package main

import (
	"context"
	"errors"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/limb"
)

// discSetOptions are what the commands on a frame's disc were told.
type discSetOptions struct {
	circle, limb   string
	sigmaPx        float64
	ellipse        bool
	circular, json bool
}

func newDiscSetCommand(app *app) *cobra.Command {
	var opts discSetOptions
	cmd := &cobra.Command{
		Use:   "set FRAME [X,Y X,Y X,Y ...]",
		Short: "Set a frame's disc by three or more limb points, or by a circle; its marks follow",
		Long: `Set gives a frame its disc, by points typed on the limb or by a circle. Points far
apart along the limb fix it best. --limb alone says which limb the disc that is
there is the edge of.

Where a picture shows several round edges, as of a stop about the Sun, and what they
bound does not tell which is the Sun's, they are numbered: --circle 2 takes the second
of them. limbwatch disc find lists them.`,
		Example: `  limbwatch disc set F3 410,122 1302,95 1490,980 388,1102
  limbwatch disc set F3 --circle 902.5,611.2,540.8 --sigma-px 0.4
  limbwatch disc set F3 --circle 2
  limbwatch disc set F3 --limb chromosphere`,
		Args: cobra.MinimumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			id, err := parseFrame(args[0])
			if err != nil {
				return err
			}
			var layer *coords.Layer
			if opts.limb != "" {
				if layer, err = parseMeasuredLimb("limb", opts.limb); err != nil {
					return err
				}
			}
			if !(opts.sigmaPx > 0) || math.IsInf(opts.sigmaPx, 0) {
				return misuse("--sigma-px %v: an error is more than 0", opts.sigmaPx)
			}
			switch {
			case opts.circle != "" && len(args) > 1:
				return misuse("a circle and limb points at once: give one of them")
			case opts.circle != "" && !strings.Contains(opts.circle, ","):
				number, err := strconv.Atoi(opts.circle)
				if err != nil {
					return misuse("--circle %q: want X,Y,R in pixels, or the number of a circle", opts.circle)
				}
				if _, err := k.TakeCircle(ctx, id, number, layer, store.Newest); err != nil {
					if _, ok := errors.AsType[*observe.NoCircleError](err); ok {
						return withHint(err, "see them with limbwatch disc find, or give --circle X,Y,R")
					}
					return adviseDisc(err, id)
				}
			case opts.circle != "":
				circle, err := parseDisc("circle", opts.circle)
				if err != nil {
					return err
				}
				variance := opts.sigmaPx * opts.sigmaPx
				circle.Cov = coords.LimbCovariance{XX: variance, YY: variance, RR: variance}
				_, err = k.SetCircle(ctx, id, circle, layer, store.Newest)
				if err != nil {
					return err
				}
			case len(args) > 1:
				points, err := parsePoints(args[1:])
				if err != nil {
					return err
				}
				if len(points) < 3 {
					return misuse("%d limb points: a circle needs three or more", len(points))
				}
				_, err = k.SetLimbPoints(ctx, id, points, opts.fit(), layer, store.Newest)
				if err != nil {
					return err
				}
			case layer != nil:
				if _, err := k.SetDiscLayer(ctx, id, *layer, store.Newest); err != nil {
					return err
				}
			default:
				return withHint(misuse("nothing to set"), "give limb points X,Y, --circle X,Y,R or --limb")
			}
			return showFrame(ctx, cmd, k, id, opts.json)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&opts.circle, "circle", "", "centre and radius in pixels, as `X,Y,R`, or the number of one of the picture's circles")
	f.Float64Var(&opts.sigmaPx, "sigma-px", 0.5, "standard error of a limb point along each axis, or of a circle's centre and radius, in `pixels`")
	f.StringVar(&opts.limb, "limb", "", "which limb it is: photosphere, chromosphere or `MM,SIGMA` (default: as before, or by filter and role)")
	f.BoolVar(&opts.ellipse, "ellipse", false, "fit an ellipse to the points (five or more)")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

func (o *discSetOptions) fit() limb.Options {
	opts := limb.Options{SigmaClickPx: o.sigmaPx}
	switch {
	case o.ellipse:
		opts.Shape = limb.Ellipse
	case o.circular:
		opts.Shape = limb.Circle
	}
	return opts
}

func newDiscFitCommand(app *app) *cobra.Command {
	var opts discSetOptions
	cmd := &cobra.Command{
		Use:     "fit FRAME",
		Short:   "Find a frame's disc in its picture anew; its marks follow",
		Example: "  limbwatch disc fit F3 --ellipse",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			if _, err := k.FitDisc(ctx, id, opts.fit(), nil, store.Newest); err != nil {
				return adviseDisc(err, id)
			}
			return showFrame(ctx, cmd, k, id, opts.json)
		}),
	}
	cmd.Flags().BoolVar(&opts.circular, "circle", false, "fit a circle, whatever the limb looks like")
	cmd.Flags().BoolVar(&opts.ellipse, "ellipse", false, "fit an ellipse, as for a low Sun")
	cmd.MarkFlagsMutuallyExclusive("circle", "ellipse")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// adviseDisc adds what to do when a frame's disc was refused.
func adviseDisc(err error, id catalog.FrameID) error {
	refused, ok := errors.AsType[*limb.RefusedError](err)
	switch {
	case ok && len(refused.Rivals) > 0:
		return withHint(err, "look at the picture and take one: limbwatch disc set %s --circle 1; or type three or more limb points", id)
	case ok:
		return withHint(err, "type three or more limb points: limbwatch disc set %s X,Y X,Y X,Y", id)
	}
	return err
}

func newDiscAcceptCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "accept FRAME",
		Short:   "Say that you looked at a frame's disc and found it right",
		Example: "  limbwatch disc accept F3",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, id catalog.FrameID) error {
			_, err := k.AcceptDisc(ctx, id, store.Newest)
			return err
		}),
	}
}

func newDiscRemoveCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "remove FRAME",
		Short:   "Take a frame's disc out of sight: better none than a wrong one (undo brings it back)",
		Example: "  limbwatch disc remove F3",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, id catalog.FrameID) error {
			return k.RemoveDisc(ctx, id, store.Newest)
		}),
	}
}

// showFrame prints a frame after a change.
func showFrame(ctx context.Context, cmd *cobra.Command, k observe.Keeper, id catalog.FrameID, asJSON bool) error {
	row, err := frameRowOf(ctx, k, id)
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(cmd.OutOrStdout(), row)
	}
	return printFrame(cmd.OutOrStdout(), row)
}
