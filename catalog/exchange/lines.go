package exchange

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// The lines of a file. A zero that means "not known" is left out.

type head struct {
	Noun string    `json:"noun"`
	UUID uuid.UUID `json:"uuid,omitzero"`
}

type recordLine struct {
	head
	Version int    `json:"version"`
	Program string `json:"program"`
	Written string `json:"written_utc"`
}

type observerLine struct {
	head
	Name    string `json:"name"`
	Code    string `json:"code,omitzero"`
	Default bool   `json:"default,omitzero"`
	Note    string `json:"note,omitzero"`
}

type siteLine struct {
	head
	Name       string  `json:"name"`
	LatDeg     float64 `json:"lat_deg"`
	LonDeg     float64 `json:"lon_deg"`
	ElevationM float64 `json:"elevation_m"`
	Zone       string  `json:"zone,omitzero"`
	Default    bool    `json:"default,omitzero"`
	Note       string  `json:"note,omitzero"`
}

type instrumentLine struct {
	head
	Name       string  `json:"name"`
	ApertureMm float64 `json:"aperture_mm,omitzero"`
	FocalMm    float64 `json:"focal_mm,omitzero"`
	Note       string  `json:"note,omitzero"`
}

type layerField struct {
	HeightMm float64 `json:"height_Mm"`
	SigmaMm  float64 `json:"sigma_Mm"`
}

type setupLine struct {
	head
	Instrument  uuid.UUID   `json:"instrument"`
	Name        string      `json:"name"`
	WavelengthA float64     `json:"wavelength_a,omitzero"`
	PassbandA   float64     `json:"passband_a,omitzero"`
	Stacked     int         `json:"stacked,omitzero"`
	Reflections *int        `json:"reflections,omitempty"`
	PixelUm     float64     `json:"pixel_um,omitzero"`
	WidthPx     int         `json:"width_px,omitzero"`
	HeightPx    int         `json:"height_px,omitzero"`
	Surface     *layerField `json:"surface,omitempty"`
	Edge        *layerField `json:"edge,omitempty"`
	Default     bool        `json:"default,omitzero"`
	Note        string      `json:"note,omitzero"`
}

type ratingField struct {
	Value string `json:"value"`
	Scale string `json:"scale"`
}

type sittingLine struct {
	head
	Observer         uuid.UUID                     `json:"observer,omitzero"`
	Setup            uuid.UUID                     `json:"setup,omitzero"`
	Site             uuid.UUID                     `json:"site,omitzero"`
	Day              string                        `json:"day"`
	Looked           map[catalog.Kind]catalog.Look `json:"looked,omitempty"`
	Seeing           ratingField                   `json:"seeing,omitzero"`
	Transparency     ratingField                   `json:"transparency,omitzero"`
	ClockCorrectionS float64                       `json:"clock_correction_s,omitzero"`
	Tuning           string                        `json:"tuning,omitzero"`
	Note             string                        `json:"note,omitzero"`
}

type countLine struct {
	head
	Sitting uuid.UUID `json:"sitting"`
	Tally   string    `json:"tally"`
	North   *int      `json:"north,omitempty"`
	South   *int      `json:"south,omitempty"`
	Total   int       `json:"total"`
}

type frameLine struct {
	head
	Sitting    uuid.UUID      `json:"sitting,omitzero"`
	Path       string         `json:"path,omitzero"`
	SHA256     string         `json:"sha256,omitzero"`
	Channel    string         `json:"channel,omitzero"`
	Role       catalog.Role   `json:"role,omitzero"`
	Taken      instant        `json:"taken_utc"`
	Moment     catalog.Moment `json:"moment,omitzero"`
	ExposureS  float64        `json:"exposure_s,omitzero"`
	SigmaS     float64        `json:"sigma_s,omitzero"`
	TimeSource string         `json:"time_source,omitzero"`
	Zone       string         `json:"zone,omitzero"`
	WidthPx    int            `json:"width_px,omitzero"`
	HeightPx   int            `json:"height_px,omitzero"`
	Reference  bool           `json:"reference,omitzero"`
	Note       string         `json:"note,omitzero"`
}

type covField struct {
	XX float64 `json:"xx"`
	YY float64 `json:"yy"`
	RR float64 `json:"rr"`
	XY float64 `json:"xy"`
	XR float64 `json:"xr"`
	YR float64 `json:"yr"`
}

type discLine struct {
	head
	Frame      uuid.UUID  `json:"frame"`
	X          float64    `json:"x_px"`
	Y          float64    `json:"y_px"`
	RadiusPx   float64    `json:"radius_px"`
	Flattening float64    `json:"flattening,omitzero"`
	ShortAxis  degrees    `json:"short_axis_deg,omitzero"`
	Cov        covField   `json:"cov_px2"`
	Layer      layerField `json:"layer"`
	LayerFrom  string     `json:"layer_from"`
	Method     string     `json:"method"`
	RMSPx      float64    `json:"rms_px,omitzero"`
	WidthPx    float64    `json:"width_px,omitzero"`
	ArcDeg     float64    `json:"arc_deg,omitzero"`
	Points     int        `json:"points,omitzero"`
	Rejected   int        `json:"rejected,omitzero"`
	Accepted   bool       `json:"accepted,omitzero"`
	Note       string     `json:"note,omitzero"`
}

type northLine struct {
	head
	Frame    uuid.UUID `json:"frame"`
	Angle    degrees   `json:"angle_deg"`
	Toward   string    `json:"toward"`
	Mirrored bool      `json:"mirrored"`
	Sigma    degrees   `json:"sigma_deg"`
	Method   string    `json:"method"`
	Parity   float64   `json:"parity_odds,omitzero"`
	From     uuid.UUID `json:"from,omitzero"`
	Note     string    `json:"note,omitzero"`
}

type markLine struct {
	head
	Frame        uuid.UUID    `json:"frame"`
	Kind         catalog.Kind `json:"kind"`
	Shape        string       `json:"shape"`
	Form         string       `json:"form"`
	Vertices     [][2]float64 `json:"vertices"`
	SigmaClickPx float64      `json:"sigma_click_px,omitzero"`
	PolarLimb    *layerField  `json:"polar_limb,omitempty"`
	SigmaR       float64      `json:"sigma_r,omitzero"`
	SigmaPA      degrees      `json:"sigma_pa_deg,omitzero"`
	SigmaPlace   degrees      `json:"sigma_place_deg,omitzero"`
	Height       *layerField  `json:"height,omitempty"`
	Extent       string       `json:"extent,omitzero"`
	Spots        int          `json:"spots,omitzero"`
	Label        string       `json:"label,omitzero"`
	Aliases      []string     `json:"aliases,omitempty"`
	Note         string       `json:"note,omitzero"`
	Observer     uuid.UUID    `json:"observer,omitzero"`
	MarkedAt     instant      `json:"marked_utc"`
	SameAs       uuid.UUID    `json:"same_as,omitzero"`
	Derived      any          `json:"derived,omitempty"` // not read back
}

type passageLine struct {
	head
	Name   string       `json:"name"`
	Kind   catalog.Kind `json:"kind"`
	Height *layerField  `json:"height,omitempty"`
	Note   string       `json:"note,omitzero"`
}

type joinLine struct {
	head
	Mark    uuid.UUID `json:"mark"`
	Passage uuid.UUID `json:"passage"`
	State   string    `json:"state"`
	By      string    `json:"by"`
	Odds    *float64  `json:"odds,omitempty"`
	Note    string    `json:"note,omitzero"`
}

type linkLine struct {
	head
	From     uuid.UUID `json:"from"`
	To       uuid.UUID `json:"to"`
	Relation string    `json:"relation"`
	State    string    `json:"state"`
	By       string    `json:"by"`
	Odds     *float64  `json:"odds,omitempty"`
	Note     string    `json:"note,omitzero"`
}

// degrees is an angle, written as the number of degrees that gives it again to the
// last bit.
type degrees coords.Angle

// MarshalJSON writes degrees.
func (d degrees) MarshalJSON() ([]byte, error) { return json.Marshal(coords.Angle(d).ExactDegrees()) }

// UnmarshalJSON reads degrees.
func (d *degrees) UnmarshalJSON(text []byte) error {
	var number float64
	err := json.Unmarshal(text, &number)
	*d = degrees(coords.Angle(number) * coords.Degree)
	return err
}

// instant is a time, to the millisecond.
type instant time.Time

const instantLayout = "2006-01-02T15:04:05.000Z"

// MarshalText writes the time in UTC.
func (t instant) MarshalText() ([]byte, error) {
	return []byte(time.Time(t).UTC().Round(time.Millisecond).Format(instantLayout)), nil
}

// UnmarshalText reads a time that ends in Z.
func (t *instant) UnmarshalText(text []byte) error {
	parsed, err := time.Parse("2006-01-02T15:04:05.999999999Z", string(text))
	*t = instant(parsed.Round(time.Millisecond))
	return err
}
