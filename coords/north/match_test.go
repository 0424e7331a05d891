package north

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
	"limbwatch/testdata"
)

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

// paintedCases are all skies at all gaps, several times over.
var (
	paintedSkies = []sky{{}, {quiet: true}, {eight: true}, {phone: true}, {calm: true}}
	paintedGaps  = []float64{0.5, 1, 1.5, 2, 3}
)

// What is decided in parity and roll is accepted with the error that it has, and that
// error must be honest: 68 and 95 of 100 within one and two of it, and no wrong parity.
func TestFromPictureOnPaintedRuns(t *testing.T) {
	times, skies := 1, paintedSkies[:3]
	if testdata.Thorough() && !testing.Short() {
		times, skies = 3, paintedSkies
	}
	each := len(skies) * len(paintedGaps)
	byGap, bySky := make([]tallyOf, len(paintedGaps)), make([]tallyOf, len(skies))
	var one, two tallyOf
	var mu sync.Mutex
	forEach(times*each, func(i int) {
		g, s := i%len(paintedGaps), i/len(paintedGaps)%len(skies)
		old, now, truth := paintedPair(t, uint64(1000+i), paintedGaps[g], skies[s])
		m, err := FromPicture(old, now, MatchOptions{})
		mu.Lock()
		defer mu.Unlock()
		one.add(m, err, truth, m.North.Sigma.Degrees())
		two.add(m, err, truth, 2*m.North.Sigma.Degrees())
		byGap[g].add(m, err, truth, m.North.Sigma.Degrees())
		bySky[s].add(m, err, truth, m.North.Sigma.Degrees())
	})
	for g, c := range byGap {
		t.Logf("%.1f days: %v", paintedGaps[g], &c)
	}
	for s, c := range bySky {
		t.Logf("%+v: %v", skies[s], &c)
	}
	t.Logf("all: %v one error, %d two", &one, two.within)
	assert.Zero(t, one.wrongParity, "wrong parity, whatever the error")
	assert.GreaterOrEqual(t, float64(one.within), 0.6*float64(one.accepted), "within one standard error")
	assert.GreaterOrEqual(t, float64(two.within), 0.9*float64(two.accepted), "within two standard errors")
	assert.Less(t, one.chi2/float64(max(1, one.accepted)), 1.4, "mean square of miss over error")
	assert.GreaterOrEqual(t, byGap[0].accepted, byGap[0].tried*7/10, "accepted half a day apart: one that refuses everything is right too")
	assert.GreaterOrEqual(t, byGap[1].accepted, byGap[1].tried*7/10, "accepted a day apart")
	assert.GreaterOrEqual(t, byGap[3].accepted, byGap[3].tried/2, "accepted two days apart")
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
	pic, _, err := picture.Open(testdata.Shared(t, append([]string{"data"}, f.path...)...), picture.Options{})
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
	type pair struct{ a, b realFrame }
	var pairs []pair
	for i, a := range frames {
		for j, b := range frames[i+1:] {
			// Those far apart are mostly refused: a third of them will do.
			if far := b.utc.Sub(a.utc) > 72*time.Hour; !far || testdata.Thorough() || (i+j)%3 == 0 {
				pairs = append(pairs, pair{a, b})
			}
		}
	}
	if testing.Short() {
		pairs = pairs[:12]
	}
	var day, two, three, longer, all tallyOf
	var mu sync.Mutex
	forEach(len(pairs), func(i int) {
		p := pairs[i]
		m, truth, err := matchReal(t, p.a, p.b, coords.Angle(37*i)*coords.Degree, i%3 == 0)
		mu.Lock()
		defer mu.Unlock()
		days := p.b.utc.Sub(p.a.utc).Hours() / 24
		apart := &longer
		switch {
		case days <= 1:
			apart = &day
		case days <= 2:
			apart = &two
		case days <= 3:
			apart = &three
		}
		apart.add(m, err, truth, 2.5*m.North.Sigma.Degrees())
		all.add(m, err, truth, 2.5*m.North.Sigma.Degrees())
	})
	t.Logf("up to 1 day: %v", &day)
	t.Logf("up to 2 days: %v", &two)
	t.Logf("up to 3 days: %v", &three)
	t.Logf("more: %v", &longer)
	assert.Zero(t, all.wrongParity, "accepted with the wrong parity")
	assert.Equal(t, all.accepted, all.within, "within 2.5 standard errors")
	assert.Equal(t, day.accepted, day.tried, "accepted up to a day apart")
	assert.GreaterOrEqual(t, two.accepted, two.tried*4/5, "accepted up to two days apart")
	assert.GreaterOrEqual(t, three.accepted, three.tried*1/4, "accepted up to three days apart")
}

// A picture held against itself, or against one of the same minute, gives its own north
// and odds that are numbers.
func TestFromPictureOnTheSamePicture(t *testing.T) {
	t.Parallel()
	frames := whiteLightFrames()
	for name, later := range map[string]time.Duration{"the same instant": 0, "a second later": time.Second, "ten minutes later": 10 * time.Minute} {
		t.Run(name, func(t *testing.T) {
			for _, mirrored := range []bool{false, true} {
				again := frames[3]
				again.utc = again.utc.Add(later)
				m, truth, err := matchReal(t, frames[3], again, 41*coords.Degree, mirrored)
				require.NoError(t, err)
				assert.Equal(t, mirrored, m.North.Mirrored)
				assert.InDelta(t, 0, (m.North.Angle - truth.Angle).Wrap180().Degrees(), 0.15)
				assert.InDelta(t, 1, m.ParityOdds, 1e-9)
				assert.InDelta(t, 1, m.Odds, 1e-3)
			}
			at := frames[3].utc
			m, err := FromPicture(
				Oriented{Picture: frames[3].open(t), UTC: at, View: disc.View{Limb: frames[3].limb, Face: ephemeris.At(at), North: frames[3].north()}},
				Unoriented{Picture: frames[3].open(t), Limb: frames[3].limb, UTC: at.Add(later)}, MatchOptions{})
			require.NoError(t, err)
			assert.InDelta(t, 0, (m.North.Angle - frames[3].north().Angle).Wrap180().Degrees(), 0.1, "bit for bit the same picture")
			assert.InDelta(t, 1, m.ParityOdds, 1e-9)
		})
	}
}

// halphaPair are two pictures 12.6 hours apart, with solar north up to about 1°, by the
// plages (README beside them).
func halphaPair() []realFrame {
	return []realFrame{{
		path: []string{"gong-halpha", "gong_20140709T195814_Mh.png"}, utc: time.Date(2014, 7, 9, 19, 58, 14, 0, time.UTC),
		limb: coords.Limb{Centre: coords.Pixel{X: 281.7, Y: 282.1}, RadiusPx: 249.4, Cov: coords.LimbCovariance{XX: 0.04, YY: 0.04, RR: 0.04}}, layer: coords.Chromosphere,
	}, {
		path: []string{"gong-halpha", "gong_20140710T083214_Th.png"}, utc: time.Date(2014, 7, 10, 8, 32, 14, 0, time.UTC),
		limb: coords.Limb{Centre: coords.Pixel{X: 286.7, Y: 287.1}, RadiusPx: 254.2, Cov: coords.LimbCovariance{XX: 0.04, YY: 0.04, RR: 0.04}}, layer: coords.Chromosphere,
	}}
}

func TestFromPictureOnRealHalpha(t *testing.T) {
	a, b := halphaPair()[0], halphaPair()[1]
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

// A negative shows the same Sun.
func TestFromPictureOnANegative(t *testing.T) {
	frames := whiteLightFrames()
	a, b := frames[0], frames[1]
	pic := b.open(t)
	turnedOver := *pic
	turnedOver.Grey = slices.Clone(pic.Grey)
	for i, g := range turnedOver.Grey {
		turnedOver.Grey[i] = 255 - g
	}
	old := Oriented{Picture: a.open(t), UTC: a.utc, View: disc.View{Limb: a.limb, Layer: a.layer, North: a.north(), Face: ephemeris.At(a.utc)}}
	now := Unoriented{Picture: pic, Limb: b.limb, Layer: b.layer, UTC: b.utc}
	want, err := FromPicture(old, now, MatchOptions{})
	require.NoError(t, err)
	now.Picture = &turnedOver
	got, err := FromPicture(old, now, MatchOptions{})
	require.NoError(t, err)
	assert.InDelta(t, want.North.Angle.Degrees(), got.North.Angle.Degrees(), 0.05)
	assert.Equal(t, want.North.Mirrored, got.North.Mirrored)
}

func TestFromPictureRefuses(t *testing.T) {
	at := time.Date(2026, 5, 3, 9, 0, 0, 0, time.UTC)
	rng := rand.New(rand.NewPCG(5, 5))
	face := ephemeris.At(at)
	blank := paint.Sun{}
	one := paint.Sun{Spots: []paint.Spot{{At: coords.Heliographic{B: 15 * coords.Degree, L: (face.L0 + 20*coords.Degree).Wrap360()}, UmbraMm: 8, PenumbraMm: 18, Seed: 3}}}
	pair := func(sun paint.Sun, later time.Duration) (Oriented, Unoriented) {
		a, limbA := paintedPicture(t, rng, sun, at, paint.WhiteLight(), sky{})
		b, limbB := paintedPicture(t, rng, sun, at.Add(later), paint.WhiteLight(), sky{})
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

// A picture of 6 megapixels against another: measured, not bounded, as machines differ.
func BenchmarkFromPicture(b *testing.B) {
	old, now, _ := paintedPair(b, 7, 1, sky{radiusPx: 1060})
	b.ResetTimer()
	for range b.N {
		_, err := FromPicture(old, now, MatchOptions{})
		require.NoError(b, err)
	}
}
