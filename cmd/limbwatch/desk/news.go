package desk

import (
	"fmt"
	"net/http"
	"strconv"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/read"
	"limbwatch/catalog/store"
)

// What a page has on show is of a version: the newest entry of the history when it was
// read. There is one road by which it comes up to date. An answer to a change carries what
// has changed since the page's version; so does the answer to GET /changes, which a page
// asks when the stream of news names a version that it has not.

// newsJSON is what has changed since a version, as a page has it that shows one frame.
//
//	Version   the newest now
//	Shown     the frame that Frame, Day, Marks, Gone and Ribbon are told for
//	Much      too much to tell, or the frame is gone: what is shown is read anew
//	Days      days of the shore that are other than they were, or new; GoneDays no longer
//	          have a picture
//	Frame, Day   the shown frame with its whole day, when a picture of the day changed
//	Marks     of the shown day that are other than they were, or new; Gone the ids of
//	          others' that are out of sight
//	Ribbon    anew, when anything changed that it may show
type newsJSON struct {
	Version  int64            `json:"version"`
	Shown    string           `json:"shown"`
	Much     bool             `json:"much,omitempty"`
	Days     []shoreDay       `json:"days"`
	GoneDays []string         `json:"gone_days"`
	Frame    *frameJSON       `json:"frame,omitempty"`
	Day      *dayJSON         `json:"day,omitempty"`
	Marks    []markJSON       `json:"marks"`
	Gone     []catalog.MarkID `json:"gone"`
	Ribbon   *ribbon          `json:"ribbon,omitempty"`
}

// newsAsked is what a request wants to know: since=V, and shown=F for who has a frame open.
type newsAsked struct {
	since catalog.OperationID
	shown catalog.FrameID // 0: none
}

// newsWanted reads it; false where a request does not ask.
func newsWanted(r *http.Request) (asked newsAsked, wanted bool, err error) {
	q := r.URL.Query()
	if !q.Has("since") {
		return asked, false, nil
	}
	since, err := strconv.ParseInt(q.Get("since"), 10, 64)
	if err != nil || since < 0 {
		return asked, false, bad("since "+strconv.Quote(q.Get("since"))+" is no version", "answers tell their version")
	}
	asked.since = catalog.OperationID(since)
	if q.Get("shown") != "" {
		if asked.shown, err = catalog.ParseFrameID(q.Get("shown")); err != nil {
			return asked, false, bad(err.Error(), "frames are listed at "+apiPrefix+"days")
		}
	}
	return asked, true, nil
}

// getChanges answers GET /changes.
func (s *Server) getChanges(w http.ResponseWriter, r *http.Request) error {
	asked, wanted, err := newsWanted(r)
	if err != nil {
		return err
	}
	if !wanted {
		return bad("no version named", "send since, the version of an answer that you had")
	}
	news, err := s.news(r, asked)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, news)
	return nil
}

// tell answers a change that was made: with what it has to tell, and with what changed,
// for who asks.
func (s *Server) tell(w http.ResponseWriter, r *http.Request, status int, more map[string]any) error {
	asked, wanted, err := newsWanted(r)
	if err != nil {
		return err
	}
	if wanted {
		news, err := s.news(r, asked)
		if err != nil {
			return err
		}
		more["news"] = news
	}
	answer(w, status, more)
	return nil
}

// done answers a change that has nothing more to tell.
func (s *Server) done(w http.ResponseWriter, r *http.Request) error {
	return s.tell(w, r, http.StatusOK, map[string]any{})
}

// news tells what has changed, as one state of the catalogue has it.
func (s *Server) news(r *http.Request, asked newsAsked) (news newsJSON, err error) {
	err = s.keeper.Store.View(r.Context(), func(v *store.View) error {
		change, err := read.Since(v, asked.since)
		if err != nil {
			return err
		}
		news = newsJSON{Version: int64(change.Version), Much: change.Much, Days: describeDays(change.Days), GoneDays: change.GoneDays, Marks: []markJSON{}, Gone: change.Gone}
		if asked.shown == 0 || change.Much {
			return nil
		}
		news.Shown = asked.shown.String()
		return s.newsOf(v, &news, change, asked.shown)
	})
	return news, err
}

// newsOf adds what concerns the frame that is shown.
func (s *Server) newsOf(v *store.View, news *newsJSON, change read.Change, id catalog.FrameID) error {
	if len(change.Marks)+len(change.Gone)+len(change.Frames)+len(change.Days)+len(change.GoneDays) == 0 {
		return nil
	}
	b, err := v.Bearings(id)
	if isMissing(err) {
		news.Much = true
		return nil
	}
	if err != nil {
		return err
	}
	shown := view(b)
	ribbon, err := ribbonOf(v, shown)
	if err != nil {
		return err
	}
	news.Ribbon = &ribbon
	ofDay, err := sameDay(v, b.Frame, change)
	if err != nil {
		return err
	}
	if ofDay {
		f, day, err := s.bundle(v, id)
		news.Frame, news.Day = &f, &day
		return err
	}
	news.Marks, err = s.marksOfDay(v, shown, change.Marks)
	return err
}

// sameDay says whether pictures changed of the day of the frame that is shown, or its
// sitting.
func sameDay(v *store.View, f catalog.Frame, change read.Change) (bool, error) {
	at, err := v.FramesAt(change.Frames)
	if err != nil {
		return false, err
	}
	for id, where := range at {
		if id == f.ID || f.Sitting != 0 && where.Sitting == f.Sitting {
			return true, nil
		}
	}
	return change.HasSitting(f.Sitting), nil
}

// marksOfDay describes those marks that are of the shown day.
func (s *Server) marksOfDay(v *store.View, shown viewed, ids []catalog.MarkID) ([]markJSON, error) {
	if len(ids) == 0 {
		return []markJSON{}, nil
	}
	query := store.Query{Marks: ids, References: true, Sitting: shown.frame.Sitting}
	if shown.frame.Sitting == 0 {
		query.Frame = shown.frame.ID
	}
	entries, err := v.Entries(query)
	if err != nil {
		return nil, err
	}
	rivals, err := read.RivalsOf(v, entries)
	if err != nil {
		return nil, err
	}
	views := map[catalog.FrameID]viewed{shown.frame.ID: shown}
	for _, e := range entries {
		if _, known := views[e.Mark.Frame]; known {
			continue
		}
		b, err := v.Bearings(e.Mark.Frame)
		if err != nil {
			return nil, err
		}
		views[e.Mark.Frame] = view(b)
	}
	return describeMarks(entries, rivals, shown, views), nil
}

// unchanged answers that nothing has changed since a browser had the same answer, and
// notes by what it will know that.
func (s *Server) unchanged(w http.ResponseWriter, r *http.Request, version catalog.OperationID) bool {
	tag := fmt.Sprintf("\"%s-%d-%d\"", s.run, version, s.refusals.count())
	w.Header().Set("Cache-Control", "no-cache") // asked again each time, sent only when it changed
	w.Header().Set("Etag", tag)
	if r.Header.Get("If-None-Match") != tag {
		return false
	}
	w.WriteHeader(http.StatusNotModified)
	return true
}

// getNews answers GET /news with a stream of server-sent events. An event "changed" comes
// at once, and whenever somebody, this page or another or a command, changed the
// catalogue; it carries the version, the id of the newest entry of the history. A comment
// comes every few seconds, so that the page notices when the server is gone.
func (s *Server) getNews(w http.ResponseWriter, r *http.Request) error {
	flush := http.NewResponseController(w)
	v := s.keeper.Store.Read(r.Context())
	newest, err := v.Newest()
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/event-stream")
	fmt.Fprintf(w, "retry: 1000\n\nevent: changed\ndata: %d\n\n", newest)
	if err := flush.Flush(); err != nil {
		return nil
	}
	look := time.NewTicker(time.Second)
	defer look.Stop()
	for beat := 1; ; beat++ {
		select {
		case <-r.Context().Done():
			return nil
		case <-s.closing:
			return nil
		case <-look.C:
		}
		now, err := v.Newest()
		if err != nil {
			continue // a busy catalogue is asked again
		}
		switch {
		case now != newest:
			newest = now
			fmt.Fprintf(w, "event: changed\ndata: %d\n\n", newest)
		case beat%5 == 0:
			fmt.Fprint(w, ": still here\n\n")
		default:
			continue
		}
		if flush.Flush() != nil {
			return nil
		}
	}
}
