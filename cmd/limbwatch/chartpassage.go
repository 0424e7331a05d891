package main

import (
	"context"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
)

func newChartPassageCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	cmd := &cobra.Command{
		Use:     "passage PASSAGE",
		Short:   "Draw where a passage was seen over where it was expected, with errors",
		Example: "  limbwatch chart passage 2026-fil-3 --out passage.svg",
		Args:    cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			p, err := findPassage(k.Store.Read(ctx), args[0])
			if err != nil {
				return err
			}
			in, err := gather.Passage(ctx, k, gather.PassageOptions{Passage: p.ID})
			if err != nil {
				return err
			}
			return sheet.draw(cmd, k, false, "", func(o chart.Options) (*canvas.Canvas, error) { return chart.Passage(in, o) })
		}),
	}
	sheet.addFlags(cmd)
	return cmd
}

func newChartRatesCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	var when rangeFlags
	var kindName string
	cmd := &cobra.Command{
		Use:     "rates",
		Short:   "Draw your own rotation curve beside the literature",
		Example: "  limbwatch chart rates --kind filament --out rates.svg",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			from, to, err := when.resolve()
			if err != nil {
				return err
			}
			kind, err := catalog.ParseKind(kindName)
			if err != nil {
				return &misuseError{err}
			}
			in, err := gather.Rates(ctx, k, gather.RatesOptions{Kind: kind, From: from, To: to})
			if err != nil {
				return err
			}
			how := "no passage of a " + kind.String() + " is long enough yet, three sightings near the meridian over two and a half days: limbwatch track follow"
			return sheet.draw(cmd, k, len(in.Points) == 0, how, func(o chart.Options) (*canvas.Canvas, error) { return chart.Rates(in, o) })
		}),
	}
	cmd.Flags().StringVar(&kindName, "kind", "sunspot", "of which `kind` of feature")
	when.addFlags(cmd)
	sheet.addFlags(cmd)
	return cmd
}

func newChartComingCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	var at string
	var days int
	var minAlive float64
	cmd := &cobra.Command{
		Use:     "coming",
		Short:   "Draw a calendar of what is coming: edges and meridian, with errors",
		Example: "  limbwatch chart coming --at 2026-03-14T12:00:00Z --for 28 --out coming.svg",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			now := app.now().UTC()
			if at != "" {
				var err error
				if now, err = parseInstant(at); err != nil {
					return &misuseError{err}
				}
			}
			if days < 1 || days > 120 {
				return misuse("--for %d: want 1 to 120 days", days)
			}
			in, err := gather.Coming(ctx, k, gather.ComingOptions{At: now, Days: days, MinAlive: minAlive})
			if err != nil {
				return err
			}
			const how = "nothing followed was seen in the weeks before: limbwatch track follow, or another --at"
			return sheet.draw(cmd, k, len(in.Items) == 0, how, func(o chart.Options) (*canvas.Canvas, error) { return chart.Calendar(in, o) })
		}),
	}
	f := cmd.Flags()
	f.StringVar(&at, "at", "", "from this `time` on, as 2026-03-14T15:23:10Z (default: now)")
	f.IntVar(&days, "for", 28, "how many `days`")
	f.Float64Var(&minAlive, "alive", 0.2, "leave out what is less likely than this `probability` still to be")
	sheet.addFlags(cmd)
	return cmd
}
