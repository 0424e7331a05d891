package desk

import (
	"fmt"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/north"
)

// A server that was started anew does not know the browser: the page says which
// address to open, and once that was opened in another tab it sends what was marked.
func TestServerStartedAnewLosesNothing(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	b.lost = true // the pointer's line may be refused, which the browser logs
	b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	_, err := chromedp.Call(tb.ctx, network.ClearBrowserCookies, cdp.Empty{}) // what a new session's secret amounts to
	require.NoError(t, err)
	tb.key("1")
	tb.clickPixel(300, 240)
	tb.wait(`document.getElementById("offline").innerText.includes("started anew")`)
	tb.shoot("shut")
	eval[chromedp.Void](tb, fmt.Sprintf(`fetch(%q).then(() => undefined)`, b.door.address())) // as another tab would
	tb.wait(`document.getElementById("offline").hidden`)
	tb.settled(1)
}

// What a field refuses stays in it, to be put right.
func TestRefusedNameStaysTyped(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t).enter()
	f, _ := b.added()
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, nil))
	tb := b.openTab(1280, 720, "mark=M1")
	tb.press("caution-read")
	tb.wait(`document.querySelector("#card input[name=label]")`)
	eval[chromedp.Void](tb, `{ const name = document.querySelector("#card input[name=label]"); name.value = "far too long ".repeat(20); name.dispatchEvent(new Event("change")); }`)
	tb.wait(`document.querySelector("#notices .refusal")`)
	assert.Contains(t, eval[string](tb, `document.querySelector("#card input[name=label]").value`), "far too long", "what was typed")
	eval[chromedp.Void](tb, `{ const name = document.activeElement; name.value = "short"; name.dispatchEvent(new Event("change")); }`)
	tb.wait(`limbwatch.state.day.marks[0].label === "short"`)
	tb.wait(`!document.querySelector("#notices .refusal")`)
}

// While north is not known the page does not offer a guess for a yes: Enter refuses and
// says what to do; that up is north is said by a key of its own.
func TestNorthIsNotGuessed(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	added := b.add(smallSun()).String()
	tb := b.openTab(1280, 720, "frame="+added)
	tb.wait(`limbwatch.room.shown && limbwatch.state.question === "disc"`)
	tb.key(kb.Escape) // the caution
	tb.key(kb.Enter)
	tb.wait(`limbwatch.state.question === "north" && document.getElementById("tray").innerText.includes("turn the dial")`)
	tb.shoot("north-unknown")
	assert.NotContains(t, eval[string](tb, `document.getElementById("tray").innerText`), "Yes")
	tb.key(kb.Enter)
	tb.wait(`document.getElementById("notices").innerText.includes("North is not known yet")`)
	tb.key("x") // the parity alone does not make it known
	tb.key(kb.Enter)
	assert.False(t, eval[bool](tb, `Boolean(limbwatch.state.frame.north)`), "no north was kept")
	tb.key("x")
	tb.key(kb.Home)
	tb.wait(`document.getElementById("tray").innerText.includes("Yes, north")`)
	tb.key(kb.Enter)
	tb.wait(`limbwatch.state.question === "marks" && limbwatch.state.frame.north?.celestial_deg === 0`)
}

// A picture turned to the Sun's own north: its celestial north lies the position angle
// P of the Sun's pole away, to the other side in a mirrored picture (definition of the
// position angle: from north through east; P as ephemeris.At gives it).
func TestSunsNorthUp(t *testing.T) {
	b := newBench(t).enter()
	var got addedJSON
	p := smallSun()
	require.Equal(t, http.StatusCreated, b.upload(p.name, p.png, &got))
	var ways struct{ Methods []northMethod }
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, got.Frame.ID, "north/methods"), nil, &ways))
	for _, way := range ways.Methods {
		assert.Equalf(t, way.ID == north.MethodSolar, way.Available, "%s for the first picture of a catalogue: %s", way.ID, way.Why)
	}
	pole := ephemeris.At(p.at).P.Degrees()
	for _, mirrored := range []bool{false, true} {
		want := map[bool]float64{false: -pole, true: pole}[mirrored]
		var found proposal
		require.Equal(t, http.StatusOK, b.call("GET", hereof(b, got.Frame.ID, "north/propose?method=solar+north&mirrored="+strconv.FormatBool(mirrored)), nil, &found))
		within(t, "celestial north", found.CelestialDeg, want, 0.005, "°", "P of the ephemeris")
		f, _ := b.frame(got.Frame.ID)
		var revision int64
		if f.North != nil {
			revision = f.North.Revision
		}
		require.Equal(t, http.StatusOK, b.call("POST", hereof(b, got.Frame.ID, "north"), map[string]any{
			"revision": revision, "angle_deg": found.CelestialDeg, "mirrored": mirrored, "sigma_deg": found.SigmaDeg, "method": north.MethodSolar}, nil))
		f, _ = b.frame(got.Frame.ID)
		assert.Contains(t, f.North.Text, north.MethodSolar, "kept with the way's own words")
	}
}

// A picture without a disc says first what to do; a point clicked wrongly is taken back.
func TestRefusedDiscSaysWhatToDo(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	added := b.add(smallSun())
	frame := added.String()
	d, err := b.keeper.Store.Read(t.Context()).Disc(added)
	require.NoError(t, err)
	require.NoError(t, b.keeper.RemoveDisc(t.Context(), added, d.Revision))
	tb := b.openTab(1280, 720, "frame="+frame)
	tb.wait(`limbwatch.room.shown && limbwatch.state.question === "disc"`)
	tb.key(kb.Escape)
	assert.Equal(t, "Mark the limb", eval[string](tb, `document.querySelector("#tray button.strong").innerText`))
	tb.key("p")
	l := smallSun().truth.Limb
	for _, deg := range []float64{20, 130, 250} {
		tb.clickPixel(l.Centre.X+l.RadiusPx*math.Cos(deg*math.Pi/180), l.Centre.Y+l.RadiusPx*math.Sin(deg*math.Pi/180))
	}
	tb.wait(`document.getElementById("tray").innerText.includes("3 of 3")`)
	tb.key(kb.Backspace)
	tb.wait(`document.getElementById("tray").innerText.includes("2 of 3")`)
}

// Every way of looking has a button, for a hand without keys: the sheet of the light
// brings the grid, the Sun up and the mirror, and says which is on.
func TestLookingByPointerAlone(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.press("do-light")
	for _, way := range []struct{ words, done string }{
		{"grid", `limbwatch.state.geometry.grid?.length > 20`},
		{"as taken", `limbwatch.state.up !== "taken"`},
		{"in a mirror", `limbwatch.state.mirror`},
	} {
		tb.pressWords("sheet-light", way.words)
		tb.wait(way.done)
	}
	tb.wait(`document.querySelectorAll("#sheet-light h3 + .switches [aria-pressed=true]").length === 3`)
	tb.shoot("looking")

	// The shape of a mark, too: a filament as a point.
	tb.press("do-light")
	tb.pressWords("tray", "filament")
	tb.pressWords("tray", "as a line")
	tb.pressWords("tray", "as an outline")
	tb.clickPixel(300, 240)
	tb.settled(1)
	assert.Equal(t, "point", eval[string](tb, `limbwatch.state.day.marks[0].shape`))
}

// pressWords clicks the button that carries some words.
func (tb *tab) pressWords(within, words string) {
	tb.t.Helper()
	at := eval[[]float64](tb, fmt.Sprintf(`(() => {
		const found = [...document.querySelectorAll("#%s button")].find((b) => b.textContent.includes(%q));
		found?.scrollIntoView({ block: "nearest", inline: "nearest" });
		const box = found?.getBoundingClientRect();
		return box ? [box.x + box.width / 2, box.y + box.height / 2] : [];
	})()`, within, words))
	require.Lenf(tb.t, at, 2, "no button %q", words)
	tb.click(at[0], at[1])
}

// A button pressed by hand does not hold the keys: Enter answers the question.
func TestKeysAfterPointer(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	added := b.add(smallSun()).String()
	tb := b.openTab(1280, 720, "frame="+added)
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown && limbwatch.state.question === "disc"`)
	tb.press("ask-marks")
	tb.press("ask-disc")
	tb.key(kb.Enter)
	tb.wait(`limbwatch.state.frame.disc.accepted && limbwatch.state.question === "north"`)
}

// Names of what is expected at one place stand apart, and so do the words under days
// that lie close together.
func TestNamesStandApart(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	tb := newBench(t).openTab(1280, 720, "")
	overlaps := eval[int](tb, `import("/static/names.js").then(({ spotFor }) => {
		const taken = [];
		for (let i = 0; i < 6; i++) spotFor(taken, [100 + 3 * i, 100], 60);
		let n = 0;
		for (const a of taken) for (const b of taken) n += a !== b && a.x < b.x + b.wide && b.x < a.x + a.wide && Math.abs(a.y - b.y) < 11;
		return n;
	})`)
	assert.Zero(t, overlaps, "pairs of names, 11 px high, that lie on one another")
	words := eval[[]string](tb, `import("/static/shore.js").then(({ named }) => named(
		[["18 Mar", 0], ["19 Mar", 30], ["20 Mar", 60], ["24 Mar", 250]].map(([short, x]) => ({ day: { short }, x })), (t) => 6 * t.length))`)
	assert.Equal(t, []string{"18 Mar", "19", "20 Mar", "24 Mar"}, words)
}

// Nothing of the page is cut at twice the size of a small window, and on a telephone:
// sheets stay below the day line, its buttons at the right, what the hand does now whole.
func TestNothingCutInSmallWindows(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	b.prepared(smallSun(), catalog.RoleSurface)
	for _, size := range [][2]int64{{720, 450}, {390, 844}} {
		tb := b.openTab(size[0], size[1], "")
		tb.press("caution-read")
		tb.wait(`limbwatch.room.shown`)
		name := fmt.Sprintf("%dx%d", size[0], size[1])
		tb.key("s")
		tb.wait(`!document.getElementById("sheet-light").hidden`)
		assert.GreaterOrEqual(t, eval[float64](tb, `document.getElementById("sheet-light").getBoundingClientRect().top - document.getElementById("dayline").getBoundingClientRect().bottom`), 0.0, name)
		tb.key("s")
		assert.Less(t, eval[float64](tb, `innerWidth - document.getElementById("commands").getBoundingClientRect().right`), 20.0, name)
		assert.GreaterOrEqual(t, eval[float64](tb, `document.getElementById("day-name").getBoundingClientRect().left`), 0.0, name)
		tb.key("n")
		tb.wait(`document.querySelector("#tray .said")`)
		tb.shoot("small-" + name)
		assert.Zero(t, eval[float64](tb, `{ const said = document.querySelector("#tray .said"); Math.max(0, said.scrollWidth - said.clientWidth - 1) }`), name+": what is said is cut")
	}
}

// Many pictures whose names tell a time but no zone: each is asked for, one after
// another, and a zone can be named for all of them at once. None is lost.
func TestManyPicturesWithoutZone(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	p := smallSun()
	folder := t.TempDir()
	var paths []string
	for i := range 5 { // each another file, by bytes after the picture's end
		path := filepath.Join(folder, fmt.Sprintf("sun_2026031%d_152310.png", i))
		require.NoError(t, os.WriteFile(path, append(slices.Clone(p.png), byte(i)), 0o644))
		paths = append(paths, path)
	}
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.choose(paths...)
	tb.wait(`document.querySelector("#notices .asked")?.innerText.includes("for 4 more")`)
	tb.shoot("asked-many")
	assert.Equal(t, 1, eval[int](tb, `document.querySelectorAll("#notices .asked").length`), "one question at a time")
	eval[chromedp.Void](tb, `document.querySelector(".asked input[name=zone]").value = "UTC"`)
	tb.pressWords("notices", "for 4 more")
	tb.wait(`limbwatch.state.days.length === 5 && !document.querySelector("#notices .asked")`)
}

// A picture that was added by mistake goes away from its own sheet, with its marks, and
// comes back by one step; the page moves to the nearest other one, or is empty. What was
// taken back is told in an observer's words.
func TestPictureRemovedAndBack(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t).enter()
	first, _ := b.added()
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, first.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, nil))
	later := testDay.Add(26 * time.Hour)
	b.prepared(paintSun(t, "sun_"+later.Format("20060102_150405")+"Z.png", later, 640, 480, 190, nil), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+first.ID)
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown && limbwatch.state.frame.id === "F1"`)
	tb.press("day-name")
	tb.shoot("frame-sheet")
	tb.pressWords("sheet-frame", "Remove it and its 1 mark")
	tb.wait(`limbwatch.state.frame?.id === "F2" && limbwatch.state.days.length === 1`)
	tb.press("day-name")
	tb.pressWords("sheet-frame", "Remove this picture")
	tb.wait(`!limbwatch.state.frame && !document.getElementById("empty").hidden`)
	tb.key("u")
	tb.wait(`document.getElementById("notices").innerText.includes("Taken back: the removal of picture F2")`)
	tb.wait(`limbwatch.state.frame?.id === "F2" && limbwatch.room.shown`)
	tb.key("u")
	tb.wait(`limbwatch.state.days.length === 2`)
	f, day := b.frame("F1")
	require.NotNil(t, f.North)
	assert.Len(t, day.Marks, 1, "the mark came back with its picture")
}

// Steps are told in words; each kind of step that the page makes has some.
func TestStepsInWords(t *testing.T) {
	for title, words := range map[string]string{
		"mark remove M6":         "the removal of M6",
		"mark add M7 to P3":      "marking M7 to P3",
		"north as last time F2":  "the north of F2",
		"north solar north F2":   "the north of F2",
		"disc points F1":         "the disc of F1",
		"track follow":           "following",
		"import positions a.csv": "import positions a.csv",
	} {
		assert.Equal(t, words, stepWords(title), title)
	}
}

// A file that cannot be read is refused with what to do, said once.
func TestUnreadFileRefusedOnce(t *testing.T) {
	b := newBench(t).enter()
	var why refusal
	require.Equal(t, http.StatusUnsupportedMediaType, b.upload("notes.jpg", []byte("no picture at all"), &why))
	assert.Equal(t, refusal{Error: "notes.jpg: this kind of file is not read", Hint: "save the picture as PNG, JPEG, TIFF or FITS"}, why)
}

// A way to north is named once in what it says, whether or not its reason names it.
func TestFoundNorthNamesItsWayOnce(t *testing.T) {
	sun, err := north.FromSolar(coords.North{Sigma: turnedSigma}, -7*coords.Degree)
	require.NoError(t, err)
	assert.Equal(t, 1, strings.Count(foundWords(sun), north.MethodSolar+" "), foundWords(sun))
	level := north.Found{North: coords.North{Sigma: coords.Degree}, Method: north.MethodLevel, Why: "zenith up"}
	assert.Equal(t, "level camera ± 1.0°: zenith up", foundWords(level))
}

// The chart of a passage, where none is yet, has the way to one; and no file to save.
func TestPassageChartFollows(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t).enter()
	f, _ := b.added()
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, nil))
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("P", chromedp.KeyModifiers(chromedp.ModifierShift))
	tb.wait(`document.querySelector("#chart-sheet button")`)
	assert.True(t, eval[bool](tb, `document.getElementById("chart-save").hidden && !document.querySelector("#chart-choices select")`))
	tb.pressWords("chart-sheet", "Follow the marks")
	tb.wait(`document.querySelector("#chart-sheet svg") && document.querySelector("#chart-choices select").value === "P1" && !document.getElementById("chart-save").hidden`)
}

// A long name, in whatever script, leaves the card whole.
func TestLongNameLeavesCardWhole(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t).enter()
	f, _ := b.added()
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point",
		"points": [][2]float64{{300, 240}}, "label": strings.Repeat("שמש_", 20), "note": strings.Repeat("long_", 100)}, nil))
	tb := b.openTab(1280, 720, "mark=M1")
	tb.press("caution-read")
	tb.wait(`document.querySelector("#card header b")`)
	tb.shoot("long-name")
	assert.LessOrEqual(t, eval[float64](tb, `document.getElementById("card").scrollWidth - document.getElementById("card").clientWidth`), 0.0, "px that the card's content is wider than the card")
	assert.Equal(t, []string{"abcdefg", "ab…fg", "😀…😀"}, eval[[]string](tb, `import("/static/names.js").then(({ short }) => [short("abcdefg", 7), short("abcdefg", 5), short("😀😀😀😀", 3)])`))
}

// A picture added while the server is away is sent when it is back.
func TestPictureWaitsForServer(t *testing.T) {
	t.Parallel() // none measures time
	browserPath(t)
	b := newBench(t)
	b.lost = true
	path := smallSun().file(t, t.TempDir())
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	b.gone.Store(true)
	tb.choose(path)
	tb.wait(`document.getElementById("notices").innerText.includes("waits for the server")`)
	b.gone.Store(false)
	tb.wait(`limbwatch.state.frame?.id === "F1" && limbwatch.room.shown`)
}
