package desk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strings"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/north"
)

// northMethod is a way to north that the page offers.
type northMethod struct {
	ID        string `json:"id"`
	Name      string `json:"name"`
	About     string `json:"about"`
	Available bool   `json:"available"`
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
		if way.id == north.MethodReference { // slow: only whether there is something to compare with
			_, err = s.patternFrame(r.Context(), v)
		} else {
			_, _, err = way.find(r.Context(), v)
		}
		if err != nil {
			m.Available, m.Why = false, err.Error()
		}
		out = append(out, m)
	}
	answer(w, http.StatusOK, map[string]any{"methods": out})
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
		Words: foundWords(found), Decisive: found.Parity == 0 || found.Parity >= 0.95,
	}
	if from != 0 {
		out.Words += ", from " + from.String()
	}
	if !out.Decisive {
		out.Hint = fmt.Sprintf("the parity is right with odds of %.0f %% only: check which way the disc drifts", 100*found.Parity)
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

// postNorth answers POST /frames/{frame}/north. An angle that a method found and
// that nobody turned since is kept with that method's words; otherwise it was turned
// by hand.
func (s *Server) postNorth(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		revised
		AngleDeg float64 `json:"angle_deg"`
		Mirrored bool    `json:"mirrored"`
		SigmaDeg float64 `json:"sigma_deg"`
		Method   string  `json:"method"`
	}
	v, err := s.seen(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	angle := coords.Angle(in.AngleDeg) * coords.Degree
	if in.Method != "" && in.Method != north.MethodTyped && v.discKnown {
		v.North.Mirrored = in.Mirrored
		found, from, err := s.find(r.Context(), v, in.Method)
		if err == nil && found.Mirrored == in.Mirrored && (found.Angle-angle).Wrap180().Abs() < 0.005*coords.Degree {
			if _, err := s.keeper.KeepNorth(r.Context(), v.frame.ID, found, from, in.Revision); err != nil {
				return err
			}
			return done(w)
		}
	}
	sigma := coords.Angle(in.SigmaDeg) * coords.Degree
	if sigma == 0 {
		sigma = handSigma
	}
	if !(sigma > 0) || math.IsNaN(in.AngleDeg) {
		return bad("the error of north must be more than 0", "leave sigma_deg out for 1°")
	}
	n := catalog.North{Frame: v.frame.ID, Angle: angle.Wrap180(), Mirrored: in.Mirrored, Sigma: sigma, Method: "by hand"}
	if err := n.Validate(); err != nil {
		return bad(err.Error(), "nothing was changed")
	}
	if _, err := s.keeper.SetNorth(r.Context(), n, in.Revision); err != nil {
		return err
	}
	return done(w)
}
