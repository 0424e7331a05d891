package limb

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/paint"
)

// TestWhatStandsBeforeTheSunIsNoDisc: a dark body before a part of the Sun, as in an
// eclipse, and a grey cover drawn over the whole of it, larger than the disc. Their edges
// are perfect circles. A bitten disc may be found by the limb that is left.
func TestWhatStandsBeforeTheSunIsNoDisc(t *testing.T) {
	covers, bites, found := 0, 0, 0
	for seed := range uint64(12) {
		s, r := sceneFor(seed+1, 150)
		radius := s.Camera.Limb.RadiusPx
		s.Camera.Width, s.Camera.Height = int(2.9*radius), int(2.9*radius)
		s.Camera.Limb.Centre.X += 0.3 * radius
		s.Camera.Limb.Centre.Y += 0.3 * radius
		turn := turn(r)
		apart, size, level := radius*between(r, 0.6, 1.7), radius*between(r, 0.9, 1.05), between(r, 0, 400)
		if seed%2 == 0 {
			apart, size, level = radius*between(r, 0, 0.03), radius*between(r, 1.05, 1.15), between(r, 8000, 40000)
		}
		f, err := paint.Paint(s)
		require.NoError(t, err)
		sin, cos := turn.Sincos()
		x0, y0 := s.Camera.Limb.Centre.X+apart*cos, s.Camera.Limb.Centre.Y+apart*sin
		for i := range f.Grey {
			if math.Hypot(float64(i%f.Width)-x0, float64(i/f.Width)-y0) < size {
				f.Grey[i] = float32(level)
			}
		}
		fit, err := Find(pictureOf(t, f), Options{})
		if seed%2 == 0 {
			covers++
			assert.ErrorAs(t, err, new(*RefusedError), "seed %d: cover of %.0f px on a disc of %.0f px taken for the disc: %v", seed, size, radius, fit)
			continue
		}
		bites++
		if err == nil {
			found++
			off := math.Hypot(fit.Limb.Centre.X-s.Camera.Limb.Centre.X, fit.Limb.Centre.Y-s.Camera.Limb.Centre.Y)
			assert.Less(t, off, 0.01*radius, "seed %d: bite of %.0f px, %.0f px off the centre: %v", seed, size, apart, fit)
		}
	}
	t.Logf("%d covers refused; of %d bitten discs %d found, the others refused", covers, bites, found)
	assert.Positive(t, found, "bitten discs: one that refuses all is right too")
}
