package desk

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/figure"
)

// edgeAnswer is which filament a prominence at the edge is, in figures and in words for
// people: Head, NoneOf, NoneText, KinText and each Text.
type edgeAnswer struct {
	gather.EdgeFigures
	Candidates []edgeCandidate `json:"candidates"`
	Decide     []edgeLook      `json:"would_decide"`

	Head     string   `json:"head"`
	NoneOf   string   `json:"none_of"`
	NoneText string   `json:"none_text"`
	KinText  []string `json:"kin_text"`
}

type edgeCandidate struct {
	gather.EdgeCandidate
	Text candidateText `json:"text"`
}

// candidateText is a candidate in words, column by column.
type candidateText struct {
	Probability string `json:"probability"`
	MissLat     string `json:"miss_lat"`
	Beyond      string `json:"beyond"`
	Sigma       string `json:"sigma"`
	Limb        string `json:"limb"`
}

type edgeLook struct {
	gather.EdgeLook
	Text string `json:"text"`
}

// getMarkEdge answers GET /marks/{mark}/edge.
func (s *Server) getMarkEdge(w http.ResponseWriter, r *http.Request) error {
	id, err := markID(r)
	if err != nil {
		return err
	}
	found, err := s.keeper.EdgeOfMark(r.Context(), id)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, s.describeEdge(found, found.Mark.Position.UTC))
	return nil
}

// getFrameEdge answers GET /frames/{frame}/edge?x=&y=: the check of a place beyond the
// limb where nothing is marked, as though a prominence's top stood there.
func (s *Server) getFrameEdge(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	if !v.northKnown {
		return &userError{status: http.StatusConflict, what: v.frame.ID.String() + " has no north yet", hint: "answer the second question: n"}
	}
	p, err := pixelOf(r)
	if err != nil {
		return err
	}
	place := v.Place(p, observe.DefaultSigmaClickPx, disc.Height{})
	if !place.Stands() {
		return &userError{status: http.StatusUnprocessableEntity, what: "the pointer is not beyond the limb",
			hint: "point at a prominence, or take its mark in hand"}
	}
	at := follow.AtEdge{UTC: v.middle, PA: place.PositionAngle.Wrap360(), SigmaPA: place.SigmaPositionAngle,
		TopMm: max(0, place.Beyond.AboveSunMm), SigmaTopMm: place.Beyond.SigmaAboveMm, Limb: v.Layer}
	if err := at.Validate(); err != nil {
		return bad(err.Error(), "point nearer to the limb")
	}
	found, err := s.keeper.EdgeAt(r.Context(), at)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, s.describeEdge(found, v.middle))
	return nil
}

func (s *Server) describeEdge(a observe.EdgeAnswer, at time.Time) edgeAnswer {
	sigma := a.Sigma.Degrees()
	out := edgeAnswer{EdgeFigures: gather.Edge(a), Candidates: []edgeCandidate{}, Decide: []edgeLook{}, KinText: []string{}}
	out.UTC = utcText(at)
	out.Head = fmt.Sprintf("%s edge, %s°%s, limb at longitude %s°", out.Edge, latText(a.Lat, figure.Decimals(sigma, 4)), plusMinus(sigma, "°"), turnText(a.LimbL, 1))
	out.NoneOf, out.NoneText = gather.NoneOf(a)
	for i, c := range out.EdgeFigures.Candidates {
		out.Candidates = append(out.Candidates, edgeCandidate{c, s.wordCandidate(a.Candidates[i].EdgeCandidate, out.Edge)})
	}
	for _, k := range out.Kin {
		out.KinText = append(out.KinText, k.String())
	}
	for i, l := range out.EdgeFigures.Decide {
		out.Decide = append(out.Decide, edgeLook{l, fmt.Sprintf("look on %s UT near position angle %.0f°, %.2f radii from the centre: %s",
			a.Looks[i].UTC.UTC().Format("2 January, 15h"), l.PADeg, l.R, l.Why)})
	}
	return out
}

func (s *Server) wordCandidate(c follow.EdgeCandidate, edge string) candidateText {
	verb := "passes"
	if c.LimbPassage.Before(s.keeper.Now()) {
		verb = "passed"
	}
	side, beyond := "behind", c.Beyond
	if beyond < 0 {
		side, beyond = "before", -beyond
	}
	return candidateText{
		Probability: figure.Percent(c.Probability),
		MissLat:     signed(c.MissLat, c.SigmaLat) + " in latitude",
		Beyond:      fmt.Sprintf("%.*f°%s %s the limb", figure.Decimals(c.SigmaLon.Degrees(), 4), beyond.Degrees(), plusMinus(c.SigmaLon.Degrees(), "°"), side),
		Sigma:       fmt.Sprintf("%.1f σ", c.MissSigma),
		Limb: fmt.Sprintf("%s the %s limb %s UT ± %.0f h", verb, edge, c.LimbPassage.UTC().Format("2 Jan 15h"),
			max(1, c.SigmaPassage.Hours())),
	}
}

func signed(value, sigma coords.Angle) string {
	return minus(fmt.Sprintf("%s°%s", figure.Signed(value.Degrees(), figure.Decimals(sigma.Degrees(), 4)), plusMinus(sigma.Degrees(), "°")))
}

func utcText(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// passageOf is the passage that a request names, by its id or its name.
func (s *Server) passageOf(r *http.Request, text string) (catalog.Passage, error) {
	read := s.keeper.Store.Read(r.Context())
	if id, err := catalog.ParsePassageID(text); err == nil {
		return read.Passage(id)
	}
	if strings.TrimSpace(text) == "" {
		return catalog.Passage{}, bad("no passage named", "send passage, its id or its name")
	}
	return read.PassageNamed(text)
}
