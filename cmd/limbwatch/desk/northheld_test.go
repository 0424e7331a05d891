package desk

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/coords/rotation"
)

// turningSun paints one invented Sun on two days: the first with its north kept, the
// second with its disc alone. The truth of the second is given.
func (b *bench) turningSun() (first, second catalog.FrameID, truth coords.North) {
	t := b.t
	t.Helper()
	law := func(name string) paint.Drift {
		l, err := rotation.Parse(name)
		require.NoError(t, err)
		return l.CarringtonDriftDegPerDay
	}
	sun := paint.Generate(5, testDay.AddDate(0, 0, -3), 8, paint.Laws{Spot: law("newton-nunn"), Plage: law("mishra"), Filament: law("dazambuja"), Pattern: law("snodgrass-ulrich")})
	painted := func(day int, roll float64) painted {
		at := testDay.AddDate(0, 0, day)
		return paintSun(t, "sun_"+at.Format("20060102_150405")+"Z.png", at, 520, 460, 190, func(s *paint.Scene) {
			s.Sun, s.Face = sun.At(at), ephemeris.At(at)
			s.Camera.North = coords.North{Angle: coords.Angle(roll) * coords.Degree}
		})
	}
	first = b.prepared(painted(0, 25), catalog.RoleSurface)
	p := painted(1, -40)
	added, err := b.keeper.AddFrame(t.Context(), observe.NewFrame{Path: p.file(t, t.TempDir()), Role: catalog.RoleSurface})
	require.NoError(t, err)
	_, err = b.keeper.AcceptDisc(t.Context(), added.Frame.ID, added.Disc.Revision)
	require.NoError(t, err)
	return first, added.Frame.ID, p.truth.North
}

type heldJSON struct {
	Contradictions, Agreeing, Waiting []string
}

func (b *bench) held(id catalog.FrameID, northDeg float64, mirrored, patient bool) (h heldJSON) {
	b.t.Helper()
	require.Equal(b.t, http.StatusOK, b.call("GET", hereof(b, id.String(), fmt.Sprintf("north/held?north_deg=%g&mirrored=%v&patient=%v&sigma_north_deg=0.5", northDeg, mirrored, patient)), nil, &h))
	return h
}

// northWarnings are the open warnings about a frame's north.
func (b *bench) northWarnings(id catalog.FrameID) (words []string) {
	b.t.Helper()
	all, err := b.keeper.Store.Read(b.t.Context()).WarningsOf(id)
	require.NoError(b.t, err)
	for _, w := range all {
		if w.Open() && w.Cause == catalog.CauseNorth {
			words = append(words, w.Words)
		}
	}
	return words
}

func TestANorthIsHeldAgainstItsNeighboursBeforeItIsKept(t *testing.T) {
	b := newBench(t).enter()
	first, second, truth := b.turningSun()
	right := truth.Angle.Degrees()

	began := time.Now()
	h := b.held(second, right+180, false, false)
	assert.Less(t, time.Since(began), time.Second, "nothing is compared")
	assert.Equal(t, heldJSON{Contradictions: []string{}, Agreeing: []string{}, Waiting: []string{first.String()}}, h)

	h = b.held(second, right+180, false, true)
	require.Len(t, h.Contradictions, 1)
	assert.Regexp(t, `^its north does not go with that of `+first.String()+`, 1\.0 days before: by the pictures it is half a turn off; -(39|40)\.\d° ± 0\.\d°, not mirrored, would fit`, h.Contradictions[0])
	assert.Empty(t, h.Waiting)
	assert.Empty(t, b.northWarnings(second), "nothing was kept")

	// What was compared once is known at once.
	assert.Equal(t, []string{first.String()}, b.held(second, right, false, false).Agreeing)
	assert.Contains(t, b.held(second, right, true, false).Contradictions[0], "east and west exchanged")

	keep := func(deg float64, revision int) {
		require.Equal(t, http.StatusOK, b.call("POST", hereof(b, second.String(), "north"), map[string]any{"revision": revision, "angle_deg": deg, "mirrored": false, "sigma_deg": 0.5, "method": "typed"}, nil))
	}
	keep(right+180-360, 0)
	require.Len(t, b.northWarnings(second), 1, "it stands as a sign")
	keep(right, 1)
	assert.Empty(t, b.northWarnings(second))

	for _, query := range []string{"", "north_deg=x", "north_deg=NaN", "north_deg=1e300", "north_deg=1&sigma_north_deg=-1", "north_deg=1&sigma_north_deg=Inf"} {
		assert.Equal(t, http.StatusBadRequest, b.call("GET", hereof(b, second.String(), "north/held?"+query), nil, nil), query)
	}
	assert.Empty(t, b.log.String())
}

// Kept at once, before anything was compared: the sign comes all the same.
func TestANorthThatIsKeptInHasteIsHeldAfterwards(t *testing.T) {
	b := newBench(t).enter()
	_, second, truth := b.turningSun()
	began := time.Now()
	require.Equal(t, http.StatusOK, b.call("POST", hereof(b, second.String(), "north"), map[string]any{"revision": 0, "angle_deg": (truth.Angle + 180*coords.Degree).Wrap180().Degrees(), "mirrored": false, "sigma_deg": 0.5, "method": "typed"}, nil))
	assert.Less(t, time.Since(began), 2*time.Second, "the answer waits for no picture")
	require.Eventually(t, func() bool { return len(b.northWarnings(second)) == 1 }, time.Minute, 50*time.Millisecond)
	assert.Contains(t, b.northWarnings(second)[0], "half a turn off")

	// What came late is no step of the observer's: undo takes back the north, and its sign goes with it.
	var undone struct {
		Title string `json:"title"`
	}
	require.Equal(t, http.StatusOK, b.call("POST", apiPrefix+"undo", map[string]any{}, &undone))
	assert.Contains(t, undone.Title, "north set")
	assert.Empty(t, b.northWarnings(second))
}

// On the page: the dial half a turn off is contradicted above the tray, the right one is
// not, and what is kept against it bears the sign.
func TestTheTrayTellsWhatContradictsANorth(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	first, second, truth := b.turningSun()
	tb := b.openTab(1280, 720, "frame="+second.String())
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("n")
	tb.wait(`limbwatch.state.question === "north" && document.getElementById("north-deg")`)
	typed := func(deg float64) {
		eval[bool](tb, fmt.Sprintf(`(() => { const f = document.getElementById("north-deg"); f.value = "%.2f"; f.dispatchEvent(new Event("change")); return true; })()`, deg))
	}
	wrong := (truth.Angle + 180*coords.Degree).Wrap180().Degrees()
	typed(wrong)
	tb.wait(`document.querySelector("#tray .held")?.textContent.includes("Being compared with ` + first.String() + `")`)
	tb.wait(`document.querySelector("#tray .held.against")?.textContent.includes("half a turn off")`)
	tb.shoot("north-held-night")
	tb.theme("light")
	tb.shoot("north-held-day")
	typed(truth.Angle.Degrees())
	tb.wait(`document.querySelector("#tray .held:not(.against)")?.textContent.includes("Goes with ` + first.String() + `")`)
	typed(wrong)
	tb.wait(`document.querySelector("#tray .held.against")`)
	eval[bool](tb, `[...document.querySelectorAll("#tray button")].find((b) => b.textContent.includes("Yes, north")).click() ?? true`)
	tb.wait(`limbwatch.state.question === "marks" && limbwatch.state.frame.north`)
	tb.key("n")
	tb.wait(`document.querySelector("#tray .odd")?.title.includes("alf a turn off")`)
	assert.True(t, eval[bool](tb, `(() => { const c = document.querySelector("#tray .odd"); return c.scrollWidth <= c.clientWidth && c.getBoundingClientRect().right <= document.getElementById("tray").getBoundingClientRect().right; })()`), "the sign is whole")
	tb.shoot("north-kept-against")
}
