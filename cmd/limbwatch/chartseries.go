package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog/chart"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
)

func newChartMapCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	var rotation int
	var woven, allDays bool
	cmd := &cobra.Command{
		Use:   "map",
		Short: "Draw the strip map of a Carrington rotation",
		Long: `Map draws longitude against latitude, each longitude as it stood when it passed the
meridian in that rotation, with the window that each day saw. --woven joins the days'
pictures underneath.`,
		Example: "  limbwatch chart map --rotation 2308 --out map.svg\n  limbwatch chart map --woven --out map.png",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			if cmd.Flags().Changed("rotation") && (rotation < 1 || rotation > 6000) {
				return misuse("--rotation %d: want a Carrington rotation, as 2308", rotation)
			}
			in, err := gather.Map(ctx, k, gather.MapOptions{Rotation: rotation, Woven: woven, AllDays: allDays})
			if err != nil {
				return err
			}
			how := fmt.Sprintf("no mark in rotation %d: limbwatch mark add, or another --rotation", in.Rotation)
			return sheet.draw(cmd, k, len(in.Entries) == 0, how, func(o chart.Options) (*canvas.Canvas, error) { return chart.Map(in, o) })
		}),
	}
	f := cmd.Flags()
	f.IntVar(&rotation, "rotation", 0, "the Carrington `rotation` (default: that of the newest mark)")
	f.BoolVar(&woven, "woven", false, "weave the days' pictures together underneath")
	f.BoolVar(&allDays, "all-days", false, "draw the shapes of every day, not only those nearest to the meridian")
	sheet.addFlags(cmd)
	return cmd
}

// span is the stretch of time of a chart; what was not typed is left open.
func (r *rangeFlags) span() (gather.Span, error) {
	from, to, err := r.resolve()
	return gather.Span{From: from, To: to}, err
}

// spanWords is a stretch of whole days in words.
func spanWords(from, to time.Time) string {
	return fmt.Sprintf("from %s to %s", from.Format(time.DateOnly), to.Add(-time.Nanosecond).Format(time.DateOnly))
}

func newChartLatitudesCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	var when rangeFlags
	cmd := &cobra.Command{
		Use:     "latitudes",
		Short:   "Draw latitude against time for spots, filaments and prominences",
		Example: "  limbwatch chart latitudes --from 2026-01-01 --to 2026-12-31 --out latitudes.svg",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			span, err := when.span()
			if err != nil {
				return err
			}
			in, err := gather.Latitudes(ctx, k, gather.LatitudesOptions{Span: span})
			if err != nil {
				return err
			}
			return sheet.draw(cmd, k, len(in.Entries) == 0, "no mark "+spanWords(in.From, in.To)+": limbwatch mark add, or another --from and --to", func(o chart.Options) (*canvas.Canvas, error) { return chart.Latitudes(in, o) })
		}),
	}
	when.addFlags(cmd)
	sheet.addFlags(cmd)
	return cmd
}

func newChartNumbersCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	var when rangeFlags
	cmd := &cobra.Command{
		Use:   "numbers",
		Short: "Draw the daily numbers of each kind with their running means",
		Long: `Numbers draws how many features of each kind were seen on each UT day. A day on which
a kind was not looked for is blank; one on which it was looked for and not seen is 0.
A feature on two frames of a sitting counts once.`,
		Example: "  limbwatch chart numbers --from 2026-03-01 --to 2026-03-31 --out numbers.svg",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			span, err := when.span()
			if err != nil {
				return err
			}
			in, err := gather.Numbers(ctx, k, gather.NumbersOptions{Span: span})
			if err != nil {
				return err
			}
			return sheet.draw(cmd, k, len(in.Series) == 0, "nothing was counted "+spanWords(in.From, in.To)+": limbwatch mark add or limbwatch log day, or another --from and --to", func(o chart.Options) (*canvas.Canvas, error) { return chart.Numbers(in, o) })
		}),
	}
	when.addFlags(cmd)
	sheet.addFlags(cmd)
	return cmd
}
