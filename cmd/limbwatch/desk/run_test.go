package desk

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

// spoken is what Run prints, read while it runs.
type spoken struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *spoken) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *spoken) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// startDesk starts Run and gives the address that it printed.
func startDesk(t *testing.T, opts Options) (address string, stop func() error, out *spoken) {
	t.Helper()
	k, err := observe.Open(context.Background(), filepath.Join(t.TempDir(), "catalogue.db"), catalog.Terminal, time.Now)
	require.NoError(t, err)
	t.Cleanup(func() { k.Close() })
	out = &spoken{}
	opts.Out = out
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- Run(ctx, opts, Dependencies{Keeper: k, Log: slog.New(slog.DiscardHandler)}) }()
	found := regexp.MustCompile(`http://127\.0\.0\.1:\d+/\?token=[\w-]{43}`)
	require.Eventually(t, func() bool { return found.MatchString(out.String()) }, 5*time.Second, 10*time.Millisecond)
	return found.FindString(out.String()), func() error {
		cancel()
		select {
		case err := <-ended:
			return err
		case <-time.After(10 * time.Second):
			return fmt.Errorf("the desk did not end")
		}
	}, out
}

func TestRunPrintsOpensAndEndsCleanly(t *testing.T) {
	opened := make(chan string, 1)
	address, stop, _ := startDesk(t, Options{Open: func(path string) error { opened <- path; return nil }})
	letter := <-opened
	assert.NotContains(t, letter, "token", "others can read a program's arguments")
	info, err := os.Stat(letter)
	require.NoError(t, err)
	if runtime.GOOS != "windows" {
		assert.Equal(t, fs.FileMode(0o600), info.Mode().Perm())
	}
	text, err := os.ReadFile(letter)
	require.NoError(t, err)
	assert.Contains(t, string(text), address, "the browser is shown what was printed")
	r, err := http.Get(address)
	require.NoError(t, err)
	r.Body.Close()
	assert.NoDirExists(t, filepath.Dir(letter), "the token is spent")
	// An open stream of news must not keep it from ending.
	req, err := http.NewRequest("GET", regexp.MustCompile(`/\?.*`).ReplaceAllString(address, "/api/v1/news"), nil)
	require.NoError(t, err)
	for _, c := range r.Request.Response.Cookies() {
		req.AddCookie(c)
	}
	news, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer news.Body.Close()
	require.Equal(t, http.StatusOK, news.StatusCode)
	require.NoError(t, stop())
	_, err = http.Get(address)
	assert.Error(t, err, "nobody listens any more")
}

// A browser that opens the file comes from elsewhere, as browsers see it, and is let in.
func TestTheLetterLeadsABrowserIn(t *testing.T) {
	tb := &tab{t: t, ctx: freshBrowser(t)}
	opened := make(chan string, 1)
	address, stop, _ := startDesk(t, Options{Open: func(path string) error { opened <- path; return nil }})
	letter := <-opened
	tb.do(chromedp.Navigate("file://" + letter))
	tb.wait("document.body && document.body.dataset.ready === 'yes'")
	page, _, _ := strings.Cut(address, "?")
	assert.Equal(t, page, eval[string](tb, "location.href"), "the token is not in the address")
	assert.Equal(t, 200, eval[int](tb, `fetch("/api/v1/days").then(r => r.status)`))
	tb.do(chromedp.Navigate(page)) // again, as from the address bar
	tb.wait("document.body && document.body.dataset.ready === 'yes'")
	assert.NoDirExists(t, filepath.Dir(letter))
	require.NoError(t, stop())
}

func TestRunWithoutABrowserSaysSo(t *testing.T) {
	_, stop, out := startDesk(t, Options{Open: func(string) error { return fmt.Errorf("no display") }})
	require.Eventually(t, func() bool { return regexp.MustCompile(`no display.*by hand`).MatchString(out.String()) }, 5*time.Second, 10*time.Millisecond)
	require.NoError(t, stop())
}

func TestPorts(t *testing.T) {
	taken, err := net.Listen("tcp4", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	port := taken.Addr().(*net.TCPAddr).Port
	_, err = listen(context.Background(), port)
	require.Error(t, err)
	assert.Contains(t, err.Error(), fmt.Sprintf("port %d is in use", port), "a port that was asked for is taken at its word")
	_, err = listen(context.Background(), 70000)
	assert.Error(t, err)

	first, err := listen(context.Background(), 0)
	require.NoError(t, err)
	defer first.Close()
	second, err := listen(context.Background(), 0) // the default is taken now, by first or by another program
	require.NoError(t, err)
	defer second.Close()
	for _, l := range []net.Listener{first, second} {
		assert.True(t, l.Addr().(*net.TCPAddr).IP.IsLoopback(), "loopback only")
	}
}
