package observe_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// atRadius derives a point at a position angle and radii of a limb.
func atRadius(kind catalog.Kind, limb coords.Layer, paDeg, r, sigmaR float64) catalog.Position {
	g := catalog.Geometry{Shape: catalog.Point, Polar: []catalog.PolarPoint{{PA: deg(paDeg), R: r}}, PolarLimb: limb, SigmaR: sigmaR}
	return observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{{Kind: kind, Geometry: g}})[0]
}

// Radii of one are how "at the limb" is written, and no rounding may decide on which
// side of it that falls: at every position angle a prominence stands there at the edge,
// with no height, and anything else has a place.
func TestWhatIsAtTheLimbHasAPlace(t *testing.T) {
	for _, limb := range []coords.Layer{coords.Photosphere, coords.Chromosphere} {
		for _, off := range []float64{0, 1e-16, -1e-16, 3e-12, -3e-12, 9e-10, -9e-10, 1e-7, -1e-7, 9e-7, -9e-7} {
			for pa := 0.0; pa < 360; pa += 2.5 {
				for _, sigma := range []float64{0, 0.001} {
					says := fmt.Sprintf("limb at %g Mm, position angle %g, r %g, error %g", limb.HeightMm, pa, 1+off, sigma)
					p := atRadius(catalog.Prominence, limb, pa, 1+off, sigma)
					require.Emptyf(t, p.Reason, says)
					require.NotNilf(t, p.Edge, says)
					assert.Nilf(t, p.Disc, says)
					assert.InDeltaf(t, 0, (p.Edge.PA - deg(pa)).Wrap180().Degrees(), 1e-6, says)
					assert.InDeltaf(t, 0, p.Edge.HeightArcsec, 1.01e-6*1000, "%s: radii of 1 are no height", says)
					assert.InDeltaf(t, limb.HeightMm, p.Edge.HeightMm, 0.001, says)

					q := atRadius(catalog.Sunspot, limb, pa, 1+off, sigma)
					require.Emptyf(t, q.Reason, says)
					require.NotNilf(t, q.Polar, says)
					if limb == coords.Photosphere {
						require.NotNilf(t, q.Disc, "%s: the line of sight touches the photosphere", says)
						assert.Nilf(t, q.Edge, "%s: one place is enough", says)
						assert.InDeltaf(t, 0, q.Disc.Mu, 0.0015, says)
						assert.Falsef(t, math.IsNaN(q.Disc.Cov.LL+q.Disc.Cov.BB+q.Disc.Cov.BL), says)
						assert.InDeltaf(t, 0, p.Edge.Lat.Degrees()-q.Disc.B.Degrees(), 0.1, "%s: the limb's latitude there", says)
					} else {
						require.NotNilf(t, q.Edge, says)
					}
				}
			}
		}
	}
}

// Whatever radii are given, there is a position, and the two sides of the limb meet.
func TestEveryRadiusHasAPlace(t *testing.T) {
	for _, kind := range []catalog.Kind{catalog.Sunspot, catalog.Plage, catalog.Filament, catalog.Prominence, catalog.Other} {
		for _, limb := range []coords.Layer{coords.Photosphere, coords.Chromosphere} {
			for step := -4000; step <= 4000; step++ {
				r := 1 + float64(step)*1e-8*math.Pow(1.003, math.Abs(float64(step)))
				if r < 0 || r > 10 {
					continue
				}
				p := atRadius(kind, limb, 77.7, r, 0)
				require.Emptyf(t, p.Reason, "%s at r %.12g", kind, r)
				require.Truef(t, p.Disc != nil || p.Edge != nil || p.High != nil, "%s at r %.12g", kind, r)
			}
		}
	}
}

// A line that only touches the limb stands there, and so does one along it.
func TestLinesOnTheLimb(t *testing.T) {
	for name, points := range map[string][][2]float64{
		"along the limb":      {{88, 1}, {90, 1}, {92, 1}},
		"from within to it":   {{90, 0.97}, {90, 1}},
		"its feet on it":      {{88, 1}, {90, 1.04}, {92, 1}},
		"a hair within it":    {{88, 1 - 1e-7}, {92, 1 - 1e-7}},
		"once over and on it": {{88, 1}, {92, 1.03}},
	} {
		p := onPaper(catalog.Prominence, catalog.Line, points...)
		require.NotNil(t, p.Edge, name)
		assert.Nil(t, p.Disc, name)
	}
}

// 144 prominences "at the limb", every 2.5 degrees, as a list has them: each is kept
// with a position, and none is told to have none.
func TestAnImportOfProminencesAtTheLimbPlacesThemAll(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("kind,utc,pa_deg,r\n")
	for i := range 144 {
		fmt.Fprintf(&rows, "prominence,2026-03-14T09:%02d:00Z,%g,1\n", i%60, float64(i)*2.5)
	}
	k := keeper(t)
	done, err := k.ImportPositions(ctx, strings.NewReader(rows.String()), observe.ImportOptions{})
	require.NoError(t, err)
	assert.Equal(t, 144, done.Kept)
	assert.Empty(t, done.Unplaced)
	placed := 0
	require.NoError(t, k.Store.Read(ctx).EachEntry(store.Query{}, func(e catalog.Entry) error {
		if e.Position.Edge != nil {
			placed++
		}
		return nil
	}))
	assert.Equal(t, 144, placed)
}

// A mark on a picture whose disc was taken back comes with a record and has no position:
// it is counted and listed, by its id and the reason, in a dry run too.
func TestARecordWithMarksWithoutAPositionSaysSo(t *testing.T) {
	from := keeper(t)
	season(t, from, 200)
	r := whole(t, from)
	require.Len(t, r.Discs, 2)
	r.Discs = r.Discs[1:]
	pixels := 0
	for _, m := range r.Marks {
		if m.Frame == r.Frames[0].ID && m.Geometry.Form() == catalog.FormPixels {
			pixels++
		}
	}
	to := keeper(t)
	to.Force = true // the season's marks stand anywhere
	dry, err := to.ImportRecord(ctx, r, observe.MergeOptions{DryRun: true})
	require.NoError(t, err)
	done, err := to.ImportRecord(ctx, r, observe.MergeOptions{})
	require.NoError(t, err)
	require.Len(t, done.Unplaced, pixels)
	assert.Len(t, dry.Unplaced, pixels)
	for _, m := range done.Unplaced {
		p, err := to.Store.Read(ctx).Position(m.Mark)
		require.NoError(t, err)
		assert.Equal(t, p.Reason, m.Reason)
		assert.Contains(t, m.Reason, "no disc")
	}
	again, err := to.ImportRecord(ctx, whole(t, from), observe.MergeOptions{})
	require.NoError(t, err)
	assert.Empty(t, again.Unplaced, "the disc came after it")
}
