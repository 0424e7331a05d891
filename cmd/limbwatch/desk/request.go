package desk

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// maxBody bounds what a change may send; an outline of some thousand points fits.
const maxBody = 2 << 20

// take reads the JSON of a change. A field it does not know is refused, so that a
// script's mistake is told and not silently left out.
func take(w http.ResponseWriter, r *http.Request, into any) error {
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBody))
	dec.DisallowUnknownFields()
	err := dec.Decode(into)
	if err == nil {
		if _, more := dec.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("more than one value")
		}
	}
	if err != nil {
		if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
			return &userError{status: http.StatusRequestEntityTooLarge, what: fmt.Sprintf("the change is larger than %d bytes", maxBody), hint: "send it in parts"}
		}
		return bad("the change could not be read: "+err.Error(), "its fields are listed at "+apiPrefix)
	}
	return nil
}

// frameOf is the frame that a request names.
func frameOf(r *http.Request) (catalog.FrameID, error) {
	id, err := catalog.ParseFrameID(r.PathValue("frame"))
	if err != nil {
		return 0, bad(err.Error(), "frames are listed at "+apiPrefix+"days")
	}
	return id, nil
}

// pixels turns points of a request into pixels.
func pixels(points []catalog.Pair) []coords.Pixel {
	out := make([]coords.Pixel, len(points))
	for i, p := range points {
		out[i] = coords.Pixel{X: p[0], Y: p[1]}
	}
	return out
}

// postUndo answers POST /undo, postRedo POST /redo, with what was taken back or
// done again, as title and in words; empty when there was nothing.
func (s *Server) postUndo(w http.ResponseWriter, r *http.Request) error {
	op, err := s.keeper.Undo(r.Context())
	return s.wentBack(w, r, op, err)
}

func (s *Server) postRedo(w http.ResponseWriter, r *http.Request) error {
	op, err := s.keeper.Redo(r.Context())
	return s.wentBack(w, r, op, err)
}

// wentBack answers an undo or a redo.
func (s *Server) wentBack(w http.ResponseWriter, r *http.Request, op catalog.Operation, err error) error {
	if _, nothing := errors.AsType[*store.NothingToUndoError](err); nothing {
		return s.tell(w, r, http.StatusOK, map[string]any{"title": ""})
	}
	if err != nil {
		return err
	}
	return s.tell(w, r, http.StatusOK, map[string]any{"title": op.Title, "words": stepWords(op.Title), "operation": op.ID})
}
