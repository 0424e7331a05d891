package field

import (
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Observer describes an observer.
var Observer = Noun[catalog.Observer, catalog.ObserverID]{Name: "observer", Said: "observer", Letter: "O",
	Head: func(t *catalog.Observer) (*catalog.ObserverID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Observer]{
		words("name", "", func(o *catalog.Observer) *string { return &o.Name }),
		words("code", "as a club knows the observer", func(o *catalog.Observer) *string { return &o.Code }),
		yes("is_default", "meant when none is named", func(o *catalog.Observer) *bool { return &o.Default }).once(Former{Name: "default"}),
		words("note", "", func(o *catalog.Observer) *string { return &o.Note }),
	}}

// Site describes a site.
var Site = Noun[catalog.Site, catalog.SiteID]{Name: "site", Said: "site", Letter: "L",
	Head: func(t *catalog.Site) (*catalog.SiteID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Site]{
		words("name", "", func(s *catalog.Site) *string { return &s.Name }),
		number("lat_deg", "deg", "geographic latitude, north positive", func(s *catalog.Site) *float64 { return &s.LatDeg }),
		number("lon_deg", "deg", "geographic longitude, east positive", func(s *catalog.Site) *float64 { return &s.LonDeg }),
		number("elevation_m", "m", "above the sea", func(s *catalog.Site) *float64 { return &s.ElevationM }),
		words("zone", "IANA name", func(s *catalog.Site) *string { return &s.Zone }),
		yes("is_default", "meant when none is named", func(s *catalog.Site) *bool { return &s.Default }).once(Former{Name: "default"}),
		words("note", "", func(s *catalog.Site) *string { return &s.Note }),
	}}

// Instrument describes a telescope.
var Instrument = Noun[catalog.Instrument, catalog.InstrumentID]{Name: "instrument", Said: "instrument", Letter: "I",
	Head: func(t *catalog.Instrument) (*catalog.InstrumentID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Instrument]{
		words("name", "", func(i *catalog.Instrument) *string { return &i.Name }),
		numberOrNone("aperture_mm", "mm", "", func(i *catalog.Instrument) *float64 { return &i.ApertureMm }),
		numberOrNone("focal_mm", "mm", "focal length", func(i *catalog.Instrument) *float64 { return &i.FocalMm }),
		words("note", "", func(i *catalog.Instrument) *string { return &i.Note }),
	}}

// Setup describes an instrument with its filters and camera as used together.
var Setup = Noun[catalog.Setup, catalog.SetupID]{Name: "setup", Said: "set-up", Letter: "U",
	Head: func(t *catalog.Setup) (*catalog.SetupID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: concat[catalog.Setup](
		ref("instrument", "instrument", "", func(s *catalog.Setup) *catalog.InstrumentID { return &s.Instrument }),
		words("name", "", func(s *catalog.Setup) *string { return &s.Name }),
		numberOrNone("wavelength_a", "Angstrom", "", func(s *catalog.Setup) *float64 { return &s.WavelengthA }),
		numberOrNone("passband_a", "Angstrom", "", func(s *catalog.Setup) *float64 { return &s.PassbandA }),
		wholeOrNone("stacked", "", "narrow-band filters behind one another", func(s *catalog.Setup) *int { return &s.Stacked }),
		Field[catalog.Setup]{Name: "reflections", About: "mirrors before the camera: an odd number mirrors the picture", Kind: Whole,
			Get: func(s *catalog.Setup) any {
				if !s.ReflectionsKnown {
					return nil
				}
				return int64(s.Reflections)
			},
			Set: func(s *catalog.Setup, value any) error {
				n, err := as[int64](value)
				s.Reflections, s.ReflectionsKnown = int(n), value != nil
				return err
			}},
		numberOrNone("pixel_um", "um", "side of a camera pixel, binning counted in", func(s *catalog.Setup) *float64 { return &s.PixelUm }),
		wholeOrNone("width_px", "pix", "", func(s *catalog.Setup) *int { return &s.WidthPx }),
		wholeOrNone("height_px", "pix", "", func(s *catalog.Setup) *int { return &s.HeightPx }),
		heightOf("surface", "height of the limb that its surface exposures show, above the photosphere", func(s *catalog.Setup) **coords.Layer { return &s.Surface }, inMm("surface_mm", "surface_sigma_mm", "surface")),
		heightOf("edge", "the same for its limb exposures", func(s *catalog.Setup) **coords.Layer { return &s.Edge }, inMm("edge_mm", "edge_sigma_mm", "edge")),
		yes("is_default", "meant when none is named", func(s *catalog.Setup) *bool { return &s.Default }).once(Former{Name: "default"}),
		words("note", "", func(s *catalog.Setup) *string { return &s.Note }),
	)}

// Sitting describes one observer at one set-up and site on one day.
var Sitting = Noun[catalog.Sitting, catalog.SittingID]{Name: "sitting", Said: "sitting", Letter: "S",
	Head: func(t *catalog.Sitting) (*catalog.SittingID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: concat[catalog.Sitting](
		ref("observer", "observer", "", func(s *catalog.Sitting) *catalog.ObserverID { return &s.Observer }),
		ref("setup", "setup", "", func(s *catalog.Sitting) *catalog.SetupID { return &s.Setup }),
		ref("site", "site", "", func(s *catalog.Sitting) *catalog.SiteID { return &s.Site }),
		Field[catalog.Sitting]{Name: "day", About: "UT day of its first frame", Kind: Text,
			Get: func(s *catalog.Sitting) any { return s.Day.UTC().Format(time.DateOnly) },
			Set: func(s *catalog.Sitting, value any) error {
				text, err := as[string](value)
				if err == nil {
					s.Day, err = time.Parse(time.DateOnly, text)
				}
				return err
			}},
		looked("sunspots", catalog.Sunspot), looked("plages", catalog.Plage), looked("filaments", catalog.Filament), looked("prominences", catalog.Prominence),
		wordsOrNone("seeing", "", func(s *catalog.Sitting) *string { return &s.Seeing.Value }).once(Former{Name: "seeing.value"}),
		wordsOrNone("seeing_scale", "scales run in both directions", func(s *catalog.Sitting) *string { return &s.Seeing.Scale }).once(Former{Name: "seeing.scale"}),
		wordsOrNone("transparency", "", func(s *catalog.Sitting) *string { return &s.Transparency.Value }).once(Former{Name: "transparency.value"}),
		wordsOrNone("transparency_scale", "", func(s *catalog.Sitting) *string { return &s.Transparency.Scale }).once(Former{Name: "transparency.scale"}),
		number("clock_correction_s", "s", "add to camera time", func(s *catalog.Sitting) *float64 { return &s.ClockCorrectionS }),
		words("tuning", "", func(s *catalog.Sitting) *string { return &s.Tuning }),
		words("note", "", func(s *catalog.Sitting) *string { return &s.Note }),
	)}

// looked is whether a kind was looked for.
func looked(name string, kind catalog.Kind) Field[catalog.Sitting] {
	return Field[catalog.Sitting]{Name: name, Kind: Text, About: "looked for (and the marks are what was seen), or none seen; nothing: not known",
		Once: []Former{{Name: "looked." + kind.String()}},
		Get: func(s *catalog.Sitting) any {
			if l := s.Looked[kind]; l != catalog.NotLooked {
				return l.String()
			}
			return nil
		},
		Set: func(s *catalog.Sitting, value any) error {
			text, err := as[string](value)
			if err != nil || value == nil {
				return err
			}
			look, err := catalog.ParseLook(text)
			if err == nil && look != catalog.NotLooked {
				if s.Looked == nil {
					s.Looked = map[catalog.Kind]catalog.Look{}
				}
				s.Looked[kind] = look
			}
			return err
		}}
}

// Count describes what was counted on paper.
var Count = Noun[catalog.Count, catalog.CountID]{Name: "count", Said: "count", Letter: "C",
	Head: func(t *catalog.Count) (*catalog.CountID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Count]{
		ref("sitting", "sitting", "", func(c *catalog.Count) *catalog.SittingID { return &c.Sitting }),
		one("tally", "groups, spots, plages, filaments, prominences: places, elements", func(c *catalog.Count) *catalog.Tally { return &c.Tally }, catalog.ParseTally),
		hemisphere("north", func(c *catalog.Count) *int { return &c.North }),
		hemisphere("south", func(c *catalog.Count) *int { return &c.South }),
		whole("total", "", "", func(c *catalog.Count) *int { return &c.Total }),
	}}

// hemisphere is what was counted on one side of the solar equator, where both were told
// apart.
func hemisphere(name string, at func(*catalog.Count) *int) Field[catalog.Count] {
	f := whole(name, "", "of the solar equator, where they were told apart", at)
	set := f.Set
	f.Get = func(c *catalog.Count) any {
		if !c.Split {
			return nil
		}
		return int64(*at(c))
	}
	f.Set = func(c *catalog.Count, value any) error {
		if name == "south" && c.Split != (value != nil) {
			return errAlone
		}
		c.Split = value != nil
		return set(c, value)
	}
	return f
}
