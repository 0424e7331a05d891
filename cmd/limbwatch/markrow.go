package main

import (
	"fmt"
	"strings"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// markRow is a mark with its position as the log, JSON and CSV name it. What there
// is none of is null, or empty.
type markRow struct {
	Mark     catalog.MarkID `json:"mark"`
	UUID     string         `json:"uuid"`
	Kind     catalog.Kind   `json:"kind"`
	UTC      string         `json:"utc"`
	LatDeg   *float64       `json:"lat_deg"`
	CMDDeg   *float64       `json:"cmd_deg"`
	LonDeg   *float64       `json:"lon_deg"`
	Mu       *float64       `json:"mu"`
	SigmaLat *float64       `json:"sigma_lat_deg"`
	SigmaLon *float64       `json:"sigma_lon_deg"`
	OnDisc   *bool          `json:"on_disc"`

	HeightArcsec *float64 `json:"height_arcsec"`
	HeightMm     *float64 `json:"height_mm"`
	SigmaHeight  *float64 `json:"sigma_height_mm"`
	CorrLatLon   *float64 `json:"corr_lat_lon"`

	PADeg        *float64 `json:"pa_deg"`
	SigmaPADeg   *float64 `json:"sigma_pa_deg"`
	PAFromDeg    *float64 `json:"pa_from_deg"`
	PAToDeg      *float64 `json:"pa_to_deg"`
	R            *float64 `json:"r"`
	LimbLatDeg   *float64 `json:"limb_lat_deg"`
	LimbSigmaLat *float64 `json:"limb_sigma_lat_deg"`
	LimbLonDeg   *float64 `json:"limb_lon_deg"`

	AssumedMm         *float64 `json:"assumed_height_mm"`
	CorrectedLatDeg   *float64 `json:"corrected_lat_deg"`
	CorrectedCMDDeg   *float64 `json:"corrected_cmd_deg"`
	CorrectedLonDeg   *float64 `json:"corrected_lon_deg"`
	CorrectedSigmaLat *float64 `json:"corrected_sigma_lat_deg"`
	CorrectedSigmaLon *float64 `json:"corrected_sigma_lon_deg"`

	NearLimb bool            `json:"near_limb"`
	Reason   string          `json:"no_position_because,omitempty"`
	Frame    catalog.FrameID `json:"frame"`
	Shape    catalog.Shape   `json:"shape"`
	Extent   string          `json:"extent"`
	Spots    *int            `json:"spots"`
	Passage  string          `json:"passage"`
	JoinedBy string          `json:"joined_by"`
	JoinOdds *float64        `json:"join_odds"`
	Label    string          `json:"label"`
	Aliases  []string        `json:"aliases,omitempty"`
	Note     string          `json:"note"`
	revision int64
}

// newMarkRow writes an entry of the log down.
func newMarkRow(e catalog.Entry) markRow {
	m, p := e.Mark, e.Position
	row := markRow{
		Mark: m.ID, UUID: m.UUID.String(), Kind: m.Kind, UTC: formatUTC(p.UTC), Frame: m.Frame, Shape: m.Geometry.Shape,
		Extent: m.Extent.String(), Label: m.Label, Aliases: m.Aliases, Note: m.Note, Reason: p.Reason, NearLimb: p.NearLimb,
		Passage: e.PassageName, revision: m.Revision,
	}
	if m.Spots > 0 {
		row.Spots = &m.Spots
	}
	if e.Join != nil {
		row.JoinedBy, row.JoinOdds = e.Join.By.String(), e.Join.Odds
	}
	if d := p.Disc; d != nil {
		row.LatDeg, row.CMDDeg, row.LonDeg = degrees(d.B), degrees(d.CMD), degrees(d.L)
		mu := d.Mu
		row.Mu = &mu
		if row.SigmaLat, row.SigmaLon = sigmas(d.Cov); row.SigmaLat != nil {
			corr := d.Cov.Correlation()
			row.CorrLatLon = &corr
		}
	}
	if h := p.High; h != nil {
		row.AssumedMm = &h.Height.HeightMm
		row.CorrectedLatDeg, row.CorrectedCMDDeg, row.CorrectedLonDeg = degrees(h.B), degrees(h.CMD), degrees(h.L)
		row.CorrectedSigmaLat, row.CorrectedSigmaLon = sigmas(h.Cov)
	}
	if q := p.Polar; q != nil {
		row.PADeg, row.R = degrees(q.PA), &q.R
	}
	if g := p.Edge; g != nil {
		row.PADeg, row.SigmaPADeg = degrees(g.PA), positive(g.SigmaPA)
		row.PAFromDeg, row.PAToDeg = degrees(g.From), degrees(g.To)
		row.HeightArcsec, row.HeightMm, row.SigmaHeight = &g.HeightArcsec, &g.HeightMm, known(g.SigmaMm)
		row.LimbLatDeg, row.LimbSigmaLat, row.LimbLonDeg = degrees(g.Lat), positive(g.SigmaLat), degrees(g.Lon)
	}
	if p.Reason == "" {
		onDisc := p.Disc != nil || p.Edge != nil && p.Edge.WithinLimb || p.Edge == nil
		row.OnDisc = &onDisc
	}
	return row
}

// positive is an error in degrees, nil when it is not known.
func positive(a coords.Angle) *float64 { return known(a.Degrees()) }

// where is the row's place for people: latitude, distance from the meridian and
// longitude as the trade writes them, to the digits that the errors allow; at the
// edge the position angle and the latitude of the limb.
func (r *markRow) where() string {
	var parts []string
	if r.LatDeg != nil {
		lat, lon := 1, 1
		if r.SigmaLat != nil {
			lat, lon = min(2, digitsFor(*r.SigmaLat)), min(2, digitsFor(*r.SigmaLon))
		}
		parts = append(parts, fmt.Sprintf("%s  %s  L %s°", tradeAngle(*r.LatDeg, lat, "N", "S"), tradeAngle(*r.CMDDeg, lon, "W", "E"), (coords.Angle(*r.LonDeg)*coords.Degree).TurnText(lon)))
		if r.SigmaLat != nil {
			parts = append(parts, fmt.Sprintf("± %.*f, %.*f", lat, *r.SigmaLat, lon, *r.SigmaLon))
		}
	}
	if r.LimbLatDeg != nil {
		parts = append(parts, fmt.Sprintf("PA %.1f° at the edge, %s, %s high", *r.PADeg, tradeAngle(*r.LimbLatDeg, 1, "N", "S"),
			withError(*r.HeightMm, r.SigmaHeight, " Mm", false)))
	}
	if r.Reason != "" {
		parts = append(parts, "no position: "+r.Reason)
	}
	return strings.Join(parts, "  ")
}

// tradeAngle writes an angle as the trade does: N08.3, W14.
func tradeAngle(deg float64, places int, plus, minus string) string {
	return (coords.Angle(deg) * coords.Degree).LetteredText(places, plus, minus)
}
