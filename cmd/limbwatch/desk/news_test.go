package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// versionOf is the version of what the page gets now.
func (b *bench) versionOf() int64 {
	b.t.Helper()
	var days struct {
		Version int64 `json:"version"`
	}
	require.Equal(b.t, http.StatusOK, b.call("GET", apiPrefix+"days", nil, &days))
	return days.Version
}

// A change tells in its answer what it changed, for the frame that is shown and for the
// shore; who looks on gets the same by asking. Taking back tells what is gone.
func TestAChangeTellsWhatItChanged(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	since := b.versionOf()
	asked := fmt.Sprintf("?since=%d&shown=%s", since, f.ID)
	var told struct {
		Mark markJSON `json:"mark"`
		News newsJSON `json:"news"`
	}
	mark := map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks")+asked, mark, &told))
	require.Len(t, told.News.Marks, 1)
	assert.Equal(t, told.Mark, told.News.Marks[0])
	assert.Nil(t, told.News.Frame, "no picture changed")
	require.Len(t, told.News.Days, 1)
	assert.Equal(t, 1, told.News.Days[0].Marks)
	require.NotNil(t, told.News.Ribbon)
	assert.Equal(t, told.News.Version, b.versionOf())

	var beside newsJSON
	require.Equal(t, http.StatusOK, b.call("GET", apiPrefix+"changes"+asked, nil, &beside))
	assert.Equal(t, told.News, beside, "another tab")

	asked = fmt.Sprintf("?since=%d&shown=%s", told.News.Version, f.ID)
	var back struct {
		News map[string]json.RawMessage `json:"news"`
	}
	require.Equal(t, http.StatusOK, b.call("POST", apiPrefix+"undo"+asked, map[string]any{}, &back))
	assert.JSONEq(t, `["`+told.Mark.ID+`"]`, string(back.News["gone"]))
	assert.JSONEq(t, `[]`, string(back.News["marks"]))

	// What concerns the picture brings it whole.
	revision := int64(0)
	if f.North != nil {
		revision = f.North.Revision
	}
	asked = fmt.Sprintf("?since=%d&shown=%s", b.versionOf(), f.ID)
	var turned struct {
		News newsJSON `json:"news"`
	}
	require.Equal(t, http.StatusOK, b.call("POST", hereof(b, f.ID, "north")+asked, map[string]any{"revision": revision, "angle_deg": 12, "mirrored": false, "sigma_deg": 0.5, "method": "typed"}, &turned))
	require.NotNil(t, turned.News.Frame)
	require.NotNil(t, turned.News.Frame.North)
	assert.InDelta(t, 12, turned.News.Frame.North.AngleDeg, 1e-9)
}

// What has not changed is not sent again.
func TestWhatHasNotChangedIsNotSentAgain(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	for _, path := range []string{"days", "frames/" + f.ID, "frames/" + f.ID + "/ribbon"} {
		ask := func(tag string) *http.Response {
			req, err := http.NewRequest("GET", b.url+apiPrefix+path, nil)
			require.NoError(t, err)
			req.Header.Set("If-None-Match", tag)
			r, err := b.client.Do(req)
			require.NoError(t, err)
			r.Body.Close()
			return r
		}
		first := ask("")
		require.Equal(t, http.StatusOK, first.StatusCode)
		assert.Equal(t, http.StatusNotModified, ask(first.Header.Get("Etag")).StatusCode, path)
		require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "other", "shape": "point", "points": [][2]float64{{300, 240}}}, nil))
		assert.Equal(t, http.StatusOK, ask(first.Header.Get("Etag")).StatusCode, "%s after a mark", path)
	}
}

// A mark costs the page one request, and what another makes one more: nothing that was
// shown is read again.
func TestAMarkCostsOneRequest(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	frame := b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown && limbwatch.state.ribbon`)
	since := func() []string {
		return eval[[]string](tb, `performance.getEntriesByType("resource").map(e => e.name).filter(n => n.includes("/api/") && !n.includes("/news") && !n.includes("/pointer") && !n.includes("/place"))`)
	}
	tb.key("1")
	before := len(since())
	for i := range 3 {
		tb.click(tb.screen(300, 200+30*float64(i)))
		tb.settled(i + 1)
	}
	after := since()[before:]
	assert.Len(t, after, 3, strings.Join(after, "\n"))
	assert.Equal(t, 3, eval[int](tb, `limbwatch.state.ribbon.dots.length`), "the ribbon has them too")
	assert.Equal(t, 3, eval[int](tb, `limbwatch.state.days[0].dots.length`), "and the shore")

	_, err := b.keeper.AddMark(context.Background(), catalog.Mark{Frame: frame, Kind: catalog.Plage, Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{{X: 340, Y: 240}}}})
	require.NoError(t, err, "the command line marks something")
	tb.wait(`limbwatch.state.day.marks.length === 4`)
	after = since()[before+3:]
	assert.Len(t, after, 1, strings.Join(after, "\n"))
}

// Answers may overtake one another. A reading that is older than what the page has taken
// in meanwhile stands as what it is, and what it lacks comes after it.
func TestALateReadingLosesNoMark(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t).enter()
	frame := b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown && limbwatch.state.ribbon`)
	// What a request in hold is answered is held back until go(name).
	eval[chromedp.Void](tb, `(() => {
		const fetched = window.fetch, held = {};
		window.hold = {};
		window.here = (name) => Boolean(held[name]);
		window.go = (name) => { held[name](); delete held[name]; };
		window.fetch = async (url, init) => {
			const answer = await fetched(url, init);
			const name = Object.keys(window.hold).find((n) => window.hold[n](String(url), init.method));
			if (name) {
				delete window.hold[name];
				await new Promise((on) => { held[name] = on; });
			}
			return answer;
		};
	})()`)
	hold := func(name, method, end string) {
		eval[chromedp.Void](tb, fmt.Sprintf(`void (window.hold[%q] = (url, method) => method === %q && url.split("?")[0].endsWith(%q))`, name, method, end))
	}
	readAnew := func() {
		eval[chromedp.Void](tb, `import("/static/store.js").then((s) => { s.changed("stale"); })`)
	}
	late := func() { // the reading that was held back comes now
		eval[chromedp.Void](tb, `void (limbwatch.state.frame.before = true, go("picture"))`)
		tb.wait(`!limbwatch.state.frame.before`)
	}
	marks := func(n int) {
		t.Helper()
		tb.settled(n)
		tb.wait(fmt.Sprintf(`limbwatch.state.version === %d`, b.versionOf()))
		tb.settled(n)
	}
	tb.key("1")

	hold("picture", "GET", "/frames/"+frame.String())
	readAnew()
	tb.wait(`here("picture")`)
	tb.click(tb.screen(300, 200))
	marks(1)
	late()
	marks(1)

	// The same, while a change is under way that was sent from the newer version.
	hold("picture", "GET", "/frames/"+frame.String())
	readAnew()
	tb.wait(`here("picture")`)
	tb.click(tb.screen(300, 230))
	marks(2)
	hold("mark", "POST", "/marks")
	tb.click(tb.screen(300, 260))
	tb.wait(`here("mark")`)
	late()
	assert.Equal(t, 1, eval[int](tb, `limbwatch.state.day.marks.filter((m) => m.id).length`), "what it lacks waits behind the change")
	eval[chromedp.Void](tb, `go("mark")`)
	marks(3)
	assert.Equal(t, 3, eval[int](tb, `limbwatch.state.ribbon.dots.length`))
	assert.Equal(t, 3, eval[int](tb, `limbwatch.state.days[0].dots.length`))
}

// A change whose answer came, and whose news could not be told to the end, is not sent a
// second time.
func TestAnAnsweredChangeIsNotSentAgain(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t).enter()
	b.lost = true
	frame := b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown && limbwatch.state.ribbon`)
	eval[chromedp.Void](tb, `(() => {
		const fetched = window.fetch;
		window.sent = 0;
		window.fetch = async (url, init) => {
			if (init?.method === "POST") window.sent++;
			else if (window.sent === 1 && String(url).includes("/geometry")) { window.sent = 1.5; throw new TypeError("nobody there"); }
			return fetched(url, init);
		};
	})()`)
	eval[chromedp.Void](tb, `import("/static/api.js").then((api) => {
		const { id, north } = limbwatch.state.frame;
		api.change("/frames/" + id + "/north", { revision: north?.revision ?? 0, angle_deg: 12, mirrored: false, sigma_deg: 0.5, method: "typed" });
	})`)
	tb.wait(`window.sent >= 1.5 && limbwatch.state.online && limbwatch.state.frame.north?.method === "typed"`)
	assert.Equal(t, 1.5, eval[float64](tb, `window.sent`), "1, and the lost news")
}
