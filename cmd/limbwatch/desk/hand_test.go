package desk

import (
	"fmt"
	"math"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

// Everything with the keyboard alone: disc, north, a spot to the pixel, its name, a
// filament, undo, the grid, the days.
func TestKeyboardAlone(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	p := smallSun()
	added := b.add(p).String()
	tb := b.openTab(1280, 720, "frame="+added)
	tb.wait(`limbwatch.room.shown && limbwatch.state.question === "disc"`)
	tb.key(kb.Escape) // the caution
	tb.wait(`document.getElementById("sheet-caution").hidden`)
	tb.key(kb.Enter)
	tb.wait(`limbwatch.state.question === "north" && limbwatch.state.geometry.rim`)
	for range 17 { // Shift+left turns by 1°, left by 0.1°
		tb.key(kb.ArrowLeft, chromedp.KeyModifiers(chromedp.ModifierShift))
	}
	for range 3 {
		tb.key(kb.ArrowLeft)
	}
	tb.key(kb.Enter)
	tb.wait(`limbwatch.state.question === "marks" && limbwatch.state.frame.north`)
	assert.InDelta(t, 17.3, eval[float64](tb, `limbwatch.state.frame.north.celestial_deg`), 1e-6, "north, degrees: 17 steps of 1° and 3 of 0.1°")

	// A spot: the cross starts in the middle, is walked there, and refined up close.
	spot := p.mark(t, "g1").Pixel
	tb.key("1")
	tb.walkTo(spot.X, spot.Y)
	for range 12 {
		tb.key("+")
	}
	tb.walkTo(spot.X, spot.Y)
	tb.key(" ")
	tb.settled(1)
	got := eval[[2]float64](tb, `limbwatch.state.day.marks[0].points[0]`)
	assert.LessOrEqual(t, math.Hypot(got[0]-spot.X, got[1]-spot.Y), 0.15, "px, the spot that was aimed at by keys")
	tb.key("0")

	tb.key("3")
	spine := p.mark(t, "f1").Spine
	for _, i := range []int{0, len(spine) / 2, len(spine) - 1} {
		tb.walkTo(spine[i].X, spine[i].Y)
		tb.key(" ")
	}
	tb.key(kb.Enter)
	tb.settled(2)
	tb.key(kb.Escape) // lays the tool down
	tb.wait(`!document.querySelector("#tray [aria-pressed=true]")`)
	tb.key("]")
	// As a keyboard sends it: a press whose default the page prevents types nothing.
	_, err := chromedp.Call(tb.ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: input.DispatchKeyEventTypeKeyDown, Key: "e", Code: "KeyE", Text: "e"})
	require.NoError(t, err)
	tb.key("leader & <i>follower</i>")
	tb.key(kb.Enter)
	tb.wait(`limbwatch.state.day.marks.some(m => m.label === "leader & <i>follower</i>")`)
	assert.Contains(t, eval[string](tb, `document.querySelector("#marks tr[aria-selected=true]").textContent`), "leader & <i>follower</i>", "shown as text")
	tb.key("u")
	tb.wait(`!limbwatch.state.day.marks.some(m => m.label)`)
	tb.key(kb.Delete)
	tb.settled(1)
	tb.key("u")
	tb.settled(2)
	tb.key("g")
	tb.wait(`limbwatch.state.geometry.grid?.length > 20`)
	tb.key("?")
	tb.wait(`!document.getElementById("sheet-keys").hidden`)
	tb.shoot("keys")
	tb.key(kb.Escape)
	tb.key("i")
	assert.True(t, eval[bool](tb, `limbwatch.room.tone.negative`))
}

// walkTo moves the cross to a pixel of the picture with the arrow keys, in steps of
// 10, 1 and a tenth of a picture pixel.
func (tb *tab) walkTo(x, y float64) {
	tb.t.Helper()
	for _, step := range []struct {
		size float64 // picture pixels; 0: screen pixels times the factor
		by   float64
		mods []chromedp.KeyOption
	}{
		{0, 10, []chromedp.KeyOption{chromedp.KeyModifiers(chromedp.ModifierShift)}},
		{0, 1, nil},
		{0.1, 1, []chromedp.KeyOption{chromedp.KeyModifiers(chromedp.ModifierAlt)}},
	} {
		for range 200 {
			at := eval[[3]float64](tb, `import("/static/overlay.js").then(o => [...(o.hand.cross ?? [NaN, NaN]), limbwatch.room.view.scale])`)
			size := step.size
			if size == 0 {
				size = step.by / at[2]
			}
			dx, dy := x-at[0], y-at[1]
			if math.Abs(dx) <= size/2+1e-9 && math.Abs(dy) <= size/2+1e-9 {
				break
			}
			key := kb.ArrowRight
			switch {
			case math.Abs(dx) >= math.Abs(dy) && dx < 0:
				key = kb.ArrowLeft
			case math.Abs(dy) > math.Abs(dx) && dy > 0:
				key = kb.ArrowDown
			case math.Abs(dy) > math.Abs(dx):
				key = kb.ArrowUp
			}
			tb.key(key, step.mods...)
		}
	}
}

// The narrow window of a telephone: tools under the thumb, no bar sideways, press and
// hold to aim above the finger, a mark by touch.
func TestNarrowWindowByTouch(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(390, 844, "", chromedp.EmulateMobile, chromedp.EmulateTouch)
	tb.wait(`limbwatch.room.shown`)
	tb.do(chromedp.Tap(chromedp.ID("caution-read")))
	tb.wait(`document.getElementById("sheet-caution").hidden`)
	for _, theme := range []string{"dark", "light"} {
		tb.theme(theme)
		tb.shoot("phone-" + theme)
	}
	assert.LessOrEqual(t, eval[float64](tb, `document.documentElement.scrollWidth`), 390.0, "px, nothing runs out of the window")
	small := eval[[]string](tb, `[...document.querySelectorAll("#tools button, #dayline button, #dayline label")].filter(e => e.offsetParent).map(e => [e.id || e.textContent, e.getBoundingClientRect()]).filter(([, r]) => r.height < 36 || r.width < 30).map(([n, r]) => n + " " + r.width + "x" + r.height)`)
	assert.Empty(t, small, "controls large enough for a thumb")
	under := eval[float64](tb, `document.getElementById("tools").getBoundingClientRect().top`)
	assert.Greater(t, under, 700.0, "px, the tools lie at the foot")

	tb.do(chromedp.Tap(chromedp.CSS("#tray .kind")))
	tb.wait(`document.querySelector("#tray .kind[aria-pressed=true]")`)
	// Press and hold: the point stands 56 px above the finger.
	x, y := tb.screen(300, 250)
	touch := func(typ input.DispatchTouchEventType, points ...*input.TouchPoint) {
		_, err := chromedp.Call(tb.ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: typ, TouchPoints: points})
		require.NoError(t, err)
	}
	touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: x, Y: y + 56})
	tb.wait(`!document.getElementById("loupe").hidden`)
	tb.shoot("phone-loupe")
	touch(input.DispatchTouchEventTypeTouchEnd)
	tb.settled(1)
	got := eval[[2]float64](tb, `limbwatch.state.day.marks[0].points[0]`)
	within(t, "x by touch", got[0], 300, 1.5, " px", "where the loupe pointed")
	within(t, "y by touch", got[1], 250, 1.5, " px", "where the loupe pointed")

	// Two fingers spread: the picture comes closer.
	before := eval[float64](tb, `limbwatch.room.view.scale`)
	touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: 150, Y: 300, ID: new(1.0)}, &input.TouchPoint{X: 230, Y: 300, ID: new(2.0)})
	for i := range 8 {
		touch(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: 150 - 8*float64(i), Y: 300, ID: new(1.0)}, &input.TouchPoint{X: 230 + 8*float64(i), Y: 300, ID: new(2.0)})
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
	assert.Greater(t, eval[float64](tb, `limbwatch.room.view.scale`), 1.8*before, "pinched closer")
	tb.do(chromedp.Tap(chromedp.ID("do-ledger")))
	tb.wait(`!document.body.classList.contains("folded")`)
	tb.wait(`document.querySelector("#marks tr").getBoundingClientRect().bottom <= document.getElementById("ledger").getBoundingClientRect().bottom + 1`)
	tb.shoot("phone-ledger")
	assert.Greater(t, eval[float64](tb, `document.getElementById("ledger-scroll").clientHeight`), 50.0, "px, rows of the ledger are seen")
}

// Two tabs: what one changes the other shows; an edit made from an old version is
// told with both, and the observer's own is kept on a word.
func TestTwoTabs(t *testing.T) {
	browserPath(t)
	b := newBench(t).enter()
	f, _ := b.added()
	var m struct{ Mark markJSON }
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, &m))
	tb := b.openTab(1280, 720, "mark=M1&ask=marks")
	tb.press("caution-read")
	tb.wait(`document.querySelector("#card input[name=note]")`)
	tb.do(chromedp.SendKeys(chromedp.CSS("#card input[name=note]"), "mine"))
	// Meanwhile somebody else changes it; the page hears of it, but what is being typed stays.
	require.Equal(t, http.StatusOK, b.call("POST", apiPrefix+"marks/M1", map[string]any{"revision": m.Mark.Revision, "note": "theirs"}, nil))
	eval[chromedp.Void](tb, `limbwatch.state.day.marks[0].revision`)
	assert.Equal(t, "mine", eval[string](tb, `document.querySelector("#card input[name=note]").value`))
	tb.key(kb.Enter)
	tb.wait(`document.querySelector(".notice.refusal")`)
	said := eval[string](tb, `document.querySelector(".notice.refusal").textContent`)
	assert.Contains(t, said, "theirs")
	assert.Contains(t, said, "mine")
	tb.shoot("stale")
	eval[chromedp.Void](tb, `document.querySelector(".notice.refusal button:not(.close)").click()`)
	tb.wait(`limbwatch.state.day.marks[0].note === "mine"`)
}

// News of a picture that is left before they came do not bring it back.
func TestLateNewsDoNotBringAPictureBack(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	left := b.prepared(smallSun(), catalog.RoleSurface)
	next := b.prepared(paintSun(t, "sun_20260314_153010Z.png", testDay.Add(7*time.Minute), 640, 480, 190, nil), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+left.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	// Two pieces of news, the second while the first is being read; then, before it is
	// done, another picture is opened. Its own answer takes a while too.
	eval[chromedp.Void](tb, fmt.Sprintf(`(() => {
		const quick = window.fetch, late = { "/frames/%s": 800, "/frames/%s": 500, "/changes": 800 };
		window.late = 0;
		window.fetch = async (path, init) => {
			const answer = await quick(path, init), ms = late[String(path).replace("/api/v1", "").replace(/\?.*/, "")];
			if (ms) { await new Promise((f) => setTimeout(f, ms)); window.late++; }
			return answer;
		};
	})()`, left, next))
	eval[chromedp.Void](tb, fmt.Sprintf(`Promise.all([import("/static/store.js"), import("/static/showing.js"), import("/static/api.js")]).then(([s, m, api]) => {
		s.changed("stale");
		s.changed("stale");
		api.catchUp();
		setTimeout(() => m.open(%q), 600);
	})`, next.String()))
	tb.wait(`window.late >= 4`)
	time.Sleep(400 * time.Millisecond)
	assert.Equal(t, next.String(), eval[string](tb, `limbwatch.state.frame.id`))
}

// The server goes away and comes back: the page says so, keeps what was marked, and
// sends it then.
func TestLostServerLosesNothing(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	b.lost = true
	b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	b.gone.Store(true)
	tb.key("1")
	x, y := tb.screen(300, 240)
	tb.click(x, y)
	tb.wait(`!document.getElementById("offline").hidden`)
	tb.shoot("offline")
	x, y = tb.screen(330, 260)
	tb.click(x, y)
	time.Sleep(200 * time.Millisecond)
	b.gone.Store(false)
	tb.wait(`document.getElementById("offline").hidden`)
	tb.settled(2)
}

// Two days beside one another, the earlier turned to the later's time; ghosts of its
// marks while a key is held.
func TestTwoDaysSideBySide(t *testing.T) {
	browserPath(t)
	b := newBench(t).enter()
	first, _ := b.added()
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, first.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}, "label": "g2"}, nil))
	later := testDay.Add(26 * time.Hour)
	next := paintSun(t, "sun_"+later.Format("20060102_150405")+"Z.png", later, 640, 480, 190, nil)
	b.prepared(next, catalog.RoleSurface)
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown && limbwatch.state.frame.id === "F2"`)
	tb.key("c")
	tb.wait(`limbwatch.state.compare?.way === "split" && !document.getElementById("curtain").hidden`)
	tb.shoot("curtain")
	tb.key("c")
	tb.wait(`limbwatch.state.compare?.way === "swap"`)
	one := tb.strip()
	tb.key(".")
	time.Sleep(300 * time.Millisecond)
	assert.NotEqual(t, one, tb.strip(), "the other day is shown")
	tb.key("c")
	tb.wait(`!limbwatch.state.compare`)
	_, err := chromedp.Call(tb.ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: input.DispatchKeyEventTypeKeyDown, Key: "y", Code: "KeyY", Text: "y"})
	require.NoError(t, err)
	time.Sleep(400 * time.Millisecond)
	tb.shoot("ghosts")
	_, err = chromedp.Call(tb.ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: input.DispatchKeyEventTypeKeyUp, Key: "y", Code: "KeyY"})
	require.NoError(t, err)
	tb.key(kb.ArrowLeft)
	tb.wait(`limbwatch.state.frame.id === "F1"`)
}

// strip is a line of what is presented.
func (tb *tab) strip() string {
	tb.t.Helper()
	return eval[string](tb, `document.getElementById("picture").getContext("2d").getImageData(300, 300, 300, 1).data.join()`)
}

// Contrast of all inks against all grounds, both themes, by WCAG 2.2 (1.4.3: 4.5 to 1
// for text, 1.4.11: 3 to 1 for the signs of the kinds).
func TestContrast(t *testing.T) {
	css, err := files.ReadFile("static/look.css")
	require.NoError(t, err)
	root := variables(string(css), ":root")
	for _, theme := range []string{"night", "day"} {
		inks := variables(string(css), fmt.Sprintf("html[data-theme=%q]", theme))
		for name, value := range root {
			if _, own := inks[name]; !own {
				inks[name] = value
			}
		}
		for _, ground := range []string{"--ground", "--panel", "--raise"} {
			for ink, least := range map[string]float64{"--ink": 4.5, "--dim": 4.5, "--accent": 4.5, "--warn": 4.5,
				"--spot": 3, "--plage": 3, "--filament": 3, "--prominence": 3, "--other": 3} {
				ratio := contrast(t, inks[ink], inks[ground])
				assert.GreaterOrEqualf(t, ratio, least, "%s: %s %s on %s %s", theme, ink, inks[ink], ground, inks[ground])
			}
		}
		assert.GreaterOrEqual(t, contrast(t, inks["--on-accent"], inks["--accent"]), 4.5, "%s: on the accent", theme)
	}
	// Okabe and Ito, "Color Universal Design" (2008): sky blue, yellow, orange as published.
	for name, want := range map[string]string{"--spot": "#56b4e9", "--plage": "#f0e442", "--prominence": "#e69f00"} {
		assert.Equal(t, want, root[name])
	}
}

func variables(css, selector string) map[string]string {
	_, rest, _ := strings.Cut(css, selector+" {")
	block, _, _ := strings.Cut(rest, "}")
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`(--[a-z-]+):\s*(#[0-9a-f]{6})`).FindAllStringSubmatch(block, -1) {
		out[m[1]] = m[2]
	}
	return out
}

// contrast is the ratio of WCAG 2.2.
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	luminance := func(hex string) float64 {
		v, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
		require.NoErrorf(t, err, "colour %q", hex)
		linear := func(c uint64) float64 {
			s := float64(c&255) / 255
			if s <= 0.04045 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		return 0.2126*linear(v>>16) + 0.7152*linear(v>>8) + 0.0722*linear(v)
	}
	la, lb := luminance(a), luminance(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// Screen to picture and back is the identity, whatever the zoom, turn and mirror; a
// view carried to another picture shows the same place there.
func TestViewGoesThereAndBack(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	tb := b.openTab(1280, 720, "")
	worst := eval[float64](tb, `import("/static/view.js").then((v) => {
		let worst = 0;
		for (const scale of [0.03, 0.4, 1, 7.7, 48]) for (const turn of [0, 1, -2.5, 3.1]) for (const flip of [1, -1]) {
			const view = {cx: 1500.5, cy: 77.25, scale, turn, flip, width: 1280, height: 720};
			for (const [x, y] of [[0, 0], [1500, 1000], [-20.5, 3000.125]]) {
				const [sx, sy] = v.toScreen(view, x, y), [px, py] = v.toPicture(view, sx, sy);
				worst = Math.max(worst, Math.hypot(px - x, py - y));
				const m = [0.8, -0.6, 0.6, 0.8, 12, -40], other = v.carried(view, m);
				const [qx, qy] = v.toScreen(other, m[0] * x + m[1] * y + m[4], m[2] * x + m[3] * y + m[5]);
				worst = Math.max(worst, Math.hypot(qx - sx, qy - sy) / scale);
			}
		}
		return worst;
	})`)
	assert.Less(t, worst, 1e-8, "px")
}
