package north

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/coords/picture"
	"limbwatch/coords/rotation"
)

// paintedPair is an invented Sun on two days, the second one in a picture turned
// and perhaps mirrored. Filaments, plage, spots and the network each turn by a law
// of their own, none of them the one that the match uses.
func paintedPair(t *testing.T, seed uint64, days float64) (Oriented, Unoriented, coords.North) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 77))
	drift := func(name string) paint.Drift {
		l, err := rotation.Parse(name)
		require.NoError(t, err)
		return l.CarringtonDriftDegPerDay
	}
	start := time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC).AddDate(0, 0, rng.IntN(300))
	sun := paint.Generate(seed, start, 16, paint.Laws{
		Spot: drift("sunspot"), Plage: drift("plage"), Filament: drift("filament"), Pattern: drift("snodgrass-ulrich"),
	})
	band := []paint.Band{paint.DoubleStack(), paint.SingleStack(), paint.WhiteLight()}[rng.IntN(3)]
	first := start.Add(time.Duration(rng.Float64() * 10 * 24 * float64(time.Hour)))
	second := first.Add(time.Duration(days * 24 * float64(time.Hour)))
	a, limbA := paintedPicture(t, rng, sun.At(first), first, band)
	b, limbB := paintedPicture(t, rng, sun.At(second), second, band)
	old := Oriented{Picture: a.Picture(), UTC: first, View: disc.View{Limb: limbA, Layer: a.Truth.Layer, North: a.Truth.North, Face: a.Truth.Face}}
	return old, Unoriented{Picture: b.Picture(), Limb: limbB, Layer: b.Truth.Layer, UTC: second}, b.Truth.North
}

// paintedPicture paints with a camera of chance, and gives a limb with an error of a
// thousandth of the radius.
func paintedPicture(t *testing.T, rng *rand.Rand, sun paint.Sun, at time.Time, band paint.Band) (*paint.Frame, coords.Limb) {
	t.Helper()
	r := 150 + 150*rng.Float64()
	size := int(2.3 * r)
	c := paint.Centred(size, size, r)
	c.North = coords.North{Angle: coords.Angle(rng.Float64() * 2 * math.Pi), Mirrored: rng.IntN(2) == 0}
	c.BlurPx = r * (0.002 + 0.006*rng.Float64())
	c.Gradient = paint.Gradient{Slope: 0.2 * rng.Float64(), Toward: coords.Angle(rng.Float64() * 6)}
	f, err := paint.Paint(paint.Scene{Sun: sun, Face: ephemeris.At(at), Band: band, Camera: c, Seed: rng.Uint64()})
	require.NoError(t, err)
	limb, sigma := f.Truth.Limb, 0.001*r
	limb.Centre.X += sigma * rng.NormFloat64()
	limb.Centre.Y += sigma * rng.NormFloat64()
	limb.RadiusPx += sigma * rng.NormFloat64()
	limb.Cov = coords.LimbCovariance{XX: sigma * sigma, YY: sigma * sigma, RR: sigma * sigma}
	return f, limb
}

// tallyOf counts matches that were accepted, and how right they are.
type tallyOf struct {
	tried, accepted, within, wrongParity int
	worst, chi2                          float64
}

func (c *tallyOf) add(m Match, err error, truth coords.North, tolDeg float64) {
	c.tried++
	if err != nil {
		return
	}
	c.accepted++
	if m.North.Mirrored != truth.Mirrored {
		c.wrongParity++
		return
	}
	off := math.Abs((m.North.Angle - truth.Angle).Wrap180().Degrees())
	c.worst = max(c.worst, off)
	c.chi2 += off * off / (m.North.Sigma.Degrees() * m.North.Sigma.Degrees())
	if off <= tolDeg {
		c.within++
	}
}

func (c *tallyOf) String() string {
	return fmt.Sprintf("%d pairs, %d accepted, %d within, worst %.2f deg, mean square of off/sigma %.2f, %d wrong parity",
		c.tried, c.accepted, c.within, c.worst, c.chi2/float64(max(1, c.accepted)), c.wrongParity)
}

// forEach runs n jobs on two processors.
func forEach(n int, job func(i int)) {
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := w; i < n; i += 2 {
				job(i)
			}
		}()
	}
	wg.Wait()
}

// The bounds are those that were asked for: within 0.3° in 95 of 100 accepted
// cases up to 3 days apart, and no wrong parity accepted.
func TestFromPictureOnPaintedRuns(t *testing.T) {
	gaps := []float64{0.2, 0.6, 1, 1.5, 2, 3}
	pairs := 24
	if testing.Short() {
		pairs = 12
	}
	counts := make([]tallyOf, len(gaps))
	var all, loose tallyOf
	var mu sync.Mutex
	forEach(pairs, func(i int) {
		g := i % len(gaps)
		old, now, truth := paintedPair(t, uint64(1000+i), gaps[g])
		m, err := FromPicture(old, now, MatchOptions{MaxSigma: 2 * coords.Degree})
		mu.Lock()
		defer mu.Unlock()
		loose.add(m, err, truth, 3*m.North.Sigma.Degrees())
		if err == nil && m.North.Sigma > usualMaxSigma {
			err = errors.New("uncertain by more than is usually wanted")
		}
		counts[g].add(m, err, truth, 0.3)
		all.add(m, err, truth, 0.3)
	})
	for g, c := range counts {
		t.Logf("%.1f days: %v", gaps[g], &c)
	}
	t.Logf("all: %v", &all)
	t.Logf("with errors up to 2 deg: %v within three errors", &loose)
	assert.Zero(t, loose.wrongParity, "wrong parity at errors up to 2°")
	assert.Equal(t, loose.accepted, loose.within, "within three standard errors")
	assert.Less(t, loose.chi2/float64(max(1, loose.accepted)), 2.0, "mean square of miss over error")
	assert.Zero(t, all.wrongParity, "accepted with the wrong parity")
	assert.GreaterOrEqual(t, float64(all.within), 0.95*float64(all.accepted)-1, "within 0.3° (one case of grace for so few)")
	assert.GreaterOrEqual(t, all.accepted, all.tried/3, "accepted: one that refuses everything is right too")
}

func sharedData(t *testing.T, parts ...string) string {
	t.Helper()
	root := os.Getenv("LIMBWATCH_SHARED")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(append([]string{root, "data"}, parts...)...)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("LIMBWATCH_SHARED: %v: the match is not tried on real pictures", err)
	}
	return path
}

// turned is a real picture turned about the disc's centre by a known angle,
// counter-clockwise, and mirrored left to right before that.
func turned(t *testing.T, pic *picture.Picture, limb coords.Limb, angle coords.Angle, mirrored bool) *picture.Picture {
	t.Helper()
	grey := make([]float32, len(pic.Grey))
	sin, cos := angle.Sincos()
	for y := range pic.Height {
		for x := range pic.Width {
			u, v := float64(x)-limb.Centre.X, float64(y)-limb.Centre.Y
			a, b := u*cos-v*sin, u*sin+v*cos // turned back
			if mirrored {
				a = -a
			}
			grey[y*pic.Width+x], _ = bilinear(pic, coords.Pixel{X: limb.Centre.X + a, Y: limb.Centre.Y + b})
		}
	}
	out, err := picture.New(pic.Width, pic.Height, grey, pic.Depth)
	require.NoError(t, err)
	return out
}

// realFrame is an observatory's picture with solar north up. Its disc is given in the
// README beside it.
type realFrame struct {
	path  []string
	utc   time.Time
	limb  coords.Limb
	layer coords.Layer
}

func (f realFrame) open(t *testing.T) *picture.Picture {
	pic, _, err := picture.Open(sharedData(t, f.path...), picture.Options{})
	require.NoError(t, err)
	return pic
}

func (f realFrame) north() coords.North { return coords.North{Angle: -ephemeris.At(f.utc).P} }

// matchReal matches the second frame, turned and mirrored, with the first.
func matchReal(t *testing.T, a, b realFrame, angle coords.Angle, mirrored bool) (m Match, truth coords.North, err error) {
	truth = coords.North{Angle: b.north().Angle + angle, Mirrored: mirrored}
	if mirrored {
		truth.Angle = angle - b.north().Angle
	}
	m, err = FromPicture(
		Oriented{Picture: a.open(t), UTC: a.utc, View: disc.View{Limb: a.limb, Layer: a.layer, Face: ephemeris.At(a.utc), North: a.north()}},
		Unoriented{Picture: turned(t, b.open(t), b.limb, angle, mirrored), Limb: b.limb, Layer: b.layer, UTC: b.utc}, MatchOptions{})
	return m, truth, err
}

func whiteLightFrames() []realFrame {
	limb := coords.Limb{Centre: coords.Pixel{X: 255.86, Y: 256.18}, RadiusPx: 233.6, Cov: coords.LimbCovariance{XX: 0.0025, YY: 0.0025, RR: 0.0025}}
	var out []realFrame
	for _, stamp := range []string{
		"20240701_0000", "20240702_0000", "20240703_0000", "20240704_0000", "20240704_0900",
		"20240704_1800", "20240705_0000", "20240706_0000", "20240707_0000", "20240708_0000",
	} {
		utc, err := time.Parse("20060102_1504", stamp)
		if err != nil {
			panic(err)
		}
		out = append(out, realFrame{path: []string{"hmi-continuum-daily", stamp + "_hmiigr_512.jpg"}, utc: utc, limb: limb})
	}
	return out
}

// Truth: the pictures have solar north up (their README), and are turned by known
// angles here.
func TestFromPictureOnRealWhiteLight(t *testing.T) {
	frames := whiteLightFrames()
	sharedData(t, frames[0].path...)
	type pair struct{ a, b realFrame }
	var near, far []pair
	for i, a := range frames {
		for _, b := range frames[i+1:] {
			days := b.utc.Sub(a.utc).Hours() / 24
			switch {
			case days <= 1.05 || days > 1.9 && days <= 2.05:
				near = append(near, pair{a, b})
			case days > 3.9 && days < 4.1 || days > 5:
				far = append(far, pair{a, b})
			}
		}
	}
	if testing.Short() {
		near, far = near[:6], far[:2]
	}
	var c, blind tallyOf
	var mu sync.Mutex
	forEach(len(near)+len(far), func(i int) {
		count, p := &c, pair{}
		if i < len(near) {
			p = near[i]
		} else {
			count, p = &blind, far[i-len(near)]
		}
		m, truth, err := matchReal(t, p.a, p.b, coords.Angle(37*i)*coords.Degree, i%3 == 0)
		mu.Lock()
		defer mu.Unlock()
		count.add(m, err, truth, 0.5)
	})
	t.Logf("up to 2 days: %v", &c)
	t.Logf("4 days and more: %v", &blind)
	assert.Zero(t, c.wrongParity+blind.wrongParity, "accepted with the wrong parity")
	assert.Equal(t, c.accepted, c.within, "within 0.5°")
	assert.GreaterOrEqual(t, c.accepted, c.tried/2)
	assert.Equal(t, blind.accepted, blind.within, "within 0.5°")
}

// Truth: solar north up to about 1°, by the plages (README beside the pictures).
func TestFromPictureOnRealHalpha(t *testing.T) {
	a := realFrame{
		path: []string{"gong-halpha", "gong_20140709T195814_Mh.png"}, utc: time.Date(2014, 7, 9, 19, 58, 14, 0, time.UTC),
		limb: coords.Limb{Centre: coords.Pixel{X: 281.7, Y: 282.1}, RadiusPx: 249.4, Cov: coords.LimbCovariance{XX: 0.04, YY: 0.04, RR: 0.04}}, layer: coords.Chromosphere,
	}
	b := realFrame{
		path: []string{"gong-halpha", "gong_20140710T083214_Th.png"}, utc: time.Date(2014, 7, 10, 8, 32, 14, 0, time.UTC),
		limb: coords.Limb{Centre: coords.Pixel{X: 286.7, Y: 287.1}, RadiusPx: 254.2, Cov: coords.LimbCovariance{XX: 0.04, YY: 0.04, RR: 0.04}}, layer: coords.Chromosphere,
	}
	sharedData(t, a.path...)
	for _, mirrored := range []bool{false, true} {
		m, truth, err := matchReal(t, a, b, 123*coords.Degree, mirrored)
		require.NoError(t, err)
		off := (m.North.Angle - truth.Angle).Wrap180().Degrees()
		t.Logf("12.6 hours apart, mirrored %v: off %+.2f ± %.2f deg, correlation %.2f, rival %.2f, other parity %.2f, odds %.4f",
			mirrored, off, m.North.Sigma.Degrees(), m.Correlation, m.Rival, m.Mirror, m.Odds)
		assert.Equal(t, mirrored, m.North.Mirrored)
		assert.InDelta(t, 0, off, 1.2, "the orientation of the pictures is known to about 1°")
		back, truth, err := matchReal(t, b, a, -50*coords.Degree, mirrored)
		require.NoError(t, err)
		offBack := (back.North.Angle - truth.Angle).Wrap180().Degrees()
		assert.InDelta(t, 0, off+offBack, 0.4, "there %.2f° and back %.2f°", off, offBack)
	}
}

func TestFromPictureRefuses(t *testing.T) {
	at := time.Date(2026, 5, 3, 9, 0, 0, 0, time.UTC)
	rng := rand.New(rand.NewPCG(5, 5))
	face := ephemeris.At(at)
	blank := paint.Sun{}
	one := paint.Sun{Spots: []paint.Spot{{At: coords.Heliographic{B: 15 * coords.Degree, L: (face.L0 + 20*coords.Degree).Wrap360()}, UmbraMm: 8, PenumbraMm: 18, Seed: 3}}}
	pair := func(sun paint.Sun, later time.Duration) (Oriented, Unoriented) {
		a, limbA := paintedPicture(t, rng, sun, at, paint.WhiteLight())
		b, limbB := paintedPicture(t, rng, sun, at.Add(later), paint.WhiteLight())
		return Oriented{Picture: a.Picture(), UTC: at, View: disc.View{Limb: limbA, North: a.Truth.North, Face: face}},
			Unoriented{Picture: b.Picture(), Limb: limbB, UTC: at.Add(later)}
	}
	for name, c := range map[string]struct {
		sun   paint.Sun
		later time.Duration
		says  string
	}{
		"a blank Sun":             {blank, 24 * time.Hour, "no roll stands out"},
		"a single round spot":     {one, 12 * time.Hour, "mirror image fits nearly as well"},
		"pictures six days apart": {one, 6 * 24 * time.Hour, "6.0 days apart"},
	} {
		t.Run(name, func(t *testing.T) {
			old, now := pair(c.sun, c.later)
			_, err := FromPicture(old, now, MatchOptions{})
			var refused *IndecisiveError
			require.ErrorAs(t, err, &refused)
			assert.Contains(t, refused.Error(), c.says)
		})
	}
	_, err := FromPicture(Oriented{}, Unoriented{}, MatchOptions{})
	assert.EqualError(t, err, "earlier picture is empty")
}
