package north

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// knownFits is the work on blank frames of some days whose pairs gave all the same: a fit
// for each twin, the first one's evidence the greater by so much.
func knownFits(days []float64, more float64) *turn {
	start := time.Date(2026, time.September, 7, 9, 0, 0, 0, time.UTC)
	w := &turn{law: MatchOptions{}.law()}
	for _, d := range days {
		f := blankFrame(start.Add(time.Duration(d*24*float64(time.Hour))), coords.Limb{RadiusPx: 400})
		w.frames, w.ready = append(w.frames, TurningFrame{Unoriented: f.Unoriented, SetUp: 1}), append(w.ready, f)
	}
	w.choosePairs()
	for _, p := range w.pairs {
		const variance, lasting = 3e-4, 2e-4 // one degree
		best := pose{old: 1, now: 1}
		for k, at := range []pose{best, best.twin()} {
			p.fits[k] = turningFit{pose: at, cov: symmetric{variance, lasting, variance}, lasting: lasting, evidence: -20, features: 5}
		}
		p.fits[0].evidence += more
	}
	return w
}

func patternOdds(t *testing.T, w *turn) float64 {
	t.Helper()
	out, _, err := w.joined()
	require.NoError(t, err)
	require.Equal(t, ByPattern, out.Clues[0].By)
	return out.Clues[0].Odds
}

// Pairs of the same features share their lasting motions: more pairs say more, and never
// more than one of them alone would if it said 1/lastingPart as much.
func TestPairsOfTheSameFeaturesAreNotIndependent(t *testing.T) {
	logit := func(p float64) float64 { return math.Log(p / (1 - p)) }
	one := logit(patternOdds(t, knownFits([]float64{0, 1}, 4)))
	assert.InDelta(t, 4*twinWeight, one, 1e-6)
	before := one
	for _, days := range [][]float64{{0, 1, 2}, {0, 1, 2, 3}, {0, 1, 2, 3, 4}} {
		all := logit(patternOdds(t, knownFits(days, 4)))
		assert.Greater(t, all, before, "%v", days)
		assert.Less(t, all, one/lastingPart, "%v", days)
		before = all
	}
}

// A pair that fits nowhere under one of the twins, or is left out there, has no say about
// which of them is right.
func TestTwinsAreWeighedOverTheSamePairs(t *testing.T) {
	days := []float64{0, 1, 2, 3}
	want := patternOdds(t, knownFits(days, 0))
	assert.InDelta(t, 0.5, want, 1e-9)

	nowhere := knownFits(days, 0)
	nowhere.pairs[3].fits[0].evidence += 60
	nowhere.pairs[3].errs[1] = errLost
	assert.InDelta(t, want, patternOdds(t, nowhere), 1e-9, "one that fits nowhere under the second twin")

	contradicts := knownFits(days, 0)
	contradicts.pairs[3].fits[0].evidence += 60
	contradicts.pairs[3].fits[1].pose.old += 30 * coords.Degree
	assert.InDelta(t, want, patternOdds(t, contradicts), 1e-9, "one that contradicts the others under the second twin")

	alone := knownFits([]float64{0, 1}, 0)
	alone.pairs[0].fits[0].evidence += 60
	alone.pairs[0].errs[1] = errLost
	assert.InDelta(t, want, patternOdds(t, alone), 1e-9, "the only one")
	assert.InDelta(t, 1, rotation.Days(alone.frames[0].UTC, alone.frames[1].UTC), 1e-9)
}
