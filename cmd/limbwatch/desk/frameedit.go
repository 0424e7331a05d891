package desk

import (
	"net/http"
	"sync"

	"limbwatch/catalog"
)

// postFrameEdit answers POST /frames/{frame}: its time, what it was exposed for, its
// note. Only the fields that are sent change.
func (s *Server) postFrameEdit(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		revised
		Time *string       `json:"time"`
		Zone string        `json:"zone"`
		Role *catalog.Role `json:"role"`
		Note *string       `json:"note"`
	}
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	f, err := s.keeper.Store.Read(r.Context()).Frame(id)
	if err != nil {
		return err
	}
	f.Revision = int64(in.Revision)
	if in.Time != nil {
		if in.Zone == "" {
			return bad("the time has no zone", "send its zone, as UTC, +02:00 or Europe/Lisbon")
		}
		if f.Taken, err = typedTime(*in.Time, in.Zone); err != nil {
			return err
		}
		f.Moment, f.TimeSource, f.Zone, f.SigmaS = catalog.MomentMiddle, "typed", in.Zone, typedSigmaS
	}
	if in.Role != nil {
		f.Role = *in.Role
	}
	if in.Note != nil {
		f.Note = *in.Note
	}
	if err := f.Validate(); err != nil {
		return bad(err.Error(), "nothing was changed")
	}
	if _, err := s.keeper.EditFrame(r.Context(), f); err != nil {
		return err
	}
	return s.done(w, r)
}

// postFrameRemove answers POST /frames/{frame}/remove: the picture, its disc, its north
// and its marks go out of sight, as one step that can be undone. The file stays.
func (s *Server) postFrameRemove(w http.ResponseWriter, r *http.Request) error {
	var in revised
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		err = s.keeper.RemoveFrame(r.Context(), id, int64(in.Revision), true)
	}
	if err != nil {
		return err
	}
	return s.done(w, r)
}

// refusals remembers why no disc was found in a picture, until one is kept.
type refusals struct {
	mu    sync.Mutex
	words map[catalog.FrameID]refusal
	told  int // how often one was added
}

// count tells one state of them from another.
func (r *refusals) count() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.told
}

func (s *Server) refused(id catalog.FrameID, why refusal) {
	s.refusals.mu.Lock()
	defer s.refusals.mu.Unlock()
	s.refusals.words[id] = why
	s.refusals.told++
}

func (s *Server) refusalOf(id catalog.FrameID) *refusal {
	s.refusals.mu.Lock()
	defer s.refusals.mu.Unlock()
	if why, ok := s.refusals.words[id]; ok {
		return &why
	}
	return nil
}
