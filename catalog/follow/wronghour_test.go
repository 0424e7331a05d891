package follow

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAWrongHourIsTakenOut puts the clock of every twelfth day of a year of Greenwich
// groups twenty hours back: all longitudes of that day come out 11° too great.
func TestAWrongHourIsTakenOut(t *testing.T) {
	const wrongDeg = 11.0
	rows := groupYear(t, 1957)
	right, err := Follow(t.Context(), sightingsOf(rows), Options{})
	require.NoError(t, err)
	before := score(rows, right)

	spoilt := map[time.Time]bool{}
	for i := range rows {
		if utc := rows[i].UTC; utc.YearDay()%12 == 6 {
			spoilt[utc] = true
			rows[i].Place.L = (rows[i].Place.L + degrees(wrongDeg)).Wrap360()
		}
	}
	res, err := Follow(t.Context(), sightingsOf(rows), Options{})
	require.NoError(t, err)
	told := 0
	for _, s := range res.Shifts {
		if spoilt[s.UTC] {
			told++
			assert.InDelta(t, wrongDeg, s.Deg, 1, "shift of %v", s.UTC)
			assert.InDelta(t, 20, s.Hours, 2, "11° at 13.2° a day, %v", s.UTC)
		}
	}
	after := score(rows, res)
	t.Logf("%d of %d wrong days found; recall %.4f, without wrong days %.4f", told, len(spoilt), after.recall(), before.recall())
	assert.GreaterOrEqual(t, float64(told)/float64(len(spoilt)), 0.85, "wrong days found")
	assert.Greater(t, after.recall(), before.recall()-0.006, "links made among those of the same group")
	for _, p := range res.Passages {
		for _, s := range p.Sightings {
			i, _ := strconv.Atoi(s.ID)
			require.Equal(t, rows[i].Place, s.Place, "the place stays as it came")
		}
	}
}

// TestRightHoursAreLeftAlone: the few shifts found in years as they are printed.
func TestRightHoursAreLeftAlone(t *testing.T) {
	looks, shifts := 0, 0
	for _, year := range groupYears {
		rows := groupYear(t, year)
		res, err := Follow(t.Context(), sightingsOf(rows), Options{})
		require.NoError(t, err)
		seen := map[time.Time]bool{}
		for _, r := range rows {
			seen[r.UTC] = true
		}
		looks += len(seen)
		shifts += len(res.Shifts)
		for _, s := range res.Shifts {
			t.Logf("%v: %.1f° (%.1f h), %d marks", s.UTC, s.Deg, s.Hours, s.Marks)
		}
	}
	t.Logf("%d shifts in %d looks", shifts, looks)
	assert.Less(t, float64(shifts), 0.002*float64(looks), "looks with a shift")
}
