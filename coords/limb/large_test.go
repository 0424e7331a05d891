package limb

import (
	"fmt"
	"math"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/testdata"
)

// In a large picture the Sun's own pattern makes many faint round edges by chance. None of
// them is a rival to a limb that is seen all round.
func TestALargePlainDiscIsAnswered(t *testing.T) {
	n := 40
	switch {
	case testing.Short() || raced:
		n = 3
	case !testdata.Thorough():
		n = 12
	}
	at := time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)
	law := func(coords.Angle) float64 { return 0 }
	var lock sync.Mutex
	refused := 0
	t.Run("pictures", func(t *testing.T) {
		for i := range n {
			t.Run(fmt.Sprint(i), func(t *testing.T) {
				t.Parallel()
				r := 500 + 12*float64(i)
				size := int(2.3 * r)
				camera := paint.Centred(size+10*i, size, r)
				camera.Limb.Centre.X += 7.3
				sun := paint.Generate(uint64(900+i), at, 1, paint.Laws{Spot: law, Plage: law, Filament: law, Pattern: law}).At(at)
				band := []paint.Band{paint.DoubleStack(), paint.SingleStack(), paint.WhiteLight()}[i%3]
				frame, err := paint.Paint(paint.Scene{Sun: sun, Face: ephemeris.At(at), Band: band, Camera: camera, Seed: uint64(i)})
				require.NoError(t, err)
				f, err := Find(pictureOf(t, frame), Options{})
				lock.Lock()
				defer lock.Unlock()
				if err != nil {
					refused++
					t.Logf("%d, R %.0f: %v", i, r, err)
					return
				}
				l := frame.Truth.Limb
				assert.Less(t, math.Hypot(f.Limb.Centre.X-l.Centre.X, f.Limb.Centre.Y-l.Centre.Y), 1.0)
				assert.InDelta(t, r, f.Limb.RadiusPx, 0.015*r)
			})
		}
	})
	assert.Zero(t, refused, "plain discs refused")
}
