package limb

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// TestPriorReachesTheLimbsThatArePossible: Johannesson & Zirin 1996: 4.3 to 4.4 Mm at
// the equator, just under 6 Mm at the poles, scatter 0.5 Mm.
func TestPriorReachesTheLimbsThatArePossible(t *testing.T) {
	holds := func(l coords.Layer, heightMm, sigmas float64) bool {
		return l.SigmaMm > 0 && heightMm >= l.HeightMm-sigmas*l.SigmaMm && heightMm <= l.HeightMm+sigmas*l.SigmaMm
	}
	double := Prior(0.5, 2, SurfaceExposure)
	assert.True(t, holds(double, 4.35, 1), "double stack: the equator's limb")
	assert.True(t, holds(double, 5.9, 2), "double stack: the poles' limb")
	assert.False(t, holds(double, 0, 2), "double stack: not the photosphere")
	single := Prior(0.7, 1, SurfaceExposure)
	assert.True(t, holds(single, 0, 1) && holds(single, 4.35, 1), "single stack, surface: either limb")
	assert.True(t, holds(Prior(0.7, 1, LimbExposure), 4.35, 1), "single stack, exposed for prominences")
	assert.True(t, holds(Prior(0, 0, UnknownExposure), 0, 1) && holds(Prior(0, 0, UnknownExposure), 4.35, 1), "nothing known: either limb")
	white := Prior(100, 0, SurfaceExposure)
	assert.True(t, holds(white, 0, 1), "white light: the photosphere")
	assert.False(t, holds(white, 4.35, 3), "white light: not the chromosphere")
}

// TestMeasuredLayer: on the sky's equator the Sun drifts 15" a second, so a drift
// of 10 px/s is a scale of 1.5"/px; a limb of 643.8 px is 965.7", 6.0" more than a
// semidiameter of 959.7", which is the 4.35 Mm that Johannesson & Zirin 1996 give for 6.0".
func TestMeasuredLayer(t *testing.T) {
	fit := Fit{Limb: coords.Limb{RadiusPx: 643.8, Cov: coords.LimbCovariance{RR: 0.01}}}
	face := coords.Face{Semidiameter: 959.7 * coords.Arcsecond, DistanceAU: 1}
	l, err := MeasuredLayer(fit, 10, 0.005, face, 0)
	require.NoError(t, err)
	assert.InDelta(t, 4.35, l.HeightMm, 0.02, "height, Mm (Johannesson & Zirin 1996: 6.0 arcsec)")
	// 0.05 % of the scale are 0.35 Mm, 0.1 px of the radius 0.11 Mm, the mean Sun 0.15 Mm.
	assert.InDelta(t, 0.40, l.SigmaMm, 0.02, "error, Mm")
	// At a declination of 60° the drift is half as fast for the same scale.
	same, err := MeasuredLayer(fit, 5, 0.0025, face, 60*coords.Degree)
	require.NoError(t, err)
	assert.InDelta(t, l.HeightMm, same.HeightMm, 1e-6)
	for _, bad := range []float64{0, -1} {
		_, err := MeasuredLayer(fit, bad, 0.1, face, 0)
		assert.Error(t, err)
		_, err = MeasuredLayer(fit, 10, bad, face, 0)
		assert.Error(t, err)
	}
	_, err = MeasuredLayer(Fit{}, 10, 0.1, face, 0)
	assert.Error(t, err)
	_, err = MeasuredLayer(fit, 10, 0.1, coords.Face{}, 0)
	assert.Error(t, err)
}
