package observe_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// 500 mm and 3.45 µm promise 206265″ × 0.00345 / 500 = 1.42″ a pixel, and a Sun of
// 965″ a radius of 678 px.
func TestADiscOfAnotherSizeIsTold(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	morning := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	first := paintedFrame(t, k, morning, middle)
	require.Len(t, first.Warnings, 1)
	assert.Contains(t, first.Warnings[0], "78 % smaller than focal length and pixel of the set-up promise")

	// A disc that was only found does not speak against what the set-up promises: it may
	// be a stop, and so may the next.
	doubted := paintedFrame(t, k, morning.Add(30*time.Minute), coords.Pixel{X: 205, Y: 205})
	require.Len(t, doubted.Warnings, 1)
	assert.Contains(t, doubted.Warnings[0], "the set-up promise")
	_, err := k.AcceptDisc(ctx, first.Frame.ID, store.Newest)
	require.NoError(t, err)
	second := paintedFrame(t, k, morning.Add(time.Hour), coords.Pixel{X: 195, Y: 195})
	assert.Empty(t, second.Warnings, "a confirmed disc of the set-up is of this size")

	larger := coords.Limb{Centre: middle, RadiusPx: 200, Cov: coords.LimbCovariance{XX: 0.01, YY: 0.01, RR: 0.01}}
	for _, known := range []catalog.FrameID{first.Frame.ID, second.Frame.ID} {
		_, err := k.SetCircle(ctx, known, larger, nil, store.Newest)
		require.NoError(t, err)
	}
	third := paintedFrame(t, k, morning.Add(2*time.Hour), coords.Pixel{X: 205, Y: 195})
	require.Len(t, third.Warnings, 1)
	assert.Contains(t, third.Warnings[0], "25 % smaller than that of F")
	assert.Contains(t, third.Warnings[0], "which you confirmed")
}
