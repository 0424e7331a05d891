package desk

import (
	"errors"
	"net/http"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

var noHeight = disc.Height{}

// viewed is a frame with all that positions on it need. Without a disc only Face
// and the instant are good, without north no position angle is.
type viewed struct {
	disc.View
	bearings   catalog.Bearings
	frame      catalog.Frame
	middle     time.Time
	discKnown  bool
	northKnown bool
	noNorth    error // why there is none, or no disc
}

// view puts the bearings of a frame together, as far as they go.
func view(b catalog.Bearings) viewed {
	v := viewed{bearings: b, frame: b.Frame, middle: b.Frame.Middle(b.ClockCorrectionS)}
	full, err := observe.ViewOf(b)
	if err == nil {
		v.View, v.discKnown, v.northKnown = full, true, true
		return v
	}
	v.noNorth = err
	v.Face = ephemeris.At(v.middle)
	if d := b.Disc; d != nil {
		v.Limb, v.Layer, v.discKnown = d.Limb, d.Layer, true
	}
	return v
}

// seen reads the frame that a request names.
func (s *Server) seen(r *http.Request) (viewed, error) {
	id, err := catalog.ParseFrameID(r.PathValue("frame"))
	if err != nil {
		return viewed{}, bad(err.Error(), "frames are listed at "+apiPrefix+"days")
	}
	return s.seenFrame(r, id)
}

func (s *Server) seenFrame(r *http.Request, id catalog.FrameID) (viewed, error) {
	b, err := s.keeper.Store.Read(r.Context()).Bearings(id)
	if err != nil {
		return viewed{}, err
	}
	return view(b), nil
}

// viewed is seen for what needs a disc.
func (s *Server) viewed(r *http.Request) (viewed, error) {
	v, err := s.seen(r)
	if err == nil && !v.discKnown {
		err = &userError{status: http.StatusConflict, what: "frame " + v.frame.ID.String() + " has no disc yet", hint: "answer the first question on the page, or run limbwatch disc find"}
	}
	return v, err
}

// userError is a refusal whose words are meant for the observer.
type userError struct {
	status     int
	what, hint string
	now        any
}

func (e *userError) Error() string { return e.what }

// bad is a request that makes no sense.
func bad(what, hint string) error {
	return &userError{status: http.StatusBadRequest, what: what, hint: hint}
}

func isMissing(err error) bool {
	_, missing := errors.AsType[*store.NotFoundError](err)
	return missing
}
