package field

import (
	"limbwatch/catalog"
	"limbwatch/coords"
)

// Position describes where a mark lies, as it is derived and kept beside the mark.
var Position = concat[catalog.Position](
	Field[catalog.Position]{Name: "utc", UCD: "time.epoch", About: "middle of the exposure, UTC (ISO 8601)", Kind: Text,
		Get: func(p *catalog.Position) any { return InstantText(p.UTC) },
		Set: func(p *catalog.Position, value any) error {
			text, err := as[string](value)
			if err == nil {
				p.UTC, err = ParseInstant(text)
			}
			return err
		}},
	words("reason", "why there is no position", func(p *catalog.Position) *string { return &p.Reason }).ucd("meta.note"),
	yes("near_limb", "too near to the limb, for the errors, to tell on which side", func(p *catalog.Position) *bool { return &p.NearLimb }).ucd("meta.code"),
	part("pa_deg", "deg", "position angle at the disc's centre, from celestial north through east", polar, degreesOf(func(q *catalog.PolarPoint) *coords.Angle { return &q.PA })).ucd("pos.posAng"),
	part("r", "", "distance from the disc's centre in radii of the limb in the picture (of the photosphere without one)", polar, plain(func(q *catalog.PolarPoint) *float64 { return &q.R })).ucd("pos.distance"),

	place("", "read as on the photosphere", onDisc, func(d *catalog.OnDisc) (*coords.Measured, *coords.Angle) { return &d.Measured, &d.CMD }),
	part("mu", "", "cosine between the surface normal and the line of sight", onDisc, plain(func(d *catalog.OnDisc) *float64 { return &d.Mu })),

	place("corrected_", "at that height", high, func(h *catalog.AtHeight) (*coords.Measured, *coords.Angle) { return &h.Measured, &h.CMD }),
	part("assumed_height_km", "km", "height above the photosphere that is assumed for the corrected places", high, kmOf(func(h *catalog.AtHeight) *float64 { return &h.Height.HeightMm })).ucd("phys.size"),
	part("sigma_assumed_height_km", "km", "standard error of assumed_height_km", high, kmOf(func(h *catalog.AtHeight) *float64 { return &h.Height.SigmaMm })).ucd("stat.error;phys.size"),

	part("edge_pa_deg", "deg", "position angle of the middle of what stands beyond the limb", edge, degreesOf(func(e *catalog.AtEdge) *coords.Angle { return &e.PA })).ucd("pos.posAng"),
	part("sigma_pa_deg", "deg", "standard error of pa_deg, of what stands beyond the limb", edge, known(degreesOf(func(e *catalog.AtEdge) *coords.Angle { return &e.SigmaPA }))).ucd("stat.error;pos.posAng"),
	part("pa_from_deg", "deg", "position angle of its first foot", edge, degreesOf(func(e *catalog.AtEdge) *coords.Angle { return &e.From })).ucd("pos.posAng"),
	part("pa_to_deg", "deg", "position angle of its last foot, going through east", edge, degreesOf(func(e *catalog.AtEdge) *coords.Angle { return &e.To })).ucd("pos.posAng"),
	part("pa_top_deg", "deg", "position angle of its top", edge, degreesOf(func(e *catalog.AtEdge) *coords.Angle { return &e.TopPA })).ucd("pos.posAng"),
	part("limb_lat_deg", "deg", "latitude of the limb under it", edge, degreesOf(func(e *catalog.AtEdge) *coords.Angle { return &e.Lat })).ucd("pos.bodyrc.lat"),
	part("limb_sigma_lat_deg", "deg", "standard error of limb_lat_deg", edge, known(degreesOf(func(e *catalog.AtEdge) *coords.Angle { return &e.SigmaLat }))).ucd("stat.error;pos.bodyrc.lat"),
	part("limb_lon_deg", "deg", "Carrington longitude of the limb under it, which is not its own", edge, turnOf(func(e *catalog.AtEdge) *coords.Angle { return &e.Lon })).ucd("pos.bodyrc.long"),
	part("height_arcsec", "arcsec", "height of its top above the limb in the picture", edge, plain(func(e *catalog.AtEdge) *float64 { return &e.HeightArcsec })).ucd("phys.angSize"),
	part("sigma_height_arcsec", "arcsec", "standard error of height_arcsec", edge, known(plain(func(e *catalog.AtEdge) *float64 { return &e.SigmaArcsec }))).ucd("stat.error;phys.angSize"),
	part("height_km", "km", "height of its top above the photosphere", edge, kmOf(func(e *catalog.AtEdge) *float64 { return &e.HeightMm })).ucd("phys.size"),
	part("sigma_height_km", "km", "standard error of height_km", edge, known(kmOf(func(e *catalog.AtEdge) *float64 { return &e.SigmaMm }))).ucd("stat.error;phys.size"),
	within,
	words("errors_lack", "which errors nobody gave, where that matters: what they would move has no error here", func(p *catalog.Position) *string { return &p.Lacks }).ucd("meta.note"),
	least("least_sigma_lat_deg", "what the error of lat_deg is at least, where it is not known for that", func(p *catalog.Position) *coords.Angle { return &p.LeastLat }),
	least("least_sigma_lon_deg", "what the error of lon_deg and cmd_deg is at least, where it is not known for that", func(p *catalog.Position) *coords.Angle { return &p.LeastLon }),
)

// least is a lower bound of an error; none where it is 0.
func least(name, about string, at func(*catalog.Position) *coords.Angle) Field[catalog.Position] {
	return Field[catalog.Position]{Name: name, Unit: "deg", UCD: "stat.error", About: about, Kind: Number,
		Get: func(p *catalog.Position) any { return orNone(at(p).Degrees()) },
		Set: func(p *catalog.Position, value any) error {
			deg, err := asNumber(value)
			*at(p) = coords.Angle(deg) * coords.Degree
			return err
		}}
}

// within says of what stands beyond the photospheric limb whether it is inside that of
// the frame.
var within = Field[catalog.Position]{Name: "within_limb", Kind: Yes, About: "inside the limb in the picture, beyond that of the photosphere",
	Get: func(p *catalog.Position) any {
		switch {
		case p.Edge == nil:
			return nil
		case p.Edge.WithinLimb:
			return int64(1)
		}
		return int64(0)
	},
	Set: func(p *catalog.Position, value any) error {
		n, err := as[int64](value)
		if p.Edge != nil {
			p.Edge.WithinLimb = n != 0
		}
		return err
	}}

// The parts of a position, each made when its first figure is set.

func polar(p *catalog.Position) **catalog.PolarPoint { return &p.Polar }
func onDisc(p *catalog.Position) **catalog.OnDisc    { return &p.Disc }
func high(p *catalog.Position) **catalog.AtHeight    { return &p.High }
func edge(p *catalog.Position) **catalog.AtEdge      { return &p.Edge }

// figure reads and sets a figure of a P, not-a-number for none.
type figure[P any] struct {
	get func(*P) (value float64, known bool)
	set func(*P, float64)
}

func plain[P any](at func(*P) *float64) figure[P] {
	return figure[P]{
		get: func(p *P) (float64, bool) { return *at(p), true },
		set: func(p *P, v float64) { *at(p) = v },
	}
}

func degreesOf[P any](at func(*P) *coords.Angle) figure[P] {
	return figure[P]{
		get: func(p *P) (float64, bool) { return at(p).Degrees(), true },
		set: func(p *P, v float64) { *at(p) = coords.Angle(v) * coords.Degree },
	}
}

// turnOf is an angle from 0 to below 360 degrees, even where the last bit of the
// conversion reaches a whole turn.
func turnOf[P any](at func(*P) *coords.Angle) figure[P] {
	f := degreesOf(at)
	f.get = func(p *P) (float64, bool) {
		if deg := at(p).Wrap360().Degrees(); deg < 360 {
			return deg, true
		}
		return 0, true
	}
	return f
}

// kmOf is a height or length that the noun has in megametres.
func kmOf[P any](atMm func(*P) *float64) figure[P] {
	return figure[P]{
		get: func(p *P) (float64, bool) { return kmOfMm(*atMm(p)), true },
		set: func(p *P, v float64) { *atMm(p) = v / kmInMm },
	}
}

// known is an error: none where it is 0.
func known[P any](f figure[P]) figure[P] {
	get := f.get
	f.get = func(p *P) (float64, bool) {
		v, _ := get(p)
		return v, v > 0
	}
	return f
}

// part is a figure of a part of a position.
func part[P any](name, unit, about string, at func(*catalog.Position) **P, f figure[P]) Field[catalog.Position] {
	return Field[catalog.Position]{Name: name, Unit: unit, About: about, Kind: Number,
		Get: func(p *catalog.Position) any {
			if *at(p) == nil {
				return nil
			}
			if v, known := f.get(*at(p)); known {
				return v
			}
			return nil
		},
		Set: func(p *catalog.Position, value any) error {
			v, err := asNumber(value)
			if value == nil || err != nil {
				return err
			}
			if *at(p) == nil {
				*at(p) = new(P)
			}
			f.set(*at(p), v)
			return nil
		}}
}

// place are latitude, longitude, their errors and correlation, and the distance from the
// central meridian.
func place[P any](before, as string, at func(*catalog.Position) **P, of func(*P) (*coords.Measured, *coords.Angle)) []Field[catalog.Position] {
	measured := func(p *P) *coords.Measured { m, _ := of(p); return m }
	sigma := func(at func(*coords.Covariance) *float64, get func(coords.Covariance) coords.Angle) figure[P] {
		return known(figure[P]{
			get: func(p *P) (float64, bool) { return get(measured(p).Cov).Degrees(), true },
			set: func(p *P, v float64) {
				a := float64(coords.Angle(v) * coords.Degree)
				*at(&measured(p).Cov) = a * a
			},
		})
	}
	return []Field[catalog.Position]{
		part(before+"lat_deg", "deg", "heliographic latitude "+as+", north positive", at, degreesOf(func(p *P) *coords.Angle { return &measured(p).B })).ucd("pos.bodyrc.lat"),
		part(before+"cmd_deg", "deg", "distance from the central meridian "+as+", west positive", at, degreesOf(func(p *P) *coords.Angle { _, cmd := of(p); return cmd })).ucd("pos.bodyrc.long"),
		part(before+"lon_deg", "deg", "Carrington longitude "+as+", 0 to 360", at, turnOf(func(p *P) *coords.Angle { return &measured(p).L })).ucd("pos.bodyrc.long"),
		part(before+"sigma_lat_deg", "deg", "standard error of "+before+"lat_deg", at, sigma(func(c *coords.Covariance) *float64 { return &c.BB }, coords.Covariance.SigmaB)).ucd("stat.error;pos.bodyrc.lat"),
		part(before+"sigma_lon_deg", "deg", "standard error of "+before+"lon_deg and "+before+"cmd_deg (not times cos latitude)", at, sigma(func(c *coords.Covariance) *float64 { return &c.LL }, coords.Covariance.SigmaL)).ucd("stat.error;pos.bodyrc.long"),
		part(before+"corr_lat_lon", "", "correlation of the errors of "+before+"lat_deg and "+before+"lon_deg", at, figure[P]{
			get: func(p *P) (float64, bool) {
				c := measured(p).Cov
				return c.Correlation(), c.BB > 0 && c.LL > 0
			},
			set: func(p *P, v float64) {
				c := &measured(p).Cov
				c.BL = v * float64(c.SigmaB()) * float64(c.SigmaL())
			},
		}).ucd("stat.correlation"),
	}
}
