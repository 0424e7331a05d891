package desk

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords/paint"
)

// twoExposures are a disc and an edge exposure three minutes apart, the second so many
// times as long.
func twoExposures(t *testing.T, times float64) (disc, edge painted) {
	disc = paintSun(t, "a_20260314_152310Z.png", testDay, 640, 480, 170, nil)
	edge = paintSun(t, "b_20260314_152610Z.png", testDay.Add(3*time.Minute), 640, 480, 170, func(s *paint.Scene) {
		s.Camera.Exposure = times
		s.Camera.Limb.Centre.X += 8
	})
	return disc, edge
}

// Nobody said what the pictures were exposed for: their light does.
func TestTheEdgeExposureIsToldByItsLight(t *testing.T) {
	for _, c := range []struct {
		name  string
		times float64
		ask   bool
	}{{"burnt out", 7, false}, {"alike", 1, true}, {"as faint", 0.14, false}} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t).enter()
			disc, edge := twoExposures(t, c.times)
			b.prepared(disc, catalog.RoleUnknown)
			b.prepared(edge, catalog.RoleUnknown)
			for _, asked := range []string{"F1", "F2"} { // whichever is shown
				var got compositeJSON
				require.Equal(t, http.StatusOK, b.call("GET", hereof(b, asked, "composite"), nil, &got))
				assert.Equal(t, c.ask, got.Ask, got.Words)
				if !c.ask {
					want := map[bool]string{true: "F2", false: "F1"}[c.times > 1]
					assert.Equal(t, want, got.Edge, "shown %s: %s", asked, got.Words)
				}
			}
		})
	}
}

// A disc that was blackened to show the prominences speaks against its edge.
func TestWhatContradictsItselfIsAsked(t *testing.T) {
	normal := exposureLight{Disc: 0.5, Beyond: 0.004}
	assert.Equal(t, 1, edgeOf(normal, exposureLight{Clipped: 1, Disc: 1, Beyond: 0.03}))
	assert.Equal(t, -1, edgeOf(exposureLight{Clipped: 0, Disc: 0.6, Beyond: 0.03}, normal), "by the edge alone")
	assert.Equal(t, 0, edgeOf(normal, exposureLight{Disc: 0.01, Beyond: 0.03}), "blackened")
	assert.Equal(t, 0, edgeOf(normal, exposureLight{Disc: 0.6, Beyond: 0.006}))
}

// One key lays the edge of one on the disc of the other; where nothing tells which is
// which it is asked once, and the same key says yes.
func TestCompositeByOneKey(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	disc, edge := twoExposures(t, 7)
	b.prepared(disc, catalog.RoleUnknown)
	b.prepared(edge, catalog.RoleUnknown)
	tb := b.openTab(1280, 720, "frame=F2")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("q")
	tb.wait(`limbwatch.state.frame.id === "F1" && limbwatch.room.shown.edge.fromPicture`)
	assert.Contains(t, eval[string](tb, `document.getElementById("notices").textContent`), "by their light")
	tb.wait(`performance.now() > 0 && document.getElementById("picture").width > 0`)
	tb.shoot("composite-dark")
	assert.Equal(t, 2, eval[int](tb, `document.querySelectorAll("#frames [aria-pressed=true]").length`), "the day line shows both pictures as seen")
	tb.key("q")
	tb.wait(`!limbwatch.room.shown.edge.fromPicture`)

	alike := newBench(t)
	disc, edge = twoExposures(t, 1)
	alike.prepared(disc, catalog.RoleUnknown)
	alike.prepared(edge, catalog.RoleUnknown)
	tb = alike.openTab(1280, 720, "frame=F1")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	tb.key("q")
	tb.wait(`document.getElementById("notices").textContent.includes("Is F2 the exposure for the edge?")`)
	tb.shoot("composite-asked")
	tb.key("q")
	tb.wait(`limbwatch.room.shown.edge.fromPicture`)
	assert.Equal(t, "limb", eval[string](tb, `limbwatch.state.day.frames.find(f => f.id === "F2").role`), "it is kept")
}
