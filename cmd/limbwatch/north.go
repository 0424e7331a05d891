package main

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/north"
)

const northLong = `North is where celestial north points in the picture as shown, in degrees
counter-clockwise from up: 0 up, 90 left. A picture is mirrored when east lies
clockwise of north. (So the position angle of up is minus north, or plus north
when mirrored.)

What was set is held against the norths of the nearest days, through what is marked on
both pictures or through the pictures themselves: half a turn off, east and west
exchanged, off by more than the errors allow are told, with what would fit; and so is a
picture mirrored otherwise than the set-up's others. What lies wrong alike in all
pictures with north and south exchanged (a forgotten mirror, with west to the right)
cannot be seen so: it shows in a drift line where the Sun's axis leans by more than 3
degrees (P), in the tilt B0 over weeks, or by a list of positions.`

func newNorthCommand(app *app) *cobra.Command {
	return group("north", "Say or find which way north is in a frame", northLong,
		newNorthSetCommand(app),
		newNorthSolveCommand(app),
		newNorthMatchCommand(app),
		newNorthRotationCommand(app),
		newNorthRemoveCommand(app),
	)
}

// northOptions are what "north set" was told. Angles are in degrees, as typed.
type northOptions struct {
	northDeg, solarDeg, zenithDeg float64
	sigmaDeg                      float64
	mirrored, last, flip, json    bool
}

func newNorthSetCommand(app *app) *cobra.Command {
	var opts northOptions
	cmd := &cobra.Command{
		Use:   "set FRAME",
		Short: "Set a frame's north: typed, as last time, flipped, or from a level camera; its marks follow",
		Long: northLong + `

--north is celestial north, as typed. --solar-north is for pictures that were
turned to the Sun's own north. --zenith is for a camera that keeps its lie against
the horizon, as on an alt-azimuth mount: where the zenith points, 0 for an upright,
level camera; celestial north then follows from site and time.

--last takes the north of the last frame of the same set-up. A camera angle belongs
to one sitting: taken over from another one its error grows, and that is said.
--flip turns by half a turn what the frame has (or the last one had), as a mount
does that is turned over after the meridian.`,
		Example: `  limbwatch north set F3 --north 12.4 --sigma-north-deg 0.3
  limbwatch north set F3 --solar-north 0
  limbwatch north set F3 --zenith 1.5 --mirrored
  limbwatch north set F4 --last
  limbwatch north set F5 --flip`,
		Args: cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			return holding(ctx, k, cmd, id, opts.json, func(k observe.Keeper) error { return opts.set(ctx, k, cmd, id) })
		}),
	}
	f := cmd.Flags()
	f.Float64Var(&opts.northDeg, "north", 0, "where celestial north points, `degrees` counter-clockwise from up")
	f.Float64Var(&opts.solarDeg, "solar-north", 0, "where the Sun's north pole points, `degrees` counter-clockwise from up")
	f.Float64Var(&opts.zenithDeg, "zenith", 0, "where the zenith points, `degrees` counter-clockwise from up")
	f.Float64Var(&opts.sigmaDeg, "sigma-north-deg", 0.5, "standard error of what was typed, `degrees`")
	f.BoolVar(&opts.mirrored, "mirrored", false, "the picture is mirrored: east lies clockwise of north")
	f.BoolVar(&opts.last, "last", false, "as last time on this set-up")
	f.BoolVar(&opts.flip, "flip", false, "turned over by 180 degrees, as after a meridian passage")
	addJSONFlag(cmd, &opts.json)
	cmd.MarkFlagsMutuallyExclusive("north", "solar-north", "zenith", "last", "flip")
	cmd.MarkFlagsOneRequired("north", "solar-north", "zenith", "last", "flip")
	return cmd
}

// holding keeps a north, holds it against those of the neighbouring days, and shows the frame
// with what does not go together.
func holding(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID, asJSON bool, keep func(observe.Keeper) error) error {
	tellings, err := k.NorthTellings(ctx, id)
	if err != nil {
		return err
	}
	hanging, err := k.Hanging(ctx, id)
	if err != nil {
		return err
	}
	if err := keep(k.Heeding(tellings)); err != nil {
		return err
	}
	followed, err := k.Followed(ctx, hanging)
	if err != nil {
		return err
	}
	if followed != "" {
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s\n", followed)
	}
	if err := tellNorth(ctx, k, cmd, id, tellings); err != nil {
		return err
	}
	return showFrame(ctx, cmd, k, id, asJSON)
}

// tellNorth says what contradicts the north that a frame has.
func tellNorth(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID, tellings []observe.Telling) error {
	found, err := k.HoldNorth(ctx, id, tellings)
	for _, c := range found {
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s: %s\n", c.Frame, c.Words)
	}
	return err
}

func (o *northOptions) set(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
	set := cmd.Flags().Changed
	var err error
	switch {
	case (o.last || o.flip) && (set("mirrored") || set("sigma-north-deg")):
		return misuse("--last and --flip take parity and error from the frame before; leave --mirrored and --sigma-north-deg out")
	case o.last:
		_, err = k.NorthAsLast(ctx, id, store.Newest)
		return adviseNorth(err, id)
	case o.flip:
		_, err = k.FlipNorth(ctx, id, store.Newest)
		return adviseNorth(err, id)
	}
	if !(o.sigmaDeg > 0) || math.IsInf(o.sigmaDeg, 0) {
		return misuse("--sigma-north-deg %v: an error is more than 0", o.sigmaDeg)
	}
	deg, toward := o.northDeg, catalog.TowardCelestial
	switch {
	case set("solar-north"):
		deg, toward = o.solarDeg, catalog.TowardSolar
	case set("zenith"):
		deg, toward = o.zenithDeg, catalog.TowardZenith
	}
	if !(deg >= -360 && deg <= 360) {
		return misuse("angle %v: want -360 to 360 degrees", deg)
	}
	_, err = k.SetNorth(ctx, catalog.North{
		Frame: id, Angle: coords.Angle(deg) * coords.Degree, Toward: toward, Mirrored: o.mirrored,
		Sigma: coords.Angle(o.sigmaDeg) * coords.Degree,
	}, store.Newest)
	return err
}

// adviseNorth adds what to do when there is no last time.
func adviseNorth(err error, id catalog.FrameID) error {
	if isMissing(err) {
		return withHint(fmt.Errorf("no oriented frame of this set-up before %s", id), "type it: limbwatch north set %s --north DEG", id)
	}
	return err
}

func newNorthRemoveCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "remove FRAME",
		Short:   "Take a frame's north out of sight (undo brings it back)",
		Example: "  limbwatch north remove F3",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, id catalog.FrameID) error {
			return k.RemoveNorth(ctx, id, store.Newest)
		}),
	}
}

// adviseParity adds how to tell the parity where a method cannot.
func adviseParity(err error) error {
	if _, ok := errors.AsType[*observe.ParityNeededError](err); ok {
		return withHint(err, "say --mirrored or --not-mirrored, or give a step in declination with --step-from and --step-to")
	}
	if _, ok := errors.AsType[*north.UndecidedError](err); ok {
		return withHint(err, "say --mirrored or --not-mirrored, or mark more features")
	}
	return err
}
