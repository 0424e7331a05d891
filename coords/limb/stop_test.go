package limb

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/paint"
)

// TestDiscCutByAStopIsRefused: the round field stop of an eyepiece or of a small filter
// at the end of the tube hides one side of the Sun, and its own edge looks like a limb.
func TestDiscCutByAStopIsRefused(t *testing.T) {
	for seed := range uint64(12) {
		s, r := sceneFor(seed+1, 400)
		frame := paintedBehindAStop(t, s, between(r, 0.85, 1.1), between(r, 0.25, 0.4), between(r, 0, 2*math.Pi), between(r, 0.5, 3))
		f, err := Find(pictureOf(t, frame), Options{})
		require.ErrorAs(t, err, new(*RefusedError), "seed %d: the limb is %v, found %v", seed+1, frame.Truth.Limb, f)
	}
}

// TestAStopBeyondTheDiscHidesNothing: the same, when all of the Sun shows within it.
func TestAStopBeyondTheDiscHidesNothing(t *testing.T) {
	for seed := range uint64(6) {
		s, r := sceneFor(seed+1, 400)
		frame := paintedBehindAStop(t, s, between(r, 1.25, 1.4), between(r, 0, 0.15), between(r, 0, 2*math.Pi), between(r, 0.5, 3))
		f, err := Find(pictureOf(t, frame), Options{})
		require.NoError(t, err, "seed %d", seed+1)
		assert.InDelta(t, frame.Truth.Limb.RadiusPx, f.Limb.RadiusPx, 1, "seed %d: radius, px", seed+1)
	}
}

// paintedBehindAStop paints a scene seen through a round opening, its radius and the
// distance of its centre in radii of the Sun, its edge so soft.
func paintedBehindAStop(t *testing.T, s paint.Scene, radii, apart, direction, softPx float64) *paint.Frame {
	frame, err := paint.Paint(s)
	require.NoError(t, err)
	l := s.Camera.Limb
	sin, cos := math.Sincos(direction)
	x0, y0 := l.Centre.X+apart*l.RadiusPx*cos, l.Centre.Y+apart*l.RadiusPx*sin
	for i := range frame.Grey {
		beyond := math.Hypot(float64(i%frame.Width)-x0, float64(i/frame.Width)-y0) - radii*l.RadiusPx
		frame.Grey[i] *= float32(1 / (1 + math.Exp(beyond/softPx)))
	}
	return frame
}
