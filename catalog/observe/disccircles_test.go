package observe_test

import (
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/limb"
)

// haloed writes a picture of a disc of radius 150 px within light that is brighter than
// its limb, and ends at a stop of radius 170 px: nothing in it tells which is the Sun.
func haloed(t *testing.T, side int, seed uint64) string {
	t.Helper()
	r := rand.New(rand.NewPCG(3, seed))
	img := image.NewGray(image.Rect(0, 0, side, side))
	for y := range side {
		for x := range side {
			d := math.Hypot(float64(x)-200, float64(y)-190)
			within, open := max(0, min(1, 150-d+0.5)), max(0, min(1, 170-d+0.5))
			mu := math.Sqrt(max(0, 1-d*d/22500))
			img.SetGray(x, y, color.Gray{Y: uint8(12 + open*(within*(90+60*mu)+(1-within)*130) + r.NormFloat64())})
		}
	}
	path := filepath.Join(t.TempDir(), "sun.png")
	file, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, png.Encode(file, img))
	require.NoError(t, file.Close())
	return path
}

func circlesNear(all []limb.Rival, radiusPx float64) (number int) {
	for i, r := range all {
		if math.Abs(r.Limb.RadiusPx-radiusPx) < 2 {
			number = i + 1
		}
	}
	return number
}

// Which of two round edges is the Sun's is the observer's to say where the picture does
// not tell; a disc that was confirmed tells for the next picture of its kind.
func TestOneOfSeveralCirclesIsTakenAndTellsForTheNext(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	at := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	add := func(hours, side int) observe.AddedFrame {
		added, err := k.AddFrame(ctx, observe.NewFrame{Path: haloed(t, side, uint64(hours)), Taken: at.Add(time.Duration(hours) * time.Hour), SigmaS: 1})
		require.NoError(t, err)
		return added
	}
	first := add(0, 400)
	require.Nil(t, first.Disc)
	refused, ok := errors.AsType[*limb.RefusedError](first.DiscRefused)
	require.True(t, ok, "%v", first.DiscRefused)
	require.Len(t, refused.Rivals, 2)
	all, err := k.Circles(ctx, first.Frame.ID)
	require.NoError(t, err)
	sun := circlesNear(all, 150)
	require.NotZero(t, sun, "%v", first.DiscRefused)
	require.NotZero(t, circlesNear(all, 170), "%v", first.DiscRefused)

	_, err = k.TakeCircle(ctx, first.Frame.ID, 3, nil, store.Newest)
	_, ok = errors.AsType[*observe.NoCircleError](err)
	assert.True(t, ok, "%v", err)
	taken, err := k.TakeCircle(ctx, first.Frame.ID, sun, nil, store.Newest)
	require.NoError(t, err)
	assert.True(t, taken.Accepted)
	assert.InDelta(t, 150, taken.Limb.RadiusPx, 1)
	assert.Equal(t, catalog.DiscFitted, taken.Method)

	second := add(1, 400)
	require.NotNil(t, second.Disc, "the confirmed disc decides: %v", second.DiscRefused)
	assert.InDelta(t, 150, second.Disc.Limb.RadiusPx, 1)
	assert.InDelta(t, 200, second.Disc.Limb.Centre.X, 0.5)
	assert.False(t, second.Disc.Accepted, "found, not confirmed")

	other := add(2, 460)
	assert.Nil(t, other.Disc, "a picture of another size may have another scale")
}

// A disc that was only found is no evidence for the next one.
func TestAnUnconfirmedDiscTellsNothing(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	at := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	paintedFrame(t, k, at, middle) // radius 150 px
	added, err := k.AddFrame(ctx, observe.NewFrame{Path: haloed(t, 400, 1), Taken: at.Add(time.Hour), SigmaS: 1})
	require.NoError(t, err)
	assert.Nil(t, added.Disc)
}
