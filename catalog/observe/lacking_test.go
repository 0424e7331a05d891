package observe_test

import (
	"cmp"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
)

// An error that nobody gave is not taken for one of zero.
func TestAnErrorThatNobodyGaveIsNone(t *testing.T) {
	frame := catalog.Bearings{Frame: catalog.Frame{ID: 1, Taken: time.Date(2026, 3, 1, 9, 16, 29, 0, time.UTC)}}
	polar := func(r float64, sigmaR float64, sigmaPA coords.Angle) catalog.Position {
		return observe.Derive(frame, []catalog.Mark{{ID: 1, Kind: catalog.Sunspot, Geometry: catalog.Geometry{Shape: catalog.Point,
			Polar: []catalog.PolarPoint{{PA: 74 * coords.Degree, R: r}}, SigmaR: sigmaR, SigmaPA: sigmaPA}}})[0]
	}
	// East of the middle r moves the longitude, and the position angle the latitude.
	p := polar(0.9, 0, 0.2*coords.Degree)
	assert.Positive(t, p.Disc.Cov.BB)
	assert.Zero(t, p.Disc.Cov.LL, "an angle says nothing of the longitude")
	assert.Equal(t, "the error of r", p.Lacks)
	assert.InDelta(t, 0.013, p.LeastLon.Degrees(), 0.001)
	p = polar(0.9, 0.003, 0)
	assert.Zero(t, p.Disc.Cov.BB)
	assert.Positive(t, p.Disc.Cov.LL)
	assert.Equal(t, "the error of the position angle", p.Lacks)
	p = polar(0.9, 0, 0)
	assert.Equal(t, coords.Covariance{}, p.Disc.Cov)
	assert.Equal(t, "the error of r and the error of the position angle", p.Lacks)
	p = polar(0.9, 0.003, 0.2*coords.Degree)
	assert.Empty(t, p.Lacks, "half a minute of time moves the longitude by less than all this")
	assert.Positive(t, p.Disc.Cov.LL)

	// A place that was typed with its error keeps it though its time has none; one that is
	// so sure that half a minute matters does not.
	cmd := func(sigma coords.Angle) catalog.Position {
		return observe.Derive(frame, []catalog.Mark{{ID: 1, Kind: catalog.Sunspot, Geometry: catalog.Geometry{Shape: catalog.Point,
			Places: []catalog.PlacePoint{{B: 10 * coords.Degree, Lon: 20 * coords.Degree, ByCMD: true}}, SigmaPlace: sigma}}})[0]
	}
	assert.Empty(t, cmd(0.1*coords.Degree).Lacks)
	assert.Equal(t, "the error of the time", cmd(0.002*coords.Degree).Lacks)
	assert.Equal(t, "the error of the place", cmd(0).Lacks)
}

// Whatever lacks an error: none is made smaller by giving more, none is left that what was
// not given would move, and what is known in full is not touched.
func TestErrorsThatLackNothingStay(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	kinds := []catalog.Kind{catalog.Sunspot, catalog.Plage, catalog.Filament, catalog.Prominence, catalog.Other}
	maybe := func(v float64) float64 {
		if r.IntN(2) == 0 {
			return 0
		}
		return v * (0.1 + r.Float64())
	}
	lacked := 0
	for range 4000 {
		b := catalog.Bearings{Frame: catalog.Frame{ID: 1, Taken: time.Date(1990+r.IntN(40), 1, 1+r.IntN(365), 12, 0, 0, 0, time.UTC), SigmaS: maybe(60)}}
		m := catalog.Mark{ID: 1, Kind: kinds[r.IntN(len(kinds))], Geometry: catalog.Geometry{Shape: catalog.Point,
			Polar:  []catalog.PolarPoint{{PA: coords.Angle(360*r.Float64()) * coords.Degree, R: 1.1 * r.Float64()}},
			SigmaR: maybe(0.01), SigmaPA: coords.Angle(maybe(1)) * coords.Degree}}
		p := observe.Derive(b, []catalog.Mark{m})[0]
		full := b.Frame.SigmaS > 0 && m.Geometry.SigmaR > 0 && m.Geometry.SigmaPA > 0
		if full {
			require.Empty(t, p.Lacks)
		}
		if p.Lacks == "" {
			require.Zero(t, p.LeastLat)
			require.Zero(t, p.LeastLon)
			continue
		}
		lacked++
		g := &m.Geometry
		g.SigmaR, g.SigmaPA, b.Frame.SigmaS = cmp.Or(g.SigmaR, 0.005), cmp.Or(g.SigmaPA, 0.5*coords.Degree), cmp.Or(b.Frame.SigmaS, 30)
		q := observe.Derive(b, []catalog.Mark{m})[0]
		if p.Disc != nil && q.Disc != nil {
			require.Empty(t, q.Lacks)
			for _, c := range []struct{ known, least, full coords.Angle }{
				{p.Disc.Cov.SigmaB(), p.LeastLat, q.Disc.Cov.SigmaB()}, {p.Disc.Cov.SigmaL(), p.LeastLon, q.Disc.Cov.SigmaL()}} {
				require.LessOrEqual(t, c.least, c.full*1.000001, "a lower bound")
				if c.known > 0 { // what was not given moves it by nothing noticeable
					require.LessOrEqual(t, float64(c.full), 1.101*float64(c.known))
				}
			}
		}
	}
	assert.Greater(t, lacked, 1000)
}
