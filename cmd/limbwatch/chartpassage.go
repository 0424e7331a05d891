package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/coords/rotation"
)

func newChartPassageCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	cmd := &cobra.Command{
		Use:     "passage PASSAGE",
		Short:   "Draw where a passage was seen over where it was expected, with errors",
		Example: "  limbwatch chart passage 2026-fil-3 --out passage.svg",
		Args:    cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			v := k.Store.Read(ctx)
			p, err := findPassage(v, args[0])
			if err != nil {
				return err
			}
			course, err := k.Course(ctx, p.ID)
			if err != nil {
				return err
			}
			in := chart.PassageInput{Name: p.Name, Kind: p.Kind, Heading: heading(v), By: "its own rate, and that of its kind"}
			for _, s := range course.Seen {
				in.Observed = append(in.Observed, chart.Sight{UTC: s.UTC, Place: s.Place, Mark: s.Mark})
			}
			for _, s := range course.Expected {
				in.Predicted = append(in.Predicted, chart.Sight{UTC: s.UTC, Place: s.Place})
			}
			in.East, in.Meridian, in.West = course.East, course.Meridian, course.West
			return sheet.draw(cmd, func(o chart.Options) (*canvas.Canvas, error) { return chart.Passage(in, o) })
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
			rates, err := k.OwnRates(ctx, kind, from, to)
			if err != nil {
				return err
			}
			in := chart.RatesInput{Heading: heading(k.Store.Read(ctx))}
			for _, f := range rates.Features {
				in.Points = append(in.Points, chart.Rate{Name: f.Name, Kind: f.Kind, Lat: f.Lat, DegPerDay: f.DegPerDay, Sigma: f.Sigma})
			}
			if rates.Fitted {
				in.Fit = &rates.Law
			}
			for _, law := range rotation.Laws() {
				if law.Tracer == kind.String() || law.Name == rotation.PriorOf(kind.String()).Law.Name {
					in.Laws = append(in.Laws, law)
				}
			}
			return sheet.draw(cmd, func(o chart.Options) (*canvas.Canvas, error) { return chart.Rates(in, o) })
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
			list, err := k.Expect(ctx, now)
			if err != nil {
				return err
			}
			in := chart.ComingInput{From: catalog.DayOf(now), To: catalog.DayOf(now).AddDate(0, 0, days), Now: now, Heading: heading(k.Store.Read(ctx))}
			for _, e := range list {
				if e.Alive < minAlive || e.Passage.Kind == catalog.Prominence {
					continue
				}
				in.Items = append(in.Items, comingItems(e, now, days, minAlive)...)
			}
			return sheet.draw(cmd, func(o chart.Options) (*canvas.Canvas, error) { return chart.Calendar(in, o) })
		}),
	}
	f := cmd.Flags()
	f.StringVar(&at, "at", "", "from this `time` on, as 2026-03-14T15:23:10Z (default: now)")
	f.IntVar(&days, "for", 28, "how many `days`")
	f.Float64Var(&minAlive, "alive", 0.2, "leave out what is less likely than this still to be")
	sheet.addFlags(cmd)
	return cmd
}

// comingItems are what is left of a feature's present crossing, and the next one.
func comingItems(e observe.Expected, now time.Time, days int, minAlive float64) []chart.Coming {
	item := chart.Coming{Name: e.Passage.Name, Kind: e.Passage.Kind, Lat: e.Place.B}
	var items []chart.Coming
	if e.InView {
		here := item
		alive := e.Alive
		if e.WestEdge.Known {
			alive = e.WestEdge.Alive // the bar ends there
		}
		here.Odds, here.West = &alive, momentOf(e.WestEdge, now, days)
		if e.Meridian.UTC.Before(e.WestEdge.UTC) {
			here.Meridian = momentOf(e.Meridian, now, days)
		}
		items = append(items, here)
	}
	if back := momentOf(e.EastEdge, now, days); !back.UTC.IsZero() && e.EastEdge.Alive >= minAlive {
		alive := e.EastEdge.Alive
		item.Odds, item.East = &alive, back
		item.Meridian, item.West = momentOf(e.BackMeridian, now, days), momentOf(e.BackWestEdge, now, days)
		if e.InView {
			item.Name += " back"
		}
		items = append(items, item)
	}
	return items
}

// momentOf is an event as the calendar draws it; one after its end is left out.
func momentOf(e follow.Event, now time.Time, days int) chart.Moment {
	if !e.Known || e.UTC.After(now.AddDate(0, 0, days)) {
		return chart.Moment{}
	}
	return chart.Moment{UTC: e.UTC, Sigma: e.Sigma}
}
