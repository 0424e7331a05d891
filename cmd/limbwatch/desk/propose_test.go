package desk

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

// The figures of a north and a disc that are tried are those that keeping them gives.
func TestFiguresOfWhatIsTriedAreThoseOfKeepingIt(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	at := "place?x=301.5&y=222.25"
	var before, tried, kept figures
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, at), nil, &before))
	assert.False(t, before.AsProposed)
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, at+"&north_deg=80&mirrored=true&sigma_north_deg=0.5&disc_x=312&disc_y=246&disc_r=188"), nil, &tried))
	assert.True(t, tried.AsProposed)
	require.Equal(t, "as proposed", tried.Lines[len(tried.Lines)-1])

	require.Equal(t, http.StatusOK, b.call("POST", hereof(b, f.ID, "north"), map[string]any{"revision": f.North.Revision, "angle_deg": 80, "mirrored": true, "sigma_deg": 0.5, "method": "typed"}, nil))
	require.Equal(t, http.StatusOK, b.call("POST", hereof(b, f.ID, "disc/typed"), map[string]any{"revision": f.Disc.Revision, "x_px": 312, "y_px": 246, "radius_px": 188}, nil))
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, at), nil, &kept))
	assert.Equal(t, kept.Lines, tried.Lines[:len(tried.Lines)-1])
	assert.NotEqual(t, before.Lines, kept.Lines)
}

// While a north is turned and not yet kept, the pointer tells what would be, and says
// so; it follows the keys too, and Esc leads back.
func TestPointerFollowsAProposal(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	p := smallSun()
	frame := b.prepared(p, catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	const shown = `document.getElementById("figures").textContent`
	spot := p.mark(t, "g1").Pixel
	tb.move(tb.screen(spot.X, spot.Y))
	tb.wait(shown + `.includes("N1")`)
	kept := eval[string](tb, shown)
	assert.NotContains(t, kept, "as proposed")

	tb.key("n")
	tb.wait(`limbwatch.state.question === "north"`)
	for range 3 { // 1° each
		tb.key(kb.ArrowLeft, chromedp.KeyModifiers(chromedp.ModifierShift))
	}
	said := func(northDeg float64) string {
		x, y := eval[float64](tb, `Number(document.getElementById("figures").dataset.x)`), eval[float64](tb, `Number(document.getElementById("figures").dataset.y)`)
		var want figures
		require.Equal(t, http.StatusOK, b.enter().call("GET", hereof(b, frame.String(), fmt.Sprintf("place?x=%v&y=%v&north_deg=%v&sigma=%v", x, y, northDeg, eval[float64](tb, `import("/static/room.js").then(r => r.clickError())`))), nil, &want))
		return strings.Join(want.Lines, "\n")
	}
	turned := p.truth.North.Angle.Degrees() + 3
	tb.wait(shown + `.includes("as proposed")`)
	want := said(turned)
	tb.wait(fmt.Sprintf(`%s === %q`, shown, want))
	assert.NotEqual(t, kept, want)
	tb.shoot("proposed-dark")
	// The pointer moves on: still as proposed.
	other := p.mark(t, "g2").Pixel
	tb.move(tb.screen(other.X, other.Y))
	tb.wait(shown + `.includes("S1") && ` + shown + `.includes("as proposed")`)
	assert.Equal(t, said(turned), eval[string](tb, shown))
	tb.key(kb.Escape)
	tb.wait(`!` + shown + `.includes("as proposed")`)
}

// With the sky's north up, a north that is kept turns the picture to stand so.
func TestAKeptNorthTurnsThePicture(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	frame := b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("o")
	tb.wait(`limbwatch.state.up === "sky"`)
	const off = `Math.abs(Math.sin((limbwatch.room.view.turn - limbwatch.state.frame.up.sky.turn_deg * Math.PI / 180) / 2))`
	tb.wait(off + ` < 1e-6`)
	was := eval[float64](tb, `limbwatch.state.frame.up.sky.turn_deg`)
	tb.key("n")
	tb.wait(`limbwatch.state.question === "north"`)
	for range 3 { // 1° each
		tb.key(kb.ArrowLeft, chromedp.KeyModifiers(chromedp.ModifierShift))
	}
	tb.key(kb.Enter)
	tb.wait(fmt.Sprintf(`limbwatch.state.question === "marks" && Math.abs(limbwatch.state.frame.up.sky.turn_deg - %g) > 2.9`, was))
	tb.wait(off + ` < 1e-6`)
}

// What the keys moved and was not kept yet is not lost by a click on the mark.
func TestAClickKeepsWhatTheKeysMoved(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	p := smallSun()
	frame := b.prepared(p, catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("1")
	tb.click(tb.screen(300, 300))
	tb.settled(1)
	const point = `limbwatch.state.day.marks[0].points[0]`
	before := eval[[2]float64](tb, point)
	tb.key(kb.Escape)
	tb.click(tb.screen(before[0], before[1])) // its vertex in grip
	for range 4 {
		tb.key(kb.ArrowRight)
	}
	moved := eval[[2]float64](tb, `import("/static/overlay.js").then(o => o.hand.editing.points[0])`)
	tb.click(tb.screen(moved[0], moved[1]))
	tb.wait(fmt.Sprintf(`Math.abs(%s[0] - %g) < 1e-3 && limbwatch.state.day.marks[0].revision > 1`, point, moved[0]))
	assert.Greater(t, moved[0], before[0])
}

// Vertices that were moved stay in the hand where the save of them is refused: kept on a
// word, or let go by Escape.
func TestAMovedVertexSurvivesARefusedSave(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	frame := b.prepared(smallSun(), catalog.RoleSurface)
	tb := b.openTab(1280, 720, "frame="+frame.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("1")
	tb.click(tb.screen(300, 300))
	tb.settled(1)
	tb.key(kb.Escape)
	const x = `limbwatch.state.day.marks[0].points[0][0]`
	before := eval[float64](tb, x)
	// As if the mark had been changed meanwhile by somebody else: the save is of an old version.
	move := func() {
		eval[chromedp.Void](tb, `Promise.all([import("/static/overlay.js"), import("/static/marking.js")]).then(([o, m]) => {
			const mark = limbwatch.state.day.marks[0], [x, y] = mark.points[0];
			o.hand.editing = { ...mark, revision: 0, points: [[x + 40, y]] };
			return m.save();
		})`)
		tb.wait(`document.querySelector('#notices [data-key="moved"]')`)
	}
	held := func() float64 {
		return eval[float64](tb, `import("/static/overlay.js").then((o) => o.hand.editing?.points[0][0] ?? 0)`)
	}
	move()
	assert.InDelta(t, before+40, held(), 1e-6, "what was moved is still in the hand")
	tb.key(kb.Escape)
	assert.Zero(t, held(), "and let go")
	assert.InDelta(t, before, eval[float64](tb, x), 1e-6)
	move()
	tb.shoot("moved-refused")
	eval[chromedp.Void](tb, `document.querySelector('#notices [data-key="moved"] button:not(.close)').click()`)
	tb.wait(fmt.Sprintf(`Math.abs(%s - %g) < 1e-6 && limbwatch.state.day.marks[0].revision > 1`, x, before+40))
	assert.Zero(t, held())
}
