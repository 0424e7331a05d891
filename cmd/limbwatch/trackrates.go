package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

func newTrackRatesCommand(app *app) *cobra.Command {
	var when rangeFlags
	var kindName string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "rates",
		Short: "Measure your own rotation curve from your passages, beside the literature",
		Long: `Rates measures how fast features turn from your own positions alone: the slope of
longitude against time of every passage with three or more sightings within 60
degrees of the meridian over at least two and a half days; and fits a law
A + B sin² latitude to them, sidereal, with its errors.

A doubtful join counts by its odds, and none is left out: joins are made with a law in
mind, and a cut would make the rates agree with it. Beside that stands what comes out
when every join is taken as sure.`,
		Example: "  limbwatch track rates --kind sunspot\n  limbwatch track rates --kind filament --from 2026-01-01 --json",
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
			return printRates(cmd.OutOrStdout(), kind, rates, asJSON)
		}),
	}
	when.addFlags(cmd)
	cmd.Flags().StringVar(&kindName, "kind", "sunspot", "of which `kind` of feature")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// ratesRow is a rotation curve as JSON names it; rates are sidereal.
type ratesRow struct {
	Kind     catalog.Kind `json:"kind"`
	A        *float64     `json:"a_deg_per_day"`
	SigmaA   *float64     `json:"sigma_a_deg_per_day"`
	B        *float64     `json:"b_deg_per_day"`
	SigmaB   *float64     `json:"sigma_b_deg_per_day"`
	Scatter  *float64     `json:"scatter_deg_per_day"`
	Sure     sureCurve    `json:"every_join_sure"`
	Features []rateRow    `json:"features"`
}

// sureCurve is the curve with every join taken as sure.
type sureCurve struct {
	A       *float64 `json:"a_deg_per_day"`
	SigmaA  *float64 `json:"sigma_a_deg_per_day"`
	B       *float64 `json:"b_deg_per_day"`
	SigmaB  *float64 `json:"sigma_b_deg_per_day"`
	Scatter *float64 `json:"scatter_deg_per_day"`
}

type rateRow struct {
	Passage   string  `json:"passage"`
	LatDeg    float64 `json:"lat_deg"`
	DegPerDay float64 `json:"rate_deg_per_day"`
	Sigma     float64 `json:"sigma_deg_per_day"`
	Sure      float64 `json:"rate_every_join_sure_deg_per_day"`
	SureSigma float64 `json:"sigma_every_join_sure_deg_per_day"`
	Odds      float64 `json:"odds_of_all_joins"`
	Sightings int     `json:"sightings"`
	Days      float64 `json:"days"`
}

func printRates(w io.Writer, kind catalog.Kind, rates observe.Rates, asJSON bool) error {
	if asJSON {
		row := ratesRow{Kind: kind, Features: []rateRow{}}
		if l := rates.Law; rates.Fitted {
			row.A, row.SigmaA, row.B, row.SigmaB, row.Scatter = &l.A, &l.SigmaA, &l.B, &l.SigmaB, &rates.Scatter
		}
		if s := &rates.AllSure; s.Fitted {
			row.Sure = sureCurve{&s.Law.A, &s.Law.SigmaA, &s.Law.B, &s.Law.SigmaB, &s.Scatter}
		}
		for _, f := range rates.Features {
			row.Features = append(row.Features, rateRow{f.Name, f.Lat.Degrees(), f.DegPerDay, f.Sigma,
				f.AllSure.DegPerDay, f.AllSure.Sigma, f.Odds, f.Sightings, f.Days})
		}
		return printJSON(w, row)
	}
	t := newTable("passage", "latitude", "sidereal rate", "every join sure", "odds of that", "sightings", "over")
	for _, f := range rates.Features {
		t.add(f.Name, tradeAngle(f.Lat.Degrees(), 1, "N", "S"), withError(f.DegPerDay, &f.Sigma, "° a day", false),
			withError(f.AllSure.DegPerDay, &f.AllSure.Sigma, "", false), fmt.Sprintf("%.2f", f.Odds), fmt.Sprint(f.Sightings), fmt.Sprintf("%.1f d", f.Days))
	}
	if err := t.print(w, "no passage is long enough yet: three sightings near the meridian over two and a half days"); err != nil || len(rates.Features) == 0 {
		return err
	}
	if !rates.Fitted {
		_, err := fmt.Fprintln(w, "\ntoo few passages, or too much alike in latitude, for a curve")
		return err
	}
	l := rates.Law
	fmt.Fprintf(w, "\nyour %ss: %s + (%s) sin² latitude, sidereal degrees a day; single ones scatter by %.2f degrees a day beyond their errors\n",
		kind, withError(l.A, &l.SigmaA, "", false), withError(l.B, &l.SigmaB, "", true), rates.Scatter)
	sure := rates.AllSure.Law
	fmt.Fprintf(w, "each join counts by its odds; with every join taken as sure: %s + (%s) sin² latitude, scatter %.2f\n",
		withError(sure.A, &sure.SigmaA, "", false), withError(sure.B, &sure.SigmaB, "", true), rates.AllSure.Scatter)
	beside := newTable("at latitude", "0°", "15°", "30°", "45°", "")
	beside.add(curve("yours", l)...)
	beside.add(curve("every join sure", sure)...)
	for _, published := range rotation.Laws() {
		if published.Tracer == kind.String() || published.Name == rotation.PriorOf(kind.String()).Law.Name {
			beside.add(curve(published.Name, published)...)
		}
	}
	return beside.print(w, "")
}

// curve is a law at some latitudes, with its source.
func curve(name string, l rotation.Law) []string {
	cells := []string{name}
	for _, deg := range []float64{0, 15, 30, 45} {
		cells = append(cells, fmt.Sprintf("%.2f", l.SiderealDegPerDay(coords.Angle(deg)*coords.Degree)))
	}
	return append(cells, l.Cited())
}
