package follow

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// halfCentury is fifty years of daily groups: the years at hand over and over,
// each place moved in longitude so that it keeps its distance from the meridian.
func halfCentury(t testing.TB) []Sighting {
	var out []Sighting
	for year := range 50 {
		from := groupYears[year%len(groupYears)]
		for _, r := range groupYear(t, from) {
			s := r.Sighting
			cmd := s.Face.CMD(s.Place.Heliographic)
			s.UTC = s.UTC.AddDate(1951+year-from, 0, 0)
			s.Face = ephemeris.At(s.UTC)
			s.Place.L = (s.Face.L0 + cmd).Wrap360()
			out = append(out, s)
		}
	}
	return out
}

func BenchmarkFollowHalfCentury(b *testing.B) {
	seen := halfCentury(b)
	b.ReportMetric(float64(len(seen)), "marks")
	for b.Loop() {
		if _, err := Follow(seen, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAddOneDay(b *testing.B) {
	seen := halfCentury(b)
	res, err := Follow(seen[len(seen)-20000:], Options{})
	if err != nil {
		b.Fatal(err)
	}
	from, to := Window(time.Date(1993, 6, 1, 12, 0, 0, 0, time.UTC))
	var near []Sighting
	for _, s := range seen {
		if s.UTC.After(from) && s.UTC.Before(to) {
			near = append(near, s)
		}
	}
	b.ReportMetric(float64(len(near)), "marks")
	for b.Loop() {
		if _, err := Follow(near, Options{Habits: &res.Habits}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestAWindowFindsWhatTheWholeFinds takes days out of a year and follows only
// their windows: the passages there must be those that the whole year gives.
func TestAWindowFindsWhatTheWholeFinds(t *testing.T) {
	seen := sightingsOf(groupYear(t, 1957))
	whole, err := Follow(seen, Options{})
	require.NoError(t, err)
	want := map[string]string{}
	for _, p := range whole.Passages {
		for i, s := range p.Sightings {
			want[s.ID] = p.Sightings[0].ID
			if i > 0 {
				want[s.ID] += " after " + p.Sightings[i-1].ID
			}
		}
	}
	same, all := 0, 0
	for day := 35; day < 330; day += 15 {
		t0 := time.Date(1957, 1, day, 12, 0, 0, 0, time.UTC)
		from, to := Window(t0)
		var near []Sighting
		var around []Glimpse
		for _, s := range seen {
			if s.UTC.After(from) && s.UTC.Before(to) {
				near = append(near, s)
			} else {
				around = append(around, Glimpse{s.UTC, s.Frame, s.Kind, s.Place.B})
			}
		}
		part, err := Follow(near, Options{Habits: &whole.Habits, Around: around})
		require.NoError(t, err)
		for _, p := range part.Passages {
			if !p.Touches(t0) {
				continue
			}
			for i, s := range p.Sightings {
				got := p.Sightings[0].ID
				if i > 0 {
					got += " after " + p.Sightings[i-1].ID
				}
				if all++; got == want[s.ID] {
					same++
				}
			}
		}
	}
	t.Logf("%d of %d sightings in the same place of the same passage", same, all)
	assert.GreaterOrEqual(t, float64(same)/float64(all), 0.9995, "sightings of a window that are joined as in the whole year")
}

func TestPredictGrowsUncertain(t *testing.T) {
	start := time.Date(2014, 10, 20, 12, 0, 0, 0, time.UTC)
	var seen []Sighting
	for day := range 3 {
		utc := start.AddDate(0, 0, day)
		s := at(1, utc, -14, 245, 0.3)
		s.ID = utc.String()
		seen = append(seen, s)
	}
	res, err := Follow(seen, Options{})
	require.NoError(t, err)
	require.Len(t, res.Passages, 1, "three sightings of one place a day apart")
	last := coords.Angle(0)
	for _, days := range []int{2, 3, 5, 9} {
		got := res.Passages[0].Predict(start.AddDate(0, 0, days))
		sigma := got.Place.Cov.SigmaL()
		assert.Greater(t, sigma, last, "error of the longitude after %d days", days)
		assert.LessOrEqual(t, got.Alive, 1.0)
		last = sigma
	}
}
