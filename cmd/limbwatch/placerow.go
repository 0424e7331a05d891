package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"limbwatch/catalog/field"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/figure"
)

// optional is a number that there may be none of: null in JSON, empty in CSV.
type optional struct {
	value float64
	known bool
}

func optionalOf(v float64) optional { return optional{v, true} }

func optionalDegrees(a coords.Angle) optional { return optionalOf(a.Degrees()) }

// orNil is nil where there is no number.
func (f optional) orNil() *float64 {
	if !f.known {
		return nil
	}
	return &f.value
}

// MarshalJSON writes the number, or null.
func (f optional) MarshalJSON() ([]byte, error) {
	if !f.known {
		return []byte("null"), nil
	}
	return json.Marshal(f.value)
}

// placeRow is one converted point, as JSON and CSV name it. What there is none
// of is null, or empty.
type placeRow struct {
	UTC                  string   `json:"utc"`
	X                    optional `json:"x,omitzero"`
	Y                    optional `json:"y,omitzero"`
	Where                string   `json:"where"`
	PADeg                float64  `json:"pa_deg"`
	R                    float64  `json:"r"`
	LatDeg               optional `json:"lat_deg"`
	CMDDeg               optional `json:"cmd_deg"`
	LonDeg               optional `json:"lon_deg"`
	Mu                   optional `json:"mu"`
	SigmaLatDeg          optional `json:"sigma_lat_deg"`
	SigmaLonDeg          optional `json:"sigma_lon_deg"`
	OnDisc               bool     `json:"on_disc"`
	NearLimb             bool     `json:"near_limb"`
	HeightArcsec         optional `json:"height_arcsec"`
	HeightKm             optional `json:"height_km"`
	SigmaHeightKm        optional `json:"sigma_height_km"`
	CorrLatLon           optional `json:"corr_lat_lon"`
	LimbLatDeg           optional `json:"limb_lat_deg,omitzero"`
	LimbLonDeg           optional `json:"limb_lon_deg,omitzero"`
	CorrectedLatDeg      optional `json:"corrected_lat_deg,omitzero"`
	CorrectedCMDDeg      optional `json:"corrected_cmd_deg,omitzero"`
	CorrectedLonDeg      optional `json:"corrected_lon_deg,omitzero"`
	CorrectedSigmaLatDeg optional `json:"corrected_sigma_lat_deg,omitzero"`
	CorrectedSigmaLonDeg optional `json:"corrected_sigma_lon_deg,omitzero"`
}

var (
	placeColumns     = []string{"lat_deg", "cmd_deg", "lon_deg", "mu", "sigma_lat_deg", "sigma_lon_deg", "on_disc", "height_arcsec", "height_km", "corr_lat_lon"}
	correctedColumns = []string{"corrected_lat_deg", "corrected_cmd_deg", "corrected_lon_deg", "corrected_sigma_lat_deg", "corrected_sigma_lon_deg"}
)

// newPlaceRow writes a place down. The errors of a place are null when every
// cause of error is zero.
func newPlaceRow(p *disc.Place, withHeight bool) (row placeRow) {
	row.Where = p.Where.String()
	row.PADeg, row.R = p.PositionAngle.Degrees(), p.R
	row.OnDisc = p.Where == disc.OnDisc || p.Where == disc.BetweenLimbs
	row.NearLimb = p.NearLimb()
	if r := &p.Photosphere; r.Known {
		row.LatDeg, row.CMDDeg, row.LonDeg = optionalDegrees(r.B), optionalDegrees(r.CMD), optionalDegrees(r.L)
		row.Mu = optionalOf(r.Mu)
		if r.Cov != (coords.Covariance{}) {
			row.SigmaLatDeg, row.SigmaLonDeg = optionalDegrees(r.Cov.SigmaB()), optionalDegrees(r.Cov.SigmaL())
			row.CorrLatLon = optionalOf(r.Cov.Correlation())
		}
	}
	if p.Where == disc.BetweenLimbs || p.Where == disc.BeyondLimb {
		b := &p.Beyond
		row.HeightArcsec, row.HeightKm = optionalOf(b.HeightArcsec), optionalOf(field.Megametres(b.AboveSunMm).Km())
		if b.SigmaAboveMm > 0 {
			row.SigmaHeightKm = optionalOf(field.Megametres(b.SigmaAboveMm).Km())
		}
		row.LimbLatDeg, row.LimbLonDeg = optionalDegrees(b.Limb.B), optionalDegrees(b.Limb.L)
	}
	if c := &p.Corrected; withHeight && c.Known {
		row.CorrectedLatDeg, row.CorrectedCMDDeg, row.CorrectedLonDeg = optionalDegrees(c.B), optionalDegrees(c.CMD), optionalDegrees(c.L)
		if c.Cov != (coords.Covariance{}) {
			row.CorrectedSigmaLatDeg, row.CorrectedSigmaLonDeg = optionalDegrees(c.Cov.SigmaB()), optionalDegrees(c.Cov.SigmaL())
		}
	}
	return row
}

func degrees(a coords.Angle) *float64 {
	d := a.Degrees()
	return &d
}

// sigmas are the errors of a latitude and a longitude in degrees, nil where not known.
func sigmas(c coords.Covariance) (lat, lon *float64) {
	return positive(c.SigmaB()), positive(c.SigmaL())
}

// appendCells adds the row's values to a line of CSV, each behind a comma, in the order
// of placeColumns, then of correctedColumns.
func (r *placeRow) appendCells(line []byte, withHeight bool) []byte {
	for _, f := range [...]optional{r.LatDeg, r.CMDDeg, r.LonDeg, r.Mu, r.SigmaLatDeg, r.SigmaLonDeg} {
		line = appendCell(line, f)
	}
	line = strconv.AppendBool(append(line, ','), r.OnDisc)
	for _, f := range [...]optional{r.HeightArcsec, r.HeightKm, r.CorrLatLon} {
		line = appendCell(line, f)
	}
	if !withHeight {
		return line
	}
	for _, f := range [...]optional{r.CorrectedLatDeg, r.CorrectedCMDDeg, r.CorrectedLonDeg,
		r.CorrectedSigmaLatDeg, r.CorrectedSigmaLonDeg} {
		line = appendCell(line, f)
	}
	return line
}

func appendCell(line []byte, f optional) []byte {
	line = append(line, ',')
	if f.known {
		line = appendMachineNumber(line, f.value)
	}
	return line
}

func placeHeader(before []string, withHeight bool) []string {
	header := append(append([]string{}, before...), placeColumns...)
	if withHeight {
		header = append(header, correctedColumns...)
	}
	return header
}

func writePlaceCSV(w io.Writer, rows []placeRow, withHeight bool) error {
	lines := []byte(strings.Join(placeHeader([]string{"utc", "x", "y"}, withHeight), ",") + "\n")
	for i := range rows {
		lines = appendCell(appendCell(append(lines, rows[i].UTC...), rows[i].X), rows[i].Y)
		lines = append(rows[i].appendCells(lines, withHeight), '\n')
	}
	_, err := w.Write(lines)
	return err
}

// printPlaces writes places for people, to the digits that their errors allow.
func printPlaces(w io.Writer, rows []placeRow) error {
	for i := range rows {
		r := &rows[i]
		fmt.Fprintf(w, "pixel %g, %g   %s\n", r.X.value, r.Y.value, r.UTC)
		fmt.Fprintf(w, "  position angle  %.2f° from celestial north through east\n", r.PADeg)
		fmt.Fprintf(w, "  distance        %.4f radii: %s\n", r.R, r.Where)
		if r.LatDeg.known {
			fmt.Fprintf(w, "  latitude        %s\n", withError(r.LatDeg.value, r.SigmaLatDeg.orNil(), "°", true))
			fmt.Fprintf(w, "  from meridian   %s, west positive\n", withError(r.CMDDeg.value, r.SigmaLonDeg.orNil(), "°", true))
			fmt.Fprintf(w, "  longitude       %s, Carrington\n", withError(r.LonDeg.value, r.SigmaLonDeg.orNil(), "°", false))
			fmt.Fprintf(w, "  mu              %.4f\n", r.Mu.value)
		}
		if r.HeightKm.known {
			arcsec := r.HeightArcsec.value
			fmt.Fprintf(w, "  height          %.1f″ above the limb, %s above the photosphere (%.2f Earth diameters)\n",
				arcsec, layerText(coords.Layer{HeightMm: r.HeightKm.value / 1000, SigmaMm: r.SigmaHeightKm.value / 1000}), r.HeightKm.value/1000/disc.EarthDiameterMm)
			fmt.Fprintf(w, "  the limb there  latitude %+.1f°, longitude %.1f°\n", r.LimbLatDeg.value, r.LimbLonDeg.value)
		}
		if r.CorrectedLatDeg.known {
			fmt.Fprintf(w, "  at its height   latitude %s, from meridian %s, longitude %s\n",
				withError(r.CorrectedLatDeg.value, r.CorrectedSigmaLatDeg.orNil(), "°", true),
				withError(r.CorrectedCMDDeg.value, r.CorrectedSigmaLonDeg.orNil(), "°", true),
				withError(r.CorrectedLonDeg.value, r.CorrectedSigmaLonDeg.orNil(), "°", false))
		}
		if r.NearLimb {
			fmt.Fprintln(w, "  the limb is within three standard errors: the errors above are a guide and no more")
		}
	}
	return nil
}

// withLeast writes an angle in degrees with its error, or with what that is at least where
// a part of it was not given.
func withLeast(deg float64, sigma *float64, least coords.Angle, signed bool) string {
	if sigma != nil || !(least > 0) {
		return withError(deg, sigma, "°", signed)
	}
	return fmt.Sprintf("%s° (at least ± %.*f°)", rounded(deg, 1, signed), figure.Decimals(least.Degrees(), 4), least.Degrees())
}

// withError writes a value and its error with no digit beyond the error's first
// (its second, where the first is a 1).
func withError(value float64, sigma *float64, unit string, signed bool) string {
	if sigma == nil || !(*sigma > 0) {
		return rounded(value, 1, signed) + unit + " (error not given)"
	}
	places := figure.Decimals(*sigma, 4)
	if strings.HasPrefix(unit, " ") { // a unit in letters stands once, behind both
		return fmt.Sprintf("%s ± %.*f%s", rounded(value, places, signed), places, *sigma, unit)
	}
	return fmt.Sprintf("%s%s ± %.*f%s", rounded(value, places, signed), unit, places, *sigma, unit)
}

func rounded(value float64, places int, signed bool) string {
	if signed {
		return figure.Signed(value, places)
	}
	return figure.Plain(value, places)
}
