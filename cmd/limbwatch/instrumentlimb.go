package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

func newInstrumentLimbCommand(app *app) *cobra.Command {
	var drift []string
	cmd := &cobra.Command{
		Use:   "limb --drift FRAMES",
		Short: "Measure which limb a set-up's pictures show, by a drift of the Sun",
		Long: `Limb measures how high above the photosphere the edge lies that a set-up's pictures
show. In H-alpha that is up to 0.9 % of the radius, and taken wrongly it moves a
position by half a degree at 60 degrees from the centre.

Take two or more frames with the tracking off and the camera untouched, as far apart
in time as the field allows: the Sun drifts by 15 arcseconds a second (times the
cosine of its declination), which gives the scale, and so the radius in arcseconds.
The height is kept with the set-up, for all discs of that role fitted from then on.`,
		Example: "  limbwatch instrument limb --drift F1,F2",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			var frames []catalog.FrameID
			for _, text := range drift {
				id, err := parseFrame(text)
				if err != nil {
					return err
				}
				frames = append(frames, id)
			}
			setup, layer, err := k.MeasureLimb(ctx, frames)
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s: its limb lies %s above the photosphere\n", setup.ID, withError(layer.HeightMm, &layer.SigmaMm, " Mm", false))
			return err
		}),
	}
	cmd.Flags().StringSliceVar(&drift, "drift", nil, "`frames` taken with the tracking off")
	if err := cmd.MarkFlagRequired("drift"); err != nil {
		panic(err) // the flag is defined above
	}
	return cmd
}
