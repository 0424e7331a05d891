package coords_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
)

func at(b, l float64) coords.Heliographic { return coords.Heliographic{B: deg(b), L: deg(l)} }

func TestVectorOfPlaces(t *testing.T) {
	for _, c := range []struct {
		name string
		h    coords.Heliographic
		want [3]float64
	}{
		{"origin", at(0, 0), [3]float64{1, 0, 0}},
		{"a quarter turn west", at(0, 90), [3]float64{0, 1, 0}},
		{"north pole", at(90, 123), [3]float64{0, 0, 1}},
		{"south pole", at(-90, 0), [3]float64{0, 0, -1}},
		{"30 north on the far meridian", at(30, 180), [3]float64{-math.Sqrt(3) / 2, 0, 0.5}},
	} {
		for i, v := range c.h.Vector() {
			assert.InDelta(t, c.want[i], v, 1e-15, "%s: component %d", c.name, i)
		}
	}
	assert.Equal(t, coords.Heliographic{}, coords.HeliographicOf([3]float64{}), "the zero vector")
}

func TestVectorAndBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	for range 5000 {
		h := coords.Heliographic{B: coords.Asin(2*rng.Float64() - 1), L: deg(360 * rng.Float64())}
		v := h.Vector()
		assert.InDelta(t, 1, math.Hypot(math.Hypot(v[0], v[1]), v[2]), 1e-15)
		scale := math.Exp(4*rng.Float64() - 2)
		back := coords.HeliographicOf([3]float64{scale * v[0], scale * v[1], scale * v[2]})
		assert.InDelta(t, 0, float64(back.Distance(h)), 1e-14)
		assert.True(t, back.L >= 0 && back.L < 2*math.Pi)
	}
}

func TestDistance(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b coords.Heliographic
		want float64
	}{
		{"nothing", at(20, 300), at(20, 300), 0},
		{"along the equator across 0", at(0, 359), at(0, 1), 2},
		{"along a meridian", at(-10, 50), at(35, 50), 45},
		{"over the pole", at(80, 10), at(80, 190), 20},
		{"opposite", at(37, 10), at(-37, 190), 180},
		{"octant", at(0, 0), at(0, 90), 90},
		// Haversine by hand: cos d = sin²30 + cos²30 cos 60 = 0.625.
		{"along the parallel of 30", at(30, 0), at(30, 60), 51.3178125},
	} {
		assert.InDelta(t, c.want, c.a.Distance(c.b).Degrees(), 1e-6, c.name)
		assert.Equal(t, c.a.Distance(c.b), c.b.Distance(c.a), "%s: both ways", c.name)
	}
	// Exact where the cosine has no digits left.
	assert.InDelta(t, 1e-9, at(0, 0).Distance(coords.Heliographic{L: 1e-9}).Radians(), 1e-20)
	assert.InDelta(t, math.Pi-1e-9, at(0, 0).Distance(coords.Heliographic{L: math.Pi - 1e-9}).Radians(), 1e-15)
}

func TestCMDIsWestPositive(t *testing.T) {
	// TRADE.md, 9.12: L0 321.05, N08E14 has L 307; 268.16 and W40 have L 308.
	assert.InDelta(t, -14, coords.Face{L0: deg(321.05)}.CMD(at(8, 307)).Degrees(), 0.1)
	assert.InDelta(t, 40, coords.Face{L0: deg(268.16)}.CMD(at(8, 308)).Degrees(), 0.2)
	assert.InDelta(t, 20, coords.Face{L0: deg(350)}.CMD(at(0, 10)).Degrees(), 1e-9, "across 360")
	assert.InDelta(t, -20, coords.Face{L0: deg(10)}.CMD(at(0, 350)).Degrees(), 1e-9)
}

func TestCovariance(t *testing.T) {
	c := coords.Covariance{BB: 4, LL: 9, BL: -3}
	assert.InDelta(t, 2, c.SigmaB().Radians(), 1e-15)
	assert.InDelta(t, 3, c.SigmaL().Radians(), 1e-15)
	assert.InDelta(t, -0.5, c.Correlation(), 1e-15)
	assert.Zero(t, coords.Covariance{LL: 1}.Correlation(), "no error, no correlation")
	assert.InDelta(t, 1, coords.Covariance{BB: 1, LL: 1, BL: 1.0000001}.Correlation(), 0, "rounding")
	assert.Equal(t, coords.Covariance{BB: 5, LL: 11, BL: -2}, c.Plus(coords.Covariance{BB: 1, LL: 2, BL: 1}))
}
