package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"limbwatch/catalog/observe"
)

func newTrackReturnsCommand(app *app) *cobra.Command {
	var when rangeFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "returns",
		Short: "Find which passages are earlier ones come back a rotation later, with the odds",
		Long: `Returns carries each passage that went behind the west edge round to the east, and
weighs what comes up there against it and against chance. Passages are linked, never
merged; a link that the odds make doubtful is only proposed. What you said of a pair
stands.`,
		Example: "  limbwatch track returns\n  limbwatch track returns --from 2026-02-01 --json",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			from, to, err := when.resolve()
			if err != nil {
				return err
			}
			list, err := k.TrackReturns(ctx, from, to)
			if err != nil {
				return err
			}
			return printReturns(cmd.OutOrStdout(), list, asJSON)
		}),
	}
	when.addFlags(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// returnRow is one return as JSON names it.
type returnRow struct {
	Earlier    string  `json:"earlier"`
	Later      string  `json:"later"`
	Odds       float64 `json:"odds"`
	State      string  `json:"state"`
	SaidBy     string  `json:"said_by"`
	Days       float64 `json:"days"`
	MissLatDeg float64 `json:"miss_lat_deg"`
	SigmaLat   float64 `json:"sigma_lat_deg"`
	MissLonDeg float64 `json:"miss_lon_deg"`
	SigmaLon   float64 `json:"sigma_lon_deg"`
}

func printReturns(w io.Writer, list []observe.Returned, asJSON bool) error {
	rows := []returnRow{}
	t := newTable("earlier", "later", "odds", "", "days unseen", "miss in latitude", "miss in longitude")
	for _, r := range list {
		rows = append(rows, returnRow{r.From.Name, r.To.Name, r.Odds, r.State.String(), r.By.String(), r.Days,
			r.MissLatDeg, r.SigmaLatDeg, r.MissLonDeg, r.SigmaLonDeg})
		t.add(r.From.Name, r.To.Name, fmt.Sprintf("%.2f", r.Odds), r.State.String(), fmt.Sprintf("%.1f", r.Days),
			withError(r.MissLatDeg, &r.SigmaLatDeg, "°", true), withError(r.MissLonDeg, &r.SigmaLonDeg, "°", true))
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no passage is likely to be an earlier one come back")
}
