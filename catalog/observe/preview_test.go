package observe_test

import (
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/observe"
)

// discFile writes a picture of a plain disc, its upper half half as bright.
func discFile(t *testing.T, width, height int) string {
	t.Helper()
	m := image.NewGray16(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			if math.Hypot(float64(x-width/2), float64(y-height/2)) < float64(height)*0.4 {
				level := uint16(40000)
				if y < height/2 {
					level = 20000
				}
				m.SetGray16(x, y, color.Gray16{Y: level})
			}
		}
	}
	path := filepath.Join(t.TempDir(), "sun.png")
	file, err := os.Create(path)
	require.NoError(t, err)
	defer file.Close()
	require.NoError(t, png.Encode(file, m))
	return path
}

func TestAPreviewIsKeptBesideTheCatalogue(t *testing.T) {
	k := keeper(t)
	path := discFile(t, 2100, 1000)
	added, err := k.AddFrame(ctx, observe.NewFrame{Path: path, WithoutDisc: true, Taken: time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	first, err := k.Preview(added.Frame)
	require.NoError(t, err)
	assert.LessOrEqual(t, max(first.Width, first.Height), 800)
	scale := float64(first.Width) / float64(added.Frame.WidthPx)
	assert.InDelta(t, scale, float64(first.Height)/float64(added.Frame.HeightPx), 0.002, "the same scale both ways")
	at := func(x, y float64) float64 { return float64(first.At(int(x*scale), int(y*scale))) }
	assert.InDelta(t, 0.5, at(1050, 300)/at(1050, 700), 0.02, "levels keep their proportions")
	assert.Zero(t, at(100, 100))

	require.NoError(t, os.Remove(path))
	again, err := k.Preview(added.Frame)
	require.NoError(t, err, "the picture itself is not needed again")
	assert.Equal(t, first.Grey, again.Grey)

	// A copy that was damaged is made anew, if the picture is there.
	copies, err := filepath.Glob(k.Store.Path() + ".previews/*.png")
	require.NoError(t, err)
	require.Len(t, copies, 1)
	require.NoError(t, os.WriteFile(copies[0], []byte("no picture"), 0o644))
	_, err = k.Preview(added.Frame)
	assert.ErrorIs(t, err, os.ErrNotExist)
}
