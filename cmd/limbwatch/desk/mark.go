package desk

import (
	"errors"
	"net/http"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/read"
	"limbwatch/catalog/store"
)

// postMark answers POST /frames/{frame}/marks.
func (s *Server) postMark(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Kind         catalog.Kind   `json:"kind"`
		Shape        string         `json:"shape"`
		Points       []catalog.Pair `json:"points"`
		SigmaClickPx float64        `json:"sigma_click_px"`
		Label        string         `json:"label"`
		Note         string         `json:"note"`
		Is           string         `json:"is"`
		Force        bool           `json:"force"` // figures that look like a slip are meant
	}
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	shape, err := catalog.ParseShape(in.Shape)
	if err != nil {
		return bad(err.Error(), "nothing was kept")
	}
	if in.SigmaClickPx == 0 {
		in.SigmaClickPx = observe.DefaultSigmaClickPx
	}
	m := catalog.Mark{
		Frame: id, Kind: in.Kind, Label: in.Label, Note: in.Note,
		Geometry: catalog.Geometry{Shape: shape, Pixels: pixels(in.Points), SigmaClickPx: in.SigmaClickPx},
		MarkedAt: s.keeper.Now().UTC(),
	}
	if err := m.Validate(); err != nil {
		return bad(err.Error(), "nothing was kept")
	}
	k := s.keeper
	k.Force = in.Force
	if in.Is == "" {
		m, err = k.AddMark(r.Context(), m)
	} else {
		var of observe.SightingOf
		if of, err = s.sightingOf(r, in.Is); err == nil {
			m, err = k.AddSighting(r.Context(), m, of)
		}
	}
	if err != nil {
		return err
	}
	return s.tellMark(w, r, m.ID, http.StatusCreated)
}

// sightingOf reads what a new mark is said to be: a passage or an earlier mark.
func (s *Server) sightingOf(r *http.Request, text string) (observe.SightingOf, error) {
	if id, err := catalog.ParseMarkID(text); err == nil {
		return observe.SightingOf{Mark: id}, nil
	}
	p, err := s.passageOf(r, text)
	return observe.SightingOf{Passage: p.ID}, err
}

// tellMark answers with a mark as it stands now.
func (s *Server) tellMark(w http.ResponseWriter, r *http.Request, id catalog.MarkID, status int) error {
	m, err := s.describeMark(r, id)
	if err != nil {
		return err
	}
	return s.tell(w, r, status, map[string]any{"mark": m})
}

func (s *Server) describeMark(r *http.Request, id catalog.MarkID) (markJSON, error) {
	entries, err := s.keeper.Store.Read(r.Context()).Entries(store.Query{Marks: []catalog.MarkID{id}, References: true})
	if err != nil {
		return markJSON{}, err
	}
	if len(entries) == 0 {
		return markJSON{}, &store.NotFoundError{Noun: "mark", ID: id.String()}
	}
	on, err := s.seenFrame(r, entries[0].Mark.Frame)
	if err != nil {
		return markJSON{}, err
	}
	rivals, err := read.RivalsOf(s.keeper.Store.Read(r.Context()), entries)
	if err != nil {
		return markJSON{}, err
	}
	return describeMarks(entries, rivals, on, map[catalog.FrameID]viewed{on.frame.ID: on})[0], nil
}

func markID(r *http.Request) (catalog.MarkID, error) {
	id, err := catalog.ParseMarkID(r.PathValue("mark"))
	if err != nil {
		return 0, bad(err.Error(), "marks are listed with their frame, as "+apiPrefix+"frames/F1")
	}
	return id, nil
}

// postMarkEdit answers POST /marks/{mark}. Only the fields that are sent change. A
// mark that was changed elsewhere meanwhile is refused, with its newest version.
func (s *Server) postMarkEdit(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		revised
		Points       *[]catalog.Pair `json:"points"`
		SigmaClickPx float64         `json:"sigma_click_px"`
		Kind         *catalog.Kind   `json:"kind"`
		Label        *string         `json:"label"`
		Note         *string         `json:"note"`
		Spots        *int            `json:"spots,string"`
		Force        bool            `json:"force"` // figures that look like a slip are meant
	}
	id, err := markID(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	m, err := s.keeper.Store.Read(r.Context()).Mark(id)
	if err != nil {
		return err
	}
	m.Revision = int64(in.Revision)
	if in.Points != nil {
		m.Geometry.Pixels = pixels(*in.Points)
	}
	if in.SigmaClickPx != 0 {
		m.Geometry.SigmaClickPx = in.SigmaClickPx
	}
	if in.Kind != nil {
		m.Kind = *in.Kind
		if m.Kind != catalog.Sunspot {
			m.Extent, m.Spots = catalog.ExtentUnknown, 0
		}
	}
	if in.Label != nil {
		m.Label = *in.Label
	}
	if in.Note != nil {
		m.Note = *in.Note
	}
	if in.Spots != nil {
		m.Spots = *in.Spots
	}
	if err := m.Validate(); err != nil {
		return bad(err.Error(), "nothing was changed")
	}
	k := s.keeper
	k.Force = in.Force
	if _, err = k.EditMark(r.Context(), m); err != nil {
		return s.stale(r, id, err)
	}
	return s.tellMark(w, r, id, http.StatusOK)
}

// stale adds the newest version of a mark to the refusal of a stale edit.
func (s *Server) stale(r *http.Request, id catalog.MarkID, err error) error {
	if _, isStale := errors.AsType[*store.StaleError](err); !isStale {
		return err
	}
	now, readErr := s.describeMark(r, id)
	if readErr != nil {
		return err
	}
	return &userError{status: http.StatusConflict, what: err.Error(), hint: "look at the newer version, then decide", now: now}
}

// postMarkRemove answers POST /marks/{mark}/remove.
func (s *Server) postMarkRemove(w http.ResponseWriter, r *http.Request) error {
	var in revised
	id, err := markID(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		err = s.keeper.RemoveMark(r.Context(), id, int64(in.Revision))
	}
	if err != nil {
		return s.stale(r, id, err)
	}
	return s.done(w, r)
}

// postFollow answers POST /follow: marks are joined to passages, as one step that can
// be undone.
func (s *Server) postFollow(w http.ResponseWriter, r *http.Request) error {
	done, err := s.keeper.TrackFollow(r.Context(), observe.FollowOptions{})
	if err != nil {
		return err
	}
	return s.tell(w, r, http.StatusOK, map[string]any{"words": followedWords(done)})
}
