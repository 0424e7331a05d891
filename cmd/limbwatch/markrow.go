package main

import (
	"fmt"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/measure"
	"limbwatch/coords"
	"limbwatch/coords/figure"
)

// markRow is a mark with its position and its size as JSON names it: see field.Marks.
type markRow struct{ measure.Marked }

// MarshalJSON writes all that is told of a mark.
func (r markRow) MarshalJSON() ([]byte, error) { return field.Object(field.Marks, &r.Marked), nil }

// where is a place for people: latitude, distance from the meridian and longitude as the
// trade writes them, to the digits that the errors allow; at the edge the position angle
// and the latitude of the limb.
func where(p catalog.Position) string {
	var parts []string
	if d := p.Disc; d != nil {
		sigmaLat, sigmaLon := sigmas(d.Cov)
		lat, lon := decimalsOf(sigmaLat), decimalsOf(sigmaLon)
		parts = append(parts, fmt.Sprintf("%s  %s  L %s°", d.B.LetteredText(lat, "N", "S"), d.CMD.LetteredText(lon, "W", "E"), d.L.TurnText(lon)))
		if sigmaLat != nil || sigmaLon != nil {
			parts = append(parts, "± "+errorOrNone(sigmaLat)+", "+errorOrNone(sigmaLon))
		}
	}
	if e := p.Edge; e != nil {
		parts = append(parts, fmt.Sprintf("PA %.1f° at the edge, %s, %s high", e.PA.Degrees(), e.Lat.LetteredText(1, "N", "S"), withError(e.HeightMm, known(e.SigmaMm), " Mm", false)))
	}
	if p.Reason != "" {
		parts = append(parts, "no position: "+p.Reason)
	}
	return strings.Join(parts, "  ")
}

// decimalsOf is how many decimals of an angle a log shows, by its error.
func decimalsOf(sigma *float64) int {
	if sigma == nil {
		return 1
	}
	return min(2, figure.Decimals(*sigma, 4))
}

func errorOrNone(sigma *float64) string {
	if sigma == nil {
		return "not known"
	}
	return fmt.Sprintf("%.*f", decimalsOf(sigma), *sigma)
}

// positive is an error in degrees, nil when it is not known.
func positive(a coords.Angle) *float64 { return known(a.Degrees()) }

// tradeAngle writes an angle as the trade does: N08.3, W14.
func tradeAngle(deg float64, places int, plus, minus string) string {
	return (coords.Angle(deg) * coords.Degree).LetteredText(places, plus, minus)
}

// joinedBy says whose word it is that a mark belongs to its passage, empty without one.
func joinedBy(e catalog.Entry) string {
	if e.Join == nil {
		return ""
	}
	by := e.Join.By.String()
	if e.Join.Odds != nil {
		by += fmt.Sprintf(" (%.2f)", *e.Join.Odds)
	}
	return by
}
