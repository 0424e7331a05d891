package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/picture"
)

// darkened is a disc that darkens toward its limb and toward one side, with noise; the
// pixels that in names are multiplied by factor.
func darkened(t *testing.T, factor float64, in func(x, y float64) bool) (*picture.Picture, coords.Limb) {
	const size, radius, sky = 400, 180.0, 500.0
	limb := coords.Limb{Centre: coords.Pixel{X: 200, Y: 195}, RadiusPx: radius}
	rng := rand.New(rand.NewPCG(3, 14))
	grey := make([]float32, size*size)
	for i := range grey {
		x, y := float64(i%size), float64(i/size)
		level := 0.0
		if r := math.Hypot(limb.Unit(coords.Pixel{X: x, Y: y})); r < 1 {
			level = 40000 * (0.5 + 0.5*math.Sqrt(1-r*r)) * (1 + 0.0008*(x-200))
			if in(x, y) {
				level *= factor
			}
		}
		grey[i] = float32(level + sky + 200*rng.NormFloat64())
	}
	pic, err := picture.New(size, size, grey, picture.Depth{Bits: 16})
	require.NoError(t, err)
	return pic, limb
}

func TestContrastIsThatOfTheFeatureItself(t *testing.T) {
	const sky = 500
	spot := func(x, y float64) bool { return math.Hypot(x-290, y-240) < 6 }
	pic, limb := darkened(t, 0.7, spot)
	c, err := OfContrast(pic, limb, catalog.Point, []coords.Pixel{{X: 290, Y: 240}}, 5, sky)
	require.NoError(t, err)
	assert.InDelta(t, -0.30, c.Value, 0.01, "30 % darker, through limb darkening and gradient")
	assert.Less(t, math.Abs(c.Value+0.30), 4*c.Sigma)
	assert.Less(t, c.Sigma, 0.02)

	band := func(x, y float64) bool {
		return math.Abs(y-150-0.3*(x-150)) < 4*math.Hypot(1, 0.3) && x > 120 && x < 260
	}
	pic, limb = darkened(t, 0.85, band)
	c, err = OfContrast(pic, limb, catalog.Line, []coords.Pixel{{X: 130, Y: 144}, {X: 250, Y: 180}}, 2.5, sky)
	require.NoError(t, err)
	assert.InDelta(t, -0.15, c.Value, 0.01)

	patch := func(x, y float64) bool { return x > 150 && x < 190 && y > 220 && y < 250 }
	pic, limb = darkened(t, 1.25, patch)
	outline := []coords.Pixel{{X: 151, Y: 221}, {X: 189, Y: 221}, {X: 189, Y: 249}, {X: 151, Y: 249}}
	c, err = OfContrast(pic, limb, catalog.Outline, outline, 0, sky)
	require.NoError(t, err)
	assert.InDelta(t, 0.25, c.Value, 0.01)
	assert.InDelta(t, 39*29, c.Inside, 40)
}

func TestNothingThereHasNoContrast(t *testing.T) {
	pic, limb := darkened(t, 1, func(float64, float64) bool { return false })
	within := 0
	for i := range 40 {
		p := coords.Pixel{X: 110 + float64(i%8)*25, Y: 120 + float64(i/8)*35}
		c, err := OfContrast(pic, limb, catalog.Point, []coords.Pixel{p}, 4, 500)
		require.NoError(t, err)
		if math.Abs(c.Value) < 2*c.Sigma {
			within++
		}
	}
	assert.Greater(t, within, 36, "of 40")
}

func TestContrastRefuses(t *testing.T) {
	pic, limb := darkened(t, 1, func(float64, float64) bool { return false })
	_, err := OfContrast(pic, limb, catalog.Point, []coords.Pixel{{X: 379, Y: 195}}, 4, 0)
	assert.ErrorContains(t, err, "beyond 0.98")
	_, err = OfContrast(pic, limb, catalog.Point, nil, 4, 0)
	assert.ErrorContains(t, err, "of 0 points")
	_, err = OfContrast(pic, limb, catalog.Line, []coords.Pixel{{X: 200, Y: 200}, {X: 210, Y: 200}}, 0, 0)
	assert.ErrorContains(t, err, "half width of 0 px")
	_, err = OfContrast(pic, limb, catalog.Point, []coords.Pixel{{X: 200, Y: 200}}, 4, 60000)
	assert.ErrorContains(t, err, "no brighter than the sky")
	full := *pic
	full.SaturationLevel = 30000
	_, err = OfContrast(&full, limb, catalog.Point, []coords.Pixel{{X: 200, Y: 200}}, 4, 0)
	assert.ErrorContains(t, err, "saturated")
}
