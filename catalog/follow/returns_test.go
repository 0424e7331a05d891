package follow

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReturnsAreCalibrated follows invented Suns for two rotations and compares the
// odds of returns with what share of them is the same feature.
func TestReturnsAreCalibrated(t *testing.T) {
	runs := uint64(24)
	if testing.Short() {
		runs = 6
	}
	var count, right, odds [5]float64
	cameBack, found := 0, 0
	for seed := range runs {
		rows := watch(1000+seed, 56, func(_ int, rng *rand.Rand) bool { return rng.IntN(3) > 0 })
		res, err := Follow(sightingsOf(rows), Options{})
		require.NoError(t, err)
		feature := map[string]string{}
		crossings := map[string]map[string]bool{}
		for _, r := range rows {
			id, _, _ := strings.Cut(r.label, "/")
			feature[r.ID] = id
			if crossings[id] == nil {
				crossings[id] = map[string]bool{}
			}
			crossings[id][r.label] = true
		}
		for _, c := range crossings {
			cameBack += len(c) - 1
		}
		most := func(p *Passage) string { // the feature that most of its marks are of
			n, best := map[string]int{}, ""
			for _, s := range p.Sightings {
				if f := feature[s.ID]; true {
					n[f]++
					if n[f] > n[best] {
						best = f
					}
				}
			}
			return best
		}
		for _, r := range Returns(res.Passages) {
			k := min(4, int(r.Odds*5))
			count[k]++
			odds[k] += r.Odds
			if most(&res.Passages[r.Earlier]) == most(&res.Passages[r.Later]) {
				right[k]++
				if r.Odds > 0.5 {
					found++
				}
			}
		}
	}
	for k := range count {
		if count[k] < 15 {
			continue
		}
		t.Logf("odds %.1f to %.1f: %3.0f returns, mean odds %.2f, right %.2f", float64(k)/5, float64(k+1)/5, count[k], odds[k]/count[k], right[k]/count[k])
		assert.InDelta(t, odds[k]/count[k], right[k]/count[k], 0.2, "share of right returns at odds about %.1f", (float64(k)+0.5)/5)
	}
	t.Logf("%d of %d returns are found with odds above one half", found, cameBack)
	assert.GreaterOrEqual(t, float64(found), 0.3*float64(cameBack), "returns found")
}
