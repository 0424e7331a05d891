package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/north"
)

func newNorthMatchCommand(app *app) *cobra.Command {
	var from string
	var mirrored, notMirrored, asJSON bool
	cmd := &cobra.Command{
		Use:   "match FRAME",
		Short: "Find a frame's north by the pattern of another day's frame that has one",
		Long: northLong + `

Match turns the disc of an oriented frame by the Sun's rotation to the time of this
one, and compares the two over all rolls and both parities. It works over one to
three days, and refuses when the pattern does not decide: a blank Sun, too long a
gap.`,
		Example: `  limbwatch north match F4 --from F3
  limbwatch north match F4 --from F3 --not-mirrored --json`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			id, err := parseFrame(args[0])
			if err != nil {
				return err
			}
			other, err := parseFrame(from)
			if err != nil {
				return err
			}
			opts := solveOptions{mirrored: mirrored, notMirrored: notMirrored}
			found, _, err := k.SolveFromFrame(ctx, id, other, north.MatchOptions{Parity: opts.parity()})
			if err != nil {
				if _, ok := errors.AsType[*north.IndecisiveError](err); ok {
					return withHint(err, "try a frame nearer in time, or set north another way: limbwatch north set %s", id)
				}
				return err
			}
			if _, err := k.KeepNorth(ctx, id, found, other, store.Newest); err != nil {
				return err
			}
			if !asJSON {
				fmt.Fprintf(cmd.OutOrStdout(), "%s\n", found.Why)
			}
			return showFrame(ctx, cmd, k, id, asJSON)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&from, "from", "", "the oriented `frame`, of an earlier or a later day")
	f.BoolVar(&mirrored, "mirrored", false, "the picture is known to be mirrored")
	f.BoolVar(&notMirrored, "not-mirrored", false, "the picture is known not to be mirrored")
	addJSONFlag(cmd, &asJSON)
	cmd.MarkFlagsMutuallyExclusive("mirrored", "not-mirrored")
	if err := cmd.MarkFlagRequired("from"); err != nil {
		panic(err) // the flag is defined above
	}
	return cmd
}
