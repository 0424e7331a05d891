package limb

import (
	"testing"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/paint"
)

// BenchmarkFind finds the limb in a painted 6.3-megapixel picture of 16 bit, as a
// camera of 3072 x 2048 pixels gives. At most 70 ms and three times the decoded
// picture are allowed (25 MB as float32).
func BenchmarkFind(b *testing.B) {
	s, _ := sceneFor(3, 900)
	s.Camera.Width, s.Camera.Height = 3072, 2048
	s.Camera.Limb.Centre = coords.Pixel{X: 1530, Y: 1020}
	frame, err := paint.Paint(s)
	require.NoError(b, err)
	pic := pictureOf(b, frame)
	b.ReportAllocs()
	for b.Loop() {
		_, err := Find(pic, Options{})
		require.NoError(b, err)
	}
}
