package desk

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// browserPath finds Chromium. Without it the tests of the page cannot run: they are
// skipped, loudly, and fail where everything must be tested.
func browserPath(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	const missing = "CHROMIUM IS MISSING: the marking page was NOT tested in a browser; install Debian's package chromium"
	if os.Getenv("CI") == "true" {
		t.Fatal(missing)
	}
	t.Skip(missing)
	return ""
}

var browser struct {
	once sync.Once
	ctx  context.Context
	stop func()
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if browser.stop != nil {
		browser.stop()
	}
	os.Exit(code)
}

// tab is a page of the desk in a real browser, worked by hand: every press, click
// and drag is counted.
type tab struct {
	t       *testing.T
	b       *bench
	ctx     context.Context
	actions int
}

// freshBrowser is a new tab of the one browser of the tests, which knows nothing of the others.
func freshBrowser(t *testing.T) context.Context {
	t.Helper()
	path := browserPath(t)
	browser.once.Do(func() {
		flags := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
			chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-background-networking", true))
		alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), flags...)
		ctx, stop := chromedp.NewContext(alloc)
		browser.ctx, browser.stop = ctx, func() { stop(); stopAlloc() }
		browser.err = chromedp.Do(ctx)
	})
	require.NoError(t, browser.err)
	ctx, cancel := chromedp.NewContext(browser.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	return ctx
}

// openTab opens the desk in a new tab of the one browser of the tests.
func (b *bench) openTab(width, height int64, query string, opts ...chromedp.EmulateViewportOption) *tab {
	t := b.t
	t.Helper()
	ctx := freshBrowser(t)
	tb := &tab{t: t, b: b, ctx: ctx}
	tb.do(chromedp.EmulateViewport(width, height, opts...))
	console := chromedp.Console(ctx)
	go func() {
		for m, err := range console {
			if err != nil {
				return
			}
			// A refusal is an answer; the browser logs it all the same.
			if m.IsException() || m.Type == "error" && !strings.Contains(m.Text, "responded with a status of 4") && !b.lost {
				t.Errorf("the page complains: %s (%s:%d)", m.Text, m.URL, m.Line+1)
			}
		}
	}()
	address := b.door.address()
	if query != "" {
		address += "&" + query
	}
	tb.do(chromedp.Navigate(address))
	tb.wait("document.body.dataset.ready === 'yes'")
	tb.theme("dark")
	return tb
}

func (tb *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	tb.t.Helper()
	require.NoError(tb.t, chromedp.Do(tb.ctx, actions...))
}

// theme makes the system wish for dark or light.
func (tb *tab) theme(scheme string) {
	tb.t.Helper()
	_, err := chromedp.Call(tb.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	require.NoError(tb.t, err)
	tb.wait(`document.documentElement.dataset.theme === "` + map[string]string{"dark": "night", "light": "day"}[scheme] + `"`)
}

// eval evaluates a script in the page.
func eval[T any](tb *tab, script string) T {
	tb.t.Helper()
	v, err := chromedp.Run(tb.ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoErrorf(tb.t, err, "%s", script)
	return v
}

// wait waits until a condition holds in the page.
func (tb *tab) wait(condition string) {
	tb.t.Helper()
	// Under the race detector reading a picture of six million pixels takes a while.
	deadline := time.Now().Add(2 * time.Minute)
	for {
		ok, err := chromedp.Run(tb.ctx, chromedp.Evaluate[bool]("Boolean("+condition+")"))
		if err == nil && ok {
			return
		}
		if time.Now().After(deadline) {
			tb.shoot("failed-" + tb.t.Name())
			require.FailNowf(tb.t, "waited in vain", "%s (%v)", condition, err)
		}
		time.Sleep(15 * time.Millisecond)
	}
}

// key presses keys, one action each.
func (tb *tab) key(keys string, opts ...chromedp.KeyOption) {
	tb.t.Helper()
	tb.actions++
	tb.do(chromedp.KeyEvent(keys, opts...))
}

// click presses the pointer at a point of the window.
func (tb *tab) click(x, y float64) {
	tb.t.Helper()
	tb.actions++
	tb.do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, y), chromedp.MouseClickXY(x, y))
}

func (tb *tab) move(x, y float64) {
	tb.t.Helper()
	tb.do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, y))
}

func (tb *tab) drag(x0, y0, x1, y1 float64) {
	tb.t.Helper()
	tb.actions++
	tb.do(chromedp.DragAndDropXY(x0, y0, x1, y1))
}

func (tb *tab) press(id string) {
	tb.t.Helper()
	tb.actions++
	tb.do(chromedp.Click(chromedp.ID(id)))
}

// choose picks files in the page's dialog.
func (tb *tab) choose(paths ...string) {
	tb.t.Helper()
	tb.actions++
	nodes, err := chromedp.Run(tb.ctx, chromedp.Nodes(chromedp.ID("files"), chromedp.AtLeast(1)))
	require.NoError(tb.t, err)
	_, err = chromedp.Call(tb.ctx, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: paths, NodeID: nodes[0].NodeID})
	require.NoError(tb.t, err)
}

// screen is where a pixel of the picture stands in the window.
func (tb *tab) screen(x, y float64) (sx, sy float64) {
	tb.t.Helper()
	p := eval[[2]float64](tb, fmt.Sprintf(`import("/static/view.js").then(v => v.toScreen(limbwatch.room.view, %g, %g))`, x, y))
	return p[0], p[1]
}

// clickPixel clicks on a pixel of the picture.
func (tb *tab) clickPixel(x, y float64) {
	tb.t.Helper()
	sx, sy := tb.screen(x, y)
	tb.click(sx, sy)
}

// settled waits until nothing is under way.
func (tb *tab) settled(marks int) {
	tb.t.Helper()
	tb.wait(fmt.Sprintf(`limbwatch.state.day && limbwatch.state.day.marks.filter(m => m.id).length === %d && !limbwatch.state.day.marks.some(m => !m.id)`, marks))
}

// shoot keeps a screenshot to look at, in a folder that git ignores.
func (tb *tab) shoot(name string) []byte {
	tb.t.Helper()
	png, err := chromedp.Run(tb.ctx, chromedp.CaptureScreenshot())
	require.NoError(tb.t, err)
	folder := filepath.Join("..", "..", "..", "screenshots")
	require.NoError(tb.t, os.MkdirAll(folder, 0o755))
	require.NoError(tb.t, os.WriteFile(filepath.Join(folder, filepath.Base(name)+".png"), png, 0o644))
	return png
}
