package desk

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

// A warning stands beside the question, in the day line and on the sheet of the picture,
// until somebody gives a reason; and it comes back by undo.
func TestAWarningStaysOnThePageUntilItIsSettled(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	_, _, err := b.keeper.AddInstrument(context.Background(), catalog.Instrument{Name: "Garden 60", FocalMm: 400}, catalog.Setup{Name: "single"})
	require.NoError(t, err)
	b.add(paintSun(t, "sun_20260314_152310Z.png", testDay, 640, 480, 190, nil))
	second := b.add(paintSun(t, "sun_20260314_153310Z.png", testDay.Add(10*60e9), 640, 480, 120, nil))
	tb := b.openTab(1280, 720, "frame="+second.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.state.frame?.id === "` + second.String() + `"`)
	tb.wait(`document.querySelector("#tray .odd")`)
	tb.wait(`document.querySelector("#frames .odd .mark")`)
	assert.Contains(t, eval[string](tb, `document.querySelector("#tray .odd").title`), "% smaller than that of F1")
	tb.shoot("warning-tray")
	eval[chromedp.Void](tb, `document.querySelector("#tray .odd").click()`)
	tb.wait(`!document.getElementById("sheet-frame").hidden`)
	tb.shoot("warning-sheet")
	eval[chromedp.Void](tb, `(() => { const f = document.querySelector(".warnings .odd form"); f.elements.why.value = "binned by two"; f.requestSubmit(); })()`)
	tb.wait(`!document.querySelector("#tray .odd")`)
	tb.wait(`document.querySelector(".warnings .settled small")?.textContent.includes("binned by two")`)
	tb.shoot("warning-settled")
	all, err := b.keeper.Store.Read(context.Background()).WarningsOf(second)
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.Equal(t, catalog.CauseSize, all[0].Cause)
	assert.Equal(t, "binned by two", all[0].Settled.Why)
	tb.press("do-undo")
	tb.wait(`document.querySelector("#tray .odd")`)
}
