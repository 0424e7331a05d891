package desk

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"

	"github.com/coder/websocket"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// The pointer asks for figures some sixty times a second. An open line, a WebSocket
// (RFC 6455), saves each question the making of a request, which costs a browser more
// than the answer costs the server.

// maxQuestion bounds a message from the page, bytes.
const maxQuestion = 512

// question is what the pointer asks: the place of a pixel, by another disc or north
// if one is tried.
type question struct {
	tried
	Frame string  `json:"frame"`
	X     float64 `json:"x"`
	Y     float64 `json:"y"`
	Sigma float64 `json:"sigma"` // of the click, picture pixels; 0: half a pixel
	N     int     `json:"n"`
}

// answered carries the number of its question.
type answered struct {
	N     int      `json:"n"`
	Place *figures `json:"place,omitempty"`
	Error string   `json:"error,omitempty"`
}

// getPointer answers GET /pointer by taking the connection over for an open line:
// each message {frame, x, y, n}, with disc, north_deg and mirrored where others than
// the kept ones are tried, is answered by {n, place}, place as GET
// frames/{frame}/place gives it.
func (s *Server) getPointer(w http.ResponseWriter, r *http.Request) error {
	if !strings.EqualFold(r.Header.Get("Upgrade"), "websocket") {
		return bad("this address takes a WebSocket of version 13", "scripts ask frames/{frame}/place instead")
	}
	line, err := websocket.Accept(w, r, nil)
	if err != nil {
		return nil // it has answered what was wrong with the handshake
	}
	defer line.CloseNow()
	line.SetReadLimit(maxQuestion)
	ctx, end := context.WithCancel(r.Context())
	defer end()
	go func() { // the line ends with the server
		select {
		case <-s.closing:
			end()
		case <-ctx.Done():
		}
	}()
	for {
		kind, message, err := line.Read(ctx)
		if err != nil || kind != websocket.MessageText {
			return nil // the page has gone, or this is no question of it
		}
		body, err := json.Marshal(s.answerPointer(r, message))
		if err != nil || line.Write(ctx, websocket.MessageText, body) != nil {
			return nil
		}
	}
}

// answerPointer answers one question of the pointer.
func (s *Server) answerPointer(r *http.Request, message []byte) answered {
	var q question
	if err := json.Unmarshal(message, &q); err != nil {
		return answered{Error: "the question could not be read: " + err.Error()}
	}
	out := answered{N: q.N}
	id, err := catalog.ParseFrameID(q.Frame)
	if err == nil {
		var v viewed
		if v, err = s.seenFrame(r, id); err == nil && v.discKnown {
			var changed bool
			if v, changed, err = q.on(v); err == nil {
				sigma := usualClickPx
				if q.Sigma > 0 && q.Sigma <= 1000 {
					sigma = q.Sigma
				}
				place := figuresOf(v, coords.Pixel{X: q.X, Y: q.Y}, sigma).proposed(changed)
				out.Place = &place
			}
		}
	}
	if err != nil {
		out.Error = err.Error()
	}
	return out
}
