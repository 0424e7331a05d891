package desk

import (
	"fmt"
	"net/http"
	"time"

	"limbwatch/catalog"
)

// getNews answers GET /news with a stream of server-sent events. An event "changed"
// comes when somebody, this page or another or a command, changed the catalogue; it
// carries the id of the newest entry of the history. A comment comes every few
// seconds, so that the page notices when the server is gone.
func (s *Server) getNews(w http.ResponseWriter, r *http.Request) error {
	flush := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	newest, err := s.newest(r)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "retry: 1000\n\n: listening\n\n")
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
		now, err := s.newest(r)
		if err != nil {
			continue // a busy catalogue is asked again
		}
		switch {
		case now != newest:
			newest = now
			fmt.Fprintf(w, "event: changed\ndata: %s\n\n", newest)
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

// newest is the newest entry of the history, whoever made it.
func (s *Server) newest(r *http.Request) (catalog.OperationID, error) {
	history, err := s.keeper.Store.Read(r.Context()).History("", 1)
	if err != nil || len(history) == 0 {
		return 0, err
	}
	return history[0].ID, nil
}
