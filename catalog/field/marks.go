package field

import (
	"limbwatch/catalog"
	"limbwatch/catalog/measure"
)

// Marks describes all that is told of a mark: in tables (CSV, ECSV, VOTable), as JSON at
// the terminal and on the page. The order is that of the columns.
var Marks = concat[measure.Marked](
	told("mark", "meta.id", "short id, good in its own catalogue", func(m *measure.Marked) string { return m.Mark.ID.String() }),
	ofMark("kind").ucd("meta.code.class"),
	ofPosition("utc"),
	ofPositions("lat_deg", "cmd_deg", "lon_deg", "mu", "sigma_lat_deg", "sigma_lon_deg"),
	yesOf("on_disc", "it lies on the disc, not beyond the limb", func(m *measure.Marked) bool {
		p := m.Position
		return p.Disc != nil || p.Edge == nil || p.Edge.WithinLimb
	}),
	ofPositions("corr_lat_lon",
		"assumed_height_km", "sigma_assumed_height_km", "corrected_lat_deg", "corrected_cmd_deg", "corrected_lon_deg",
		"corrected_sigma_lat_deg", "corrected_sigma_lon_deg", "corrected_corr_lat_lon"),
	positionAngle,
	ofPositions("r", "sigma_pa_deg", "pa_from_deg", "pa_to_deg", "pa_top_deg", "height_km", "sigma_height_km", "height_arcsec", "sigma_height_arcsec",
		"limb_lat_deg", "limb_sigma_lat_deg", "limb_lon_deg"),
	ofMark("height_km").called("given_height_km", "height above the photosphere by the observer's word"),
	ofMark("sigma_height_km").called("sigma_given_height_km", "standard error of given_height_km"),

	area("area_msh", "phys.area", "area of an outline, or as its record gives it, millionths of the visible hemisphere, corrected for foreshortening",
		func(a *measure.Area) (float64, bool) { return a.MSH, true }),
	area("sigma_area_msh", "stat.error;phys.area", "standard error of area_msh; none where that is a lower bound, at the limb",
		func(a *measure.Area) (float64, bool) { return a.SigmaMSH, a.SigmaMSH > 0 && !a.AtLeast }),
	spine("length_km", "km", "phys.size", "length of a line on the disc at the assumed height, or as its record gives it",
		func(s *measure.Spine) (float64, bool) { return kmOfMm(s.Mm), s.Mm == s.Mm }),
	spine("sigma_length_km", "km", "stat.error;phys.size", "standard error of length_km; none where that is a lower bound, at the limb",
		func(s *measure.Spine) (float64, bool) { return kmOfMm(s.SigmaMm), s.SigmaMm > 0 && !s.Cut }),
	spine("tilt_deg", "deg", "pos.posAng", "lean of that line against the parallel of latitude, positive when its eastern end lies nearer to the pole",
		func(s *measure.Spine) (float64, bool) { return s.Tilt.Degrees(), s.Tilt == s.Tilt }),
	spine("sigma_tilt_deg", "deg", "stat.error;pos.posAng", "standard error of tilt_deg",
		func(s *measure.Spine) (float64, bool) { return s.SigmaTilt.Degrees(), s.SigmaTilt > 0 }),
	beyond("extent_deg", "phys.angSize", "extent along the limb of what stands beyond it, as an angle at the disc's centre",
		func(p *measure.Prominence) float64 { return p.Extent.Degrees() }),
	beyond("sigma_extent_deg", "stat.error;phys.angSize", "standard error of extent_deg",
		func(p *measure.Prominence) float64 { return p.SigmaExtent.Degrees() }),
	contrast("contrast", "phot.flux;arith.ratio", "level inside an outline against that round it: -0.3 is 30 per cent darker; measured where one mark is shown",
		func(c *measure.Contrast) float64 { return c.Value }),
	contrast("sigma_contrast", "stat.error;phot.flux", "standard error of contrast", func(c *measure.Contrast) float64 { return c.Sigma }),

	yesOf("near_limb", "too near to the limb, for the errors, to tell on which side", func(m *measure.Marked) bool { return m.Position.NearLimb }),
	ofPositions("errors_lack", "least_sigma_lat_deg", "least_sigma_lon_deg"),
	ofPosition("reason").called("no_position_because", "why there is no position"),
	ofMark("shape").ucd("meta.code"),
	ofMark("extent").ucd("meta.code"),
	ofMark("spots").ucd("meta.number"),
	told("passage", "meta.id", "name of the passage it belongs to", func(m *measure.Marked) string { return m.PassageName }),
	told("joined_by", "meta.code", "who says so: program or observer", func(m *measure.Marked) string {
		if m.Join == nil {
			return ""
		}
		return m.Join.By.String()
	}),
	Field[measure.Marked]{Name: "join_odds", UCD: "stat.probability", Kind: Number,
		About: "odds of that join, 0 to 1, where they were weighed: how well marks follow one another, not which filament a prominence is",
		Get: func(m *measure.Marked) any {
			if m.Join == nil || m.Join.Odds == nil {
				return nil
			}
			return *m.Join.Odds
		}},
	ofMark("label").ucd("meta.id"),
	Field[measure.Marked]{Name: "aliases", UCD: "meta.id", Kind: Names, About: "other names, in tables apart by | (one in a name has \\ before it)",
		Get: func(m *measure.Marked) any {
			if len(m.Mark.Aliases) == 0 {
				return nil
			}
			return m.Mark.Aliases
		}},
	ofMark("note").ucd("meta.note"),
	told("observer", "meta.id", "who marked it", func(m *measure.Marked) string { return m.Observer }),
	told("frame", "meta.id", "short id of its frame", func(m *measure.Marked) string { return m.Mark.Frame.String() }),
	told("frame_warnings", "meta.note", "what is odd about its frame and nobody has settled", func(m *measure.Marked) string { return m.Warnings }),
	told("uuid", "meta.id;meta.main", "its name in every catalogue (RFC 9562)", func(m *measure.Marked) string { return m.Mark.UUID.String() }),
)

// positionAngle is of what stands beyond the limb that of its middle.
var positionAngle = Field[measure.Marked]{Name: "pa_deg", Unit: "deg", UCD: "pos.posAng", Kind: Number,
	About: "position angle at the disc's centre, from celestial north through east; of what stands beyond the limb the middle",
	Get: func(m *measure.Marked) any {
		switch p := m.Position; {
		case p.Edge != nil:
			return p.Edge.PA.Wrap360().Degrees()
		case p.Polar != nil:
			return p.Polar.PA.Degrees()
		}
		return nil
	}}

// told is a word that follows from others; empty for none.
func told(name, ucd, about string, of func(*measure.Marked) string) Field[measure.Marked] {
	return Field[measure.Marked]{Name: name, UCD: ucd, About: about, Kind: Text, Get: func(m *measure.Marked) any { return of(m) }}
}

// yesOf says something of a mark that has a position.
func yesOf(name, about string, of func(*measure.Marked) bool) Field[measure.Marked] {
	return Field[measure.Marked]{Name: name, UCD: "meta.code", About: about, Kind: Yes, Get: func(m *measure.Marked) any {
		switch {
		case m.Position.Reason != "":
			return nil
		case of(m):
			return int64(1)
		}
		return int64(0)
	}}
}

func size[P any](name, unit, ucd, about string, part func(*measure.Marked) *P, of func(*P) (float64, bool)) Field[measure.Marked] {
	return Field[measure.Marked]{Name: name, Unit: unit, UCD: ucd, About: about, Kind: Number, Get: func(m *measure.Marked) any {
		if p := part(m); p != nil {
			if v, known := of(p); known {
				return v
			}
		}
		return nil
	}}
}

func area(name, ucd, about string, of func(*measure.Area) (float64, bool)) Field[measure.Marked] {
	return size(name, "", ucd, about, func(m *measure.Marked) *measure.Area { return m.Size.Area }, of)
}

func spine(name, unit, ucd, about string, of func(*measure.Spine) (float64, bool)) Field[measure.Marked] {
	return size(name, unit, ucd, about, func(m *measure.Marked) *measure.Spine { return m.Size.Spine }, of)
}

// beyond is of what has an extent beyond the limb; a point has none.
func beyond(name, ucd, about string, of func(*measure.Prominence) float64) Field[measure.Marked] {
	return size(name, "deg", ucd, about, func(m *measure.Marked) *measure.Prominence { return m.Size.Prominence },
		func(p *measure.Prominence) (float64, bool) { return of(p), p.SigmaExtent > 0 })
}

func contrast(name, ucd, about string, of func(*measure.Contrast) float64) Field[measure.Marked] {
	return size(name, "", ucd, about, func(m *measure.Marked) *measure.Contrast { return m.Contrast },
		func(c *measure.Contrast) (float64, bool) { return of(c), true })
}

// ofMark and ofPosition lift a field of the mark or of its position.
func ofMark(name string) Field[measure.Marked] {
	return lifted(Mark.Fields, name, func(m *measure.Marked) *catalog.Mark { return &m.Mark })
}

func ofPosition(name string) Field[measure.Marked] {
	return lifted(Position, name, func(m *measure.Marked) *catalog.Position { return &m.Position })
}

func ofPositions(names ...string) (fields []Field[measure.Marked]) {
	for _, name := range names {
		fields = append(fields, ofPosition(name))
	}
	return fields
}

// lifted makes a field of a part one of the whole, which cannot be set.
func lifted[W, P any](fields []Field[P], name string, part func(*W) *P) Field[W] {
	for _, f := range fields {
		if f.Name == name {
			return Field[W]{Name: f.Name, Unit: f.Unit, UCD: f.UCD, About: f.About, Kind: f.Kind, Get: func(w *W) any { return f.Get(part(w)) }}
		}
	}
	panic("no field is called " + name)
}

// called gives a field another name and meaning where it stands beside others.
func (f Field[T]) called(name, about string) Field[T] {
	f.Name, f.About = name, about
	return f
}
