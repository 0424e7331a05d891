package follow

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
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
		res, err := Follow(t.Context(), sightingsOf(rows), Options{})
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

// crowdedMonth is as many marks as are wanted, on forty days, each a passage of its own:
// more than any Sun has, as a record of all small spots gives them. Only so many kinds.
func crowdedMonth(tb testing.TB, seed uint64, marks, kinds int) []Passage {
	rng := rand.New(rand.NewPCG(seed, 7))
	start := time.Date(2025, 3, 1, 12, 0, 0, 0, time.UTC)
	var seen []Sighting
	for i := range marks {
		utc := start.AddDate(0, 0, i*40/marks)
		face := ephemeris.At(utc)
		name := strconv.Itoa(i)
		seen = append(seen, Sighting{
			ID: name, Pinned: name, Kind: catalog.Kinds[rng.IntN(kinds)], UTC: utc, Face: face,
			Place: coords.Measured{
				Heliographic: coords.Heliographic{B: degrees(60*rng.Float64() - 30), L: (face.L0 + degrees(160*rng.Float64()-80)).Wrap360()},
				Cov:          coords.Covariance{BB: 3e-5, LL: 3e-5},
			},
		})
	}
	res, err := Follow(tb.Context(), seen, Options{})
	require.NoError(tb, err)
	return res.Passages
}

// returnsByTheRule is Returns pair by pair: each is weighed against each, groups of pairs
// that touch are found by joining until nothing joins, and the odds of pairs in a large
// group are summed over its rivals one by one.
func returnsByTheRule(passages []Passage) []Return {
	density := newBirths(passages)
	type link struct{ a, b, group int }
	var links []link
	gain := map[[2]int]float64{}
	for a := range passages {
		for b := range passages {
			days := passages[b].first.day - passages[a].first.day
			if _, g := weighReturn(&passages[a], &passages[b], &density); days > 0 && days <= 2*turnDays && g > -negligible {
				gain[[2]int{a, b}] = g
				links = append(links, link{a, b, len(links)})
			}
		}
	}
	for changed := true; changed; {
		changed = false
		least := map[int]int{} // of heads as 2a, of tails as 2b + 1
		for _, end := range []func(link) int{func(l link) int { return 2 * l.a }, func(l link) int { return 2*l.b + 1 }} {
			for _, l := range links {
				if g, known := least[end(l)]; !known || l.group < g {
					least[end(l)] = l.group
				}
			}
			for i := range links {
				if g := least[end(links[i])]; g < links[i].group {
					links[i].group, changed = g, true
				}
			}
		}
	}
	groups := map[int]*cluster{}
	for _, l := range links {
		c := groups[l.group]
		if c == nil {
			c = &cluster{}
			groups[l.group] = c
		}
		if !slices.Contains(c.heads, l.a) {
			c.heads = append(c.heads, l.a)
		}
		if !slices.Contains(c.tails, l.b) {
			c.tails = append(c.tails, l.b)
		}
	}
	var out []Return
	for _, c := range groups {
		for _, a := range c.heads {
			row := make([]float64, len(c.tails))
			for k, b := range c.tails {
				row[k] = math.Inf(-1)
				if g, known := gain[[2]int{a, b}]; known {
					row[k] = g
				}
			}
			c.gain = append(c.gain, row)
		}
		large := len(c.heads)*len(c.tails) > manyPairs
		for x, a := range c.heads {
			for y, b := range c.tails {
				g := c.gain[x][y]
				if math.IsInf(g, -1) {
					continue
				}
				odds := 0.0
				if large {
					others := math.Exp(-g)
					for _, l := range links {
						if (l.a == a) != (l.b == b) {
							others += math.Exp(gain[[2]int{l.a, l.b}] - g)
						}
					}
					odds = 1 / (1 + others)
				} else {
					odds = chance(c.forced(x, y) - c.without(x, y))
				}
				if odds >= likelyReturn {
					r, _ := weighReturn(&passages[a], &passages[b], &density)
					r.Earlier, r.Later, r.Odds = a, b, odds
					out = append(out, r)
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b Return) int {
		return cmp.Or(cmp.Compare(a.Later, b.Later), cmp.Compare(b.Odds, a.Odds), cmp.Compare(a.Earlier, b.Earlier))
	})
	return out
}

func TestReturnsFollowTheRule(t *testing.T) {
	found, large := 0, false
	for seed, marks := range []int{0, 1, 40, 90, 160, 250} {
		for kinds := 1; kinds <= 3; kinds++ {
			passages := crowdedMonth(t, uint64(10*seed+kinds), marks, kinds)
			got, want := Returns(passages), returnsByTheRule(passages)
			require.Len(t, got, len(want), "%d marks", marks)
			slices.SortStableFunc(got, func(a, b Return) int {
				return cmp.Or(cmp.Compare(a.Later, b.Later), cmp.Compare(b.Odds, a.Odds), cmp.Compare(a.Earlier, b.Earlier))
			})
			for i := range want {
				assert.InDelta(t, want[i].Odds, got[i].Odds, 1e-12)
				want[i].Odds = got[i].Odds
				require.Equal(t, want[i], got[i])
			}
			found += len(got)
			density := newBirths(passages)
			for _, c := range gatherReturns(passages, &density) {
				large = large || len(c.heads)*len(c.tails) > manyPairs
			}
		}
	}
	assert.Greater(t, found, 20)
	assert.True(t, large, "no group was so large that its odds are rough")
}

// A month of 4600 spots, none of which can be followed.
func BenchmarkReturnsOfACrowdedMonth(b *testing.B) {
	passages := crowdedMonth(b, 1, 4600, 2)
	for b.Loop() {
		Returns(passages)
	}
}
