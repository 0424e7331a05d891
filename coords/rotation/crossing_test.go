package rotation

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// A worked example by another hand, with an ephemeris of its own and its edge
// taken 90° from the disc's centre: 2024 March 10, 12 UT, +35, W40, edge at
// CMD 84.90. It leaves on 13 March at 21:50 by the rigid law, on 14 March at
// 00:11 by d'Azambuja's, 02:33 by Newton & Nunn's, 02:48 by Howard's, and is back
// at the east edge on 28 March at 6 to 7 UT (by the rigid law).
func TestWhenAFilamentReachesTheEdge(t *testing.T) {
	seen := instant(t, "2024-03-10T12:00:00Z")
	face := ephemeris.At(seen)
	assert.InDelta(t, 32.20, face.L0.Degrees(), 0.05, "the example's L0 has the classical elements")
	place := coords.Heliographic{B: 35 * deg, L: (face.L0 + 40*deg).Wrap360()}
	for name, want := range map[string]string{
		"rigid":       "2024-03-13T21:50:00Z",
		"dazambuja":   "2024-03-14T00:11:00Z",
		"newton-nunn": "2024-03-14T02:33:00Z",
		"howard":      "2024-03-14T02:48:00Z",
	} {
		got := law(t, name).WhenCMD(place, seen, 84.90*deg)
		assert.WithinDuration(t, instant(t, want), got, 10*time.Minute, name)
	}
	// By then B0 has changed, and the edge with it: cos CMD = -tan B0 tan 35°.
	backB0 := ephemeris.At(instant(t, "2024-03-28T06:30:00Z")).B0
	backEdge := coords.Acos(-backB0.Tan() * (35 * deg).Tan())
	back := law(t, "rigid").WhenCMD(place, seen, 360*deg-backEdge)
	assert.WithinDuration(t, instant(t, "2024-03-28T06:30:00Z"), back, time.Hour)
}

// The edge is where the line of sight touches the sphere: 90° less the
// semidiameter from the disc's centre.
func TestEdgeCMDTouchesTheSphere(t *testing.T) {
	face := ephemeris.At(instant(t, "2024-03-10T12:00:00Z"))
	centre := coords.Heliographic{B: face.B0, L: face.L0}
	for _, lat := range []coords.Angle{-70, -35, 0, 20, 80} {
		cmd, ok := EdgeCMD(lat*deg, face)
		require.True(t, ok)
		edge := coords.Heliographic{B: lat * deg, L: face.L0 + cmd}
		assert.InDelta(t, 90-face.Semidiameter.Degrees(), centre.Distance(edge).Degrees(), 1e-9)
	}
	_, ok := EdgeCMD(-86*deg, face)
	assert.False(t, ok, "the south pole is in view in March")
	_, ok = EdgeCMD(86*deg, face)
	assert.False(t, ok, "the north pole is hidden in March")
}

func TestCrossing(t *testing.T) {
	l := law(t, "newton-nunn")
	seen := instant(t, "2012-08-10T00:00:00Z")
	place := coords.Heliographic{B: -14 * deg, L: 31 * deg}
	c := l.Crossing(place, seen, 0)
	// A monthly report for August 2012: region 11542 at S14/031 came round the
	// south-east edge on 6 August.
	assert.WithinDuration(t, instant(t, "2012-08-06T00:00:00Z"), c.East, 12*time.Hour)

	// At each instant the place, carried there, stands where it should.
	for name, at := range map[string]time.Time{"east": c.East, "meridian": c.Meridian, "west": c.West} {
		face := ephemeris.At(at)
		edge, ok := EdgeCMD(place.B, face)
		require.True(t, ok)
		want := map[string]coords.Angle{"east": -edge, "meridian": 0, "west": edge}[name]
		got := face.CMD(l.Carry(place, Days(seen, at)))
		assert.InDelta(t, want.Degrees(), got.Degrees(), 1e-4, name)
	}

	// The next crossing comes a synodic turn of that latitude later: 27.2 days for
	// Carrington's 14.1844, at 14° near that.
	next := l.Crossing(place, seen, 1)
	assert.InDelta(t, 27.2, Days(c.Meridian, next.Meridian), 0.3)
	assert.InDelta(t, 27.2, Days(c.East, next.East), 0.3)

	polar := l.Crossing(coords.Heliographic{B: 89 * deg, L: 0}, seen, 0)
	assert.True(t, polar.East.IsZero() && polar.West.IsZero())
	assert.False(t, polar.Meridian.IsZero())
}
