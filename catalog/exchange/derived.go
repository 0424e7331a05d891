package exchange

import (
	"limbwatch/catalog"
	"limbwatch/coords"
)

// derived is a position for whoever reads the file; see catalog.Position.
type derived struct {
	UTC        instant    `json:"utc"`
	None       string     `json:"no_position_because,omitzero"`
	NearLimb   bool       `json:"near_limb,omitzero"`
	PADeg      *float64   `json:"pa_deg,omitempty"`
	R          *float64   `json:"r,omitempty"`
	Disc       *placeJSON `json:"disc,omitempty"`
	AtHeight   *placeJSON `json:"at_height,omitempty"`
	BeyondLimb *edgeJSON  `json:"beyond_limb,omitempty"`
}

type placeJSON struct {
	HeightMm    *float64 `json:"assumed_height_Mm,omitempty"`
	LatDeg      float64  `json:"lat_deg"`
	LonDeg      float64  `json:"lon_deg"`
	CMDDeg      float64  `json:"cmd_deg"`
	SigmaLatDeg float64  `json:"sigma_lat_deg,omitzero"`
	SigmaLonDeg float64  `json:"sigma_lon_deg,omitzero"`
	CorrLatLon  float64  `json:"corr_lat_lon,omitzero"`
	Mu          float64  `json:"mu,omitzero"`
}

type edgeJSON struct {
	PADeg         float64 `json:"pa_deg"`
	SigmaPADeg    float64 `json:"sigma_pa_deg,omitzero"`
	FromDeg       float64 `json:"pa_from_deg"`
	ToDeg         float64 `json:"pa_to_deg"`
	LimbLatDeg    float64 `json:"limb_lat_deg"`
	LimbLonDeg    float64 `json:"limb_lon_deg"`
	HeightArcsec  float64 `json:"height_arcsec"`
	HeightMm      float64 `json:"height_Mm"`
	SigmaHeightMm float64 `json:"sigma_height_Mm,omitzero"`
	WithinLimb    bool    `json:"within_limb,omitzero"`
}

func derivedOf(p catalog.Position) derived {
	d := derived{UTC: instant(p.UTC), None: p.Reason, NearLimb: p.NearLimb}
	if p.Polar != nil {
		pa := p.Polar.PA.Degrees()
		d.PADeg, d.R = &pa, &p.Polar.R
	}
	if p.Disc != nil {
		d.Disc = placeOf(p.Disc.Measured, p.Disc.CMD)
		d.Disc.Mu = p.Disc.Mu
	}
	if p.High != nil {
		d.AtHeight = placeOf(p.High.Measured, p.High.CMD)
		d.AtHeight.HeightMm = &p.High.Height.HeightMm
	}
	if e := p.Edge; e != nil {
		d.BeyondLimb = &edgeJSON{
			PADeg: e.PA.Degrees(), SigmaPADeg: e.SigmaPA.Degrees(), FromDeg: e.From.Degrees(), ToDeg: e.To.Degrees(),
			LimbLatDeg: e.Lat.Degrees(), LimbLonDeg: e.Lon.Degrees(),
			HeightArcsec: e.HeightArcsec, HeightMm: e.HeightMm, SigmaHeightMm: e.SigmaMm, WithinLimb: e.WithinLimb,
		}
	}
	return d
}

func placeOf(m coords.Measured, cmd coords.Angle) *placeJSON {
	return &placeJSON{
		LatDeg: m.B.Degrees(), LonDeg: m.L.Degrees(), CMDDeg: cmd.Degrees(),
		SigmaLatDeg: m.Cov.SigmaB().Degrees(), SigmaLonDeg: m.Cov.SigmaL().Degrees(), CorrLatLon: m.Cov.Correlation(),
	}
}
