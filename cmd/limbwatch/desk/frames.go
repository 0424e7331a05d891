package desk

import (
	"fmt"
	"net/http"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/read"
	"limbwatch/catalog/store"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/figure"
)

// frameJSON is a frame as the page has it.
type frameJSON struct {
	ID          string                 `json:"id"`
	Revision    int64                  `json:"revision"`
	Name        string                 `json:"name"`
	Date        string                 `json:"date"`
	DateShort   string                 `json:"date_short"`
	Clock       string                 `json:"clock"`
	UTC         string                 `json:"utc"`
	UTCEdit     string                 `json:"utc_edit"`
	TimeText    string                 `json:"time_text"`
	Role        catalog.Role           `json:"role"`
	WidthPx     int                    `json:"width_px"`
	HeightPx    int                    `json:"height_px"`
	Disc        *discJSON              `json:"disc"`
	DiscRefusal *refusal               `json:"disc_refusal,omitempty"`
	North       *northJSON             `json:"north"`
	Up          map[string]orientation `json:"up"`
	Partners    []partner              `json:"partners"`
	Facts       []fact                 `json:"facts"`
	About       [][2]string            `json:"about"`
	Warnings    []warningJSON          `json:"warnings"`
	Question    string                 `json:"question"`
	OnShore     bool                   `json:"on_shore"` // its day is one of the shore
}

type discJSON struct {
	ID            string           `json:"id"`
	Revision      int64            `json:"revision"`
	XPx           float64          `json:"x_px"`
	YPx           float64          `json:"y_px"`
	RadiusPx      float64          `json:"radius_px"`
	Flattening    float64          `json:"flattening"`
	SigmaCentrePx float64          `json:"sigma_centre_px"`
	SigmaRadiusPx float64          `json:"sigma_radius_px"`
	RMSPx         float64          `json:"rms_px"`
	ArcDeg        float64          `json:"arc_deg"`
	Points        int              `json:"points"`
	Rejected      int              `json:"rejected"`
	Method        string           `json:"method"`
	LimbHeightMm  field.Megametres `json:"limb_height_km"`
	Accepted      bool             `json:"accepted"`
	Text          string           `json:"text"`
	Short         string           `json:"short"`
}

type northJSON struct {
	ID           string  `json:"id"`
	Revision     int64   `json:"revision"`
	AngleDeg     float64 `json:"angle_deg"`
	Toward       string  `json:"toward"`
	Mirrored     bool    `json:"mirrored"`
	SigmaDeg     float64 `json:"sigma_deg"`
	CelestialDeg float64 `json:"celestial_deg"`
	Method       string  `json:"method"`
	Text         string  `json:"text"`
}

// partner is another picture of the same day, with the way from the shown one's
// pixels to its own.
type partner struct {
	Frame       string `json:"frame"`
	Name        string `json:"name"`
	Edge        bool   `json:"edge"` // it was exposed for the edge
	FromPicture affine `json:"from_picture"`
}

// fact is one figure of the day line, with what it means.
type fact struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	About string `json:"about"`
}

func describeFrame(v viewed) frameJSON {
	f := v.frame
	out := frameJSON{
		ID: f.ID.String(), Revision: f.Revision, Name: roleName(f), Role: f.Role, WidthPx: f.WidthPx, HeightPx: f.HeightPx,
		Date: v.middle.Format("2 January 2006"), DateShort: v.middle.Format("2 Jan"), Clock: v.middle.Format("15:04:05 UTC"), UTC: v.middle.Format("2006-01-02T15:04:05.000Z"),
		UTCEdit: f.Taken.UTC().Format("2006-01-02 15:04:05"), TimeText: timeText(f),
		Up: map[string]orientation{"taken": {Flip: 1}}, Partners: []partner{}, Warnings: []warningJSON{}, Facts: facts(v), Question: "disc", OnShore: f.HasFile() && !f.Reference,
	}
	out.About = [][2]string{{"id", f.ID.String()}, {"file", baseName(f.Path)}, {"middle", v.middle.Format("2006-01-02 15:04:05 UTC")}, {"found in", timeText(f)},
		{"size", fmt.Sprintf("%d × %d px", f.WidthPx, f.HeightPx)}}
	if f.ExposureS > 0 {
		out.About = append(out.About, [2]string{"exposure", fmt.Sprintf("%.3g s", f.ExposureS)})
	}
	if f.SigmaS > 0 {
		out.About = append(out.About, [2]string{"time error", fmt.Sprintf("%.2g s", f.SigmaS)})
	}
	if d := v.bearings.Disc; d != nil {
		out.Disc = describeDisc(*d)
		out.About = append(out.About, [2]string{"disc", out.Disc.Text})
		out.Question = "north"
		if !d.Accepted {
			out.Question = "disc"
		}
	}
	if n := v.bearings.North; n != nil {
		out.North = describeNorth(*n, v)
		out.About = append(out.About, [2]string{"north", out.North.Text})
		if out.Question == "north" {
			out.Question = "marks"
		}
	}
	if v.northKnown {
		out.Up["sky"] = upward(v.North, 0)
		out.Up["sun"] = upward(v.North, v.Face.P)
	}
	return out
}

func describeDisc(d catalog.Disc) *discJSON {
	l := d.Limb
	out := &discJSON{
		ID: d.ID.String(), Revision: d.Revision, XPx: l.Centre.X, YPx: l.Centre.Y, RadiusPx: l.RadiusPx, Flattening: l.Flattening,
		SigmaCentrePx: l.Cov.SigmaCentrePx(), SigmaRadiusPx: l.Cov.SigmaRadiusPx(), RMSPx: d.RMSPx, ArcDeg: d.ArcDeg,
		Points: d.Points, Rejected: d.Rejected, Method: d.Method.String(), LimbHeightMm: field.Megametres(d.Layer.HeightMm), Accepted: d.Accepted,
	}
	var words strings.Builder
	fmt.Fprintf(&words, "centre %.2f, %.2f%s, radius %.2f%s", l.Centre.X, l.Centre.Y, unitAfter(out.SigmaCentrePx, " px"), l.RadiusPx, unitAfter(out.SigmaRadiusPx, " px"))
	if l.Flattening > 0 {
		fmt.Fprintf(&words, ", flattened %.2f %%", 100*l.Flattening)
	}
	if d.RMSPx > 0 {
		fmt.Fprintf(&words, ", rms %.2f px", d.RMSPx)
	}
	if d.ArcDeg > 0 {
		fmt.Fprintf(&words, " on %.0f° of limb", d.ArcDeg)
	}
	fmt.Fprintf(&words, ", limb at %.1f Mm", d.Layer.HeightMm)
	out.Text = words.String()
	out.Short = fmt.Sprintf("radius %.*f%s", figure.Decimals(out.SigmaRadiusPx, 4), l.RadiusPx, unitAfter(out.SigmaRadiusPx, " px"))
	switch {
	case d.Method != catalog.DiscFitted:
		out.Short += ", " + discMethodText(d.Method)
	case d.RMSPx > 0:
		out.Short += fmt.Sprintf(", rms %.2f px on %.0f° of limb", d.RMSPx, d.ArcDeg)
	}
	return out
}

// discMethodText says in words how a disc was found.
func discMethodText(m catalog.DiscMethod) string {
	switch m {
	case catalog.DiscPoints:
		return "through clicked points"
	case catalog.DiscTyped:
		return "laid on by hand"
	case catalog.DiscHeader:
		return "from the file's header"
	}
	return "found in the picture"
}

func describeNorth(n catalog.North, v viewed) *northJSON {
	celestial := v.North.Angle.Wrap180().Degrees()
	parity := "not mirrored"
	if n.Mirrored {
		parity = "mirrored"
	}
	return &northJSON{
		ID: n.ID.String(), Revision: n.Revision, AngleDeg: n.Angle.Degrees(), Toward: n.Toward.String(), Mirrored: n.Mirrored,
		SigmaDeg: n.Sigma.Degrees(), CelestialDeg: celestial, Method: n.Method,
		Text: fmt.Sprintf("%.2f°%s, %s, %s", celestial, plusMinus(n.Sigma.Degrees(), "°"), parity, n.Method),
	}
}

func facts(v viewed) []fact {
	f := v.Face
	return []fact{
		{"P", minus(fmt.Sprintf("%+.2f°", f.P.Degrees())), "position angle of the Sun's north pole, from celestial north, east positive"},
		{"B0", minus(fmt.Sprintf("%+.2f°", f.B0.Degrees())), "heliographic latitude of the middle of the disc"},
		{"L0", fmt.Sprintf("%.2f°", f.L0.Degrees()), "Carrington longitude of the middle of the disc; it falls by 0.55° an hour"},
		{"CR", fmt.Sprintf("%.2f", ephemeris.Rotation(v.middle)), "Carrington rotation with the part of it that is over"},
		{"⌀", fmt.Sprintf("%.0f″", 2*f.Semidiameter.Arcseconds()), "apparent diameter of the photosphere"},
	}
}

func timeText(f catalog.Frame) string {
	text := f.Taken.UTC().Format("2006-01-02 15:04:05 UTC")
	if f.TimeSource != "" {
		text += ", " + f.TimeSource
	}
	if f.Zone != "" && f.Zone != "UTC" {
		text += ", written in " + f.Zone
	}
	if f.Moment != catalog.MomentUnknown {
		text += ", " + f.Moment.String() + " of the exposure"
	}
	return text
}

func roleName(f catalog.Frame) string {
	switch f.Role {
	case catalog.RoleSurface:
		return "disc"
	case catalog.RoleLimb:
		return "edge"
	case catalog.RoleBoth:
		return "both"
	}
	return f.Taken.UTC().Format("15:04:05")
}

// baseName is the last part of a path of any system.
func baseName(path string) string {
	return path[strings.LastIndexAny(path, `/\`)+1:]
}

// dayJSON is a sitting with all that was marked in it.
type dayJSON struct {
	ID     string     `json:"id"`
	Title  string     `json:"title"`
	Frames []briefing `json:"frames"`
	Marks  []markJSON `json:"marks"`
}

type briefing struct {
	ID    string       `json:"id"`
	Name  string       `json:"name"`
	Role  catalog.Role `json:"role"`
	Title string       `json:"title"`
	Odd   []string     `json:"odd"` // what nobody has settled
}

// getFrame answers GET /frames/{frame}.
func (s *Server) getFrame(w http.ResponseWriter, r *http.Request) error {
	id, err := frameOf(r)
	if err != nil {
		return err
	}
	v := s.keeper.Store.Read(r.Context())
	version, err := v.Newest()
	if err != nil {
		return err
	}
	if s.unchanged(w, r, version) {
		return nil
	}
	f, day, err := s.bundle(v, id)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, map[string]any{"version": int64(version), "frame": f, "day": day})
	return nil
}

// bundle is a frame with its day.
func (s *Server) bundle(v *store.View, id catalog.FrameID) (frameJSON, dayJSON, error) {
	open, err := read.DayOf(v, id)
	if err != nil {
		return frameJSON{}, dayJSON{}, err
	}
	shown := view(open.Shown)
	out := describeFrame(shown)
	if out.Disc == nil {
		out.DiscRefusal = s.refusalOf(id)
	}
	if out.Warnings, err = describeWarnings(v, open.Warnings); err != nil {
		return out, dayJSON{}, err
	}
	day := dayJSON{ID: read.Key(shown.frame), Title: shown.middle.Format("2 January 2006"), Frames: []briefing{}}
	views := map[catalog.FrameID]viewed{id: shown}
	for _, b := range open.Frames {
		f, on := b.Frame, shown
		if f.ID != id {
			on = view(b)
			views[f.ID] = on
			if f.HasFile() && on.discKnown && shown.discKnown {
				out.Partners = append(out.Partners, partner{Frame: f.ID.String(), Name: roleName(f),
					Edge: f.Role == catalog.RoleLimb || f.Role == catalog.RoleBoth, FromPicture: onto(shown, on)})
			}
		}
		if f.HasFile() {
			day.Frames = append(day.Frames, briefing{ID: f.ID.String(), Name: roleName(f), Role: f.Role,
				Title: fmt.Sprintf("%s, %s, %s", f.ID, baseName(f.Path), on.middle.Format("15:04:05 UTC")), Odd: append([]string{}, openWords(open.Open, f.ID)...)})
		}
	}
	day.Marks = describeMarks(open.Entries, open.Rivals, shown, views)
	return out, day, nil
}

// describeMarks describes the marks of a day for the frame that is shown.
func describeMarks(entries []catalog.Entry, rivals map[catalog.MarkID][]read.Rival, shown viewed, views map[catalog.FrameID]viewed) []markJSON {
	marks := make([]markJSON, len(entries))
	for i, e := range entries {
		marks[i] = describeMark(e, shown, views[e.Mark.Frame])
		marks[i].Rivals = rivalsOf(e, rivals[e.Mark.ID])
	}
	return marks
}
