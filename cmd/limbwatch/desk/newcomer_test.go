package desk

import (
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

// A server that was started anew does not know the browser: the page says which
// address to open, and once that was opened in another tab it sends what was marked.
func TestServerStartedAnewLosesNothing(t *testing.T) {
	browserPath(t)
	b := newBench(t)
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
	browserPath(t)
	b := newBench(t).enter()
	f, _ := b.added()
	require.Equal(t, 201, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, nil))
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

var _ = kb.Enter
