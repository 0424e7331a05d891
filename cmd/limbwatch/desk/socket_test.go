package desk

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// dial opens the pointer's line by hand.
func (b *bench) dial(header string) (net.Conn, *bufio.Reader, int) {
	b.t.Helper()
	host := strings.TrimPrefix(b.url, "http://")
	conn, err := net.Dial("tcp", host)
	require.NoError(b.t, err)
	b.t.Cleanup(func() { conn.Close() })
	conn.SetDeadline(time.Now().Add(5 * time.Second))
	fmt.Fprintf(conn, "GET %spointer HTTP/1.1\r\nHost: %s\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n%s\r\n", apiPrefix, host, header)
	in := bufio.NewReader(conn)
	r, err := http.ReadResponse(in, nil)
	require.NoError(b.t, err)
	return conn, in, r.StatusCode
}

func TestPointerLineIsGuardedAndTellsThePlace(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	cookie := fmt.Sprintf("Cookie: %s=%s\r\n", b.door.cookieName(), b.door.session)
	_, _, status := b.dial("")
	assert.Equal(t, http.StatusUnauthorized, status, "without the cookie")
	_, _, status = b.dial(cookie + "Origin: http://attacker.example\r\n")
	assert.Equal(t, http.StatusForbidden, status, "from another page")
	assert.Equal(t, http.StatusBadRequest, b.call("GET", apiPrefix+"pointer", nil, nil), "without an upgrade")

	conn, in, status := b.dial(cookie + "Origin: " + b.url + "\r\n")
	require.Equal(t, http.StatusSwitchingProtocols, status)
	ask := func(text string) (got answered) {
		body := []byte(text)
		conn.Write(append([]byte{0x81, 0x80 | byte(len(body)), 0, 0, 0, 0}, body...)) // a mask of zeros is one
		var head [2]byte
		_, err := in.Read(head[:1])
		require.NoError(t, err)
		head[1], err = in.ReadByte()
		require.NoError(t, err)
		n := int(head[1])
		if n == 126 {
			var long [2]byte
			long[0], _ = in.ReadByte()
			long[1], _ = in.ReadByte()
			n = int(binary.BigEndian.Uint16(long[:]))
		}
		answer := make([]byte, n)
		for i := range answer {
			answer[i], err = in.ReadByte()
			require.NoError(t, err)
		}
		require.NoErrorf(t, json.Unmarshal(answer, &got), "%s", answer)
		return got
	}
	var want figures
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, "place?x=300&y=200"), nil, &want))
	got := ask(`{"frame":"` + f.ID + `","x":300,"y":200,"n":7}`)
	assert.Equal(t, 7, got.N)
	require.NotNil(t, got.Place, got.Error)
	assert.Equal(t, want, *got.Place, "the same by the line and by request")
	assert.NotEmpty(t, ask(`{"frame":"F99","x":1,"y":1,"n":8}`).Error)
	assert.NotEmpty(t, ask(`no JSON`).Error)

	// What is no question of a page ends the line: one too long, one not masked, one in
	// binary (RFC 6455, sections 5.1 and 5.2).
	for name, frame := range map[string][]byte{
		"too long":   append([]byte{0x81, 0x80 | 126, 0x10, 0, 0, 0, 0, 0}, make([]byte, 4096)...),
		"not masked": {0x81, 0x02, '{', '}'},
		"binary":     {0x82, 0x82, 0, 0, 0, 0, '{', '}'},
	} {
		conn, in, status := b.dial(cookie + "Origin: " + b.url + "\r\n")
		require.Equal(t, http.StatusSwitchingProtocols, status)
		_, err := conn.Write(frame)
		require.NoError(t, err)
		rest, err := io.ReadAll(in)
		require.False(t, errors.Is(err, os.ErrDeadlineExceeded), "%s: the line is still open", name) // with what was sent unread it is reset
		assert.NotContains(t, string(rest), `"n"`, name)
	}
}
