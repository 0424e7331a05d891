package desk

import (
	"bytes"
	"net/http"

	"limbwatch/catalog"
)

// pageData is what the page's template gets: enough to read a day without script.
type pageData struct {
	Title     string
	HasFrames bool
	Cautions  []string
	Marks     []markJSON
}

// getPage answers GET /. The page's own state (frame, mark, view) stands in the
// address and is read by the script; the marks of the frame are here already.
func (s *Server) getPage(w http.ResponseWriter, r *http.Request) error {
	data := pageData{Title: "limbwatch", Cautions: s.deps.Cautions}
	days, err := s.days(r)
	if err != nil {
		return err
	}
	if len(days) > 0 {
		data.HasFrames = true
		id, err := catalog.ParseFrameID(r.FormValue("frame"))
		if err != nil {
			id, _ = catalog.ParseFrameID(days[len(days)-1].Frame)
		}
		if shown, err := s.seenFrame(r, id); err == nil {
			f, day, err := s.bundle(r, shown)
			if err != nil {
				return err
			}
			data.Title, data.Marks = f.Date+" "+f.Clock, day.Marks
		} else if !isMissing(err) {
			return err
		}
	}
	var page bytes.Buffer
	if err := s.page.ExecuteTemplate(&page, "page.html", data); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(page.Bytes())
	return nil
}
