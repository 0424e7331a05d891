package desk

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// kept lists the files of the pictures' folder.
func (b *bench) kept() (names []string) {
	b.t.Helper()
	entries, err := os.ReadDir(filepath.Join(b.dir, "pictures"))
	if !errors.Is(err, fs.ErrNotExist) {
		require.NoError(b.t, err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func TestAPictureThatWaitsForItsTimeIsNeverLost(t *testing.T) {
	b := newBench(t).enter()
	png := smallSun().png
	var asked struct{ Held string }
	require.Equal(t, http.StatusUnprocessableEntity, b.upload("sun.png", png, &asked))
	b.server.Close()
	assert.Equal(t, []string{"sun.png"}, b.kept(), "it may be the only copy")

	require.Equal(t, http.StatusUnprocessableEntity, b.upload("sun.png", png, &asked), "sent again after a restart")
	assert.Equal(t, []string{"sun.png"}, b.kept(), "it is known by what it holds")
	require.Equal(t, http.StatusUnprocessableEntity, b.upload("sun.png", append(png, 0), &asked), "another of the same name")
	assert.Equal(t, []string{"sun (2).png", "sun.png"}, b.kept())
	require.Equal(t, http.StatusUnsupportedMediaType, b.upload("notes.png", []byte("no picture at all"), nil))
	assert.Equal(t, []string{"sun (2).png", "sun.png"}, b.kept(), "what is no picture goes again")
}

func TestADuplicateGoesOnlyWhereTheFramesOwnFileIsWhole(t *testing.T) {
	b := newBench(t).enter()
	p := smallSun()
	require.Equal(t, http.StatusCreated, b.upload(p.name, p.png, nil))
	require.Equal(t, http.StatusOK, b.upload("again.png", p.png, nil))
	assert.Equal(t, []string{p.name}, b.kept())
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "pictures", p.name), []byte("spoilt"), 0o644))
	require.Equal(t, http.StatusOK, b.upload("again.png", p.png, nil))
	assert.ElementsMatch(t, []string{p.name, "again.png"}, b.kept(), "now this is the only copy")
}

func TestWhatAKilledUploadLeftIsSwept(t *testing.T) {
	b := newBench(t).enter()
	folder := filepath.Join(b.dir, "pictures")
	require.NoError(t, os.Mkdir(folder, 0o755))
	whole := []string{"waits.png", "waits.part"}
	for _, name := range append(whole, ".limbwatch-ABCDEFGHIJKLMNOPQRSTUVWXYZ.part") {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte("half"), 0o644))
	}
	again, err := NewServer(Dependencies{Keeper: b.keeper, Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	defer again.Close()
	assert.ElementsMatch(t, whole, b.kept())
}

func TestAnUploadThatBreaksOffLeavesNothing(t *testing.T) {
	b := newBench(t).enter()
	begin := "--x\r\nContent-Disposition: form-data; name=\"picture\"; filename=\"sun.png\"\r\n\r\n"
	server := strings.TrimPrefix(b.url, "http://")
	line, err := net.Dial("tcp", server)
	require.NoError(t, err)
	defer line.Close()
	session := (&http.Cookie{Name: b.door.cookieName(), Value: b.door.session}).String()
	_, err = fmt.Fprintf(line, "POST %sframes HTTP/1.1\r\nHost: %s\r\nCookie: %s\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: 1000000\r\n\r\n%s%s",
		apiPrefix, server, session, begin, strings.Repeat("half a picture", 1000))
	require.NoError(t, err)
	holds := func(n int) func() bool { return func() bool { return len(b.kept()) == n } }
	require.Eventually(t, holds(1), 30*time.Second, 5*time.Millisecond, "its first part has come")
	line.Close()
	require.Eventually(t, holds(0), 30*time.Second, 5*time.Millisecond)
}

func TestMalformedFormsAreTheSendersFault(t *testing.T) {
	b := newBench(t).enter()
	for what, form := range map[string]struct{ kind, body string }{
		"no form":             {"text/plain", "hello"},
		"no boundary":         {"multipart/form-data", "--x\r\n\r\n--x--"},
		"an empty body":       {"multipart/form-data; boundary=x", ""},
		"no picture":          {"multipart/form-data; boundary=x", "--x\r\nContent-Disposition: form-data; name=\"other\"\r\n\r\ny\r\n--x--\r\n"},
		"a header of nothing": {"multipart/form-data; boundary=x", "--x\r\n: \x00\r\n\r\ny\r\n--x--\r\n"},
		"a header without :":  {"multipart/form-data; boundary=x", "--x\r\nContent-Disposition\r\n\r\ny\r\n--x--\r\n"},
		"a header too long":   {"multipart/form-data; boundary=x", "--x\r\nX: " + strings.Repeat("a", 11<<20) + "\r\n\r\ny\r\n--x--\r\n"},
		"an unended part":     {"multipart/form-data; boundary=x", "--x\r\nContent-Disposition: form-data; name=\"picture\"\r\n\r\nabc"},
		"another boundary":    {"multipart/form-data; boundary=x", "--y\r\nContent-Disposition: form-data; name=\"picture\"\r\n\r\nabc\r\n--y--"},
	} {
		for _, path := range []string{apiPrefix + "frames", "/upload"} {
			r, err := b.client.Post(b.url+path, form.kind, strings.NewReader(form.body))
			require.NoError(t, err, what)
			_, err = io.Copy(io.Discard, r.Body)
			require.NoError(t, err, what)
			r.Body.Close()
			if path == "/upload" && what == "no picture" {
				continue // a form sent without a choice: the page is shown again
			}
			assert.Equal(t, http.StatusBadRequest, r.StatusCode, "%s to %s", what, path)
		}
	}
	assert.Empty(t, b.log.String(), "nothing of it is a fault of the page")
}
