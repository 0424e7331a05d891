package desk

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/testdata/years"
)

// The page on a record of more days than are told at once: a mark costs two requests at the
// most, and earlier days come as they are walked to. Where LIMBWATCH_YEARS keeps catalogues
// of 10⁴ to 10⁶ marks, those are tried, and what the first sight costs is told: a second is
// wanted.
func TestPageOfYears(t *testing.T) {
	sizes := []int{70 * years.MarksADay}
	if os.Getenv("LIMBWATCH_YEARS") != "" {
		sizes = []int{10_000, 100_000, 1_000_000}
	}
	for _, marks := range sizes {
		t.Run(strconv.Itoa(marks), func(t *testing.T) {
			browserPath(t)
			path, made := years.Kept(t, marks)
			k, err := observe.Open(context.Background(), path, catalog.Terminal, time.Now)
			require.NoError(t, err)
			require.NoError(t, years.Paint(context.Background(), k, made.Last, t.TempDir()))
			b := benchOn(t, k)
			tb := b.openTab(1280, 720, "frame="+made.Last.String())
			tb.press("caution-read")
			tb.wait(`limbwatch.room.shown && limbwatch.state.ribbon`)
			tb.shoot(fmt.Sprintf("years-%d", marks))
			requests := func() []string {
				return eval[[]string](tb, `performance.getEntriesByType("resource").map(e => e.name).filter(n => n.includes("/api/") && !n.includes("/pointer") && !n.includes("/place"))`)
			}
			sight := eval[float64](tb, `performance.getEntriesByType("resource").filter(e => /ribbon|pixels/.test(e.name)).map(e => e.responseEnd).reduce((a, b) => Math.max(a, b))`)
			first := requests()
			tb.key("1")
			begun := time.Now()
			tb.click(tb.screen(1150, 950))
			tb.settled(years.MarksADay/2 + 1)
			took := time.Since(begun)
			tb.wait(`limbwatch.state.ribbon.dots.length === 18`)
			time.Sleep(2 * time.Second) // what news would cause
			after := requests()[len(first):]
			t.Logf("%d marks: first sight after %.0f ms, %d requests; a mark %d ms, %d requests: %v", marks, sight, len(first), took.Milliseconds(), len(after), after)
			require.LessOrEqual(t, len(after), 2, "%v", after)
			days := eval[int](tb, `limbwatch.state.days.length`)
			require.GreaterOrEqual(t, days, daysAtOnce/2)
			require.Less(t, days, 2*made.Days, "not all are at hand")
			eval[chromedp.Void](tb, `import("/static/shore.js").then((s) => s.walk(-limbwatch.state.days.length))`)
			tb.wait(`limbwatch.state.days.length > ` + strconv.Itoa(days))
			tb.wait(`limbwatch.state.days.findIndex((d) => d.id === limbwatch.state.day.id) < ` + strconv.Itoa(daysAtOnce) + ` && limbwatch.state.frame.id !== "` + made.Last.String() + `"`)
		})
	}
}
