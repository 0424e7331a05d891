package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/figure"
)

// expectOptions are what "expect" was told.
type expectOptions struct {
	at       string
	days     int
	frame    string
	all      bool
	minAlive float64
	minAlt   float64
	place    sitePlace
	json     bool
}

func newExpectCommand(app *app) *cobra.Command {
	var opts expectOptions
	cmd := &cobra.Command{
		Use:   "expect",
		Short: "Tell what is coming: where each followed feature will be, and when it meets the edges",
		Long: `Expect carries every passage on by its own rate and its kind's, and tells where its
feature is at an instant, with the error, how likely it still lives, when it crosses
the meridian, when it goes round the west edge and when it comes back in the east.

With --frame the places are given in that frame's pixels too; for another time than its
own, in those of a picture that lies as it does. With --for it lists the crossings of
the coming days instead, in the order of time; for a site (--site or --site-lat) only
those while the Sun is higher than --above.`,
		Example: `  limbwatch expect
  limbwatch expect --at 2026-03-20T12:00:00Z --frame F9
  limbwatch expect --for 7 --site "Pell Garden" --above 10`,
		Args: cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			at := app.now().UTC()
			view, err := opts.view(ctx, k)
			if err != nil {
				return err
			}
			if view != nil {
				at = view.taken
			}
			if opts.at != "" {
				if at, err = parseInstant(opts.at); err != nil {
					return &misuseError{err}
				}
			}
			if err := ephemeris.Check(at); err != nil {
				return err
			}
			if view != nil {
				view.Face = ephemeris.At(at)
			}
			if err := opts.check(cmd); err != nil {
				return err
			}
			if !(opts.minAlive >= 0 && opts.minAlive <= 1) {
				return misuse("--alive %v: a probability lies between 0 and 1", opts.minAlive)
			}
			list, err := k.Expect(ctx, at)
			if err != nil {
				return err
			}
			if opts.days > 0 {
				site, err := opts.place.resolve(ctx, app)
				if err != nil {
					return err
				}
				return printEvents(cmd.OutOrStdout(), eventsOf(list, at, opts, site), opts.json)
			}
			return printExpected(cmd.OutOrStdout(), list, at, view, opts)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&opts.at, "at", "", "the `time`, as 2026-03-14T15:23:10Z (default: now, or that of --frame)")
	f.IntVar(&opts.days, "for", 0, "list the crossings of so many `days` from then on")
	f.StringVar(&opts.frame, "frame", "", "give places in the pixels of this `frame`, which must have disc and north")
	f.BoolVar(&opts.all, "all", false, "what is behind the Sun too")
	f.Float64Var(&opts.minAlive, "alive", 0.05, "leave out what is less likely than this `probability` still to be")
	f.Float64Var(&opts.minAlt, "above", 5, "with --for and a site: least altitude of the Sun, `degrees`")
	opts.place.addFlags(cmd)
	addJSONFlag(cmd, &opts.json)
	cmd.MarkFlagsMutuallyExclusive("for", "frame")
	return cmd
}

// check refuses days and an altitude that make no sense.
func (o *expectOptions) check(cmd *cobra.Command) error {
	const mostDays = 400
	switch set := cmd.Flags().Changed; {
	case set("for") && (o.days < 1 || o.days > mostDays):
		return misuse("--for %d: want 1 to %d days", o.days, mostDays)
	case !(o.minAlt >= -90 && o.minAlt < 90):
		return misuse("--above %g: want an altitude from -90 to below 90 degrees", o.minAlt)
	case !set("for") && (set("above") || set("site") || set("site-lat") || set("site-lon")):
		return misuse("a site and --above go with --for, which lists crossings")
	}
	return nil
}

// frameView is how a frame lies, and when it was taken.
type frameView struct {
	disc.View
	frame catalog.FrameID
	taken time.Time
}

// view is that of the frame named, nil when none was.
func (o *expectOptions) view(ctx context.Context, k observe.Keeper) (*frameView, error) {
	if o.frame == "" {
		return nil, nil
	}
	id, err := parseFrame(o.frame)
	if err != nil {
		return nil, err
	}
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return nil, err
	}
	view, err := observe.ViewOf(b)
	if err != nil {
		return nil, withHint(fmt.Errorf("frame %s: %w", id, err), "see limbwatch frame show %s", id)
	}
	return &frameView{view, id, b.Frame.Middle(b.ClockCorrectionS)}, nil
}

// expectedRow is one passage of the list, as JSON names it.
type expectedRow struct {
	Passage  string       `json:"passage"`
	Kind     catalog.Kind `json:"kind"`
	UTC      string       `json:"utc"`
	LatDeg   float64      `json:"lat_deg"`
	CMDDeg   float64      `json:"cmd_deg"`
	LonDeg   float64      `json:"lon_deg"`
	SigmaLat float64      `json:"sigma_lat_deg"`
	SigmaLon float64      `json:"sigma_lon_deg"`
	InView   bool         `json:"in_view"`
	Alive    float64      `json:"alive"`
	LastSeen string       `json:"last_seen_utc"`
	Returned bool         `json:"returned"`
	PADeg    *float64     `json:"pa_deg"`
	R        *float64     `json:"r"`
	X        *float64     `json:"x,omitempty"`
	Y        *float64     `json:"y,omitempty"`
	Meridian *eventRow    `json:"meridian"`
	WestEdge *eventRow    `json:"west_edge"`
	EastEdge *eventRow    `json:"east_edge"`
}

type eventRow struct {
	UTC        string  `json:"utc"`
	SigmaHours float64 `json:"sigma_hours"`
	Alive      float64 `json:"alive"`
}

func newEventRow(e follow.Event) *eventRow {
	if !e.Known {
		return nil
	}
	return &eventRow{formatUTC(e.UTC), e.Sigma.Hours(), e.Alive}
}

func newExpectedRow(e observe.Expected, at time.Time, view *frameView) expectedRow {
	row := expectedRow{
		Passage: e.Passage.Name, Kind: e.Passage.Kind, UTC: formatUTC(at),
		LatDeg: e.Place.B.Degrees(), CMDDeg: e.CMD.Degrees(), LonDeg: e.Place.L.Degrees(),
		SigmaLat: e.Place.Cov.SigmaB().Degrees(), SigmaLon: e.Place.Cov.SigmaL().Degrees(),
		InView: e.InView, Alive: e.Alive, LastSeen: formatUTC(e.LastSeen), Returned: e.Returned,
		Meridian: newEventRow(e.Meridian), WestEdge: newEventRow(e.WestEdge), EastEdge: newEventRow(e.EastEdge),
	}
	if !e.InView {
		return row
	}
	from := disc.View{Face: ephemeris.At(at)}
	if view != nil {
		from = view.View
	}
	height := 0.0
	if e.Passage.Height != nil {
		height = e.Passage.Height.HeightMm
	}
	polar := from.ProjectPolar(e.Place.Heliographic, height)
	row.PADeg, row.R = degrees(polar.PositionAngle.Wrap360()), &polar.R
	if view != nil {
		pixel, _ := from.Project(e.Place.Heliographic, height)
		row.X, row.Y = &pixel.X, &pixel.Y
	}
	return row
}

func printExpected(w io.Writer, list []observe.Expected, at time.Time, view *frameView, opts expectOptions) error {
	rows := []expectedRow{}
	head := []string{"passage", "kind", "place", "position angle, r", "alive", "next meridian", "west edge", "back in the east"}
	if view != nil {
		head[3] = "pixel"
	}
	t := newTable(head...)
	for _, e := range list {
		if e.Alive < opts.minAlive || !(e.InView || opts.all) {
			continue
		}
		r := newExpectedRow(e, at, view)
		rows = append(rows, r)
		lat, lon := min(1, figure.Decimals(r.SigmaLat, 4)), min(1, figure.Decimals(r.SigmaLon, 4))
		place := fmt.Sprintf("%s %s ± %.*f, %.*f", tradeAngle(r.LatDeg, lat, "N", "S"), tradeAngle(r.CMDDeg, lon, "W", "E"), lat, r.SigmaLat, lon, r.SigmaLon)
		seen := "behind the Sun"
		switch {
		case r.X != nil:
			seen = fmt.Sprintf("%.0f, %.0f", *r.X, *r.Y)
		case r.PADeg != nil:
			seen = fmt.Sprintf("%.0f°, %.3f", *r.PADeg, *r.R)
		}
		t.add(r.Passage, r.Kind.String(), place, seen, figure.Percent(r.Alive),
			eventText(e.Meridian), eventText(e.WestEdge), eventText(e.EastEdge))
	}
	if opts.json {
		return printJSON(w, rows)
	}
	lies := ""
	if view != nil && !at.Equal(view.taken) {
		lies = fmt.Sprintf(", in the pixels of a picture that lies as %s does, of %s", view.frame, view.taken.Format("2006-01-02 15:04Z"))
	}
	fmt.Fprintf(w, "At %s%s:\n", at.Format("2006-01-02 15:04Z"), lies)
	if len(list) > 0 {
		return t.print(w, "nothing of what is followed is likely enough still to be there (see --alive and --all)")
	}
	return t.print(w, "nothing followed was seen in the weeks before: limbwatch track follow")
}

// eventText writes an instant with its error, to the digits that this allows.
func eventText(e follow.Event) string {
	if !e.Known {
		return "never"
	}
	return fmt.Sprintf("%s ± %.0f h", e.UTC.Round(time.Hour).Format("02 Jan 15Z"), max(1, e.Sigma.Hours()))
}

// crossing is one event of the coming days.
type crossing struct {
	UTC        string       `json:"utc"`
	SigmaHours float64      `json:"sigma_hours"`
	What       string       `json:"what"`
	Passage    string       `json:"passage"`
	Kind       catalog.Kind `json:"kind"`
	LatDeg     float64      `json:"lat_deg"`
	PADeg      *float64     `json:"pa_deg"`
	Alive      float64      `json:"alive"`
	at         time.Time
}

// eventsOf lists the crossings within the days asked for, in the order of time.
func eventsOf(list []observe.Expected, at time.Time, opts expectOptions, site *geodetic) []crossing {
	until := at.AddDate(0, 0, opts.days)
	events := []crossing{}
	for _, e := range list {
		for _, c := range []struct {
			what  string
			event follow.Event
		}{{"crosses the meridian", e.Meridian}, {"goes round the west edge", e.WestEdge}, {"comes round the east edge", e.EastEdge}} {
			if !c.event.Known || c.event.UTC.After(until) || c.event.Alive < opts.minAlive {
				continue
			}
			if site != nil && ephemeris.FromSite(c.event.UTC, site.lat, site.lonEast).Altitude < coords.Angle(opts.minAlt)*coords.Degree {
				continue
			}
			face := ephemeris.At(c.event.UTC)
			polar := disc.View{Face: face}.ProjectPolar(e.Place.Heliographic, 0)
			events = append(events, crossing{
				UTC: formatUTC(c.event.UTC), SigmaHours: c.event.Sigma.Hours(), What: c.what, Passage: e.Passage.Name, Kind: e.Passage.Kind,
				LatDeg: e.Place.B.Degrees(), PADeg: degrees(polar.PositionAngle.Wrap360()), Alive: c.event.Alive, at: c.event.UTC,
			})
		}
	}
	slices.SortStableFunc(events, func(a, b crossing) int { return a.at.Compare(b.at) })
	return events
}

func printEvents(w io.Writer, events []crossing, asJSON bool) error {
	if asJSON {
		return printJSON(w, events)
	}
	t := newTable("when", "", "passage", "what", "latitude", "position angle", "alive")
	for _, c := range events {
		t.add(c.at.Round(time.Hour).Format("2006-01-02 15Z"), fmt.Sprintf("± %.0f h", max(1, c.SigmaHours)), c.Passage, c.What,
			tradeAngle(c.LatDeg, 0, "N", "S"), fmt.Sprintf("%.0f°", *c.PADeg), figure.Percent(c.Alive))
	}
	return t.print(w, "nothing of what is followed comes or goes in these days")
}
