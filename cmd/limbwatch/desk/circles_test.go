package desk

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// haloedPNG is a disc of radius 150 px within brighter light that ends at a stop of
// 170 px: nothing in it tells which of the two is the Sun.
func haloedPNG(t *testing.T) []byte {
	r := rand.New(rand.NewPCG(3, 14))
	grey := image.NewGray(image.Rect(0, 0, 400, 400))
	for i := range grey.Pix {
		d := math.Hypot(float64(i%400)-200, float64(i/400)-190)
		within, open := max(0, min(1, 150-d+0.5)), max(0, min(1, 170-d+0.5))
		grey.Pix[i] = uint8(12 + open*(within*(90+60*math.Sqrt(max(0, 1-d*d/22500)))+(1-within)*130) + r.NormFloat64())
	}
	var file bytes.Buffer
	require.NoError(t, png.Encode(&file, grey))
	return file.Bytes()
}

// Two round edges, of which either may be the Sun's, are shown, and one is taken.
func TestOneOfTwoCirclesIsTakenOnThePage(t *testing.T) {
	browserPath(t)
	b := newBench(t).enter()
	var got addedJSON
	require.Equal(t, http.StatusCreated, b.upload("2026-03-14T152310Z.png", haloedPNG(t), &got))
	require.Nil(t, got.Frame.Disc)
	require.NotNil(t, got.Frame.DiscRefusal)
	require.Len(t, got.Frame.DiscRefusal.Circles, 2)
	assert.InDelta(t, 150, got.Frame.DiscRefusal.Circles[0].R, 1, "px, the smaller one first")
	id := got.Frame.ID

	var why refusal
	require.Equal(t, http.StatusUnprocessableEntity, b.call("POST", hereof(b, id, "disc/find"), map[string]any{"revision": 0}, &why))
	assert.Len(t, why.Circles, 2)
	assert.Equal(t, http.StatusNotFound, b.call("POST", hereof(b, id, "disc/circle"), map[string]any{"revision": 0, "number": 3}, &why))

	tb := b.openTab(1280, 720, "frame="+id)
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	const circle = `[...document.querySelectorAll("button")].find((b) => b.textContent.includes("Circle %d"))`
	tb.wait(fmt.Sprintf(circle, 2))
	tb.shoot("circles-asked")
	eval[any](tb, fmt.Sprintf(circle, 1)+".click()")
	tb.wait("!(" + fmt.Sprintf(circle, 2) + ")")
	f, _ := b.frame(id)
	require.NotNil(t, f.Disc)
	assert.InDelta(t, 150, f.Disc.RadiusPx, 1)
	assert.True(t, f.Disc.Accepted)
}
