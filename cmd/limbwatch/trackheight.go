package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
)

// heightRow is how high a passage's feature stands, as JSON names it: by its motion
// across the disc, and as its top was seen at the edge.
//
//	reason  why its motion does not tell; left out when it does
type heightRow struct {
	FittedMm    *field.Megametres `json:"fitted_height_km"`
	SigmaMm     *field.Megametres `json:"sigma_fitted_height_km"`
	RateDegDay  *float64          `json:"fitted_rate_deg_per_day"`
	SigmaRate   *float64          `json:"sigma_fitted_rate_deg_per_day"`
	Correlation *float64          `json:"corr_height_rate"`
	Readings    int               `json:"readings"`
	Days        float64           `json:"days"`
	Reason      string            `json:"reason,omitempty"`
	SeenAtLimb  []limbTopRow      `json:"seen_at_limb"`
	fit         *coords.Layer     // the same as the first two
}

// limbTopRow is a height seen beyond the limb.
type limbTopRow struct {
	Mark     catalog.MarkID   `json:"mark"`
	HeightMm field.Megametres `json:"height_km"`
	SigmaMm  field.Megametres `json:"sigma_height_km"`
	Sigmas   *float64         `json:"sigmas_above_fitted"`
	top      coords.Layer
}

// heightOf tells the height of a passage; nil for what lies on the photosphere.
func heightOf(ctx context.Context, k observe.Keeper, id catalog.PassageID, entries []catalog.Entry) (*heightRow, error) {
	row := &heightRow{SeenAtLimb: []limbTopRow{}}
	fit, err := k.PassageHeight(ctx, id)
	refused, isRefused := errors.AsType[*follow.HeightError](err)
	switch {
	case errors.Is(err, observe.ErrFlat):
		return nil, nil
	case isRefused:
		row.Reason = refused.Reason
	case err != nil:
		return nil, err
	default:
		row.FittedMm, row.SigmaMm, row.fit = field.MegametresOf(fit.HeightMm), field.MegametresOf(fit.SigmaMm), &coords.Layer{HeightMm: fit.HeightMm, SigmaMm: fit.SigmaMm}
		row.RateDegDay, row.SigmaRate, row.Correlation = &fit.RateDegPerDay, &fit.SigmaRate, &fit.Correlation
		row.Readings, row.Days = fit.Readings, fit.SpanDays
	}
	for _, seen := range observe.HeightsAtEdge(entries) {
		top := limbTopRow{Mark: seen.Mark, HeightMm: field.Megametres(seen.Height.HeightMm), SigmaMm: field.Megametres(seen.Height.SigmaMm), top: seen.Height}
		if row.fit != nil {
			top.Sigmas = sigmasApart(seen.Height, *row.fit)
		}
		row.SeenAtLimb = append(row.SeenAtLimb, top)
	}
	return row, nil
}

// sigmasApart is a minus b in units of the error of that; nil when neither has one.
func sigmasApart(a, b coords.Layer) *float64 {
	sigma := math.Hypot(a.SigmaMm, b.SigmaMm)
	if !(sigma > 0) {
		return nil
	}
	apart := (a.HeightMm - b.HeightMm) / sigma
	return &apart
}

func (r *heightRow) print(w io.Writer) {
	if r.fit == nil {
		fmt.Fprintf(w, "height not told by its motion: %s\n", r.Reason)
	} else {
		fmt.Fprintf(w, "stands %s above the photosphere and turns %s° a day, as its motion tells (%s over %.1f days)\n",
			layerText(*r.fit), withError(*r.RateDegDay, r.SigmaRate, "", false), counted(r.Readings, "sighting"), r.Days)
	}
	for _, s := range r.SeenAtLimb {
		fmt.Fprintf(w, "%s: its top seen at the limb, %s%s\n", s.Mark, layerText(s.top), againstFit(s.top, r.fit))
	}
}

func layerText(l coords.Layer) string { return withError(l.HeightMm, &l.SigmaMm, " Mm", false) }

// againstFit sets a height at the limb against that by motion, if there is one.
func againstFit(top coords.Layer, fit *coords.Layer) string {
	if fit == nil {
		return ""
	}
	apart := sigmasApart(top, *fit)
	if apart == nil {
		return ""
	}
	side := "above"
	if *apart < 0 {
		side = "below"
	}
	return fmt.Sprintf(", %.1f sigma %s that", math.Abs(*apart), side)
}
