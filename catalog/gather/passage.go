package gather

import (
	"context"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/rotation"
)

// PassageOptions choose a passage.
type PassageOptions struct{ Passage catalog.PassageID }

// Passage gathers where a passage was seen, over where it was expected. Errors: a
// passage that is not there, or none of whose marks has a position.
func Passage(ctx context.Context, k observe.Keeper, o PassageOptions) (chart.PassageInput, error) {
	v := k.Store.Read(ctx)
	p, err := v.Passage(o.Passage)
	if err != nil {
		return chart.PassageInput{}, err
	}
	in := chart.PassageInput{Passage: p.ID, Name: p.Name, Kind: p.Kind, Heading: heading(v), By: "its own rate, and that of its kind"}
	course, err := k.Course(ctx, p.ID)
	if err != nil {
		return in, err
	}
	frames, err := framesOf(v, p.ID)
	if err != nil {
		return in, err
	}
	for _, s := range course.Seen {
		in.Observed = append(in.Observed, chart.Sight{UTC: s.UTC, Place: s.Place, Mark: s.Mark, Frame: frames[s.Mark]})
	}
	for _, s := range course.Expected {
		in.Predicted = append(in.Predicted, chart.Sight{UTC: s.UTC, Place: s.Place})
	}
	in.East, in.Meridian, in.West = momentOf(course.East), momentOf(course.Meridian), momentOf(course.West)
	return in, nil
}

// framesOf are the frames on which a passage's marks stand.
func framesOf(v *store.View, id catalog.PassageID) (map[catalog.MarkID]catalog.FrameID, error) {
	frames := map[catalog.MarkID]catalog.FrameID{}
	err := v.EachEntry(store.Query{Passage: id}, func(e catalog.Entry) error {
		frames[e.Mark.ID] = e.Frame.ID
		return nil
	})
	return frames, err
}

// RatesOptions choose the rotation curve: of which kind, and from what was seen when;
// zero times leave it open.
type RatesOptions struct {
	Kind     catalog.Kind
	From, To time.Time
}

// Rates gathers the observer's own rotation curve, and the published laws for the kind.
func Rates(ctx context.Context, k observe.Keeper, o RatesOptions) (chart.RatesInput, error) {
	in := chart.RatesInput{Heading: heading(k.Store.Read(ctx))}
	rates, err := k.OwnRates(ctx, o.Kind, o.From, o.To)
	if err != nil {
		return in, err
	}
	for _, f := range rates.Features {
		in.Points = append(in.Points, chart.Rate{Name: f.Name, Kind: f.Kind, Lat: f.Lat, DegPerDay: f.DegPerDay, Sigma: f.Sigma, Passage: f.Passage})
	}
	if rates.Fitted {
		in.Fit = &rates.Law
	}
	for _, law := range rotation.Laws() {
		if law.Tracer == o.Kind.String() || law.Name == rotation.PriorOf(o.Kind.String()).Law.Name {
			in.Laws = append(in.Laws, law)
		}
	}
	return in, nil
}

// ComingOptions choose the calendar of what is coming.
//
//	At        from this instant on; zero: now
//	Days      how many; 0: 28, a little more than a rotation
//	MinAlive  leaves out what is less likely than this still to be, 0 to 1
type ComingOptions struct {
	At       time.Time
	Days     int
	MinAlive float64
}

// Coming gathers what is expected at the edges and on the meridian.
func Coming(ctx context.Context, k observe.Keeper, o ComingOptions) (chart.ComingInput, error) {
	if o.At.IsZero() {
		o.At = k.Now().UTC()
	}
	if o.Days == 0 {
		o.Days = 28
	}
	v, first := k.Store.Read(ctx), catalog.DayOf(o.At)
	in := chart.ComingInput{From: first, To: first.AddDate(0, 0, o.Days), Now: o.At, Heading: heading(v)}
	list, err := k.Expect(ctx, o.At)
	if err != nil {
		return in, err
	}
	for _, e := range list {
		// What was only seen at the edge has no longitude to reckon from.
		if e.Alive < o.MinAlive || e.Passage.Kind == catalog.Prominence {
			continue
		}
		items := comingItems(e, o)
		if len(items) == 0 {
			continue
		}
		for i := range items {
			items[i].Mark, items[i].Frame = e.LastMark, e.LastFrame
		}
		in.Items = append(in.Items, items...)
	}
	return in, nil
}

// comingItems are what is left of a feature's present crossing, and the next one.
func comingItems(e observe.Expected, o ComingOptions) []chart.Coming {
	item := chart.Coming{Passage: e.Passage.ID, Name: e.Passage.Name, Kind: e.Passage.Kind, Lat: e.Place.B}
	moment := func(at follow.Event) chart.Moment {
		if !at.Known || at.UTC.After(o.At.AddDate(0, 0, o.Days)) { // after the calendar's end
			return chart.Moment{}
		}
		return momentOf(at)
	}
	var items []chart.Coming
	if e.InView {
		here := item
		alive := e.Alive // now, as the list of what is expected has it
		here.Odds, here.West = &alive, moment(e.WestEdge)
		if e.Meridian.UTC.Before(e.WestEdge.UTC) {
			here.Meridian = moment(e.Meridian)
		}
		items = append(items, here)
	}
	if back := moment(e.EastEdge); !back.UTC.IsZero() && e.EastEdge.Alive >= o.MinAlive {
		alive := e.EastEdge.Alive
		item.Odds, item.East = &alive, back
		item.Meridian, item.West = moment(e.BackMeridian), moment(e.BackWestEdge)
		if e.InView {
			item.Name += " back"
		}
		items = append(items, item)
	}
	return items
}

// momentOf is an event as a chart draws it; none when it is not known.
func momentOf(at follow.Event) chart.Moment {
	if !at.Known {
		return chart.Moment{}
	}
	return chart.Moment{UTC: at.UTC, Sigma: at.Sigma}
}
