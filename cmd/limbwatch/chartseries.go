package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
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
			v := k.Store.Read(ctx)
			if !cmd.Flags().Changed("rotation") {
				rotation = int(ephemeris.Rotation(newest(v, app.now())))
			}
			if rotation < 1 || rotation > 6000 {
				return misuse("--rotation %d: want a Carrington rotation, as 2308", rotation)
			}
			// What a rotation's map shows was seen up to a week before and after it.
			from := ephemeris.RotationStart(rotation).AddDate(0, 0, -7)
			to := ephemeris.RotationStart(rotation+1).AddDate(0, 0, 7)
			in := chart.MapInput{Rotation: rotation, Woven: woven, AllDays: allDays, Heading: heading(v)}
			var err error
			if in.Looks, err = looksBetween(ctx, k, from, to, woven); err != nil {
				return err
			}
			if in.Entries, err = v.Entries(store.Query{From: from, To: to}); err != nil {
				return err
			}
			return sheet.draw(cmd, func(o chart.Options) (*canvas.Canvas, error) { return chart.Map(in, o) })
		}),
	}
	f := cmd.Flags()
	f.IntVar(&rotation, "rotation", 0, "the Carrington `rotation` (default: that of the newest mark)")
	f.BoolVar(&woven, "woven", false, "weave the days' pictures together underneath")
	f.BoolVar(&allDays, "all-days", false, "draw the shapes of every day, not only those nearest to the meridian")
	sheet.addFlags(cmd)
	return cmd
}

// newest is the instant of the newest frame, or now when there is none.
func newest(v *store.View, now time.Time) time.Time {
	frames, err := v.FramesBetween(time.Time{}, now.AddDate(1, 0, 0))
	if err != nil || len(frames) == 0 {
		return now
	}
	return frames[len(frames)-1].Taken
}

// span is the stretch of time of a chart; what was not typed is the newest month.
func (r *rangeFlags) span(v *store.View, now time.Time) (from, to time.Time, err error) {
	if from, to, err = r.resolve(); err != nil {
		return from, to, err
	}
	if to.IsZero() {
		to = catalog.DayOf(newest(v, now)).AddDate(0, 0, 1)
	}
	if from.IsZero() {
		from = to.AddDate(0, 0, -31)
	}
	return from, to, nil
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
			v := k.Store.Read(ctx)
			in := chart.LatitudesInput{Heading: heading(v), Views: map[catalog.FrameID]*disc.View{}}
			var err error
			if in.From, in.To, err = when.span(v, app.now()); err != nil {
				return err
			}
			if in.Entries, err = v.Entries(store.Query{From: in.From, To: in.To}); err != nil {
				return err
			}
			looks, err := looksBetween(ctx, k, in.From, in.To, false)
			if err != nil {
				return err
			}
			for _, look := range looks {
				in.Views[look.Frame] = look.View
			}
			if in.Looked, err = lookedDays(v, in.From, in.To); err != nil {
				return err
			}
			return sheet.draw(cmd, func(o chart.Options) (*canvas.Canvas, error) { return chart.Latitudes(in, o) })
		}),
	}
	when.addFlags(cmd)
	sheet.addFlags(cmd)
	return cmd
}

// lookedDays are the days on which each kind was looked for; nil when no sitting
// says anything, as with records from elsewhere.
func lookedDays(v *store.View, from, to time.Time) (map[catalog.Kind][]time.Time, error) {
	sittings, err := v.SittingsBetween(from, to)
	if err != nil {
		return nil, err
	}
	var days map[catalog.Kind][]time.Time
	for _, s := range sittings {
		for kind, look := range s.Looked {
			if look != catalog.NotLooked {
				if days == nil {
					days = map[catalog.Kind][]time.Time{}
				}
				days[kind] = append(days[kind], s.Day)
			}
		}
	}
	return days, nil
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
			v := k.Store.Read(ctx)
			from, to, err := when.span(v, app.now())
			if err != nil {
				return err
			}
			in := chart.NumbersInput{From: from, To: to, Heading: heading(v)}
			if in.Series, err = dailyNumbers(v, from, to); err != nil {
				return err
			}
			return sheet.draw(cmd, func(o chart.Options) (*canvas.Canvas, error) { return chart.Numbers(in, o) })
		}),
	}
	when.addFlags(cmd)
	sheet.addFlags(cmd)
	return cmd
}

// dailyNumbers counts each kind's sightings on each day on which it was looked for.
func dailyNumbers(v *store.View, from, to time.Time) ([]chart.Series, error) {
	looked, err := lookedDays(v, from, to)
	if err != nil {
		return nil, err
	}
	entries, err := v.Entries(store.Query{From: from, To: to})
	if err != nil {
		return nil, err
	}
	count := map[catalog.Kind]map[time.Time]float64{}
	for _, s := range catalog.GroupSightings(entries) {
		best := s.Entries[s.Best]
		kind, day := best.Mark.Kind, catalog.DayOf(best.Position.UTC)
		if count[kind] == nil {
			count[kind] = map[time.Time]float64{}
		}
		count[kind][day]++
	}
	var series []chart.Series
	for _, kind := range catalog.Kinds {
		if kind == catalog.Other {
			continue
		}
		days := map[time.Time]float64{}
		for _, day := range looked[kind] {
			days[day] = 0
		}
		for day, n := range count[kind] {
			days[day] = n
		}
		if len(days) == 0 {
			continue
		}
		one := chart.Series{Name: kind.String() + "s", Kind: kind}
		if kind == catalog.Plage {
			one.Name = "plages"
		}
		for day := catalog.DayOf(from); day.Before(to); day = day.AddDate(0, 0, 1) {
			if n, seen := days[day]; seen {
				one.Days = append(one.Days, chart.DayCount{Day: day, Count: n})
			}
		}
		series = append(series, one)
	}
	return series, nil
}
