package field

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

var errAlone = errors.New("north or south alone: want both or neither")

// concat puts fields and lists of them behind one another.
func concat[T any](parts ...any) (all []Field[T]) {
	for _, p := range parts {
		switch p := p.(type) {
		case Field[T]:
			all = append(all, p)
		case []Field[T]:
			all = append(all, p...)
		default:
			panic(fmt.Sprintf("%T is no field", p))
		}
	}
	return all
}

// Frame describes one picture with its time.
var Frame = Noun[catalog.Frame, catalog.FrameID]{Name: "frame", Said: "frame", Letter: "F",
	Head: func(t *catalog.Frame) (*catalog.FrameID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Frame]{
		ref("sitting", "sitting", "", func(f *catalog.Frame) *catalog.SittingID { return &f.Sitting }),
		wordsOrNone("path", "of the file as last seen", func(f *catalog.Frame) *string { return &f.Path }),
		wordsOrNone("sha256", "what the file holds, by which it is known again", func(f *catalog.Frame) *string { return &f.SHA256 }),
		words("channel", "colour channel that is read", func(f *catalog.Frame) *string { return &f.Channel }),
		oneOrNone("role", "what the exposure was made for: surface, limb, both", func(f *catalog.Frame) *catalog.Role { return &f.Role }, catalog.ParseRole),
		instant("taken_utc", "time written with the picture", func(f *catalog.Frame) *time.Time { return &f.Taken }),
		oneOrNone("moment", "of the exposure to which taken_utc belongs: start, middle, end", func(f *catalog.Frame) *catalog.Moment { return &f.Moment }, catalog.ParseMoment),
		numberOrNone("exposure_s", "s", "", func(f *catalog.Frame) *float64 { return &f.ExposureS }),
		numberOrNone("sigma_s", "s", "standard error of the time", func(f *catalog.Frame) *float64 { return &f.SigmaS }),
		words("time_source", "", func(f *catalog.Frame) *string { return &f.TimeSource }),
		words("zone", "how the time was brought to UTC", func(f *catalog.Frame) *string { return &f.Zone }),
		wholeOrNone("width_px", "pix", "", func(f *catalog.Frame) *int { return &f.WidthPx }),
		wholeOrNone("height_px", "pix", "", func(f *catalog.Frame) *int { return &f.HeightPx }),
		yes("reference", "from elsewhere, for north only", func(f *catalog.Frame) *bool { return &f.Reference }),
		words("note", "", func(f *catalog.Frame) *string { return &f.Note }),
	}}

// Disc describes where the Sun lies in a frame.
var Disc = Noun[catalog.Disc, catalog.DiscID]{Name: "disc", Said: "disc", Letter: "D",
	Head: func(t *catalog.Disc) (*catalog.DiscID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: concat[catalog.Disc](
		ref("frame", "frame", "", func(d *catalog.Disc) *catalog.FrameID { return &d.Frame }),
		number("x_px", "pix", "of the centre", func(d *catalog.Disc) *float64 { return &d.Limb.Centre.X }),
		number("y_px", "pix", "of the centre", func(d *catalog.Disc) *float64 { return &d.Limb.Centre.Y }),
		number("radius_px", "pix", "long semi-axis", func(d *catalog.Disc) *float64 { return &d.Limb.RadiusPx }),
		number("flattening", "", "", func(d *catalog.Disc) *float64 { return &d.Limb.Flattening }),
		degrees("short_axis_deg", "counter-clockwise from up", func(d *catalog.Disc) *coords.Angle { return &d.Limb.ShortAxis }),
		limbCov("xx", func(c *coords.LimbCovariance) *float64 { return &c.XX }),
		limbCov("yy", func(c *coords.LimbCovariance) *float64 { return &c.YY }),
		limbCov("rr", func(c *coords.LimbCovariance) *float64 { return &c.RR }),
		limbCov("xy", func(c *coords.LimbCovariance) *float64 { return &c.XY }),
		limbCov("xr", func(c *coords.LimbCovariance) *float64 { return &c.XR }),
		limbCov("yr", func(c *coords.LimbCovariance) *float64 { return &c.YR }),
		km("layer_km", "height of this limb above the photosphere", func(d *catalog.Disc) *float64 { return &d.Layer.HeightMm }).once(inMm("layer_mm", "layer_sigma_mm", "layer")[0]...),
		km("sigma_layer_km", "its standard error", func(d *catalog.Disc) *float64 { return &d.Layer.SigmaMm }).once(inMm("layer_mm", "layer_sigma_mm", "layer")[1]...),
		one("layer_from", "how that is known: named, prior, measured, header", func(d *catalog.Disc) *catalog.LayerSource { return &d.LayerFrom }, catalog.ParseLayerSource),
		one("method", "fitted, points, typed, header", func(d *catalog.Disc) *catalog.DiscMethod { return &d.Method }, catalog.ParseDiscMethod),
		numberOrNone("rms_px", "pix", "", func(d *catalog.Disc) *float64 { return &d.RMSPx }),
		numberOrNone("width_px", "pix", "of the edge", func(d *catalog.Disc) *float64 { return &d.WidthPx }),
		numberOrNone("arc_deg", "deg", "of the limb that was seen", func(d *catalog.Disc) *float64 { return &d.ArcDeg }),
		wholeOrNone("points", "", "of the limb", func(d *catalog.Disc) *int { return &d.Points }),
		wholeOrNone("rejected", "", "points left out", func(d *catalog.Disc) *int { return &d.Rejected }),
		yes("accepted", "by the observer's eye", func(d *catalog.Disc) *bool { return &d.Accepted }),
		words("note", "", func(d *catalog.Disc) *string { return &d.Note }),
	)}

func limbCov(which string, at func(*coords.LimbCovariance) *float64) Field[catalog.Disc] {
	return number("cov_"+which, "pix2", "covariances of x, y and radius, square px", func(d *catalog.Disc) *float64 { return at(&d.Limb.Cov) }).
		once(Former{Name: "cov_px2." + which})
}

// North describes how a frame lies.
var North = Noun[catalog.North, catalog.NorthID]{Name: "north", Said: "north", Letter: "N",
	Head: func(t *catalog.North) (*catalog.NorthID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.North]{
		ref("frame", "frame", "", func(n *catalog.North) *catalog.FrameID { return &n.Frame }),
		degrees("angle_deg", "counter-clockwise from up", func(n *catalog.North) *coords.Angle { return &n.Angle }),
		one("toward", "celestial, solar, zenith", func(n *catalog.North) *catalog.Toward { return &n.Toward }, catalog.ParseToward),
		yes("mirrored", "east clockwise of north", func(n *catalog.North) *bool { return &n.Mirrored }),
		degrees("sigma_deg", "standard error of angle_deg", func(n *catalog.North) *coords.Angle { return &n.Sigma }),
		words("method", "", func(n *catalog.North) *string { return &n.Method }),
		numberOrNone("parity_odds", "", "that mirrored is right", func(n *catalog.North) *float64 { return &n.Parity }),
		ref("from_frame", "frame", "from which it was taken over", func(n *catalog.North) *catalog.FrameID { return &n.From }).once(Former{Name: "from"}),
		words("note", "", func(n *catalog.North) *string { return &n.Note }),
		degreesOrNone("lasting_deg", "the part of sigma_deg that matching on repeats", func(n *catalog.North) *coords.Angle { return &n.Lasting }),
	}}

// Warning describes one thing that is odd about a frame.
var Warning = Noun[catalog.Warning, catalog.WarningID]{Name: "warning", Said: "warning", Letter: "W",
	Head: func(t *catalog.Warning) (*catalog.WarningID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Warning]{
		ref("frame", "frame", "", func(w *catalog.Warning) *catalog.FrameID { return &w.Frame }),
		one("cause", "file, horizon, limb, size, north", func(w *catalog.Warning) *catalog.Cause { return &w.Cause }, catalog.ParseCause),
		words("words", "", func(w *catalog.Warning) *string { return &w.Words }),
		words("basis", "the figures it rests on", func(w *catalog.Warning) *string { return &w.Basis }),
		{Name: "settled_utc", About: "when a person settled it; those that are not are worked out anew where they can be", Kind: Text,
			Get: func(w *catalog.Warning) any {
				if w.Settled == nil {
					return nil
				}
				return InstantText(w.Settled.At)
			},
			Set: func(w *catalog.Warning, value any) error {
				w.Settled = nil
				text, err := as[string](value)
				if err != nil || text == "" {
					return err
				}
				w.Settled = new(catalog.Settlement)
				w.Settled.At, err = ParseInstant(text)
				return err
			}},
		{Name: "settled_why", Kind: Text, Once: []Former{{Name: "why"}},
			Get: func(w *catalog.Warning) any {
				if w.Settled == nil {
					return ""
				}
				return w.Settled.Why
			},
			Set: func(w *catalog.Warning, value any) (err error) {
				if w.Settled != nil {
					w.Settled.Why, err = as[string](value)
				}
				return err
			}},
		{Name: "observer", About: "who settled it", Kind: Ref, Refers: "observer",
			Get: func(w *catalog.Warning) any {
				if w.Settled == nil {
					return nil
				}
				return orNone(int64(w.Settled.By))
			},
			Set: func(w *catalog.Warning, value any) error {
				id, err := as[int64](value)
				if w.Settled != nil {
					w.Settled.By = catalog.ObserverID(id)
				}
				return err
			}},
	}}

// Mark describes one thing marked on one frame, in the figures in which it was marked.
var Mark = Noun[catalog.Mark, catalog.MarkID]{Name: "mark", Said: "mark", Letter: "M",
	Head: func(t *catalog.Mark) (*catalog.MarkID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: concat[catalog.Mark](
		ref("frame", "frame", "", func(m *catalog.Mark) *catalog.FrameID { return &m.Frame }),
		one("kind", "sunspot, plage, filament, prominence or other", func(m *catalog.Mark) *catalog.Kind { return &m.Kind }, catalog.ParseKind),
		one("shape", "point, line or outline", func(m *catalog.Mark) *catalog.Shape { return &m.Geometry.Shape }, catalog.ParseShape),
		vertices,
		form,
		Field[catalog.Mark]{Name: "sigma_click_px", Unit: "pix", About: "standard error of a vertex along each axis of the picture", Kind: Number,
			Get: func(m *catalog.Mark) any {
				if m.Geometry.Form() != catalog.FormPixels {
					return nil
				}
				return m.Geometry.SigmaClickPx
			},
			Set: func(m *catalog.Mark, value any) (err error) {
				m.Geometry.SigmaClickPx, err = asNumber(value)
				return err
			}},
		polarLimb("polar_limb_km", "height of the limb in whose radii r counts, above the photosphere", func(l *coords.Layer) *float64 { return &l.HeightMm }).once(inMm("polar_limb_mm", "polar_limb_sigma_mm", "polar_limb")[0]...),
		polarLimb("sigma_polar_limb_km", "its standard error", func(l *coords.Layer) *float64 { return &l.SigmaMm }).once(inMm("polar_limb_mm", "polar_limb_sigma_mm", "polar_limb")[1]...),
		numberOrNone("sigma_r", "", "standard error of r", func(m *catalog.Mark) *float64 { return &m.Geometry.SigmaR }),
		degreesOrNone("sigma_pa_deg", "standard error of the position angle", func(m *catalog.Mark) *coords.Angle { return &m.Geometry.SigmaPA }),
		degreesOrNone("sigma_place_deg", "standard error of the place along each direction on the Sun", func(m *catalog.Mark) *coords.Angle { return &m.Geometry.SigmaPlace }),
		heightOf("height", "height above the photosphere, as given by the observer", func(m *catalog.Mark) **coords.Layer { return &m.Height }, inMm("height_mm", "height_sigma_mm", "height")),
		oneOrNone("extent", "of a sunspot mark: group or single", func(m *catalog.Mark) *catalog.Extent { return &m.Extent }, catalog.ParseExtent),
		wholeOrNone("spots", "", "spots counted in it", func(m *catalog.Mark) *int { return &m.Spots }),
		words("label", "what the observer calls it", func(m *catalog.Mark) *string { return &m.Label }),
		figures("aliases", "other names, such as an official number", func(m *catalog.Mark) *[]string { return &m.Aliases }, func(names []string) bool { return len(names) == 0 }),
		words("note", "the observer's note", func(m *catalog.Mark) *string { return &m.Note }),
		ref("observer", "observer", "who marked it", func(m *catalog.Mark) *catalog.ObserverID { return &m.Observer }),
		instant("marked_utc", "when it was marked", func(m *catalog.Mark) *time.Time { return &m.MarkedAt }),
		ref("same_as", "mark", "the observer's word: the same thing as that mark", func(m *catalog.Mark) *catalog.MarkID { return &m.SameAs }),
		figures("sizes", "as given where nothing was drawn: area_msh, length_km, tilt_deg, each [value] or [value, sigma]",
			func(m *catalog.Mark) *catalog.Sizes { return &m.Sizes }, func(s catalog.Sizes) bool { return s == catalog.Sizes{} }),
	)}

// vertices are set as pixels, of which form then makes what they are.
var vertices = Field[catalog.Mark]{Name: "vertices", Kind: Figures, About: "pairs, of which form says what they are",
	Get: func(m *catalog.Mark) any {
		_, pairs := m.Geometry.Written()
		text, _ := json.Marshal(pairs) // finite: Validate has seen them
		return string(text)
	},
	Set: func(m *catalog.Mark, value any) error {
		text, err := as[string](value)
		if err != nil {
			return err
		}
		var pairs []catalog.Pair
		if err := json.Unmarshal([]byte(text), &pairs); err != nil {
			return fmt.Errorf("%.40q: %w", text, err)
		}
		m.Geometry.Pixels = make([]coords.Pixel, len(pairs))
		for i, p := range pairs {
			m.Geometry.Pixels[i] = coords.Pixel{X: p[0], Y: p[1]}
		}
		return nil
	}}

var form = Field[catalog.Mark]{Name: "form", Kind: Text,
	About: "pixels: x, y; polar: position angle, radii of the limb; carrington: latitude, longitude; cmd: latitude, distance from the central meridian, west positive",
	Get: func(m *catalog.Mark) any {
		form, _ := m.Geometry.Written()
		return form
	},
	Set: func(m *catalog.Mark, value any) error {
		form, err := as[string](value)
		if err != nil {
			return err
		}
		return m.Geometry.Reinterpret(form)
	}}

func polarLimb(name, about string, atMm func(*coords.Layer) *float64) Field[catalog.Mark] {
	f := km(name, about, func(m *catalog.Mark) *float64 { return atMm(&m.Geometry.PolarLimb) })
	get := f.Get
	f.Get = func(m *catalog.Mark) any {
		if m.Geometry.Form() != catalog.FormPolar {
			return nil
		}
		return get(m)
	}
	return f
}
