package north

import (
	"errors"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/testdata"
)

func TestAChainAddsWhatLastsAndTakesItBack(t *testing.T) {
	link := func(old Match, days float64) Match {
		m := Match{Days: days, North: coords.North{Sigma: 0.2 * coords.Degree}}
		m.chain(old.North.Sigma, old.Lasting)
		return m
	}
	start := Match{North: coords.North{Sigma: 0.1 * coords.Degree}}
	there := start
	for range 8 {
		there = link(there, 1)
	}
	inQuadrature := math.Sqrt(0.1*0.1 + 8*0.2*0.2)
	assert.Greater(t, there.North.Sigma.Degrees(), 1.5*inQuadrature, "eight links one after the other")
	assert.Less(t, there.North.Sigma.Degrees(), 0.1+8*0.2, "but not all of each has one sign")
	back := there
	for range 8 {
		back = link(back, -1)
	}
	assert.InDelta(t, 0, back.Lasting.Degrees(), 1e-12, "the way back takes it off again")
	assert.InDelta(t, math.Sqrt(0.1*0.1+16*0.2*0.2*(1-math.Pow(steadyLatDeg*math.Pi/180/func() float64 { _, lat := ownMotion(1); return lat }(), 2))),
		back.North.Sigma.Degrees(), 1e-9)
	assert.Less(t, there.North.Sigma, link(there, 1).North.Sigma)
}

// chained matches each picture with the one before by the north that was found there, until
// one is refused.
func chained(old Oriented, next []Unoriented) (m Match, err error) {
	for _, now := range next {
		m, err = FromPicture(old, now, MatchOptions{})
		if err != nil {
			return m, err
		}
		old = Oriented{Picture: now.Picture, View: now.viewOf(m.North), UTC: now.UTC, Lasting: m.Lasting}
	}
	return m, nil
}

// Truth: all of the pictures have solar north up (their README). In quadrature the links
// of this week came to 1.6 times their error.
func TestAWeekOfRealMatchesIsAsExactAsItSays(t *testing.T) {
	t.Parallel()
	var week []Unoriented
	var first realFrame
	for _, f := range whiteLightFrames() {
		if f.utc.Hour() == 0 {
			week = append(week, Unoriented{Picture: f.open(t), Limb: f.limb, Layer: f.layer, UTC: f.utc})
			first = f
		}
	}
	start := whiteLightFrames()[0]
	m, err := chained(Oriented{Picture: start.open(t), UTC: start.utc, View: disc.View{Limb: start.limb, Face: ephemeris.At(start.utc),
		North: coords.North{Angle: start.north().Angle, Sigma: 0.05 * coords.Degree}}}, week[1:])
	require.NoError(t, err)
	off := (m.North.Angle - first.north().Angle).Wrap180().Degrees()
	t.Logf("after %d links: off %+.2f ± %.2f deg, of which %.2f lasts", len(week)-1, off, m.North.Sigma.Degrees(), m.Lasting.Degrees())
	assert.False(t, m.North.Mirrored)
	assert.LessOrEqual(t, math.Abs(off), 1.5*m.North.Sigma.Degrees())
}

// The error that is quoted at the end of a chain must hold over many Suns. Now and then a
// link is refused.
func TestChainsOfMatchesAddWhatLasts(t *testing.T) {
	suns, links := 5, 4
	switch {
	case testing.Short():
		suns = 3
	case testdata.Thorough():
		suns = 12
	}
	chi2, whole := 0.0, 0
	var mu sync.Mutex
	forEach(suns, func(k int) {
		seed := uint64(5000 + k)
		rng := rand.New(rand.NewPCG(seed, 77))
		start := time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC).AddDate(0, 0, rng.IntN(300))
		sun := restlessSun(t, seed, start, false)
		var old Oriented
		var next []Unoriented
		var truth coords.North
		for day := range links + 1 {
			at := start.AddDate(0, 0, day)
			f, limb := paintedPicture(t, rng, sun.At(at), at, paint.DoubleStack(), sky{radiusPx: 160})
			if truth = f.Truth.North; day == 0 {
				old = Oriented{Picture: f.Picture(), UTC: at, View: disc.View{Limb: limb, Layer: f.Truth.Layer, North: truth, Face: f.Truth.Face}}
				continue
			}
			next = append(next, Unoriented{Picture: f.Picture(), Limb: limb, Layer: f.Truth.Layer, UTC: at})
		}
		m, err := chained(old, next)
		mu.Lock()
		defer mu.Unlock()
		if _, refused := errors.AsType[*IndecisiveError](err); refused {
			t.Logf("Sun %d: %v", k, err)
			return
		}
		if !assert.NoError(t, err) {
			return
		}
		assert.Equal(t, truth.Mirrored, m.North.Mirrored)
		off := (m.North.Angle - truth.Angle).Wrap180()
		chi2, whole = chi2+float64(off*off)/float64(m.North.Sigma*m.North.Sigma), whole+1
		t.Logf("Sun %d: off %+.2f ± %.2f deg", k, off.Degrees(), m.North.Sigma.Degrees())
	})
	t.Logf("%d of %d chains of %d links: mean square of off over error %.2f", whole, suns, links, chi2/float64(whole))
	assert.GreaterOrEqual(t, whole, suns*2/3, "of chains no link of which is refused")
	assert.Less(t, chi2/float64(whole), 1.4)
}
