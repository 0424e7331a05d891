package desk

import (
	"bytes"
	"net/http"

	"limbwatch/catalog"
	"limbwatch/catalog/read"
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
	v := s.keeper.Store.Read(r.Context())
	last, any, err := read.NewestDay(v)
	if err != nil {
		return err
	}
	if any {
		data.HasFrames = true
		id, err := catalog.ParseFrameID(r.FormValue("frame"))
		if err != nil {
			id = last.Open
		}
		f, day, err := s.bundle(v, id)
		if err == nil {
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
