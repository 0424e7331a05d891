package disc_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/rotation"
)

func face(p, b0, l0, semidiameterArcsec float64) coords.Face {
	return coords.Face{P: deg(p), B0: deg(b0), L0: deg(l0), Semidiameter: coords.Angle(semidiameterArcsec) * coords.Arcsecond}
}

// TRADE.md, 9.15: 2015-03-26 23:13 UT, B0 −6.81, L0 12.73: the longitude of the
// east limb at latitudes 13, 23 and 34, by acos(−tan B0 tan B): of a Sun
// infinitely far away, which is what a tiny semidiameter gives.
func TestLimbLongitudesOfTheTrade(t *testing.T) {
	far := face(0, -6.81, 12.73, 1e-3)
	near := face(0, -6.81, 12.73, 961.5)
	for _, c := range []struct{ lat, wantL float64 }{{13, 284.3}, {23, 285.6}, {34, 287.4}} {
		cmd, crosses := rotation.EdgeCMD(deg(c.lat), far)
		assert.True(t, crosses)
		assert.InDelta(t, 0, apart(far.L0-cmd, c.wantL), 0.051, "latitude %v: printed to 0.1", c.lat)
		closer, _ := rotation.EdgeCMD(deg(c.lat), near)
		// TRADE.md, 1.4: from Earth the limb is 0.267 short of 90, measured square
		// to the limb; along a parallel it is more.
		assert.InDelta(t, 0.267/math.Sqrt(math.Pow(deg(c.lat).Cos(), 2)-math.Pow(deg(-6.81).Sin(), 2)),
			(cmd - closer).Degrees(), 0.003, "latitude %v", c.lat)
	}
	// 9.21: 2024-03-10, B0 −7.23, +35: limb CMD 84.90.
	cmd, _ := rotation.EdgeCMD(deg(35), face(0, -7.23, 32.2, 1e-3))
	assert.InDelta(t, 84.90, cmd.Degrees(), 0.006)
}

func TestLimbOfPolarParallels(t *testing.T) {
	f := face(0, 7, 0, 960)
	// Between 83° and 83.27° the finite distance hides what an infinite one shows.
	for lat, want := range map[float64]bool{84: false, -84: false, 83.1: true, 83.3: false, -82.9: false} {
		_, crosses := rotation.EdgeCMD(deg(lat), f)
		assert.Equal(t, want, crosses, "latitude %v", lat)
	}
}

// behind is the central meridian distance of what stands an angle behind the west
// limb: there the Sun is that much smaller.
func behind(f coords.Face, lat, angle coords.Angle) coords.Angle {
	f.Semidiameter -= angle
	cmd, _ := rotation.EdgeCMD(lat, f)
	return cmd
}

func TestTheEdgeIsWhereMuIsZero(t *testing.T) {
	v := disc.View{Face: face(-20, -5, 300, 950)}
	for lat := -80.0; lat <= 80; lat += 10 {
		cmd, crosses := rotation.EdgeCMD(deg(lat), v.Face)
		assert.True(t, crosses)
		for _, side := range []coords.Angle{cmd, -cmd} {
			h := coords.Heliographic{B: deg(lat), L: (v.Face.L0 + side).Wrap360()}
			polar := v.ProjectPolar(h, 0)
			assert.InDelta(t, 0, polar.Mu, 1e-9)
			assert.InDelta(t, 1, polar.R, 1e-9)
			back := v.AtLimb(polar.PositionAngle)
			assert.InDelta(t, 0, back.Distance(h).Degrees(), 1e-6)
			// A degree behind the limb it is a degree behind.
			if side > 0 {
				foot := v.Foot(coords.Heliographic{B: deg(lat), L: (v.Face.L0 + behind(v.Face, deg(lat), deg(1))).Wrap360()}, 0)
				assert.InDelta(t, 1, foot.Behind.Degrees(), 1e-9)
			}
		}
	}
}

// TRADE.md, 5.2: how far beyond the photospheric and the H-alpha limb a cloud of
// a height may stand.
func TestReachOfHeights(t *testing.T) {
	for _, c := range []struct{ height, photospheric, chromospheric, digits float64 }{
		{10, 9.66, 7.26, 0.006}, {15, 11.8, 9.93, 0.06}, {20, 13.58, 12.0, 0.051}, {26, 15.43, 14.07, 0.006},
		{30, 16.5, 15.28, 0.06}, {40, 19.0, 17.9, 0.06}, {50, 21.1, 20.15, 0.06}, {75, 25.5, 24.7, 0.06}, {100, 29.0, 28.4, 0.06},
	} {
		assert.InDelta(t, c.photospheric, disc.Reach(c.height, coords.Photosphere).Degrees(), c.digits, "%v Mm", c.height)
		assert.InDelta(t, c.chromospheric, disc.Reach(c.height, coords.Chromosphere).Degrees(), c.digits, "%v Mm", c.height)
	}
	assert.Zero(t, disc.Reach(3, coords.Chromosphere))
	// 10 Mm above the H-alpha limb: 9.63.
	assert.InDelta(t, 9.63, disc.Reach(14.35, coords.Chromosphere).Degrees(), 0.006)
}

// The same condition by the whole projection: a cloud shows just to its reach.
func TestReachAgreesWithVisibility(t *testing.T) {
	v := disc.View{Face: face(10, 4, 100, 950), Layer: coords.Chromosphere}
	reach := disc.Reach(30, v.Layer)
	// The chromospheric limb stands at 90° − asin(s/D).
	dip := coords.Asin(v.Face.Semidiameter.Sin()*(1+4.35/coords.SolarRadiusMm)) - v.Face.Semidiameter
	for lat := -60.0; lat <= 60; lat += 20 {
		for _, c := range []struct {
			more    float64
			visible bool
		}{{-0.01, true}, {0.01, false}} {
			cmd := behind(v.Face, deg(lat), reach-dip+deg(c.more))
			polar := v.ProjectPolar(coords.Heliographic{B: deg(lat), L: v.Face.L0 + cmd}, 30)
			assert.Equal(t, c.visible, polar.Visible, "lat %v %+v", lat, c.more)
		}
	}
}

// TRADE.md, 3.4: 30 Mm seen with the foot 5 deg behind is 32.8, 10 deg 41.2;
// 50 Mm at 15 deg 76.3. And 5.2: a foot 10/15/20 deg behind needs at least
// 10.7 / 24.5 / 44.6 Mm.
func TestHeightOfAFootBehindTheLimb(t *testing.T) {
	v := disc.View{Face: face(0, 3, 10, 960)}
	for _, c := range []struct{ seen, behind, want float64 }{
		{30, 5, 32.8}, {30, 10, 41.2}, {50, 15, 76.3}, {0, 10, 10.7}, {0, 15, 24.5}, {0, 20, 44.6},
	} {
		foot := v.Foot(coords.Heliographic{B: deg(12), L: v.Face.L0 + behind(v.Face, deg(12), deg(c.behind))}, c.want)
		assert.InDelta(t, c.behind, foot.Behind.Degrees(), 1e-9)
		assert.InDelta(t, c.seen, foot.SeenMm, 0.15, "%v Mm, %v° behind", c.want, c.behind)
	}
}

// TRADE.md, 5.5 item 4: a cloud whose foot at +40 is 5/10/15 deg behind the limb
// reads 40.1/40.4/41.0 with B0 = 0, 40.7/41.6/42.8 with B0 = +7, 39.5/39.2/39.1
// with B0 = −7; a foot on the equator with B0 = 7 reads 0.6/1.2/1.9. The height
// does not matter. Printed to 0.1, for an infinite distance.
func TestFootBehindTheLimbReadsAnotherLatitude(t *testing.T) {
	for _, c := range []struct {
		lat, b0 float64
		want    [3]float64
	}{
		{40, 0, [3]float64{40.1, 40.4, 41.0}},
		{40, 7, [3]float64{40.7, 41.6, 42.8}},
		{40, -7, [3]float64{39.5, 39.2, 39.1}},
		{0, 7, [3]float64{0.6, 1.2, 1.9}},
	} {
		v := disc.View{Face: face(0, c.b0, 0, 1)}
		for i, behind := range []float64{5, 10, 15} {
			cmd, _ := rotation.EdgeCMD(deg(c.lat), v.Face)
			cmd += deg(behind) // along the parallel
			for _, side := range []coords.Angle{cmd, -cmd} {
				foot := v.Foot(coords.Heliographic{B: deg(c.lat), L: side.Wrap360()}, 80)
				assert.InDelta(t, c.want[i], foot.Read.B.Degrees(), 0.06, "foot at %v, %v behind, B0 %v", c.lat, behind, c.b0)
			}
		}
	}
}
