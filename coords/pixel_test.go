package coords_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
)

// The conventions of the package, one by one: north up and east left in a straight
// picture (TRADE.md, 1.4), 0 up and 90 left for directions, position angles from
// celestial north through east.
func TestPositionAnglesInAPicture(t *testing.T) {
	for _, c := range []struct {
		name                  string
		north                 coords.North
		up, left, down, right float64
	}{
		{name: "north up", north: coords.North{}, up: 0, left: 90, down: 180, right: 270},
		{name: "north up, mirrored", north: coords.North{Mirrored: true}, up: 0, left: 270, down: 180, right: 90},
		{name: "north left", north: coords.North{Angle: deg(90)}, up: 270, left: 0, down: 90, right: 180},
		{name: "north left, mirrored", north: coords.North{Angle: deg(90), Mirrored: true}, up: 90, left: 0, down: 270, right: 180},
		{name: "upside down", north: coords.North{Angle: deg(180)}, up: 180, left: 270, down: 0, right: 90},
		{name: "by 30°", north: coords.North{Angle: deg(30)}, up: 330, left: 60, down: 150, right: 240},
		{name: "by 30°, mirrored", north: coords.North{Angle: deg(30), Mirrored: true}, up: 30, left: 300, down: 210, right: 120},
	} {
		for _, d := range []struct {
			name              string
			right, down, want float64
		}{{"up", 0, -1, c.up}, {"left", -1, 0, c.left}, {"down", 0, 1, c.down}, {"right", 1, 0, c.right}} {
			got := c.north.PositionAngle(3*d.right, 3*d.down)
			assert.InDelta(t, 0, (got - deg(d.want)).Wrap180().Degrees(), 1e-9, "%s, %s", c.name, d.name)
			right, down := c.north.Direction(deg(d.want))
			assert.InDelta(t, d.right, right, 1e-12, "%s, %s", c.name, d.name)
			assert.InDelta(t, d.down, down, 1e-12, "%s, %s", c.name, d.name)
		}
	}
	assert.Zero(t, coords.North{Angle: deg(30)}.PositionAngle(0, 0))
}

func TestDirectionIsTheInverseOfPositionAngle(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for range 5000 {
		n := coords.North{Angle: deg(720*rng.Float64() - 360), Mirrored: rng.IntN(2) == 0}
		right, down := rng.NormFloat64(), rng.NormFloat64()
		pa := n.PositionAngle(right, down)
		assert.True(t, pa >= 0 && pa < 2*math.Pi)
		r, d := n.Direction(pa)
		length := math.Hypot(right, down)
		assert.InDelta(t, right, r*length, 1e-12)
		assert.InDelta(t, down, d*length, 1e-12)
	}
}

// A mirror is undone by a mirror: flipping the picture left to right turns the
// angle of north round and changes the parity, and no position angle.
func TestMirroringThePictureChangesNoPositionAngle(t *testing.T) {
	n := coords.North{Angle: deg(37)}
	flipped := coords.North{Angle: deg(-37), Mirrored: true}
	for d := 0.0; d < 360; d += 11 {
		sin, cos := deg(d).Sincos()
		assert.InDelta(t, 0, (n.PositionAngle(sin, cos) - flipped.PositionAngle(-sin, cos)).Wrap180().Degrees(), 1e-9)
	}
}

func TestLimbOfACircle(t *testing.T) {
	l := coords.Limb{Centre: coords.Pixel{X: 100, Y: 50}, RadiusPx: 40}
	u, v := l.Unit(coords.Pixel{X: 140, Y: 50})
	assert.Equal(t, [2]float64{1, 0}, [2]float64{u, v})
	u, v = l.Unit(coords.Pixel{X: 100, Y: 30})
	assert.Equal(t, [2]float64{0, -0.5}, [2]float64{u, v})
	assert.Equal(t, coords.Pixel{X: 60, Y: 50}, l.At(-1, 0))
}

// An ellipse with its short axis up: its top lies nearer, its side does not.
func TestLimbOfAnEllipse(t *testing.T) {
	l := coords.Limb{Centre: coords.Pixel{X: 0, Y: 0}, RadiusPx: 100, Flattening: 0.1}
	for _, c := range []struct {
		name string
		axis coords.Angle
		p    coords.Pixel
	}{
		{"top of a short axis that is up", 0, coords.Pixel{Y: -90}},
		{"side of it", 0, coords.Pixel{X: 100}},
		{"left end of a short axis that is left", deg(90), coords.Pixel{X: -90}},
		{"top of it", deg(90), coords.Pixel{Y: -100}},
		{"short axis up and left", deg(45), coords.Pixel{X: -90 * math.Sqrt2 / 2, Y: -90 * math.Sqrt2 / 2}},
		{"long axis of it", deg(45), coords.Pixel{X: 100 * math.Sqrt2 / 2, Y: -100 * math.Sqrt2 / 2}},
	} {
		l.ShortAxis = c.axis
		assert.InDelta(t, 1, math.Hypot(l.Unit(c.p)), 1e-12, c.name)
	}
}

func TestLimbThereAndBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for range 5000 {
		l := coords.Limb{
			Centre: coords.Pixel{X: 1000 * rng.NormFloat64(), Y: 1000 * rng.NormFloat64()}, RadiusPx: 10 + 2000*rng.Float64(),
			Flattening: 0.3 * rng.Float64(), ShortAxis: deg(360 * rng.Float64()),
		}
		p := coords.Pixel{X: 3000 * rng.NormFloat64(), Y: 3000 * rng.NormFloat64()}
		back := l.At(l.Unit(p))
		assert.InDelta(t, p.X, back.X, 1e-8)
		assert.InDelta(t, p.Y, back.Y, 1e-8)
		turned := l
		turned.ShortAxis += deg(180)
		u1, v1 := l.Unit(p)
		u2, v2 := turned.Unit(p)
		assert.InDelta(t, 0, math.Hypot(u1-u2, v1-v2), 1e-9, "an axis has two ends")
	}
}

func TestLimbCovariance(t *testing.T) {
	c := coords.LimbCovariance{XX: 4, YY: 1, RR: 9}
	assert.InDelta(t, 2, c.SigmaCentrePx(), 1e-12)
	assert.InDelta(t, 3, c.SigmaRadiusPx(), 1e-12)
	// Turned by 45° the same ellipse of errors has equal variances and a
	// covariance of half their difference; its worse axis is as bad.
	c = coords.LimbCovariance{XX: 2.5, YY: 2.5, XY: 1.5}
	assert.InDelta(t, 2, c.SigmaCentrePx(), 1e-12)
	assert.Zero(t, coords.LimbCovariance{}.SigmaCentrePx())
}

// Johannesson & Zirin 1996 as quoted in TRADE.md, 3.7: r/R 1.0063 at the equator.
func TestChromosphereInRadii(t *testing.T) {
	assert.InDelta(t, 1.0063, 1+coords.Chromosphere.HeightMm/coords.SolarRadiusMm, 1e-4)
	assert.Zero(t, coords.Photosphere.HeightMm)
}
