package desk

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// recorded puts positions of the days before into the catalogue, and follows them.
func (b *bench) recorded(lines ...string) {
	b.t.Helper()
	ctx := context.Background()
	csv := "kind,utc,lat_deg,lon_deg,sigma_deg\n" + strings.Join(lines, "\n") + "\n"
	_, err := b.keeper.ImportPositions(ctx, strings.NewReader(csv), observe.ImportOptions{})
	require.NoError(b.t, err)
	_, err = b.keeper.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(b.t, err)
}

// daily is a feature at one place of the Carrington frame on days before the test's.
func daily(kind string, latDeg, lonDeg float64, daysBefore ...int) (lines []string) {
	for _, d := range daysBefore {
		lines = append(lines, fmt.Sprintf("%s,%s,%g,%g,0.5", kind, testDay.AddDate(0, 0, -d).Format(time.RFC3339), latDeg, lonDeg))
	}
	return lines
}

// atTheEdge is a bench on which a filament was followed to the west limb, another one
// far from there, and on which the prominence that the first one must be is marked as
// M-something. The painted prominence q2 stands at S15, L 153, 1° from the west limb.
func atTheEdge(t *testing.T) (b *bench, p painted, frame catalog.FrameID, filament string) {
	b = newBench(t)
	b.recorded(append(daily("filament", -15, 152, 5, 4, 3, 2, 1), daily("filament", 38, 110, 5, 4, 3, 2, 1)...)...)
	p = smallSun()
	frame = b.prepared(p, catalog.RoleBoth)
	passages, err := b.keeper.Store.Read(context.Background()).Passages()
	require.NoError(t, err)
	require.Len(t, passages, 2)
	entries, err := b.keeper.Store.Read(context.Background()).Entries(store.Query{Passage: passages[0].ID})
	require.NoError(t, err)
	filament = passages[0].Name
	if place, _ := entries[0].Position.Reading(); place.B > 0 {
		filament = passages[1].Name
	}
	return b, p, frame, filament
}

// A prominence in hand is told which filament it is, in the words of the edge command;
// one click joins it by the observer's word, and u takes that back.
func TestWhichFilamentIsIt(t *testing.T) {
	browserPath(t)
	b, p, frame, filament := atTheEdge(t)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	beyond := p.mark(t, "q2").Beyond
	base := p.truth.Limb.At(p.truth.North.Direction(beyond.TopAngle))

	// Before anything is marked the pointer may ask.
	tb.move(tb.screen(beyond.Top.X, beyond.Top.Y))
	tb.wait(`document.getElementById("figures").textContent.includes("Earths")`)
	tb.key("E", chromedp.KeyModifiers(chromedp.ModifierShift))
	tb.wait(`!document.getElementById("sheet-edge").hidden`)
	assert.Contains(t, eval[string](tb, `document.getElementById("sheet-edge").textContent`), filament)
	tb.key("\x1b")
	tb.wait(`document.getElementById("sheet-edge").hidden`)

	tb.key("4")
	tb.clickPixel(base.X, base.Y)
	tb.clickPixel(beyond.Top.X, beyond.Top.Y)
	tb.settled(1)
	tb.key("\x1b")
	tb.key("]")
	tb.wait(`document.querySelector("#offers .offer")`)
	card := eval[string](tb, `document.getElementById("offers").textContent`)
	first := eval[string](tb, `document.querySelector("#offers .offer b").textContent`)
	assert.Equal(t, filament, first, "the filament that went to that limb at that latitude comes first: %s", card)
	assert.Contains(t, card, "none of those known")
	tb.key("E", chromedp.KeyModifiers(chromedp.ModifierShift))
	tb.wait(`!document.getElementById("sheet-edge").hidden`)
	full := eval[string](tb, `document.getElementById("sheet-edge").innerText`)
	for _, said := range []string{"west edge", "crossed the disc before", "in latitude", "σ", "the west limb", "± "} {
		assert.Contains(t, full, said)
	}
	for _, theme := range []string{"light", "dark"} {
		tb.theme(theme)
		tb.shoot("which-filament-" + theme)
	}
	tb.key("\x1b")
	tb.wait(`document.getElementById("sheet-edge").hidden`)

	tb.do(chromedp.Click(chromedp.CSS("#offers .offer")))
	tb.wait(fmt.Sprintf(`limbwatch.state.day.marks[0].passage_name === %q && limbwatch.state.day.marks[0].joined === "by your word"`, filament))
	tb.wait(`document.querySelector("#offers .offer")?.getAttribute("aria-pressed") === "true"`)
	tb.key("u")
	tb.wait(`limbwatch.state.day.marks[0].passage_name === ""`)
	tb.key("6")
	tb.wait(fmt.Sprintf(`limbwatch.state.day.marks[0].passage_name === %q`, filament))
	assert.Contains(t, eval[string](tb, `document.querySelector("#marks tr td.passage").textContent`), strings.TrimPrefix(filament, "2026-"))
}

// The endpoint gives what "limbwatch edge --json" gives, and refuses what is not at the
// edge with words.
func TestEdgeCheckForScripts(t *testing.T) {
	b, p, frame, filament := atTheEdge(t)
	b.enter()
	beyond := p.mark(t, "q2").Beyond
	base := p.truth.Limb.At(p.truth.North.Direction(beyond.TopAngle))
	var m struct{ Mark markJSON }
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, frame.String(), "marks"), map[string]any{"kind": "prominence", "shape": "line",
		"points": [][2]float64{{base.X, base.Y}, {beyond.Top.X, beyond.Top.Y}}}, &m))
	var got edgeAnswer
	require.Equal(t, http.StatusOK, b.call("GET", apiPrefix+"marks/"+m.Mark.ID+"/edge", nil, &got))
	id, err := catalog.ParseMarkID(m.Mark.ID)
	require.NoError(t, err)
	want, err := b.keeper.EdgeOfMark(context.Background(), id)
	require.NoError(t, err)
	require.NotEmpty(t, got.Candidates)
	assert.Equal(t, filament, got.Candidates[0].Passage)
	assert.Equal(t, want.Candidates[0].Probability, got.Candidates[0].Probability)
	sum := got.None
	for _, c := range got.Candidates {
		sum += c.Probability
	}
	within(t, "all probabilities", sum, 1, 0.02, "", "they are shares; those below 1 % are left out")
	assert.Equal(t, "west", got.Edge)
	within(t, "latitude of the limb", got.LatDeg, -15, 2, "°", "painted there")
	assert.Equal(t, want.Reason, got.Reason)

	var spot struct{ Mark markJSON }
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, frame.String(), "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, &spot))
	for path, status := range map[string]int{
		"marks/" + spot.Mark.ID + "/edge":                http.StatusUnprocessableEntity,
		"marks/M99/edge":                                 http.StatusNotFound,
		"marks/x/edge":                                   http.StatusBadRequest,
		"frames/" + frame.String() + "/edge?x=300&y=240": http.StatusUnprocessableEntity,
		"frames/" + frame.String() + "/edge?x=NaN&y=240": http.StatusBadRequest,
		"frames/F99/edge?x=300&y=240":                    http.StatusNotFound,
	} {
		var why refusal
		assert.Equal(t, status, b.call("GET", apiPrefix+path, nil, &why), "%s: %s", path, why.Error)
		assert.NotEmpty(t, why.Error, path)
		assert.NotEmpty(t, why.Hint, path)
	}
}

// Two spots 4° apart and, after three days of cloud, one in the middle: following
// cannot tell which it is. The card shows both with their odds; a key takes one.
func TestDoubtfulJoinIsTakenByAKey(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	b.recorded(append(daily("sunspot", 14, 73.4, 7, 6, 5), daily("sunspot", 14, 76.4, 7, 6, 5)...)...)
	p := smallSun()
	frame := b.prepared(p, catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	spot := p.mark(t, "g1").Pixel // at N14, L 75
	tb.key("1")
	tb.clickPixel(spot.X, spot.Y)
	tb.settled(1)
	tb.key("\x1b")
	tb.press("do-follow")
	tb.wait(`limbwatch.state.day.marks[0].passage_name && limbwatch.state.day.marks[0].rivals?.length > 1`)
	tb.wait(`document.querySelector("#marks .doubt")`)
	tb.key("]")
	tb.wait(`document.querySelectorAll("#offers .offer").length > 2`)
	for _, theme := range []string{"light", "dark"} {
		tb.theme(theme)
		tb.shoot("doubtful-" + theme)
	}
	was := eval[string](tb, `limbwatch.state.day.marks[0].passage_name`)
	second := eval[string](tb, `document.querySelectorAll("#offers .offer b")[1].textContent`)
	require.NotEqual(t, was, second)
	odds := eval[[]float64](tb, `limbwatch.state.day.marks[0].rivals.filter(r => !r.made).map(r => r.odds)`)
	for _, o := range odds {
		assert.True(t, o > 0 && o < 1, "odds of a rival: %v", odds)
	}
	tb.key("7")
	tb.wait(fmt.Sprintf(`limbwatch.state.day.marks[0].passage_name === %q && !limbwatch.state.day.marks[0].rivals`, second))
	const notices = `document.getElementById("notices")`
	eval[chromedp.Void](tb, notices+`.replaceChildren()`)
	tb.press("do-follow")
	tb.wait(notices + `.textContent.includes("looked at")`)
	assert.Equal(t, second, eval[string](tb, `limbwatch.state.day.marks[0].passage_name`), "following does not change the observer's word")
	for range 3 { // following may have weighed the rest anew, which is a step of its own
		eval[chromedp.Void](tb, notices+`.replaceChildren()`)
		tb.key("u")
		tb.wait(notices + `.textContent.includes("aken back")`)
		tb.wait(`limbwatch.state.day.marks.length === 1`)
		if undone := eval[string](tb, notices+`.textContent`); strings.Contains(undone, "join") {
			break
		}
	}
	tb.wait(fmt.Sprintf(`limbwatch.state.day.marks[0].passage_name === %q`, was))
	// "Not this" takes it out, for good.
	eval[chromedp.Void](tb, `document.querySelector("#card .belongs .not").click()`) // at once: news may paint the card anew
	tb.wait(fmt.Sprintf(`limbwatch.state.day.marks[0].passage_name !== %q`, was))
}

// What is expected is made real by one key where the pointer is, and joined to its
// passage by the observer's word; one undo takes both back. A mark that is there
// already is joined as it stands.
func TestThisIsIt(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	b.recorded(append(daily("sunspot", 14, 75, 3, 2, 1), daily("sunspot", -11, 48, 3, 2, 1)...)...)
	p := smallSun()
	frame := b.prepared(p, catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	one, two := p.mark(t, "g1").Pixel, p.mark(t, "g2").Pixel
	tb.move(tb.screen(one.X, one.Y))
	hold := func(typ input.DispatchKeyEventType) {
		_, err := chromedp.Call(tb.ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: typ, Key: "y", Code: "KeyY", Text: map[bool]string{true: "y"}[typ == input.DispatchKeyEventTypeKeyDown]})
		require.NoError(t, err)
	}
	hold(input.DispatchKeyEventTypeKeyDown)
	tb.key("\r")
	tb.settled(1)
	hold(input.DispatchKeyEventTypeKeyUp)
	tb.wait(`limbwatch.state.day.marks[0].passage_name && limbwatch.state.day.marks[0].joined === "by your word"`)
	got := eval[[2]float64](tb, `limbwatch.state.day.marks[0].points[0]`)
	assert.LessOrEqual(t, math.Hypot(got[0]-one.X, got[1]-one.Y), 1.0, "px, where the pointer was")
	first := eval[string](tb, `limbwatch.state.day.marks[0].passage_name`)
	tb.key("u")
	tb.settled(0)

	// By the pointer alone: its button shows what is expected, a click makes it real.
	tb.press("do-ghosts")
	tb.wait(`document.getElementById("do-ghosts").getAttribute("aria-pressed") === "true"`)
	tb.clickPixel(one.X, one.Y)
	tb.settled(1)
	tb.wait(fmt.Sprintf(`limbwatch.state.day.marks[0].passage_name === %q`, first))
	tb.shoot("expected-dark")
	tb.press("do-ghosts")
	tb.key("u")
	tb.settled(0)
	tb.move(tb.screen(one.X, one.Y))
	tb.wait(`limbwatch.state.day.marks.length === 0`)

	tb.key("h") // one key, nothing held
	tb.settled(1)
	tb.wait(fmt.Sprintf(`limbwatch.state.day.marks[0].passage_name === %q`, first))
	tb.key("1")
	tb.clickPixel(two.X, two.Y)
	tb.settled(2)
	tb.key("\x1b")
	eval[chromedp.Void](tb, `import("/static/marking.js").then((m) => m.select(limbwatch.state.day.marks.find((m) => !m.passage).id))`)
	tb.key("h")
	tb.wait(`limbwatch.state.day.marks.every(m => m.passage_name && m.joined === "by your word")`)
	names := eval[[]string](tb, `limbwatch.state.day.marks.map(m => m.passage_name)`)
	assert.NotEqual(t, names[0], names[1])
}
