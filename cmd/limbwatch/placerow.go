package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strings"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// placeRow is one converted point, as JSON and CSV name it. What there is none
// of is null, or empty.
type placeRow struct {
	UTC                  string   `json:"utc"`
	X                    *float64 `json:"x,omitempty"`
	Y                    *float64 `json:"y,omitempty"`
	Where                string   `json:"where"`
	PADeg                float64  `json:"pa_deg"`
	R                    float64  `json:"r"`
	LatDeg               *float64 `json:"lat_deg"`
	CMDDeg               *float64 `json:"cmd_deg"`
	LonDeg               *float64 `json:"lon_deg"`
	Mu                   *float64 `json:"mu"`
	SigmaLatDeg          *float64 `json:"sigma_lat_deg"`
	SigmaLonDeg          *float64 `json:"sigma_lon_deg"`
	OnDisc               bool     `json:"on_disc"`
	NearLimb             bool     `json:"near_limb"`
	HeightArcsec         *float64 `json:"height_arcsec"`
	HeightMm             *float64 `json:"height_mm"`
	SigmaHeightMm        *float64 `json:"sigma_height_mm"`
	CorrLatLon           *float64 `json:"corr_lat_lon"`
	LimbLatDeg           *float64 `json:"limb_lat_deg,omitempty"`
	LimbLonDeg           *float64 `json:"limb_lon_deg,omitempty"`
	CorrectedLatDeg      *float64 `json:"corrected_lat_deg,omitempty"`
	CorrectedCMDDeg      *float64 `json:"corrected_cmd_deg,omitempty"`
	CorrectedLonDeg      *float64 `json:"corrected_lon_deg,omitempty"`
	CorrectedSigmaLatDeg *float64 `json:"corrected_sigma_lat_deg,omitempty"`
	CorrectedSigmaLonDeg *float64 `json:"corrected_sigma_lon_deg,omitempty"`
}

var (
	placeColumns     = []string{"lat_deg", "cmd_deg", "lon_deg", "mu", "sigma_lat_deg", "sigma_lon_deg", "on_disc", "height_arcsec", "height_mm", "corr_lat_lon"}
	correctedColumns = []string{"corrected_lat_deg", "corrected_cmd_deg", "corrected_lon_deg", "corrected_sigma_lat_deg", "corrected_sigma_lon_deg"}
)

// newPlaceRow writes a place down. The errors of a place are null when every
// cause of error is zero.
func newPlaceRow(v disc.View, p disc.Place, withHeight bool) placeRow {
	row := placeRow{
		Where:  p.Where.String(),
		PADeg:  p.PositionAngle.Degrees(),
		R:      p.R,
		OnDisc: p.Where == disc.OnDisc || p.Where == disc.BetweenLimbs,
	}
	row.NearLimb = p.NearLimb()
	if r := p.Photosphere; r.Known {
		row.LatDeg, row.CMDDeg, row.LonDeg = degrees(r.B), degrees(r.CMD), degrees(r.L)
		mu := r.Mu
		row.Mu = &mu
		row.SigmaLatDeg, row.SigmaLonDeg = sigmas(r.Cov)
		if row.SigmaLatDeg != nil {
			corr := r.Cov.Correlation()
			row.CorrLatLon = &corr
		}
	}
	if p.Where == disc.BetweenLimbs || p.Where == disc.BeyondLimb {
		b := p.Beyond
		row.HeightArcsec, row.HeightMm = &b.HeightArcsec, &b.AboveSunMm
		if b.SigmaAboveMm > 0 {
			row.SigmaHeightMm = &b.SigmaAboveMm
		}
		row.LimbLatDeg, row.LimbLonDeg = degrees(b.Limb.B), degrees(b.Limb.L)
	}
	if c := p.Corrected; withHeight && c.Known {
		row.CorrectedLatDeg, row.CorrectedCMDDeg, row.CorrectedLonDeg = degrees(c.B), degrees(c.CMD), degrees(c.L)
		row.CorrectedSigmaLatDeg, row.CorrectedSigmaLonDeg = sigmas(c.Cov)
	}
	return row
}

func degrees(a coords.Angle) *float64 {
	d := a.Degrees()
	return &d
}

func sigmas(c coords.Covariance) (lat, lon *float64) {
	if c == (coords.Covariance{}) {
		return nil, nil
	}
	return degrees(c.SigmaB()), degrees(c.SigmaL())
}

// appendFields adds the row's values in the order of placeColumns, then of
// correctedColumns.
func (r *placeRow) appendFields(dst []string, withHeight bool) []string {
	onDisc := "false"
	if r.OnDisc {
		onDisc = "true"
	}
	dst = append(dst, optional(r.LatDeg), optional(r.CMDDeg), optional(r.LonDeg), optional(r.Mu),
		optional(r.SigmaLatDeg), optional(r.SigmaLonDeg), onDisc,
		optional(r.HeightArcsec), optional(r.HeightMm), optional(r.CorrLatLon))
	if withHeight {
		dst = append(dst, optional(r.CorrectedLatDeg), optional(r.CorrectedCMDDeg), optional(r.CorrectedLonDeg),
			optional(r.CorrectedSigmaLatDeg), optional(r.CorrectedSigmaLonDeg))
	}
	return dst
}

// optional writes a number that there may be none of.
func optional(v *float64) string {
	if v == nil {
		return ""
	}
	return machineNumber(*v)
}

func placeHeader(before []string, withHeight bool) []string {
	header := append(append([]string{}, before...), placeColumns...)
	if withHeight {
		header = append(header, correctedColumns...)
	}
	return header
}

func writePlaceCSV(w io.Writer, rows []placeRow, withHeight bool) error {
	out := csv.NewWriter(w)
	if err := out.Write(placeHeader([]string{"utc", "x", "y"}, withHeight)); err != nil {
		return err
	}
	for i := range rows {
		fields := []string{rows[i].UTC, optional(rows[i].X), optional(rows[i].Y)}
		if err := out.Write(rows[i].appendFields(fields, withHeight)); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// printPlaces writes places for people, to the digits that their errors allow.
func printPlaces(w io.Writer, rows []placeRow) error {
	for i := range rows {
		r := &rows[i]
		fmt.Fprintf(w, "pixel %g, %g   %s\n", *r.X, *r.Y, r.UTC)
		fmt.Fprintf(w, "  position angle  %.2f° from celestial north through east\n", r.PADeg)
		fmt.Fprintf(w, "  distance        %.4f radii: %s\n", r.R, r.Where)
		if r.LatDeg != nil {
			fmt.Fprintf(w, "  latitude        %s\n", withError(*r.LatDeg, r.SigmaLatDeg, "°", true))
			fmt.Fprintf(w, "  from meridian   %s, west positive\n", withError(*r.CMDDeg, r.SigmaLonDeg, "°", true))
			fmt.Fprintf(w, "  longitude       %s, Carrington\n", withError(*r.LonDeg, r.SigmaLonDeg, "°", false))
			fmt.Fprintf(w, "  mu              %.4f\n", *r.Mu)
		}
		if r.HeightMm != nil {
			arcsec := *r.HeightArcsec
			fmt.Fprintf(w, "  height          %.1f″ above the limb, %s above the photosphere (%.2f Earth diameters)\n",
				arcsec, withError(*r.HeightMm, r.SigmaHeightMm, " Mm", false), *r.HeightMm/disc.EarthDiameterMm)
			fmt.Fprintf(w, "  the limb there  latitude %+.1f°, longitude %.1f°\n", *r.LimbLatDeg, *r.LimbLonDeg)
		}
		if r.CorrectedLatDeg != nil {
			fmt.Fprintf(w, "  at its height   latitude %s, from meridian %s, longitude %s\n",
				withError(*r.CorrectedLatDeg, r.CorrectedSigmaLatDeg, "°", true),
				withError(*r.CorrectedCMDDeg, r.CorrectedSigmaLonDeg, "°", true),
				withError(*r.CorrectedLonDeg, r.CorrectedSigmaLonDeg, "°", false))
		}
		if r.NearLimb {
			fmt.Fprintln(w, "  the limb is within three standard errors: the errors above are a guide and no more")
		}
	}
	return nil
}

// withError writes a value and its error with no digit beyond the error's first
// (its second, where the first is a 1).
func withError(value float64, sigma *float64, unit string, signed bool) string {
	format := "%.*f"
	if signed {
		format = "%+.*f"
	}
	if sigma == nil || !(*sigma > 0) {
		return fmt.Sprintf(format+"%s (error not given)", 1, value, unit)
	}
	places := digitsFor(*sigma)
	if strings.HasPrefix(unit, " ") { // a unit in letters stands once, behind both
		return fmt.Sprintf(format+" ± %.*f%s", places, value, places, *sigma, unit)
	}
	return fmt.Sprintf(format+"%s ± %.*f%s", places, value, unit, places, *sigma, unit)
}

// digitsFor is the number of decimals that an error of this size allows, 0 to 4.
func digitsFor(sigma float64) int {
	if !(sigma > 0) {
		return 3
	}
	places := -int(math.Floor(math.Log10(sigma)))
	if sigma*math.Pow(10, float64(places)) < 2 {
		places++
	}
	return max(0, min(4, places))
}
