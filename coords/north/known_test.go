package north_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/north"
	"limbwatch/testdata"
)

func deg(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

func apart(a, b coords.Angle) float64 { return (a - b).Wrap180().Degrees() }

func TestTypedNorthNeedsAnError(t *testing.T) {
	found, err := north.Typed(coords.North{Angle: deg(271), Sigma: deg(0.5), Mirrored: true})
	require.NoError(t, err)
	assert.InDelta(t, -89, found.Angle.Degrees(), 1e-9)
	assert.True(t, found.Mirrored)
	assert.Equal(t, north.MethodTyped, found.Method)
	for _, bad := range []coords.North{
		{Angle: deg(10)},
		{Angle: deg(10), Sigma: deg(-1)},
		{Angle: deg(10), Sigma: deg(91)},
		{Angle: coords.Angle(math.NaN()), Sigma: deg(1)},
		{Angle: coords.Angle(math.Inf(1)), Sigma: deg(1)},
		{Angle: deg(10), Sigma: coords.Angle(math.NaN())},
	} {
		_, err := north.Typed(bad)
		assert.Error(t, err, "%+v", bad)
	}
}

// A picture with solar north up: the pole stands at position angle P, so "up" has
// the position angle P whatever the parity.
func TestSolarNorthUp(t *testing.T) {
	for _, p := range []float64{26.27, -18, 0} {
		for _, mirrored := range []bool{false, true} {
			found, err := north.FromSolar(coords.North{Sigma: deg(0.1), Mirrored: mirrored}, deg(p))
			require.NoError(t, err)
			assert.InDelta(t, 0, apart(found.PositionAngle(0, -1), deg(p)), 1e-9)
			assert.Equal(t, mirrored, found.Mirrored)
		}
	}
	// Solar north to the left in a straight picture: the pole's own direction.
	found, err := north.FromSolar(coords.North{Angle: deg(90), Sigma: deg(0.1)}, deg(20))
	require.NoError(t, err)
	assert.InDelta(t, 70, found.Angle.Degrees(), 1e-9)
	assert.InDelta(t, 0, apart(found.PositionAngle(-1, 0), deg(20)), 1e-9)
	_, err = north.FromSolar(coords.North{}, deg(20))
	assert.Error(t, err)
	_, err = north.FromSolar(coords.North{Sigma: 1}, coords.Angle(math.NaN()))
	assert.Error(t, err)
}

func TestAsLastTimeIsLessCertain(t *testing.T) {
	last := coords.North{Angle: deg(33), Sigma: deg(0.3), Mirrored: true}
	found, err := north.AsLastTime(last, 3*24*time.Hour)
	require.NoError(t, err)
	assert.Equal(t, last.Angle, found.Angle)
	assert.True(t, found.Mirrored)
	assert.Contains(t, found.Why, "as last time, 3 days ago")
	_, err = north.AsLastTime(last, 366*24*time.Hour)
	assert.EqualError(t, err, "the last north of this set-up is 12 months old: nothing says that the camera still lies so")
	assert.InDelta(t, math.Hypot(0.3, 1.5), found.Sigma.Degrees(), 1e-9)
	again, err := north.AsLastTime(found.North, time.Hour)
	require.NoError(t, err)
	assert.Greater(t, again.Sigma, found.Sigma)
	_, err = north.AsLastTime(coords.North{Angle: deg(33)}, time.Hour)
	assert.Error(t, err, "one without an error stays without")
}

func TestFlippedTurnsByHalf(t *testing.T) {
	before := coords.North{Angle: deg(100), Sigma: deg(0.5), Mirrored: true}
	found, err := north.Flipped(before)
	require.NoError(t, err)
	assert.InDelta(t, -80, found.Angle.Degrees(), 1e-9)
	assert.True(t, found.Mirrored)
	// The same point of the sky lies on the other side of the centre.
	assert.InDelta(t, 0, apart(before.PositionAngle(3, 4), found.PositionAngle(-3, -4)), 1e-9)
	back, err := north.Flipped(found.North)
	require.NoError(t, err)
	assert.InDelta(t, 0, apart(back.Angle, before.Angle), 1e-9)
	assert.Greater(t, back.Sigma, before.Sigma)
}

// Astropy's values for forty instants and invented sites, north and south: the
// column solar_north_from_zenith_deg is how far the Sun's pole is turned from up,
// counter-clockwise, in an upright level camera.
func TestLevelCameraAgreesWithAstropy(t *testing.T) {
	worst, checked, southern := 0.0, 0, 0
	for _, row := range testdata.Table(t, "../../testdata/published/altaz.csv") {
		get := func(name string) float64 { return row.Number(t, name) }
		at, err := time.Parse(time.RFC3339, row["utc"])
		require.NoError(t, err)
		site := north.Site{Lat: deg(get("site_lat_deg")), LonEast: deg(get("site_lon_deg"))}
		level := north.Level{Sigma: deg(0.2)}
		found, err := north.FromLevel(at, 0, site, level)
		if get("alt_deg") < -0.6 {
			assert.Error(t, err, "the Sun has set")
			continue
		}
		require.NoError(t, err, row)
		checked++
		if site.Lat < 0 {
			southern++
		}
		p := ephemeris.At(at).P
		// UT1 − UTC moves the Sun by up to 0.9 s of hour angle, which near the
		// zenith turns q by more than elsewhere: the stated sigma covers it.
		allowed := 0.006 + 3*math.Sqrt(math.Pow(found.Sigma.Degrees(), 2)-0.04)
		off := apart(found.Angle+p, deg(get("solar_north_from_zenith_deg")))
		worst = max(worst, math.Abs(off))
		assert.LessOrEqual(t, math.Abs(off), allowed, "%v", row)

		// Mirrored, everything runs the other way round.
		level.Mirrored = true
		mirrored, err := north.FromLevel(at, 0, site, level)
		require.NoError(t, err)
		assert.InDelta(t, 0, apart(mirrored.Angle, -found.Angle), 1e-9)
		// A camera turned against the horizon takes the zenith with it.
		turned, err := north.FromLevel(at, 0, site, north.Level{Zenith: deg(25), Sigma: deg(0.2)})
		require.NoError(t, err)
		assert.InDelta(t, 25, apart(turned.Angle, found.Angle), 1e-9)
	}
	assert.Greater(t, checked, 20)
	assert.Greater(t, southern, 3)
	t.Logf("level camera: %d rows (%d southern), worst difference %.4f deg", checked, southern, worst)
}

// TRADE.md, 9.18 (a library's self-check): lat 40, lon −75, 2017-07-18 12 UT:
// solar north from the zenith −59.4; lat −40, 2017-02-18 13 UT: −110.8. That
// library counts clockwise (TRADE.md, 2.3), q − P; ours is P − q.
func TestLevelCameraOfTheTrade(t *testing.T) {
	for _, c := range []struct {
		at        time.Time
		lat, want float64
	}{
		{time.Date(2017, 7, 18, 12, 0, 0, 0, time.UTC), 40, -59.4},
		{time.Date(2017, 2, 18, 13, 0, 0, 0, time.UTC), -40, -110.8},
	} {
		found, err := north.FromLevel(c.at, 0, north.Site{Lat: deg(c.lat), LonEast: deg(-75)}, north.Level{Sigma: deg(0.5)})
		require.NoError(t, err)
		assert.InDelta(t, -c.want, apart(found.Angle+ephemeris.At(c.at).P, 0), 0.06)
	}
}

func TestLevelCameraKnowsWhatItDoesNotKnow(t *testing.T) {
	site := north.Site{Lat: deg(40), LonEast: deg(-75)}
	noon := time.Date(2017, 7, 18, 17, 6, 0, 0, time.UTC)
	exact, err := north.FromLevel(noon, 0, site, north.Level{Sigma: deg(0.2)})
	require.NoError(t, err)
	loose, err := north.FromLevel(noon, 5*time.Minute, site, north.Level{Sigma: deg(0.2)})
	require.NoError(t, err)
	// TRADE.md, 2.3: field rotation 15 deg/h · cos φ cos Az / cos alt; at the
	// meridian on latitude 40 with declination 21 that is 35 deg/h: 2.9° in 5 min.
	rate := 15 * math.Cos(40*math.Pi/180) / math.Cos((90-40+21)*math.Pi/180)
	assert.InDelta(t, rate*5/60, math.Sqrt(math.Pow(loose.Sigma.Degrees(), 2)-math.Pow(exact.Sigma.Degrees(), 2)), 0.1)

	_, err = north.FromLevel(noon.Add(12*time.Hour), 0, site, north.Level{Sigma: deg(0.2)})
	assert.ErrorContains(t, err, "below the horizon")
	// In the tropics at the Sun's own latitude it passes through the zenith.
	tropic := north.Site{Lat: deg(21.0), LonEast: deg(-75)}
	_, err = north.FromLevel(noon, time.Minute, tropic, north.Level{Sigma: deg(0.2)})
	assert.ErrorContains(t, err, "from the zenith")
	_, err = north.FromLevel(noon, 0, north.Site{Lat: deg(95)}, north.Level{Sigma: deg(0.2)})
	assert.ErrorContains(t, err, "latitude")
	_, err = north.FromLevel(noon, 0, site, north.Level{})
	assert.Error(t, err, "a tilt without an error")
}
