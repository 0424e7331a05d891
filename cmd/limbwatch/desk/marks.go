package desk

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/measure"
	"limbwatch/catalog/report"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/figure"
	"limbwatch/coords/rotation"
)

// markJSON is a mark as the page has it.
//
//	Points   its vertices in the pixels of the frame that is shown, however given
//	Own      it was marked on that frame, in pixels: its vertices can be moved
//	Edge     its ends along the limb, when part of it stands beyond
//	Joined   whose word it is that it belongs to its passage
//	Rivals   the passages it may belong to, where following could not tell
//	Why      why it has no position
//	Figures  all that is told of it, as "log --json" tells it (see field.Marks)
type markJSON struct {
	ID          string          `json:"id"`
	Number      int64           `json:"number"`
	Revision    int64           `json:"revision"`
	Frame       string          `json:"frame"`
	Own         bool            `json:"own"`
	Kind        catalog.Kind    `json:"kind"`
	Shape       string          `json:"shape"`
	Points      []xy            `json:"points,omitempty"`
	Ellipse     []xy            `json:"ellipse,omitempty"`
	Edge        *edgeJSON       `json:"edge,omitempty"`
	Name        string          `json:"name"`
	Label       string          `json:"label"`
	Note        string          `json:"note"`
	Spots       int             `json:"spots,omitempty"`
	Passage     string          `json:"passage,omitempty"`
	PassageName string          `json:"passage_name"`
	Joined      string          `json:"joined"`
	Rivals      []rival         `json:"rivals,omitempty"`
	Position    *positionJSON   `json:"position,omitempty"`
	Text        markText        `json:"text"`
	Why         string          `json:"why,omitempty"`
	Figures     json.RawMessage `json:"figures"`
}

type edgeJSON struct {
	FromDeg  float64          `json:"from_deg"`
	ToDeg    float64          `json:"to_deg"`
	HeightMm field.Megametres `json:"height_km"`
}

type positionJSON struct {
	LatDeg   float64 `json:"lat_deg"`
	LonDeg   float64 `json:"lon_deg"`
	CMDDeg   float64 `json:"cmd_deg"`
	SigmaDeg float64 `json:"sigma_deg"`
	OnDisc   bool    `json:"on_disc"`
}

// markText is how a mark's position reads in the ledger.
type markText struct {
	B     string `json:"b"`
	L     string `json:"l"`
	CMD   string `json:"cmd"`
	Sigma string `json:"sigma"`
	Edge  string `json:"edge,omitempty"`
	Full  string `json:"full"`
	More  string `json:"more,omitempty"`
}

// describeMark describes a mark for the frame that is shown; on is the view of the mark's
// own frame.
func describeMark(e catalog.Entry, shown, on viewed) markJSON {
	m := e.Mark
	out := markJSON{
		ID: m.ID.String(), Number: int64(m.ID), Revision: m.Revision, Frame: m.Frame.String(),
		Own:  m.Frame == shown.frame.ID && m.Geometry.Form() == catalog.FormPixels,
		Kind: m.Kind, Shape: m.Geometry.Shape.String(), Name: nameOf(m), Label: m.Label, Note: m.Note, Spots: m.Spots,
		Why: e.Position.Reason,
	}
	if e.Join != nil {
		out.Passage, out.PassageName, out.Joined = e.Join.Passage.String(), e.PassageName, joinedText(e.Join)
	}
	out.Points = verticesOn(m, shown, on)
	out.describe(e.Position)
	var known *disc.View
	if on.northKnown {
		known = &on.View
	}
	if lacks := e.Position.Lacks; lacks != "" {
		out.Text.More = strings.TrimPrefix(out.Text.More+"; not given: "+lacks+", so what it would move has no error", "; ")
	}
	measured := measure.OfEntry(e, known)
	out.Figures = field.Object(field.Marks, &measured)
	for _, size := range report.Sizes(measured) {
		out.Text.More = strings.TrimPrefix(out.Text.More+"; "+size.Label+" "+size.Text, "; ")
	}
	if d := e.Position.Disc; d != nil && out.Own && !e.Position.NearLimb && shown.northKnown {
		out.Ellipse = ellipse(shown.View, d.Measured)
	}
	return out
}

// describe words a position: the part at the edge before the part on the disc, as
// that is what a prominence is.
func (m *markJSON) describe(p catalog.Position) {
	switch {
	case p.Edge != nil:
		m.atEdge(*p.Edge)
		if p.Disc != nil {
			m.Text.More = onDiscText(*p.Disc) + " on the disc; " + m.Text.More
		}
	case p.Disc != nil:
		m.onDisc(*p.Disc)
	default:
		m.Text.Full = p.Reason
		return
	}
	if h := p.High; h != nil {
		sigma := h.Cov.SigmaL().Degrees()
		at := fmt.Sprintf("at %.0f Mm height: %s°, L %s°%s", h.Height.HeightMm, latText(h.B, figure.Decimals(h.Cov.SigmaB().Degrees(), 4)),
			turnText(h.L, figure.Decimals(sigma, 4)), plusMinus(sigma, "°"))
		m.Text.More = strings.TrimPrefix(m.Text.More+"; "+at, "; ")
	}
}

func (m *markJSON) atEdge(e catalog.AtEdge) {
	m.Edge = &edgeJSON{FromDeg: e.From.Degrees(), ToDeg: e.To.Degrees(), HeightMm: field.Megametres(e.HeightMm)}
	sigmaPA := e.SigmaPA.Degrees()
	m.Position = &positionJSON{LatDeg: e.Lat.Degrees(), LonDeg: e.Lon.Degrees(), SigmaDeg: e.SigmaLat.Degrees()}
	m.Text = markText{
		Edge:  fmt.Sprintf("PA %s°  %.*f Mm", turnText(e.PA, min(1, figure.Decimals(sigmaPA, 4))), min(1, figure.Decimals(e.SigmaMm, 4)), e.HeightMm),
		Sigma: sigmaText(sigmaPA),
		Full: fmt.Sprintf("PA %s°%s, height %.*f%s", turnText(e.PA, figure.Decimals(sigmaPA, 4)), plusMinus(sigmaPA, "°"),
			figure.Decimals(e.SigmaMm, 4), e.HeightMm, unitAfter(e.SigmaMm, " Mm")),
		More: fmt.Sprintf("%.1f″ above the limb, which lies at %s°, L %s°: its own longitude may differ",
			e.HeightArcsec, latText(e.Lat, 1), turnText(e.Lon, 1)),
	}
}

func (m *markJSON) onDisc(d catalog.OnDisc) {
	sb, sl := d.Cov.SigmaB().Degrees(), d.Cov.SigmaL().Degrees()
	worse := math.Max(sb, sl*d.B.Cos())
	if sb == 0 || sl == 0 {
		worse = 0 // one of them is not known
	}
	m.Position = &positionJSON{LatDeg: d.B.Degrees(), LonDeg: d.L.Degrees(), CMDDeg: d.CMD.Degrees(), SigmaDeg: worse, OnDisc: true}
	m.Text = markText{
		B: latText(d.B, min(1, figure.Decimals(sb, 4))), L: turnText(d.L, min(1, figure.Decimals(sl, 4))),
		CMD: cmdText(d.CMD, min(1, figure.Decimals(sl, 4))), Sigma: sigmaText(worse), Full: onDiscText(d),
	}
}

func onDiscText(d catalog.OnDisc) string {
	sb, sl := d.Cov.SigmaB().Degrees(), d.Cov.SigmaL().Degrees()
	return fmt.Sprintf("%s°%s, %s°, L %s°%s", latText(d.B, figure.Decimals(sb, 4)), plusMinus(sb, "°"), cmdText(d.CMD, figure.Decimals(sl, 4)),
		turnText(d.L, figure.Decimals(sl, 4)), plusMinus(sl, "°"))
}

func unitAfter(sigma float64, unit string) string {
	if text := plusMinus(sigma, unit); text != "" {
		return text
	}
	return unit
}

// verticesOn brings a mark's vertices to the pixels of the frame that is shown; nil
// when that cannot be done, or when it lies behind the Sun there.
func verticesOn(m catalog.Mark, shown, on viewed) []xy {
	if m.Frame == shown.frame.ID && len(m.Geometry.Pixels) > 0 {
		out := make([]xy, len(m.Geometry.Pixels))
		for i, p := range m.Geometry.Pixels {
			out[i] = xy{p.X, p.Y}
		}
		return out
	}
	if !shown.northKnown || !on.northKnown && len(m.Geometry.Pixels) > 0 {
		return nil
	}
	law := rotation.PriorOf(m.Kind.String()).Law
	days := rotation.Days(on.middle, shown.middle)
	var out []xy
	add := func(p coords.Pixel, seen bool) bool {
		if seen {
			out = append(out, point(p))
		}
		return seen
	}
	for _, p := range m.Geometry.Pixels {
		place := on.Place(p, 0, noHeight)
		if place.Photosphere.Known {
			if !add(shown.Project(law.Carry(place.Photosphere.Heliographic, days), 0)) {
				return nil
			}
			continue
		}
		// Beyond the limb: the same place in the sky, which holds within the hours of a day.
		right, down := shown.North.Direction(place.PositionAngle)
		add(shown.Limb.At(place.R*right, place.R*down), !math.IsNaN(place.R))
	}
	for _, p := range m.Geometry.Polar {
		right, down := shown.North.Direction(p.PA)
		add(shown.Limb.At(p.R*right, p.R*down), true)
	}
	for _, p := range m.Geometry.Places {
		if !add(shown.Project(law.Carry(p.On(on.Face.L0), days), 0)) {
			return nil
		}
	}
	return out
}
