package observe

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// seenDaily is a feature at Carrington's rate and 0.2° a day, that stands leapt degrees
// farther on from the fourth day on; the join there has odds.
func seenDaily(leapt, odds float64) []rateSighting {
	const sigma = 0.3 * coords.Degree
	var seen []rateSighting
	for day := range 6 {
		lon, join := 100+0.2*float64(day), 1.0
		if day >= 3 {
			lon += leapt
		}
		if day == 3 {
			join = odds
		}
		seen = append(seen, rateSighting{
			time.Date(2026, 3, 1+day, 12, 0, 0, 0, time.UTC),
			coords.Measured{
				Heliographic: coords.Heliographic{B: 10 * coords.Degree, L: coords.Angle(lon) * coords.Degree},
				Cov:          coords.Covariance{BB: coords.Square(sigma.Radians()), LL: coords.Square(sigma.Radians())},
			}, join,
		})
	}
	return seen
}

// A doubtful join counts by its odds: between what its two sides say, and what they say
// together; never is it left out.
func TestADoubtfulJoinCountsByItsOdds(t *testing.T) {
	const truth = ephemeris.CarringtonDegPerDay + 0.2
	before := math.Inf(1)
	for _, odds := range []float64{1, 0.9, 0.58, 0.1, 1e-6} {
		f, ok := rateOf(catalog.Sunspot, seenDaily(5, odds))
		require.True(t, ok)
		assert.InDelta(t, odds, f.Odds, 1e-12)
		// Six places a day apart, three of them 5° on: slope 0.2 + 5·9/35 by hand.
		assert.InDelta(t, truth+5*4.5/17.5, f.AllSure.DegPerDay, 1e-9, "every join sure")
		assert.Less(t, f.DegPerDay, before, "odds %g", odds)
		assert.GreaterOrEqual(t, f.DegPerDay, truth, "odds %g", odds)
		before = f.DegPerDay
	}
	f, _ := rateOf(catalog.Sunspot, seenDaily(5, 1))
	assert.InDelta(t, f.AllSure.DegPerDay, f.DegPerDay, 1e-9, "sure joins: one figure")
	assert.InDelta(t, f.AllSure.Sigma, f.Sigma, 1e-9)
	f, _ = rateOf(catalog.Sunspot, seenDaily(5, 1e-6))
	assert.InDelta(t, truth, f.DegPerDay, 0.001, "two features of one rate")
	doubtful, _ := rateOf(catalog.Sunspot, seenDaily(5, 0.58))
	assert.Greater(t, doubtful.Sigma, 2*doubtful.AllSure.Sigma, "what the two readings differ by is in the error")
	fits, _ := rateOf(catalog.Sunspot, seenDaily(0, 0.58))
	assert.InDelta(t, truth, fits.DegPerDay, 1e-9, "a doubtful join that fits changes nothing")
}
