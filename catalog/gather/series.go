package gather

import (
	"context"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/store"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// MapOptions choose a rotation's strip map (see chart.MapInput). Rotation 0 is that of
// the newest frame.
type MapOptions struct {
	Rotation                 int
	Woven, AllDays, NoLabels bool
}

// Map gathers the strip map of a Carrington rotation.
func Map(ctx context.Context, k observe.Keeper, o MapOptions) (chart.MapInput, error) {
	v := k.Store.Read(ctx)
	if o.Rotation == 0 {
		last, err := newest(v, k.Now())
		if err != nil {
			return chart.MapInput{}, err
		}
		o.Rotation = int(ephemeris.Rotation(last))
	}
	// What a rotation's map shows was seen up to a week before and after it.
	from := ephemeris.RotationStart(o.Rotation).AddDate(0, 0, -7)
	to := ephemeris.RotationStart(o.Rotation+1).AddDate(0, 0, 7)
	in := chart.MapInput{Rotation: o.Rotation, Woven: o.Woven, AllDays: o.AllDays, NoLabels: o.NoLabels, Heading: heading(v)}
	var err error
	if in.Looks, err = looksBetween(ctx, k, from, to, o.Woven); err != nil {
		return in, err
	}
	in.Entries, err = v.Entries(store.Query{From: from, To: to})
	return in, err
}

// LatitudesOptions choose the latitudes against time. Kinds nil: sunspots, filaments,
// prominences.
type LatitudesOptions struct {
	Span
	Kinds []catalog.Kind
}

// Latitudes gathers latitude against time.
func Latitudes(ctx context.Context, k observe.Keeper, o LatitudesOptions) (chart.LatitudesInput, error) {
	v := k.Store.Read(ctx)
	in := chart.LatitudesInput{Kinds: o.Kinds, Heading: heading(v), Views: map[catalog.FrameID]*disc.View{}}
	var err error
	if in.From, in.To, err = o.filled(v, k.Now()); err != nil {
		return in, err
	}
	if in.Entries, err = v.Entries(store.Query{From: in.From, To: in.To}); err != nil {
		return in, err
	}
	looks, err := looksBetween(ctx, k, in.From, in.To, false)
	if err != nil {
		return in, err
	}
	for _, look := range looks {
		in.Views[look.Frame] = look.View
	}
	in.Looked, err = lookedDays(v, in.From, in.To)
	return in, err
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

// NumbersOptions choose the daily numbers. MeanDays 0: what suits the span.
type NumbersOptions struct {
	Span
	MeanDays int
}

// Numbers gathers the daily numbers of each kind, counted as a report counts them. A day
// on which a kind was not looked for is left out; one on which it was looked for and not
// seen has 0. A feature on two frames of a day counts once.
func Numbers(ctx context.Context, k observe.Keeper, o NumbersOptions) (chart.NumbersInput, error) {
	in := chart.NumbersInput{MeanDays: o.MeanDays}
	err := k.Store.View(ctx, func(v *store.View) (err error) {
		in.Heading = heading(v)
		if in.From, in.To, err = o.filled(v, k.Now()); err != nil {
			return err
		}
		counted := report.Input{Period: report.Period{From: catalog.DayOf(in.From), To: catalog.DayOf(in.To.Add(24*time.Hour - 1))}}
		g := reportGatherer{view: v, in: &counted, frames: map[catalog.FrameID]catalog.Frame{}}
		if err := g.counts(); err != nil {
			return err
		}
		in.Series = report.Series(counted.Days())
		return nil
	})
	return in, err
}
