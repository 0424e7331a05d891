package desk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/figure"
	"limbwatch/coords/north"
)

// northMethod is a way to north that the page offers.
type northMethod struct {
	ID        string `json:"id"`
	Name      string `json:"name"`
	About     string `json:"about"`
	Available bool   `json:"available"`
	Twins     bool   `json:"twins,omitempty"`     // it has two answers, asked for at north/twins
	ByParity  bool   `json:"by_parity,omitempty"` // its angle is another in a mirrored picture: propose takes mirrored=
	Why       string `json:"why,omitempty"`       // why it is not
}

// proposal is what a way says, before it is kept.
type proposal struct {
	CelestialDeg float64 `json:"celestial_deg"`
	Mirrored     bool    `json:"mirrored"`
	SigmaDeg     float64 `json:"sigma_deg"`
	Parity       float64 `json:"parity,omitempty"`
	Words        string  `json:"words"`
	Decisive     bool    `json:"decisive"`
	Hint         string  `json:"hint,omitempty"`
	Offered      bool    `json:"offered,omitempty"` // taken over from another sitting: nothing was looked at
}

// northWay finds a north for a frame without keeping it.
type northWay struct {
	id, name, about string
	byParity        bool
	find            func(context.Context, viewed) (north.Found, catalog.FrameID, error)
}

func (s *Server) northWays() []northWay {
	return []northWay{
		{north.MethodLastTime, "as last time", "the north of the last picture of this set-up", false, s.northAsLast},
		{north.MethodReference, "by its pattern", "compares the whole disc with the nearest picture that has a north; takes some seconds", false, s.northByPattern},
		{north.MethodFeatures, "known features", "from marks that carry the labels of marks on another picture", false, s.northByFeatures},
		{north.MethodDrift, "drift", "from the pictures of this sitting within ten minutes, taken with the tracking off", false, s.northByDrift},
		{north.MethodSolar, "Sun's north up", "the picture was turned so that the Sun's own north pole is up", true, s.northBySun},
		{north.MethodLevel, "level camera", "the camera is upright and level: from site and time", true, s.northByLevel},
	}
}

// getNorthMethods answers GET /frames/{frame}/north/methods.
func (s *Server) getNorthMethods(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	var out []northMethod
	for _, way := range s.northWays() {
		m := northMethod{ID: way.id, Name: way.name, About: way.about, Available: true, ByParity: way.byParity}
		var err error
		var found north.Found
		if way.id == north.MethodReference { // slow: only whether there is something to compare with
			_, err = s.patternFrame(r.Context(), v)
		} else {
			found, _, err = way.find(r.Context(), v)
		}
		if way.id == north.MethodLastTime && err == nil { // how old it is
			m.About = found.Why
		}
		if err != nil {
			m.Available, m.Why = false, err.Error()
		}
		out = append(out, m)
	}
	turning := northMethod{ID: north.MethodTurning, Name: "Sun's turning", About: "from pictures of other days, though none has its north; takes some seconds", Available: true, Twins: true}
	if _, err := s.turningFrames(r.Context(), v); err != nil {
		turning.Available, turning.Why = false, err.Error()
	}
	parity, err := s.keeper.ParityOfFrame(r.Context(), v.frame.ID)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, map[string]any{"methods": append(out, turning), "parity": map[string]any{
		"known": parity.Known, "mirrored": parity.Mirrored, "odds": parity.Odds, "why": parity.Why,
	}})
	return nil
}

// getNorthPropose answers GET /frames/{frame}/north/propose?method=&mirrored=.
func (s *Server) getNorthPropose(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	if mirrored := r.FormValue("mirrored"); mirrored != "" {
		v.North.Mirrored = mirrored == "true"
	}
	found, from, err := s.find(r.Context(), v, r.FormValue("method"))
	if err != nil {
		return northRefusal(err)
	}
	out := proposal{
		CelestialDeg: found.Angle.Wrap180().Degrees(), Mirrored: found.Mirrored, SigmaDeg: found.Sigma.Degrees(), Parity: found.Parity,
		Words: foundWords(found), Decisive: found.Parity == 0 || found.Parity >= 0.95, Offered: found.Method == north.MethodLastTime,
	}
	if from != 0 {
		out.Words += ", from " + from.String()
	}
	if !out.Decisive {
		out.Hint = fmt.Sprintf("the parity is right with odds of %s only: check which way the disc drifts", figure.Percent(found.Parity))
	}
	answer(w, http.StatusOK, out)
	return nil
}

// foundWords says how a north was found; a way whose reason begins with its own name is
// not named twice.
func foundWords(found north.Found) string {
	if strings.HasPrefix(found.Why, found.Method) {
		return found.Why
	}
	return found.Method + plusMinus(found.Sigma.Degrees(), "°") + ": " + found.Why
}

func (s *Server) find(ctx context.Context, v viewed, method string) (north.Found, catalog.FrameID, error) {
	for _, way := range s.northWays() {
		if way.id == method {
			return way.find(ctx, v)
		}
	}
	return north.Found{}, 0, bad(fmt.Sprintf("north method %q", method), "the methods are listed at north/methods")
}

// northRefusal tells why a way gives no north; such a refusal is no fault of ours.
func northRefusal(err error) error {
	if _, ok := errors.AsType[*userError](err); ok {
		return err
	}
	return &userError{status: http.StatusUnprocessableEntity, what: err.Error(), hint: "turn the dial by hand, or take another way"}
}

// handSigma is how well north is set by turning the dial against what is seen
// (common practice, no source).
const handSigma = 1.0 * coords.Degree

// sentNorth is a north as the page sends it.
type sentNorth struct {
	revised
	AngleDeg *float64 `json:"angle_deg"`
	Mirrored bool     `json:"mirrored"`
	SigmaDeg float64  `json:"sigma_deg"`
	Method   string   `json:"method"`
}

// postNorth answers POST /frames/{frame}/north. An angle that a method found and
// that nobody turned since is kept with that method's words; otherwise it was turned
// by hand. It is held against its neighbours: what contradicts it becomes a warning.
func (s *Server) postNorth(w http.ResponseWriter, r *http.Request) error {
	var in sentNorth
	v, err := s.seen(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	const most = 360 // either way; the page sends −180 to 180
	if in.AngleDeg == nil {
		return bad("north needs angle_deg", "nothing was changed")
	}
	if !(math.Abs(*in.AngleDeg) <= most) {
		return bad(fmt.Sprintf("angle of north %g: want -%d to %d degrees", *in.AngleDeg, most, most), "nothing was changed")
	}
	tellings, waiting, err := s.tellings(r.Context(), v.frame.ID, false)
	if err != nil {
		return err
	}
	hanging, err := s.keeper.Hanging(r.Context(), v.frame.ID)
	if err != nil {
		return err
	}
	if err := s.keepNorth(r.Context(), s.keeper.Heeding(tellings), v, in); err != nil {
		return err
	}
	followed, err := s.keeper.Followed(r.Context(), hanging)
	if err != nil {
		return err
	}
	if len(waiting) > 0 {
		go s.holdLater(v.frame.ID)
	}
	return s.tell(w, r, http.StatusOK, map[string]any{"followed": followed})
}

// keepNorth keeps what the page sent.
func (s *Server) keepNorth(ctx context.Context, k observe.Keeper, v viewed, in sentNorth) error {
	angle := coords.Angle(*in.AngleDeg) * coords.Degree
	if in.Method != "" && in.Method != north.MethodTyped && v.discKnown {
		v.North.Mirrored = in.Mirrored
		found, from, err := s.find(ctx, v, in.Method)
		if err == nil && found.Mirrored == in.Mirrored && (found.Angle-angle).Wrap180().Abs() < 0.005*coords.Degree {
			_, err := k.KeepNorth(ctx, v.frame.ID, found, from, int64(in.Revision))
			return err
		}
	}
	sigma := coords.Angle(in.SigmaDeg) * coords.Degree
	if sigma == 0 {
		sigma = handSigma
	}
	if !(sigma > 0) {
		return bad(fmt.Sprintf("error of north %g degrees: want more than 0", in.SigmaDeg), "leave sigma_deg out for 1°")
	}
	n := catalog.North{Frame: v.frame.ID, Angle: angle.Wrap180(), Mirrored: in.Mirrored, Sigma: sigma, Method: "by hand"}
	if err := n.Validate(); err != nil {
		return bad(err.Error(), "nothing was changed")
	}
	_, err := k.SetNorth(ctx, n, int64(in.Revision))
	return err
}
