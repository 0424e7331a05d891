package limb

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/paint"
	"limbwatch/testdata"
)

// haloed paints a Sun in a ring of scattered light that ends at a round stop: about the
// Sun's middle or off it, darker than the disc at its limb or brighter, the limb sharpened
// to a ring or not, the stop's edge hard or soft.
func haloed(t testing.TB, seed uint64) (*paint.Frame, string) {
	s, r := sceneFor(seed, between(rand.New(rand.NewPCG(seed, 3)), 150, 420))
	radius := s.Camera.Limb.RadiusPx
	s.Camera.Width, s.Camera.Height = int(2.6*radius), int(2.6*radius)
	s.Camera.Limb.Centre = coords.Pixel{X: radius * between(r, 1.2, 1.4), Y: radius * between(r, 1.2, 1.4)}
	if r.IntN(4) == 0 {
		s.Band = paint.SingleStack()
	}
	if r.IntN(3) == 0 { // flattened: the disc is as bright at its limb
		s.Band.Darkening, s.Band.Darkening2 = 0.1, 0
	}
	s.Camera.ReadNoise = between(r, 0.001, 0.01)
	s.Camera.Exposure = between(r, 0.35, 0.6)
	frame, err := paint.Paint(s)
	require.NoError(t, err)
	atLimb := levelAtLimb(frame, s.Camera.Limb)
	share := between(r, 0.1, 0.8)
	if r.IntN(4) == 0 {
		share = between(r, 0.8, 1.4)
	}
	gap := between(r, 0.04, 0.18)
	off := 0.0
	if r.IntN(2) == 0 {
		off = between(r, 0, 0.8) * gap
		if r.IntN(4) == 0 { // it hides a piece of the Sun
			off = between(r, 1, 1.3) * gap
		}
	}
	sin, cos := turn(r).Sincos()
	soft := between(r, 0.3, 1.5)
	fade := between(r, 0.1, 1)
	l := s.Camera.Limb
	for i := range frame.Grey {
		x, y := float64(i%frame.Width), float64(i/frame.Width)
		beyond := math.Hypot(x-l.Centre.X, y-l.Centre.Y) - radius
		edge := math.Hypot(x-l.Centre.X-off*radius*cos, y-l.Centre.Y-off*radius*sin) - (1+gap)*radius
		veil := share * atLimb * math.Exp(-max(0, beyond)/(fade*radius))
		// Scattered light lies on all of the disc too, where the painter's exposure has it.
		outside := 1 / (1 + math.Exp(-beyond/max(0.4, s.Camera.BlurPx*0.6)))
		frame.Grey[i] = float32(min(paint.White, (float64(frame.Grey[i])+veil*outside)/(1+math.Exp(edge/soft))))
	}
	kind := "plain"
	if r.IntN(2) == 0 {
		kind = "sharpened"
		sharpen(frame, between(r, 0.5, 2.5), between(r, 1, 2.5)*max(1, radius/250))
	}
	return frame, fmt.Sprintf("%s, halo %.2f of the limb, gap %.3f, off %.3f", kind, share, gap, off)
}

// levelAtLimb is the median brightness a little within the limb.
func levelAtLimb(f *paint.Frame, l coords.Limb) float64 {
	p := &plane{w: f.Width, h: f.Height, v: f.Grey}
	var v []float64
	sin, cos := lookAround(180)
	c := circle{l.Centre.X, l.Centre.Y, l.RadiusPx}
	for i := range sin {
		if x, y := c.at(sin[i], cos[i], -0.04*l.RadiusPx); p.inside(x, y, 1) {
			v = append(v, float64(p.at(x, y)))
		}
	}
	return median(v)
}

// sharpen is an unsharp mask with a mean over squares, twice, for the blurred copy.
func sharpen(f *paint.Frame, amount, radiusPx float64) {
	n := max(1, int(math.Round(radiusPx)))
	blurred := f.Grey
	for range 2 {
		for _, step := range []int{1, f.Width} {
			out := make([]float32, len(blurred))
			for i := range out {
				var sum float32
				for k := -n; k <= n; k++ {
					sum += blurred[max(0, min(len(blurred)-1, i+k*step))]
				}
				out[i] = sum / float32(2*n+1)
			}
			blurred = out
		}
	}
	grey := make([]float32, len(f.Grey))
	for i, v := range f.Grey {
		grey[i] = max(0, min(paint.White, v+float32(amount)*(v-blurred[i])))
	}
	f.Grey = grey
}

// Of 300 painted pictures with a ring of scattered light and a stop none is answered with a
// wrong circle, and 85 in 100 are answered. LIMBWATCH_SEED says after which seed they
// begin: thresholds were chosen while looking at those up to 10300. The truth is the
// painter's; of a single filter either limb is right, and sharpening moves the middle of
// the fall by part of the blur.
func TestAHaloAndItsStopAreNotTheSun(t *testing.T) {
	n := 300
	switch {
	case testing.Short() || raced:
		n = 24
	case !testdata.Thorough():
		n = 60
	}
	first, _ := strconv.Atoi(os.Getenv("LIMBWATCH_SEED"))
	var lock sync.Mutex
	answered, wrong := 0, 0
	var sum tally
	var told []string
	t.Run("pictures", func(t *testing.T) {
		for part := range 8 {
			t.Run(fmt.Sprint(part), func(t *testing.T) {
				t.Parallel()
				for seed := part; seed < n; seed += 8 {
					frame, what := haloed(t, uint64(first+seed)+1)
					f, err := Find(pictureOf(t, frame), Options{})
					l := frame.Truth.Limb
					lock.Lock()
					sum.shown++
					if err != nil {
						told = append(told, fmt.Sprintf("refused seed %d, R %.0f, %s: %v", first+seed+1, l.RadiusPx, what, err))
						lock.Unlock()
						continue
					}
					answered++
					off := math.Hypot(f.Limb.Centre.X-l.Centre.X, f.Limb.Centre.Y-l.Centre.Y)
					r := l.RadiusPx
					if p := frame.Truth.PhotospherePx; math.Abs(f.Limb.RadiusPx-p) < math.Abs(f.Limb.RadiusPx-r) {
						r = p
					}
					l.RadiusPx = r
					// The stop begins at 4 % of the radius. In light that is brighter than itself the
					// limb is less sure than 1.5 % of it, and says so: then half-way to the stop.
					allowed := min(0.02*r, max(2, 0.015*r, 2.5*f.Limb.Cov.SigmaRadiusPx()))
					if off > max(1, 0.004*r) || math.Abs(f.Limb.RadiusPx-r) > allowed {
						wrong++
						told = append(told, fmt.Sprintf("WRONG   seed %d, R %.0f at %.1f, %.1f, %s: %v", first+seed+1, l.RadiusPx, l.Centre.X, l.Centre.Y, what, f))
					} else {
						sum.add(l, f)
					}
					lock.Unlock()
				}
			})
		}
	})
	t.Log(strings.Join(told, "\n"))
	t.Logf(tableHead, "", "n", "acc", "c.50", "c.95", "c.max", "r.50", "r.95", "r.max", "px", "py", "pr", "max")
	t.Log(sum.row("halo and stop"))
	t.Logf("%d of %d answered, %d wrong", answered, n, wrong)
	assert.Zero(t, wrong, "answered with a circle that is not the Sun's")
	assert.Less(t, spread(sum.pull), 1.6, "spread of the pulls of what is right: errors are not quoted too small")
	assert.GreaterOrEqual(t, float64(answered), 0.84*float64(n))
}

// Where the light beside the limb is as bright as itself, no row shows an edge there, and
// the stop's is the only one that does. All rows together show the limb: the picture is
// refused, and both circles are offered.
func TestALimbHiddenInLightIsOfferedBesideTheStop(t *testing.T) {
	for _, seed := range []uint64{1159, 8211, 9200, 10094} {
		frame, what := haloed(t, seed)
		_, err := Find(pictureOf(t, frame), Options{})
		refused, ok := errors.AsType[*RefusedError](err)
		require.True(t, ok, "seed %d, %s: %v", seed, what, err)
		require.Len(t, refused.Rivals, 2, "seed %d", seed)
		l, inner, stop := frame.Truth.Limb, refused.Rivals[0].Limb, refused.Rivals[1].Limb
		apart := math.Hypot(inner.Centre.X-l.Centre.X, inner.Centre.Y-l.Centre.Y)
		assert.Less(t, apart, 3*inner.Cov.SigmaCentrePx(), "seed %d", seed)
		assert.InDelta(t, l.RadiusPx, inner.RadiusPx, 3*inner.Cov.SigmaRadiusPx(), "seed %d", seed)
		assert.Greater(t, stop.RadiusPx, 1.04*l.RadiusPx, "seed %d", seed)

		// A radius that is known beforehand lets no stop through; the edge that it fits stands.
		_, err = Find(pictureOf(t, frame), Options{Expected: Expected{RadiusPx: l.RadiusPx, SigmaPx: 0.01 * l.RadiusPx}})
		assert.Error(t, err, "seed %d", seed)
		fit, err := Find(pictureOf(t, frame), Options{Expected: Expected{RadiusPx: stop.RadiusPx, SigmaPx: 0.003 * stop.RadiusPx}})
		if assert.NoError(t, err, "seed %d", seed) {
			assert.InDelta(t, stop.RadiusPx, fit.Limb.RadiusPx, 1)
		}
	}
}
