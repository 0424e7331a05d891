package desk

import "testing"

// What looks like a slip is asked on the page, and one press keeps it.
func TestASlipIsKeptByThePage(t *testing.T) {
	browserPath(t)
	b := newBench(t).enter()
	f, _ := b.added()
	tb := b.openTab(1280, 720, "frame="+f.ID)
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("1")
	tb.clickPixel(f.Disc.XPx, f.Disc.YPx+1.2*f.Disc.RadiusPx)
	const keep = `[...document.querySelectorAll("button")].find((b) => b.textContent === "Keep it all the same")`
	tb.wait(keep)
	tb.shoot("slip-asked")
	tb.settled(0)
	eval[any](tb, keep+".click()")
	tb.settled(1)
	tb.wait("!(" + keep + ")")
}
