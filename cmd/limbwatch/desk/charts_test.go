package desk

import (
	"encoding/xml"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

// followedDays are some days in a row with three spots and two filaments marked and
// followed. The painted ones turn with the Carrington frame.
func (b *bench) followedDays(days int) (frames []catalog.FrameID) {
	b.t.Helper()
	for day := range days {
		at := testDay.AddDate(0, 0, day)
		p := paintSun(b.t, "sun_"+at.Format("20060102_150405")+"Z.png", at, 640, 480, 190, nil)
		id := b.prepared(p, catalog.RoleSurface)
		frames = append(frames, id)
		for _, label := range []string{"g1", "g2", "g3", "f1"} {
			m := p.mark(b.t, label)
			if !m.Visible {
				continue
			}
			body := map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{m.Pixel.X, m.Pixel.Y}}}
			if label == "f1" {
				body = map[string]any{"kind": "filament", "shape": "line", "points": [][2]float64{{m.Spine[0].X, m.Spine[0].Y}, {m.Spine[len(m.Spine)-1].X, m.Spine[len(m.Spine)-1].Y}}}
			}
			require.Equal(b.t, http.StatusCreated, b.call("POST", hereof(b, id.String(), "marks"), body, nil))
		}
	}
	require.Equal(b.t, http.StatusOK, b.call("POST", apiPrefix+"follow", map[string]any{}, nil))
	return frames
}

// chart gets a chart as a script does.
func (b *bench) chart(rest string) (status int, kind, body string) {
	b.t.Helper()
	r, err := b.client.Get(b.url + apiPrefix + "charts/" + rest)
	require.NoError(b.t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(b.t, err)
	return r.StatusCode, r.Header.Get("Content-Type"), string(data)
}

// Every chart is an SVG without script or style, that names what stands in it; what
// cannot be drawn is refused with what to do.
func TestChartsForScripts(t *testing.T) {
	b := newBench(t).enter()
	frames := b.followedDays(2)
	frame := frames[1].String()
	for rest, names := range map[string]string{
		"disc?frame=" + frame: "data-mark=", "disc?frame=" + frame + "&up=taken&grid=carrington&theme=night": "data-mark=",
		"map?frame=" + frame: "data-passage=", "map?woven=true&rotation=2308&width=720": "data-mark=",
		"latitudes?frame=" + frame + "&days=31": "data-mark=", "latitudes?days=all": "data-mark=", "numbers?frame=" + frame + "&days=366": "data-day=",
		"passage?passage=P1": "data-mark=", "rates?kind=filament": "<svg", "coming?frame=" + frame + "&days=14&theme=day": "data-mark=",
	} {
		status, kind, body := b.chart(rest)
		require.Equal(t, http.StatusOK, status, "%s: %s", rest, body)
		assert.Equal(t, "image/svg+xml; charset=utf-8", kind)
		assert.Contains(t, body, names, rest)
		assert.Contains(t, body, "<metadata>limbwatch 1.2.3</metadata>", "%s names the version that drew it", rest)
		assert.NotRegexp(t, `(?i)<script|<style|\sstyle=|\son[a-z]+=|<foreignObject|href="(https?:)?//|javascript:`, body, rest)
		assert.NoError(t, wellFormed(body), rest)
	}
	for rest, status := range map[string]int{
		"pie?frame=" + frame: http.StatusNotFound, "disc": http.StatusBadRequest, "disc?frame=F99": http.StatusNotFound, "disc?frame=..": http.StatusBadRequest,
		"disc?frame=" + frame + "&up=down": http.StatusBadRequest, "disc?frame=" + frame + "&width=1e9": http.StatusBadRequest, "disc?frame=" + frame + "&width=-1": http.StatusBadRequest,
		"map?rotation=0": http.StatusBadRequest, "map?rotation=x": http.StatusBadRequest, "latitudes?days=3": http.StatusBadRequest, "latitudes?days=-3&frame=" + frame: http.StatusBadRequest,
		"passage": http.StatusBadRequest, "passage?passage=P99": http.StatusNotFound, "passage?passage=%00": http.StatusNotFound, "rates?kind=flare": http.StatusBadRequest,
		"coming?days=1000": http.StatusBadRequest, "map?theme=%3Cscript%3E": http.StatusBadRequest,
	} {
		got, kind, body := b.chart(rest)
		assert.Equal(t, status, got, "%s: %s", rest, body)
		assert.Contains(t, kind, "application/json", rest)
		assert.Contains(t, body, `"hint":`, rest)
	}
	assert.Empty(t, b.log.String())
}

func wellFormed(text string) error {
	d := xml.NewDecoder(strings.NewReader(text))
	for {
		if _, err := d.Token(); err == io.EOF {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// Names that look like markup stay names in a chart.
func TestNamesInChartsAreEscaped(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	const nasty = `"><script>alert(1)</script><image href="x" onerror="alert(2)"/>`
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}, "label": nasty}, nil))
	status, _, body := b.chart("disc?frame=" + f.ID)
	require.Equal(t, http.StatusOK, status, body)
	assert.NotContains(t, body, "<script")
	assert.NotRegexp(t, `<[^>]*onerror`, body)
	assert.NoError(t, wellFormed(body))
}

// Each of the seven charts opens by its key, in the page's theme; a point in it leads to
// its day and mark, a curve's point to its passage, and Esc back.
func TestChartsOnThePage(t *testing.T) {
	browserPath(t)
	b := newBench(t).enter()
	frames := b.followedDays(3)
	tb := b.openTab(1280, 720, "frame="+frames[2].String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("C", chromedp.KeyModifiers(chromedp.ModifierShift))
	drawn := func(name string) {
		tb.wait(fmt.Sprintf(`document.getElementById("chart-sheet").dataset.drawn === %q && document.querySelector("#chart-sheet > svg")`, name))
	}
	drawn("disc")
	tb.wait(`document.querySelector("#chart-sheet image")?.getAttribute("href").startsWith("blob:")`)
	for i, name := range []string{"disc", "map", "latitudes", "numbers", "passage", "rates", "coming"} {
		tb.key(fmt.Sprint(i + 1))
		drawn(name)
		title := eval[string](tb, `document.querySelector("#chart-sheet svg > title").textContent`)
		assert.NotEmpty(t, title, name)
		assert.Equal(t, name, strings.ToLower(eval[string](tb, `document.querySelector("#chart-tabs [aria-selected=true]").lastChild.textContent`)))
		assert.LessOrEqual(t, eval[float64](tb, `document.getElementById("chart-sheet").scrollWidth - document.getElementById("chart-sheet").clientWidth`), 0.0, "%s: px, nothing runs out sideways", name)
		tb.shoot("chart-" + name + "-dark")
		if name != "disc" && name != "passage" {
			continue
		}
		for _, theme := range []string{"light", "dark"} {
			ground := eval[string](tb, `document.querySelector("#chart-sheet svg > rect")?.getAttribute("fill") ?? ""`)
			tb.theme(theme)
			tb.wait(fmt.Sprintf(`document.querySelector("#chart-sheet svg > rect") && document.querySelector("#chart-sheet svg > rect").getAttribute("fill") !== %q`, ground))
			tb.shoot("chart-" + name + "-" + theme)
		}
	}
	// A point of the latitudes leads to its mark, on its own day.
	tb.key("3")
	drawn("latitudes")
	point := eval[[]string](tb, fmt.Sprintf(`(() => { const p = document.querySelector('#chart-sheet [data-frame=%q][data-mark]').dataset; return [p.mark, p.frame]; })()`, frames[0]))
	at := eval[[2]float64](tb, fmt.Sprintf(`(() => { const r = document.querySelector('#chart-sheet [data-mark=%q]').getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`, point[0]))
	tb.click(at[0], at[1])
	tb.wait(fmt.Sprintf(`document.getElementById("charts").hidden && limbwatch.state.frame.id === %q && limbwatch.state.selected === %q`, point[1], point[0]))

	// From the card to the passage, from there by keys to another day's sighting of it.
	tb.wait(`document.querySelector("#card .link")`)
	tb.do(chromedp.Click(chromedp.CSS("#card .link")))
	drawn("passage")
	passage := eval[string](tb, `limbwatch.state.chart.passage`)
	assert.Equal(t, passage, eval[string](tb, `limbwatch.state.day.marks.find(m => m.id === limbwatch.state.selected).passage`))
	tb.wait(`location.search.includes("chart=passage")`)
	eval[chromedp.Void](tb, `document.querySelector("#chart-sheet [role=link][tabindex='0']").focus()`)
	tb.key(kb.ArrowRight)
	there := eval[string](tb, `document.activeElement.dataset.mark ?? ""`)
	require.NotEmpty(t, there)
	tb.key(kb.Enter)
	tb.wait(fmt.Sprintf(`document.getElementById("charts").hidden && limbwatch.state.selected === %q`, there))

	// What is coming, from beside the ribbon; figures 1 to 5 do not take a tool in hand.
	tb.press("do-coming")
	drawn("coming")
	tb.key("1")
	drawn("disc")
	assert.False(t, eval[bool](tb, `Boolean(document.querySelector("#tray .kind[aria-pressed=true]"))`))
	tb.key(kb.Escape)
	tb.wait(`document.getElementById("charts").hidden`)

	// A rate's point leads to its passage.
	tb.key("C", chromedp.KeyModifiers(chromedp.ModifierShift))
	tb.key("6")
	drawn("rates")
	if eval[bool](tb, `Boolean(document.querySelector("#chart-sheet [data-passage]"))`) {
		eval[chromedp.Void](tb, `document.querySelector("#chart-sheet [data-passage]").focus()`)
		tb.key(kb.Enter)
		drawn("passage")
	}
	tb.do(chromedp.Reload())
	tb.wait(`document.body.dataset.ready === "yes" && limbwatch.state.chart`)
	drawn(eval[string](tb, `limbwatch.state.chart.name`))
}

// On a telephone the charts keep their letters' size; wide ones are pulled sideways.
func TestChartsInANarrowWindow(t *testing.T) {
	browserPath(t)
	b := newBench(t).enter()
	frames := b.followedDays(2)
	tb := b.openTab(390, 844, "frame="+frames[1].String(), chromedp.EmulateMobile, chromedp.EmulateTouch)
	tb.wait(`limbwatch.room.shown`)
	tb.do(chromedp.Tap(chromedp.ID("caution-read")))
	tb.do(chromedp.Tap(chromedp.ID("do-charts")))
	for i, name := range []string{"disc", "map", "latitudes", "numbers", "passage", "rates", "coming"} {
		eval[chromedp.Void](tb, fmt.Sprintf(`document.querySelectorAll("#chart-tabs button")[%d].scrollIntoView({inline: "center"})`, i))
		tb.do(chromedp.Tap(chromedp.CSS(fmt.Sprintf("#chart-tabs button:nth-child(%d)", i+1))))
		tb.wait(fmt.Sprintf(`document.getElementById("chart-sheet").dataset.drawn === %q`, name))
		assert.LessOrEqual(t, eval[float64](tb, `document.documentElement.scrollWidth`), 390.0, "px, %s", name)
		tb.shoot("phone-chart-" + name)
	}
	small := eval[[]string](tb, `[...document.querySelectorAll("#charts header button, #charts header a")].map(e => [e.textContent, e.getBoundingClientRect()]).filter(([, r]) => r.height < 36 || r.width < 30).map(([n, r]) => n + " " + r.width + "x" + r.height)`)
	assert.Empty(t, small, "controls large enough for a thumb")
	tb.do(chromedp.Tap(chromedp.ID("do-charts-close")))
	tb.wait(`document.getElementById("charts").hidden`)
}
