package limb

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/paint"
	"limbwatch/coords/picture"
)

// TestPicturesWithoutALimbAreRefused: better no disc than a wrong one.
func TestPicturesWithoutALimbAreRefused(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const w, h = 800, 600
	for name, level := range map[string]func(x, y int) float64{
		"black":    func(x, y int) float64 { return 0 },
		"white":    func(x, y int) float64 { return 65535 },
		"noise":    func(x, y int) float64 { return 20000 + 3000*r.NormFloat64() },
		"a slope":  func(x, y int) float64 { return 20 * float64(x+y) },
		"vignette": func(x, y int) float64 { return 60000 * math.Exp(-math.Hypot(float64(x-400), float64(y-300))/300) },
		"a bright frame with black borders": func(x, y int) float64 {
			if x < 50 || y < 40 || x > 720 || y > 550 {
				return 0
			}
			return 30000 + 500*r.NormFloat64()
		},
	} {
		grey := make([]float32, w*h)
		for i := range grey {
			grey[i] = float32(max(0, min(65535, level(i%w, i/w))))
		}
		pic, err := picture.New(w, h, grey, picture.Depth{Bits: 16})
		require.NoError(t, err)
		f, err := Find(pic, Options{})
		assert.ErrorAs(t, err, new(*RefusedError), "%s: found %v", name, f)
	}
}

// TestSunspotIsNoDisc: pictures from near, all surface, with a large spot in the
// middle and without any limb.
func TestSunspotIsNoDisc(t *testing.T) {
	for seed := range uint64(8) {
		s, r := sceneFor(seed+1, 500)
		c := &s.Camera
		c.Limb.RadiusPx = between(r, 1500, 4000)
		c.Width, c.Height = 1000, 1000
		c.Limb.Centre = coords.Pixel{X: 500 + between(r, -200, 200), Y: 500 + between(r, -200, 200)}
		s.Sun.Spots[0].At = coords.Heliographic{B: s.Face.B0, L: s.Face.L0}
		s.Sun.Spots[0].UmbraMm, s.Sun.Spots[0].PenumbraMm, s.Sun.Spots[0].Ragged = between(r, 10, 30), between(r, 30, 60), between(r, 0, 0.3)
		if seed%2 == 0 {
			s.Sun.Mottling, s.Sun.Plages = paint.Mottling{}, nil
		}
		frame, err := paint.Paint(s)
		require.NoError(t, err)
		f, err := Find(pictureOf(t, frame), Options{})
		assert.ErrorAs(t, err, new(*RefusedError), "seed %d: found %v", seed+1, f)
	}
}

// TestRingAroundTheDiscIsNotTheLimb: light as far as an aperture whose edge is
// sharper and of more contrast than the limb.
func TestRingAroundTheDiscIsNotTheLimb(t *testing.T) {
	for seed := range uint64(6) {
		s, r := sceneFor(seed+1, 400)
		s.Sun.Mottling, s.Sun.Plages = paint.Mottling{}, nil
		frame, err := paint.Paint(s)
		require.NoError(t, err)
		x0, y0 := s.Camera.Limb.Centre.X+between(r, -8, 8), s.Camera.Limb.Centre.Y+between(r, -8, 8)
		level, edge := between(r, 0.05, 0.3), between(r, 1.05, 1.15)*s.Camera.Limb.RadiusPx
		for i := range frame.Grey {
			d := math.Hypot(float64(i%frame.Width)-x0, float64(i/frame.Width)-y0)
			veil := level * paint.White / (1 + math.Exp((d-edge)/0.7))
			frame.Grey[i] = min(paint.White, frame.Grey[i]+float32(veil))
		}
		f, err := Find(pictureOf(t, frame), Options{})
		require.NoError(t, err)
		assert.InDelta(t, frame.Truth.Limb.RadiusPx, f.Limb.RadiusPx, 1, "seed %d: radius, px", seed+1)
		assert.InDelta(t, frame.Truth.Limb.Centre.X, f.Limb.Centre.X, 1, "seed %d: centre x, px", seed+1)
	}
}

// TestTwoDiscsAreRefused: nothing says which one is the Sun.
func TestTwoDiscsAreRefused(t *testing.T) {
	grey := make([]float32, 900*500)
	for i := range grey {
		x, y := float64(i%900), float64(i/900)
		for _, c := range []circle{{240, 250, 180}, {660, 250, 170}} {
			grey[i] += float32(40000 / (1 + math.Exp(math.Hypot(x-c.x, y-c.y)-c.r)))
		}
	}
	pic, err := picture.New(900, 500, grey, picture.Depth{Bits: 16})
	require.NoError(t, err)
	_, err = Find(pic, Options{})
	require.ErrorAs(t, err, new(*RefusedError))
	assert.Contains(t, err.Error(), "two discs")
}

func TestTinyPictureIsAnError(t *testing.T) {
	pic, err := picture.New(20, 20, make([]float32, 400), picture.Depth{Bits: 8})
	require.NoError(t, err)
	_, err = Find(pic, Options{})
	require.Error(t, err)
	_, err = Find(nil, Options{})
	require.Error(t, err)
}

// TestOddPicturesEndInAnAnswerOrAReason: whatever is in a picture of whatever shape,
// there is no panic, no false number and no circle without an error.
func TestOddPicturesEndInAnAnswerOrAReason(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	tries := 400
	if testing.Short() || raced {
		tries = 60
	}
	for range tries {
		w, h := 32+r.IntN(300), 32+r.IntN(300)
		if r.IntN(8) == 0 {
			w = 3000
		}
		grey := make([]float32, w*h)
		noise := 2000 * r.Float64() * float64(r.IntN(2))
		for range 1 + r.IntN(4) { // discs, rings and boxes
			x0, y0, size := r.Float64()*float64(w), r.Float64()*float64(h), 5+r.Float64()*float64(max(h, 60))
			level, kind := 60000*r.Float64()-10000, r.IntN(3)
			for i := range grey {
				dx, dy := math.Abs(float64(i%w)-x0), math.Abs(float64(i/w)-y0)
				d := math.Hypot(dx, dy)
				if kind == 0 && d < size || kind == 1 && math.Abs(d-size) < 6 || kind == 2 && max(dx, dy) < size {
					grey[i] += float32(level)
				}
			}
		}
		for i := range grey {
			grey[i] = min(65535, max(0, grey[i]+float32(noise*r.NormFloat64())))
			if r.IntN(20000) == 0 {
				grey[i] = float32(math.NaN()) // a careless caller's
			}
		}
		pic := &picture.Picture{Width: w, Height: h, Grey: grey, Depth: picture.Depth{Bits: 16}}
		f, err := Find(pic, Options{Shape: Shape(r.IntN(3))})
		if err != nil {
			require.ErrorAs(t, err, new(*RefusedError))
			continue
		}
		l := f.Limb
		for _, v := range []float64{l.Centre.X, l.Centre.Y, l.RadiusPx, l.Flattening, f.RMSPx, f.ArcDeg, f.WidthPx, l.Cov.XX, l.Cov.YY, l.Cov.RR} {
			require.False(t, math.IsNaN(v-v), "%v", f)
		}
		require.Positive(t, l.RadiusPx)
		require.Positive(t, min(l.Cov.XX, l.Cov.YY, l.Cov.RR))
	}
}
