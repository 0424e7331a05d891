package desk

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/coords/rotation"
)

// Two pictures of an invented Sun a day apart, neither oriented: both answers are shown
// with their grids, the right one among them, and the one that is taken is kept for both.
func TestTwinsAreShownSideBySide(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	ctx := context.Background()
	law := func(name string) paint.Drift {
		l, err := rotation.Parse(name)
		require.NoError(t, err)
		return l.CarringtonDriftDegPerDay
	}
	start := testDay.AddDate(0, 0, -3)
	sun := paint.Generate(5, start, 8, paint.Laws{Spot: law("newton-nunn"), Plage: law("mishra"), Filament: law("dazambuja"), Pattern: law("snodgrass-ulrich")})
	rolls := []float64{100, -30}
	var frames []catalog.FrameID
	for i, roll := range rolls {
		at := testDay.Add(time.Duration(i) * 24 * time.Hour)
		p := paintSun(t, "sun_"+at.Format("20060102_150405")+"Z.png", at, 520, 460, 190, func(s *paint.Scene) {
			s.Sun, s.Face = sun.At(at), ephemeris.At(at)
			s.Camera.North = coords.North{Angle: coords.Angle(roll) * coords.Degree}
		})
		added, err := b.keeper.AddFrame(ctx, observe.NewFrame{Path: p.file(t, t.TempDir()), Role: catalog.RoleSurface})
		require.NoError(t, err)
		require.NotNil(t, added.Disc)
		_, err = b.keeper.AcceptDisc(ctx, added.Frame.ID, added.Disc.Revision)
		require.NoError(t, err)
		frames = append(frames, added.Frame.ID)
	}
	tb := b.openTab(1280, 800, "frame="+frames[0].String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("n")
	tb.wait(`limbwatch.state.question === "north"`)
	tb.key("w")
	tb.wait(`[...document.querySelectorAll("#sheet-north .way")].some(w => w.textContent.startsWith("Sun's turning") && !w.disabled)`)
	eval[bool](tb, `[...document.querySelectorAll("#sheet-north .way")].find(w => w.textContent.startsWith("Sun's turning")).click() ?? true`)
	tb.wait(`document.querySelectorAll("#sheet-twins figure").length === 2`)
	tb.shoot("twins-night")
	tb.theme("light")
	tb.shoot("twins-day")
	assert.False(t, eval[bool](tb, `document.getElementById("sheet-twins").textContent.includes("null")`))
	eval[bool](tb, `[...document.querySelectorAll("#sheet-twins button")].find(b => b.textContent.includes("polar-aligned")).click() ?? true`)
	tb.wait(`document.getElementById("notices").textContent.includes("the camera was touched")`)
	tb.shoot("twins-touched")
	tb.key("w")
	eval[bool](tb, `[...document.querySelectorAll("#sheet-north .way")].find(w => w.textContent.startsWith("Sun's turning")).click() ?? true`)
	tb.wait(`document.querySelectorAll("#sheet-twins figure").length === 2`)
	assert.True(t, eval[bool](tb, `[...document.querySelectorAll("#sheet-twins figcaption")].some(c => c.textContent.includes("not mirrored"))`))
	eval[bool](tb, `[...document.querySelectorAll("#sheet-twins figure")].find(f => f.textContent.includes("not mirrored")).querySelector("button").click() ?? true`)
	tb.wait(`limbwatch.state.question === "marks" && limbwatch.state.frame.north`)
	tb.key("n")
	tb.wait(`Math.abs(Number(document.getElementById("north-deg")?.value) - 100) < 5`) // what is kept, and no proposal of before
	for i, id := range frames {
		n, err := b.keeper.Store.Read(ctx).North(id)
		require.NoError(t, err, "kept for %s", id)
		off := (n.Angle - coords.Angle(rolls[i])*coords.Degree).Wrap180().Abs()
		assert.LessOrEqual(t, off, 4*n.Sigma, "%s: %.2f°, painted %.1f°", id, n.Angle.Degrees(), rolls[i])
		assert.False(t, n.Mirrored)
	}

	// A better north of one by hand is followed by the other.
	before, err := b.keeper.Store.Read(ctx).North(frames[1])
	require.NoError(t, err)
	_, err = b.keeper.SetNorth(ctx, catalog.North{Frame: frames[0], Angle: coords.Angle(rolls[0]) * coords.Degree, Sigma: 0.1 * coords.Degree}, store.Newest)
	require.NoError(t, err)
	after, err := b.keeper.Store.Read(ctx).North(frames[1])
	require.NoError(t, err)
	assert.Less(t, after.Sigma, before.Sigma)
	assert.LessOrEqual(t, (after.Angle - coords.Angle(rolls[1])*coords.Degree).Wrap180().Abs(), 3*after.Sigma)
	t.Logf("%.2f° ± %.2f° before, %.2f° ± %.2f° then", before.Angle.Degrees(), before.Sigma.Degrees(), after.Angle.Degrees(), after.Sigma.Degrees())
}
