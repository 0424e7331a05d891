package store

import (
	"database/sql"
	"strings"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// The columns of positions, beside mark_id; the constants are the places of groups
// of them.
var positionColumns = []string{"utc", "reason", "near_limb", "pa_deg", "r",
	"lat_deg", "lon_deg", "sigma_lat_deg", "sigma_lon_deg", "corr_lat_lon", "cmd_deg", "mu",
	"high_lat_deg", "high_lon_deg", "high_sigma_lat_deg", "high_sigma_lon_deg", "high_corr_lat_lon",
	"high_cmd_deg", "high_mm", "high_sigma_mm",
	"edge_pa_deg", "edge_sigma_pa_deg", "edge_from_deg", "edge_to_deg", "edge_top_deg",
	"edge_lat_deg", "edge_sigma_lat_deg", "edge_lon_deg",
	"height_arcsec", "sigma_height_arcsec", "height_mm", "sigma_height_mm", "within_limb"}

const (
	nearAt  = 2
	polarAt = 3
	discAt  = 5
	highAt  = 12
	edgeAt  = 20
	figures = 33 - nearAt // all columns that are numbers
)

func positionSelection(alias string) string {
	return alias + "." + strings.Join(positionColumns, ", "+alias+".")
}

// positionValues gives the columns of a position.
func positionValues(p catalog.Position) []any {
	values := make([]any, len(positionColumns))
	values[0], values[1], values[nearAt] = instant(p.UTC), p.Reason, flag(p.NearLimb)
	if p.Polar != nil {
		values[polarAt], values[polarAt+1] = p.Polar.PA.Degrees(), p.Polar.R
	}
	if d := p.Disc; d != nil {
		copy(values[discAt:], append(placeValues(d.Measured), d.CMD.Degrees(), d.Mu))
	}
	if h := p.High; h != nil {
		copy(values[highAt:], append(placeValues(h.Measured), h.CMD.Degrees(), h.Height.HeightMm, h.Height.SigmaMm))
	}
	if e := p.Edge; e != nil {
		copy(values[edgeAt:], []any{e.PA.Degrees(), e.SigmaPA.Degrees(), e.From.Degrees(), e.To.Degrees(), e.TopPA.Degrees(),
			e.Lat.Degrees(), e.SigmaLat.Degrees(), wrapped(e.Lon),
			e.HeightArcsec, e.SigmaArcsec, e.HeightMm, e.SigmaMm, flag(e.WithinLimb)})
	}
	return values
}

// placeValues gives latitude, longitude, their errors and correlation.
func placeValues(m coords.Measured) []any {
	return []any{m.B.Degrees(), wrapped(m.L), m.Cov.SigmaB().Degrees(), m.Cov.SigmaL().Degrees(), m.Cov.Correlation()}
}

// wrapped is a longitude in degrees, 0 to 360 even where the last bit of the
// conversion reaches a whole turn.
func wrapped(l coords.Angle) float64 {
	deg := l.Wrap360().Degrees()
	if deg >= 360 {
		return 0
	}
	return deg
}

// nullPosition scans a position that may be missing.
type nullPosition struct {
	utc, reason sql.Null[string]
	numbers     [figures]sql.Null[float64] // the columns from near_limb on
}

func (n *nullPosition) targets() []any {
	targets := []any{&n.utc, &n.reason}
	for i := range n.numbers {
		targets = append(targets, &n.numbers[i])
	}
	return targets
}

// position gives what was scanned; a mark without one has the zero position.
func (n *nullPosition) position(id catalog.MarkID) (p catalog.Position, err error) {
	p.Mark, p.Reason = id, n.reason.V
	if !n.utc.Valid {
		return p, nil
	}
	if p.UTC, err = parseInstant(n.utc.V); err != nil {
		return p, err
	}
	has := func(column int) bool { return n.numbers[column-nearAt].Valid }
	f := func(column int) float64 { return n.numbers[column-nearAt].V }
	deg := func(column int) coords.Angle { return angle(f(column)) }
	p.NearLimb = f(nearAt) != 0
	if has(polarAt) {
		p.Polar = &catalog.PolarPoint{PA: deg(polarAt), R: f(polarAt + 1)}
	}
	if i := discAt; has(i) {
		p.Disc = &catalog.OnDisc{Measured: measured(f(i), f(i+1), f(i+2), f(i+3), f(i+4)), CMD: deg(i + 5), Mu: f(i + 6)}
	}
	if i := highAt; has(i) {
		p.High = &catalog.AtHeight{Measured: measured(f(i), f(i+1), f(i+2), f(i+3), f(i+4)), CMD: deg(i + 5),
			Height: coords.Layer{HeightMm: f(i + 6), SigmaMm: f(i + 7)}}
	}
	if i := edgeAt; has(i) {
		p.Edge = &catalog.AtEdge{
			PA: deg(i), SigmaPA: deg(i + 1), From: deg(i + 2), To: deg(i + 3), TopPA: deg(i + 4),
			Lat: deg(i + 5), SigmaLat: deg(i + 6), Lon: deg(i + 7),
			HeightArcsec: f(i + 8), SigmaArcsec: f(i + 9), HeightMm: f(i + 10), SigmaMm: f(i + 11),
			WithinLimb: f(i+12) != 0,
		}
	}
	return p, nil
}

func measured(latDeg, lonDeg, sigmaLat, sigmaLon, correlation float64) coords.Measured {
	b, l := float64(angle(sigmaLat)), float64(angle(sigmaLon))
	return coords.Measured{
		Heliographic: coords.Heliographic{B: angle(latDeg), L: angle(lonDeg)},
		Cov:          coords.Covariance{BB: b * b, LL: l * l, BL: correlation * b * l},
	}
}

// Position reads where a mark lies.
func (v *View) Position(id catalog.MarkID) (catalog.Position, error) {
	var n nullPosition
	err := v.q.QueryRowContext(v.ctx, "SELECT "+positionSelection("p")+" FROM positions p WHERE p.mark_id = ?", int64(id)).
		Scan(n.targets()...)
	if err == sql.ErrNoRows {
		return catalog.Position{}, &NotFoundError{Noun: "position", ID: "of mark " + id.String()}
	}
	if err != nil {
		return catalog.Position{}, asBusy(err)
	}
	return n.position(id)
}
