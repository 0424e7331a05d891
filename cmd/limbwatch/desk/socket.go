package desk

import (
	"bufio"
	"crypto/sha1"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// The pointer asks for figures some sixty times a second. An open line saves each
// question the making of a request, which costs a browser more than the answer costs
// the server. It is a WebSocket (RFC 6455), as much of it as this one use needs:
// whole text messages of little length.

// maxQuestion bounds a message from the page.
const maxQuestion = 512

// Opcodes of RFC 6455, section 5.2.
const (
	opText  = 0x1
	opClose = 0x8
	opPing  = 0x9
	opPong  = 0xA
)

// acceptKey answers the key of a handshake (RFC 6455, section 4.2.2).
func acceptKey(key string) string {
	sum := sha1.Sum([]byte(key + "258EAFA5-E914-47DA-95CA-C5AB0DC85B11"))
	return base64.StdEncoding.EncodeToString(sum[:])
}

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
	key := r.Header.Get("Sec-WebSocket-Key")
	if !strings.EqualFold(r.Header.Get("Upgrade"), "websocket") || r.Header.Get("Sec-WebSocket-Version") != "13" || key == "" {
		return bad("this address takes a WebSocket of version 13", "scripts ask frames/{frame}/place instead")
	}
	conn, stream, err := http.NewResponseController(w).Hijack()
	if err != nil {
		return err
	}
	defer conn.Close()
	stop := make(chan struct{})
	defer close(stop)
	go func() { // the line ends with the server
		select {
		case <-s.closing:
			conn.Close()
		case <-stop:
		}
	}()
	conn.SetDeadline(time.Time{})
	fmt.Fprintf(stream, "HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Accept: %s\r\n\r\n", acceptKey(key))
	if stream.Flush() != nil {
		return nil
	}
	for {
		message, err := readMessage(stream)
		if err != nil {
			if !errors.Is(err, io.EOF) {
				writeMessage(stream.Writer, opClose, nil)
			}
			return nil
		}
		body, err := json.Marshal(s.tell(r, message))
		if err != nil || writeMessage(stream.Writer, opText, body) != nil {
			return nil
		}
	}
}

// tell answers one question of the pointer.
func (s *Server) tell(r *http.Request, message []byte) answered {
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
				place := read(v, coords.Pixel{X: q.X, Y: q.Y}, sigma).proposed(changed)
				out.Place = &place
			}
		}
	}
	if err != nil {
		out.Error = err.Error()
	}
	return out
}

// readMessage reads the next text message. A ping is answered on the way; a message
// in parts, of another kind, too long or not masked ends the line.
func readMessage(stream *bufio.ReadWriter) ([]byte, error) {
	for {
		var head [2]byte
		if _, err := io.ReadFull(stream, head[:]); err != nil {
			return nil, err
		}
		final, op := head[0]&0x80 != 0, head[0]&0x0f
		masked, length := head[1]&0x80 != 0, int(head[1]&0x7f)
		if length == 126 {
			var long [2]byte
			if _, err := io.ReadFull(stream, long[:]); err != nil {
				return nil, err
			}
			length = int(binary.BigEndian.Uint16(long[:]))
		}
		if !final || head[0]&0x70 != 0 || !masked || length == 127 || length > maxQuestion {
			return nil, errors.New("a message that is not expected")
		}
		body := make([]byte, 4+length) // the mask goes before
		if _, err := io.ReadFull(stream, body); err != nil {
			return nil, err
		}
		mask, body := body[:4], body[4:]
		for i := range body {
			body[i] ^= mask[i%4]
		}
		switch op {
		case opText:
			return body, nil
		case opPing:
			if err := writeMessage(stream.Writer, opPong, body); err != nil {
				return nil, err
			}
		case opPong:
		case opClose:
			writeMessage(stream.Writer, opClose, nil)
			return nil, io.EOF
		default:
			return nil, errors.New("a message of a kind that is not expected")
		}
	}
}

// writeMessage sends one whole message.
func writeMessage(w *bufio.Writer, op byte, body []byte) error {
	w.WriteByte(0x80 | op)
	switch {
	case len(body) < 126:
		w.WriteByte(byte(len(body)))
	case len(body) < 1<<16:
		w.WriteByte(126)
		w.Write(binary.BigEndian.AppendUint16(nil, uint16(len(body))))
	default:
		w.WriteByte(127)
		w.Write(binary.BigEndian.AppendUint64(nil, uint64(len(body))))
	}
	w.Write(body)
	return w.Flush()
}
