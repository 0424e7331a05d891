package desk

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/picture"
)

// The gallery's memory is bounded, and what was looked at last stays.
func TestTheGalleryIsBoundedInBytes(t *testing.T) {
	const side = 100
	one := expose(blank(t, side)).bytes()
	assert.Equal(t, int64(6*side*side), one, "4 bytes of grey and 2 of level a pixel")
	g := newGallery(3 * one)
	opened := map[string]int{}
	look := func(key string, side int) {
		t.Helper()
		_, err := g.picture(context.Background(), key, func() (*picture.Picture, error) {
			opened[key]++
			return blank(t, side), nil
		})
		require.NoError(t, err)
	}
	for _, key := range []string{"a", "b", "c", "a", "d", "e"} {
		look(key, side)
	}
	look("a", side)
	look("d", side)
	assert.Equal(t, 1, opened["a"], "looked at between, it stays")
	look("b", side)
	assert.Equal(t, 2, opened["b"], "looked at longest ago, it went")
	for i := range 100 {
		look(fmt.Sprint("large ", i), 3*side)
		held := int64(0)
		for _, s := range g.shown {
			held += s.value.bytes()
		}
		require.LessOrEqual(t, held, g.maxBytes+9*one, "the bound, and the one that is looked at")
	}
	assert.Len(t, g.order, len(g.shown))
	_, err := g.picture(context.Background(), "broken", func() (*picture.Picture, error) { return nil, fmt.Errorf("no") })
	require.Error(t, err)
	assert.Len(t, g.order, len(g.shown), "a failure is not kept")
}

func blank(t *testing.T, side int) *picture.Picture {
	t.Helper()
	pic, err := picture.New(side, side, make([]float32, side*side), picture.Depth{Bits: 8})
	require.NoError(t, err)
	return pic
}
