package follow

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var groupYears = []int{1905, 1937, 1957, 1964, 1981, 2000, 2014}

// TestFollowsObservatoryGroups follows daily sunspot groups of Greenwich and of
// NOAA; the group numbers, which the follower does not see, are the truth.
func TestFollowsObservatoryGroups(t *testing.T) {
	var all tally
	missed, far := 0, 0
	for _, year := range groupYears {
		rows := groupYear(t, year)
		res, err := Follow(t.Context(), sightingsOf(rows), Options{})
		require.NoError(t, err)
		s, truth, made := compare(rows, res)
		t.Logf("%d: %4d rows, %4d links: precision %.4f recall %.4f", year, len(rows), s.truth, s.precision(), s.recall())
		all.add(s)
		for link := range truth {
			if made[link] {
				continue
			}
			i, _ := strconv.Atoi(link[0])
			j, _ := strconv.Atoi(link[1])
			a, b := rows[i].Place, rows[j].Place
			missed++
			if math.Abs((a.B-b.B).Degrees()) > 6.5 || math.Abs((a.L-b.L).Wrap180().Degrees()) > 11 {
				far++
			}
		}
	}
	t.Logf("all years: %d links: precision %.4f recall %.4f", all.truth, all.precision(), all.recall())
	t.Logf("%d of the %d links missed lie more than 11° in longitude or 6.5° in latitude apart", far, missed)
	assert.GreaterOrEqual(t, all.precision(), 0.990, "links of the same group among the links made")
	assert.GreaterOrEqual(t, all.recall(), 0.991, "links made among the links of the same group")
}

// TestOddsAreCalibrated compares the odds of joins, made or only proposed, with the
// share of them that join the same group.
func TestOddsAreCalibrated(t *testing.T) {
	var count, right, odds [10]float64
	for _, year := range groupYears {
		rows := groupYear(t, year)
		res, err := Follow(t.Context(), sightingsOf(rows), Options{})
		require.NoError(t, err)
		_, truth, _ := compare(rows, res)
		for _, p := range res.Proposals {
			k := min(9, int(p.Odds*10))
			count[k]++
			odds[k] += p.Odds
			if truth[[2]string{p.Earlier.ID, p.Later.ID}] {
				right[k]++
			}
		}
	}
	for k := range count {
		if count[k] < 25 {
			continue
		}
		got, want := right[k]/count[k], odds[k]/count[k]
		t.Logf("odds %.1f to %.1f: %3.0f joins, mean odds %.2f, right %.2f", float64(k)/10, float64(k+1)/10, count[k], want, got)
		// Two standard errors of a share, and a tenth.
		assert.InDelta(t, want, got, 0.1+2*math.Sqrt(want*(1-want)/count[k]), "share of right joins among those of odds %.1f", float64(k)/10)
	}
}

// partition lists, for each sighting by its place in the input, the smallest
// place of any in its passage: equal partitions give equal lists.
func partition(t *testing.T, n int, res Result) []int {
	out := filled(n, -1)
	for _, p := range res.Passages {
		least := n
		for _, s := range p.Sightings {
			i, err := strconv.Atoi(s.ID)
			require.NoError(t, err)
			least = min(least, i)
		}
		for _, s := range p.Sightings {
			i, _ := strconv.Atoi(s.ID)
			require.Equal(t, -1, out[i], "sighting %d is in two passages", i)
			out[i] = least
		}
	}
	require.NotContains(t, out, -1, "a sighting is in no passage")
	return out
}

func TestOrderAndNamesDoNotMatter(t *testing.T) {
	rows := groupYear(t, 1905)[:900]
	seen := sightingsOf(rows)
	res, err := Follow(t.Context(), seen, Options{})
	require.NoError(t, err)
	want := partition(t, len(seen), res)

	rng := rand.New(rand.NewPCG(7, 7))
	shuffled := make([]Sighting, len(seen))
	for i, j := range rng.Perm(len(seen)) {
		shuffled[i] = seen[j]
	}
	res, err = Follow(t.Context(), shuffled, Options{})
	require.NoError(t, err)
	assert.Equal(t, want, partition(t, len(seen), res), "sightings in another order")

	renamed := make([]Sighting, len(seen))
	perm := rng.Perm(len(seen))
	for i, s := range seen {
		s.ID = strconv.Itoa(perm[i])
		renamed[i] = s
	}
	res, err = Follow(t.Context(), renamed, Options{})
	require.NoError(t, err)
	back := make([]int, len(perm))
	for i, p := range perm {
		back[p] = i
	}
	for _, p := range res.Passages {
		for k := range p.Sightings {
			id, _ := strconv.Atoi(p.Sightings[k].ID)
			p.Sightings[k].ID = strconv.Itoa(back[id])
		}
	}
	assert.Equal(t, want, partition(t, len(seen), res), "ids dealt out anew")
}

func TestPinnedJoinsStand(t *testing.T) {
	rows := groupYear(t, 1905)[:400]
	seen := sightingsOf(rows)
	free, err := Follow(t.Context(), seen, Options{})
	require.NoError(t, err)

	// The observer joins the first sightings of two passages that the program
	// keeps apart, and takes a passage of the program's apart.
	var long *Passage
	for i := range free.Passages {
		if p := &free.Passages[i]; len(p.Sightings) >= 6 {
			long = p
			break
		}
	}
	require.NotNil(t, long)
	pins := map[string]string{}
	for i, s := range long.Sightings {
		pins[s.ID] = "first"
		if i >= 3 {
			pins[s.ID] = "second"
		}
	}
	last := free.Passages[len(free.Passages)-1].Sightings[0]
	pins[last.ID] = "first"
	for i := range seen {
		seen[i].Pinned = pins[seen[i].ID]
	}
	res, err := Follow(t.Context(), seen, Options{})
	require.NoError(t, err)
	in := map[string]int{}
	for i, p := range res.Passages {
		for _, s := range p.Sightings {
			in[s.ID] = i
		}
	}
	assert.Equal(t, in[long.Sightings[0].ID], in[long.Sightings[2].ID], "pinned together")
	assert.Equal(t, in[long.Sightings[3].ID], in[long.Sightings[5].ID], "pinned together")
	assert.NotEqual(t, in[long.Sightings[2].ID], in[long.Sightings[3].ID], "pinned apart")
	assert.Equal(t, in[long.Sightings[0].ID], in[last.ID], "pinned together across the year")
}

// TestPassagesThatAreKnownNeedNoSearch: where every sighting is pinned, the passages are
// those that the search finds with one sighting left free.
func TestPassagesThatAreKnownNeedNoSearch(t *testing.T) {
	seen := sightingsOf(groupYear(t, 1964))
	free, err := Follow(t.Context(), seen, Options{})
	require.NoError(t, err)
	pin := map[string]string{}
	for i, p := range free.Passages {
		for _, s := range p.Sightings {
			pin[s.ID] = strconv.Itoa(i)
		}
	}
	lone := ""
	for _, p := range free.Passages {
		if len(p.Sightings) == 1 {
			lone = p.Sightings[0].ID
		}
	}
	for i := range seen {
		seen[i].Pinned = pin[seen[i].ID]
	}
	known, err := Follow(t.Context(), seen, Options{Habits: &free.Habits})
	require.NoError(t, err)
	for i := range seen {
		if seen[i].ID == lone {
			seen[i].Pinned = ""
		}
	}
	searched, err := Follow(t.Context(), seen, Options{Habits: &free.Habits})
	require.NoError(t, err)
	require.Len(t, known.Passages, len(searched.Passages))
	for i := range known.Passages {
		a, b := &known.Passages[i], &searched.Passages[i]
		require.Equal(t, len(b.Sightings), len(a.Sightings), "sightings of passage %d", i)
		for k := range a.Sightings {
			assert.Equal(t, b.Sightings[k].ID, a.Sightings[k].ID)
		}
		assert.Equal(t, b.last.lon, a.last.lon)
		assert.Equal(t, b.first.lat, a.first.lat)
		for _, l := range a.Links {
			assert.Equal(t, 1.0, l.Odds)
		}
	}
}
