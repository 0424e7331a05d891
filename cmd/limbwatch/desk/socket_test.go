package desk

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHandshakeIsThatOfTheStandard(t *testing.T) {
	assert.Equal(t, "s3pPLMBiTxaQ9kYGzzhZRbK+xOo=", acceptKey("dGhlIHNhbXBsZSBub25jZQ=="), "RFC 6455, section 1.3")
}

// Masked "Hello", as RFC 6455, section 5.7 prints it; and what is refused.
func TestMessagesAreReadAsTheStandardHasThem(t *testing.T) {
	line := func(in ...byte) (*bufio.ReadWriter, *bytes.Buffer) {
		var out bytes.Buffer
		return bufio.NewReadWriter(bufio.NewReader(bytes.NewReader(in)), bufio.NewWriter(&out)), &out
	}
	hello := []byte{0x81, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f, 0x9f, 0x4d, 0x51, 0x58}
	stream, _ := line(hello...)
	got, err := readMessage(stream)
	require.NoError(t, err)
	assert.Equal(t, "Hello", string(got))

	ping := append([]byte{0x89}, hello[1:]...)
	stream, out := line(append(ping, hello...)...)
	got, err = readMessage(stream)
	require.NoError(t, err)
	assert.Equal(t, "Hello", string(got))
	assert.Equal(t, []byte{0x8a, 0x05, 'H', 'e', 'l', 'l', 'o'}, out.Bytes(), "the ping is answered (section 5.5.3)")

	for name, in := range map[string][]byte{
		"not masked (section 5.1)": {0x81, 0x05, 'H', 'e', 'l', 'l', 'o'},
		"in parts":                 append([]byte{0x01}, hello[1:]...),
		"binary":                   append([]byte{0x82}, hello[1:]...),
		"a reserved bit":           append([]byte{0xc1}, hello[1:]...),
		"too long":                 {0x81, 0xfe, 0xff, 0xff, 0, 0, 0, 0},
		"very long":                {0x81, 0xff, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0},
		"cut off":                  hello[:7],
	} {
		stream, _ := line(in...)
		_, err := readMessage(stream)
		assert.Error(t, err, name)
	}
}

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
}
