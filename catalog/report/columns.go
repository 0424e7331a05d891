package report

import (
	"fmt"
	"math"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/measure"
)

// The formats of marks (CSV, ECSV, VOTable) have the same columns, each with a unit
// and a meaning. A value that is not known is missing, never zero.

// markColumn is a column of the marks.
//
//	unit    in the spelling of the VOUnits standard, as astronomers' tools read it
//	ucd     what kind of quantity it is (IVOA's Unified Content Descriptors 1+): there
//	        is none for heliographic places, so the general ones for places on a body
//	        stand in
//	text    gives a text; number a number, NaN when it is not known; whole a count
type markColumn struct {
	name, unit, ucd, about string
	text                   func(catalog.Entry) string
	number                 func(catalog.Entry) float64
	whole                  func(catalog.Entry) (int64, bool)
	yes                    func(catalog.Entry) (yes, known bool)
	size                   func(Marked) float64 // measured from the mark's points
}

func texts(name, ucd, about string, of func(catalog.Entry) string) markColumn {
	return markColumn{name: name, ucd: ucd, about: about, text: of}
}

func numbers(name, unit, ucd, about string, of func(catalog.Entry) float64) markColumn {
	return markColumn{name: name, unit: unit, ucd: ucd, about: about, number: of}
}

// onDisc reads from the place on the disc, high from the one corrected for height, edge
// from what stands beyond the limb; all give not-a-number where there is none.

func onDisc(of func(catalog.OnDisc) float64) func(catalog.Entry) float64 {
	return func(e catalog.Entry) float64 {
		if e.Position.Disc == nil {
			return math.NaN()
		}
		return of(*e.Position.Disc)
	}
}

func high(of func(catalog.AtHeight) float64) func(catalog.Entry) float64 {
	return func(e catalog.Entry) float64 {
		if e.Position.High == nil {
			return math.NaN()
		}
		return of(*e.Position.High)
	}
}

func edge(of func(catalog.AtEdge) float64) func(catalog.Entry) float64 {
	return func(e catalog.Entry) float64 {
		if e.Position.Edge == nil {
			return math.NaN()
		}
		return of(*e.Position.Edge)
	}
}

// isNumber says whether the column holds numbers that need not be whole.
func (c markColumn) isNumber() bool { return c.number != nil || c.size != nil }

// sizes is a column of what was measured.
func sizes(name, unit, ucd, about string, of func(Marked) float64) markColumn {
	return markColumn{name: name, unit: unit, ucd: ucd, about: about, size: of}
}

func area(of func(measure.Area) float64) func(Marked) float64 {
	return func(m Marked) float64 {
		if m.Size.Area == nil {
			return math.NaN()
		}
		return of(*m.Size.Area)
	}
}

func spine(of func(measure.Spine) float64) func(Marked) float64 {
	return func(m Marked) float64 {
		if m.Size.Spine == nil {
			return math.NaN()
		}
		return of(*m.Size.Spine)
	}
}

func beyond(of func(measure.Prominence) float64) func(Marked) float64 {
	return func(m Marked) float64 {
		if m.Size.Prominence == nil || m.Size.Prominence.SigmaExtent <= 0 { // a point has no extent
			return math.NaN()
		}
		return of(*m.Size.Prominence)
	}
}

// standsOnDisc says of a mark with a position whether it lies on the disc.
func standsOnDisc(e catalog.Entry) (yes, known bool) {
	p := e.Position
	return p.Disc != nil || p.Edge == nil || p.Edge.WithinLimb, p.Reason == ""
}

// positive is an error, which is not known when it is 0.
func positive(v float64) float64 {
	if v > 0 {
		return v
	}
	return math.NaN()
}

const utcLayout = "2006-01-02T15:04:05.000Z"

var markColumns = []markColumn{
	texts("mark", "meta.id", "short id, good in its own catalogue", func(e catalog.Entry) string { return e.Mark.ID.String() }),
	texts("kind", "meta.code.class", "sunspot, plage, filament, prominence or other", func(e catalog.Entry) string { return e.Mark.Kind.String() }),
	texts("utc", "time.epoch", "middle of the exposure, UTC (ISO 8601)", func(e catalog.Entry) string { return e.Position.UTC.UTC().Format(utcLayout) }),
	numbers("lat_deg", "deg", "pos.bodyrc.lat", "heliographic latitude read as on the photosphere, north positive", onDisc(func(d catalog.OnDisc) float64 { return d.B.Degrees() })),
	numbers("cmd_deg", "deg", "pos.bodyrc.long", "distance from the central meridian, west positive", onDisc(func(d catalog.OnDisc) float64 { return d.CMD.Degrees() })),
	numbers("lon_deg", "deg", "pos.bodyrc.long", "Carrington longitude, 0 to 360", onDisc(func(d catalog.OnDisc) float64 { return d.L.Degrees() })),
	numbers("mu", "", "", "cosine between the surface normal and the line of sight", onDisc(func(d catalog.OnDisc) float64 { return d.Mu })),
	numbers("sigma_lat_deg", "deg", "stat.error;pos.bodyrc.lat", "standard error of lat_deg", onDisc(func(d catalog.OnDisc) float64 { return positive(d.Cov.SigmaB().Degrees()) })),
	numbers("sigma_lon_deg", "deg", "stat.error;pos.bodyrc.long", "standard error of lon_deg and cmd_deg (not times cos latitude)", onDisc(func(d catalog.OnDisc) float64 { return positive(d.Cov.SigmaL().Degrees()) })),
	{name: "on_disc", ucd: "meta.code", about: "it lies on the disc, not beyond the limb", yes: standsOnDisc},
	numbers("corr_lat_lon", "", "stat.correlation", "correlation of the errors of latitude and longitude", onDisc(func(d catalog.OnDisc) float64 {
		if d.Cov.BB <= 0 || d.Cov.LL <= 0 {
			return math.NaN()
		}
		return d.Cov.Correlation()
	})),
	numbers("assumed_height_mm", "Mm", "phys.size", "height above the photosphere, megametres, assumed for the next columns", high(func(h catalog.AtHeight) float64 { return h.Height.HeightMm })),
	numbers("corrected_lat_deg", "deg", "pos.bodyrc.lat", "latitude at that height", high(func(h catalog.AtHeight) float64 { return h.B.Degrees() })),
	numbers("corrected_cmd_deg", "deg", "pos.bodyrc.long", "distance from the central meridian at that height, west positive", high(func(h catalog.AtHeight) float64 { return h.CMD.Degrees() })),
	numbers("corrected_lon_deg", "deg", "pos.bodyrc.long", "Carrington longitude at that height", high(func(h catalog.AtHeight) float64 { return h.L.Degrees() })),
	numbers("corrected_sigma_lat_deg", "deg", "stat.error;pos.bodyrc.lat", "standard error of corrected_lat_deg, that of the height in it", high(func(h catalog.AtHeight) float64 { return positive(h.Cov.SigmaB().Degrees()) })),
	numbers("corrected_sigma_lon_deg", "deg", "stat.error;pos.bodyrc.long", "standard error of corrected_lon_deg, that of the height in it", high(func(h catalog.AtHeight) float64 { return positive(h.Cov.SigmaL().Degrees()) })),
	numbers("pa_deg", "deg", "pos.posAng", "position angle at the disc's centre, from celestial north through east; of what stands beyond the limb the middle", func(e catalog.Entry) float64 {
		switch {
		case e.Position.Edge != nil:
			return e.Position.Edge.PA.Wrap360().Degrees()
		case e.Position.Polar != nil:
			return e.Position.Polar.PA.Degrees()
		}
		return math.NaN()
	}),
	numbers("r", "", "pos.distance", "distance from the disc's centre in radii of the limb in the picture (of the photosphere without one)", func(e catalog.Entry) float64 {
		if e.Position.Polar == nil {
			return math.NaN()
		}
		return e.Position.Polar.R
	}),
	numbers("sigma_pa_deg", "deg", "stat.error;pos.posAng", "standard error of pa_deg, of what stands beyond the limb", edge(func(g catalog.AtEdge) float64 { return positive(g.SigmaPA.Degrees()) })),
	numbers("pa_from_deg", "deg", "pos.posAng", "position angle of its first foot", edge(func(g catalog.AtEdge) float64 { return g.From.Wrap360().Degrees() })),
	numbers("pa_to_deg", "deg", "pos.posAng", "position angle of its last foot, going through east", edge(func(g catalog.AtEdge) float64 { return g.To.Wrap360().Degrees() })),
	numbers("height_mm", "Mm", "phys.size", "height of its top above the photosphere, megametres", edge(func(g catalog.AtEdge) float64 { return g.HeightMm })),
	numbers("sigma_height_mm", "Mm", "stat.error;phys.size", "standard error of height_mm", edge(func(g catalog.AtEdge) float64 { return positive(g.SigmaMm) })),
	numbers("height_arcsec", "arcsec", "phys.angSize", "height of its top above the limb in the picture", edge(func(g catalog.AtEdge) float64 { return g.HeightArcsec })),
	numbers("limb_lat_deg", "deg", "pos.bodyrc.lat", "latitude of the limb under it", edge(func(g catalog.AtEdge) float64 { return g.Lat.Degrees() })),
	numbers("limb_sigma_lat_deg", "deg", "stat.error;pos.bodyrc.lat", "standard error of limb_lat_deg", edge(func(g catalog.AtEdge) float64 { return positive(g.SigmaLat.Degrees()) })),
	numbers("limb_lon_deg", "deg", "pos.bodyrc.long", "Carrington longitude of the limb under it, which is not its own", edge(func(g catalog.AtEdge) float64 { return g.Lon.Wrap360().Degrees() })),
	sizes("area_msh", "", "phys.area", "area of an outline, millionths of the visible hemisphere, corrected for foreshortening", area(func(a measure.Area) float64 { return a.MSH })),
	sizes("sigma_area_msh", "", "stat.error;phys.area", "standard error of area_msh; none where that is a lower bound, at the limb", area(func(a measure.Area) float64 {
		if a.AtLeast {
			return math.NaN()
		}
		return positive(a.SigmaMSH)
	})),
	sizes("length_mm", "Mm", "phys.size", "length of a line on the disc, megametres, at the assumed height", spine(func(s measure.Spine) float64 { return s.Mm })),
	sizes("sigma_length_mm", "Mm", "stat.error;phys.size", "standard error of length_mm; none where that is a lower bound, at the limb", spine(func(s measure.Spine) float64 {
		if s.Cut {
			return math.NaN()
		}
		return positive(s.SigmaMm)
	})),
	sizes("tilt_deg", "deg", "pos.posAng", "lean of that line against the parallel of latitude, positive when its eastern end lies nearer to the pole", spine(func(s measure.Spine) float64 { return s.Tilt.Degrees() })),
	sizes("sigma_tilt_deg", "deg", "stat.error;pos.posAng", "standard error of tilt_deg", spine(func(s measure.Spine) float64 { return positive(s.SigmaTilt.Degrees()) })),
	sizes("extent_deg", "deg", "phys.angSize", "extent along the limb of what stands beyond it, as an angle at the disc's centre", beyond(func(p measure.Prominence) float64 { return p.Extent.Degrees() })),
	sizes("sigma_extent_deg", "deg", "stat.error;phys.angSize", "standard error of extent_deg", beyond(func(p measure.Prominence) float64 { return p.SigmaExtent.Degrees() })),
	{name: "near_limb", ucd: "meta.code", about: "too near to the limb, for the errors, to tell on which side", yes: func(e catalog.Entry) (bool, bool) { return e.Position.NearLimb, e.Position.Reason == "" }},
	texts("no_position_because", "meta.note", "why there is no position", func(e catalog.Entry) string { return e.Position.Reason }),
	texts("shape", "meta.code", "point, line or outline", func(e catalog.Entry) string { return e.Mark.Geometry.Shape.String() }),
	texts("extent", "meta.code", "of a sunspot mark: group or single", func(e catalog.Entry) string { return e.Mark.Extent.String() }),
	{name: "spots", ucd: "meta.number", about: "spots counted in it", whole: func(e catalog.Entry) (int64, bool) { return int64(e.Mark.Spots), e.Mark.Spots > 0 }},
	texts("passage", "meta.id", "name of the passage it belongs to", func(e catalog.Entry) string { return e.PassageName }),
	texts("joined_by", "meta.code", "who says so: program or observer", func(e catalog.Entry) string {
		if e.Join == nil {
			return ""
		}
		return e.Join.By.String()
	}),
	numbers("join_odds", "", "stat.probability", "odds of that join, 0 to 1, where they were weighed: how well marks follow one another, not which filament a prominence is", func(e catalog.Entry) float64 {
		if e.Join == nil || e.Join.Odds == nil {
			return math.NaN()
		}
		return *e.Join.Odds
	}),
	texts("label", "meta.id", "what the observer calls it", func(e catalog.Entry) string { return e.Mark.Label }),
	texts("aliases", "meta.id", "other names, apart by |", func(e catalog.Entry) string { return strings.Join(e.Mark.Aliases, "|") }),
	texts("note", "meta.note", "the observer's note", func(e catalog.Entry) string { return e.Mark.Note }),
	texts("frame", "meta.id", "short id of its frame", func(e catalog.Entry) string { return e.Frame.ID.String() }),
	texts("uuid", "meta.id;meta.main", "its name in every catalogue (RFC 9562)", func(e catalog.Entry) string { return e.Mark.UUID.String() }),
}

// MarkColumns describes the columns of the marks, with units, one a line.
func MarkColumns() string {
	var b strings.Builder
	for _, c := range markColumns {
		unit := c.unit
		if unit == "" {
			unit = "-"
		}
		fmt.Fprintf(&b, "  %-24s %-7s %s\n", c.name, unit, c.about)
	}
	return strings.TrimSuffix(b.String(), "\n")
}
