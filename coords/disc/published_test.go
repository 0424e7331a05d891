package disc_test

import (
	"math"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/testdata"
)

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

func deg(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

// apart is the difference of two longitudes or position angles, degrees.
func apart(got coords.Angle, wantDeg float64) float64 {
	return (got - deg(wantDeg)).Wrap180().Degrees()
}

// The table was computed by SunPy 4.1.2 and Astropy; its header has the closed
// form. With the row's own P, B0, L0 and semidiameter only rounding is left: the
// last printed digit of r/R alone is 6e-7 degrees at r/R 0.999.
func TestGeometryAgreesWithTable(t *testing.T) {
	rows := testdata.Table(t, filepath.Join("..", "..", "testdata", "published", "geometry.csv"))
	require.Len(t, rows, 300)
	const toleranceDeg = 1e-5
	worst := 0.0
	for i, row := range rows {
		get := func(name string) float64 { return number(t, row[name]) }
		view := disc.View{
			Limb:  coords.Limb{Centre: coords.Pixel{X: 1023.3, Y: 987.6}, RadiusPx: 911.7},
			North: coords.North{Angle: deg(33), Mirrored: i%2 == 0},
			Face: coords.Face{
				P: deg(get("P_deg")), B0: deg(get("B0_deg")), L0: deg(get("L0_deg")),
				Semidiameter: coords.Angle(get("semidiameter_arcsec")) * coords.Arcsecond,
			},
		}
		r, pa := get("r_over_R"), deg(get("pa_celestial_deg"))
		right, down := view.North.Direction(pa)
		pixel := view.Limb.At(r*right, r*down)
		for _, place := range []disc.Place{
			view.PlacePolar(pa, r, 0, disc.Height{}),
			view.Place(pixel, 0, disc.Height{}),
		} {
			require.Equal(t, disc.OnDisc, place.Where, "row %d", i+1)
			got := place.Photosphere
			for _, off := range []float64{
				got.B.Degrees() - get("lat_deg"),
				apart(got.CMD, get("lon_stonyhurst_deg")),
				apart(got.L, get("lon_carrington_deg")),
			} {
				worst = max(worst, math.Abs(off))
				assert.LessOrEqual(t, math.Abs(off), toleranceDeg, "row %d: off by %g deg", i+1, off)
			}
			assert.InDelta(t, get("mu"), got.Mu, 1e-6, "row %d: mu", i+1)
			if r > 0 {
				assert.InDelta(t, 0, apart(place.PositionAngle, get("pa_celestial_deg")), 1e-7, "row %d", i+1)
			}
		}
		place := coords.Heliographic{B: deg(get("lat_deg")), L: deg(get("lon_carrington_deg"))}
		back, visible := view.Project(place, 0)
		assert.True(t, visible, "row %d", i+1)
		assert.InDelta(t, 0, math.Hypot(back.X-pixel.X, back.Y-pixel.Y), 1e-4, "row %d: pixel", i+1)
		polar := view.ProjectPolar(place, 0)
		assert.InDelta(t, r, polar.R, 1e-7, "row %d: r", i+1)
		assert.InDelta(t, get("mu"), polar.Mu, 1e-6, "row %d: mu", i+1)
	}
	t.Logf("geometry.csv, 300 rows by pixel and by polar form: worst difference %.1e deg (allowed %.0e)", worst, toleranceDeg)
}
