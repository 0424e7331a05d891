package limb

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A dark band within the disc has two edges, of which the inner one falls outward as a
// limb does: neither is the limb (see choose), whatever else stands in the picture.
func TestSeamsOfADarkBandAreNotTheLimb(t *testing.T) {
	disc, dark, bright := circle{200, 250, 130}, circle{200, 250, 100}, circle{200, 250, 66}
	stray := circle{360, 40, 30}
	small := &plane{w: 400, h: 400, v: make([]float32, 400*400)}
	for i := range small.v {
		x, y := float64(i%small.w), float64(i/small.w)
		r := math.Hypot(x-disc.x, y-disc.y)
		switch {
		case r < bright.r, r >= dark.r && r < disc.r, math.Hypot(x-stray.x, y-stray.y) < stray.r:
			small.v[i] = 1
		case r < dark.r:
			small.v[i] = 0.6
		}
	}
	for _, with := range []struct {
		name string
		rest []candidate
	}{
		{"alone", nil},
		{"beside a bright spot in the sky", []candidate{{circle: stray, falling: true, evidence: 50}}},
	} {
		found := append([]candidate{
			{circle: disc, falling: true, evidence: 100},
			{circle: dark, evidence: 120},
			{circle: bright, falling: true, evidence: 50},
		}, with.rest...)
		limb, err := choose(small, found, 1)
		require.NoError(t, err, with.name)
		assert.Equal(t, disc, limb.circle, with.name)
	}
}
