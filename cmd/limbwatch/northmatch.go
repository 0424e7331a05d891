package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/north"
)

// matchOptions are what "north match" was told. Angles are in degrees, as typed.
type matchOptions struct {
	from                  string
	marks                 []string
	allMarks              bool
	maxSigmaDeg           float64
	mirrored, notMirrored bool
	json                  bool
}

func newNorthMatchCommand(app *app) *cobra.Command {
	var opts matchOptions
	cmd := &cobra.Command{
		Use:   "match FRAME",
		Short: "Find a frame's north by what was seen on other days: their pattern, or followed features",
		Long: northLong + `

--from turns the disc of an oriented frame by the Sun's rotation to the time of this
one, and compares the two over all rolls and both parities. It works over one to
three days, and refuses when the pattern does not decide: a blank Sun, too long a
gap. What is decided is taken with the error that it has, some 0.2 degrees after a day
and more after two; the positions carry it. --max-sigma refuses what is less certain.

--marks takes marks of this frame in pixels, without saying what they are, and finds
the roll at which they stand where followed features are foretold; --all-marks takes
all that the frame has. It refuses when they do not decide.`,
		Example: `  limbwatch north match F4 --from F3
  limbwatch north match F4 --from F3 --not-mirrored --max-sigma 0.6 --json
  limbwatch north match F4 --marks M12,M13,M15
  limbwatch north match F4 --all-marks`,
		Args: cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			found, from, err := opts.match(ctx, k, cmd, id)
			if err != nil {
				return err
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
	f.StringVar(&opts.from, "from", "", "the oriented `frame`, of an earlier or a later day")
	f.StringSliceVar(&opts.marks, "marks", nil, "`marks` of this frame, as M12,M13")
	f.BoolVar(&opts.allMarks, "all-marks", false, "all marks of this frame")
	f.Float64Var(&opts.maxSigmaDeg, "max-sigma", 0, "with --from: a roll with a larger error is refused, `degrees` (default: what is decided is taken)")
	f.BoolVar(&opts.mirrored, "mirrored", false, "the picture is known to be mirrored")
	f.BoolVar(&opts.notMirrored, "not-mirrored", false, "the picture is known not to be mirrored")
	addJSONFlag(cmd, &opts.json)
	cmd.MarkFlagsMutuallyExclusive("mirrored", "not-mirrored")
	cmd.MarkFlagsMutuallyExclusive("from", "marks", "all-marks")
	cmd.MarkFlagsOneRequired("from", "marks", "all-marks")
	return cmd
}

// match finds north in the way that was named, and tells from which frame.
func (o *matchOptions) match(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) (north.Found, catalog.FrameID, error) {
	parity := (&solveOptions{mirrored: o.mirrored, notMirrored: o.notMirrored}).parity()
	set := cmd.Flags().Changed
	if set("max-sigma") && !(o.maxSigmaDeg > 0 && o.maxSigmaDeg <= 10) {
		return north.Found{}, 0, misuse("--max-sigma %v: want more than 0, at most 10 degrees", o.maxSigmaDeg)
	}
	if o.from == "" {
		if set("max-sigma") {
			return north.Found{}, 0, misuse("--max-sigma goes with --from")
		}
		found, err := o.matchMarks(ctx, k, id, parity)
		return found, 0, err
	}
	from, err := parseFrame(o.from)
	if err != nil {
		return north.Found{}, 0, err
	}
	found, _, err := k.SolveFromFrame(ctx, id, from, north.MatchOptions{Parity: parity, MaxSigma: coords.Angle(o.maxSigmaDeg) * coords.Degree})
	if _, ok := errors.AsType[*north.IndecisiveError](err); ok {
		err = withHint(err, "try a frame nearer in time, or set north another way: limbwatch north set %s", id)
	}
	return found, from, err
}

func (o *matchOptions) matchMarks(ctx context.Context, k observe.Keeper, id catalog.FrameID, parity north.Parity) (north.Found, error) {
	var marks []catalog.MarkID
	if !o.allMarks {
		var err error
		if marks, err = parseMarks(o.marks); err != nil {
			return north.Found{}, err
		}
	}
	found, err := k.SolveFromMarks(ctx, id, marks, north.MatchOptions{Parity: parity})
	if _, ok := errors.AsType[*north.MarksIndecisiveError](err); ok {
		err = withHint(err, "mark more of what was followed (limbwatch expect lists it), say --mirrored or --not-mirrored, or set north another way: limbwatch north set %s", id)
	}
	return found, err
}
