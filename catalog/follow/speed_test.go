package follow

import (
	"context"
	"math"
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
		if _, err := Follow(b.Context(), seen, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAddOneDay(b *testing.B) {
	seen := halfCentury(b)
	res, err := Follow(b.Context(), seen[len(seen)-20000:], Options{})
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
		if _, err := Follow(b.Context(), near, Options{Habits: &res.Habits}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestAWindowFindsWhatTheWholeFinds takes days out of a year and follows only
// their windows: the passages there must be those that the whole year gives.
func TestAWindowFindsWhatTheWholeFinds(t *testing.T) {
	seen := sightingsOf(groupYear(t, 1957))
	whole, err := Follow(t.Context(), seen, Options{})
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
		part, err := Follow(t.Context(), near, Options{Habits: &whole.Habits, Around: around})
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
	res, err := Follow(t.Context(), seen, Options{})
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

// endsAtLook is a context that ends when it is looked at for the n-th time.
type endsAtLook struct {
	context.Context
	n, looks int
}

func (c *endsAtLook) Err() error {
	if c.looks++; c.looks >= c.n {
		return context.Canceled
	}
	return nil
}

// Wherever the context ends, what was not followed to its end is not told.
func TestFollowingThatIsEndedTellsNothing(t *testing.T) {
	var seen []Sighting
	for _, r := range groupYear(t, groupYears[0]) {
		seen = append(seen, r.Sighting)
	}
	seen = seen[:min(len(seen), 400)]
	whole := &endsAtLook{Context: t.Context(), n: math.MaxInt}
	res, err := Follow(whole, seen, Options{})
	require.NoError(t, err)
	require.NotEmpty(t, res.Passages)
	require.Greater(t, whole.looks, 20, "how often it looks whether it is ended")
	for n := 1; n <= whole.looks; n += 1 + whole.looks/200 {
		res, err := Follow(&endsAtLook{Context: t.Context(), n: n}, seen, Options{})
		require.ErrorIs(t, err, context.Canceled, "ended at look %d of %d", n, whole.looks)
		require.Empty(t, res.Passages, "ended at look %d of %d", n, whole.looks)
	}
}

// Whoever ends the context does not wait for what is under way: half a century takes
// seconds. The bound leaves room for a machine that has much else to do.
func TestFollowingEndsWithItsContext(t *testing.T) {
	seen := halfCentury(t)
	start := time.Now()
	_, err := Follow(t.Context(), seen, Options{})
	require.NoError(t, err)
	whole := time.Since(start)
	for _, share := range []float64{0, 0.02, 0.3, 0.7} {
		ctx, cancel := context.WithCancel(t.Context())
		var told time.Time
		time.AfterFunc(time.Duration(share*float64(whole)), func() { told = time.Now(); cancel() })
		res, err := Follow(ctx, seen, Options{})
		ended := time.Now()
		<-ctx.Done()
		if err == nil { // the machine became faster meanwhile: it was done before it was told
			assert.NotEmpty(t, res.Passages)
			assert.Less(t, ended.Sub(told), max(whole/2, time.Second), "followed on to its end after it was told to stop")
			continue
		}
		assert.ErrorIs(t, err, context.Canceled)
		assert.Zero(t, len(res.Passages), "what was not followed to its end is not told")
		t.Logf("told at %.2f of %v: ended %v later", share, whole, ended.Sub(told))
		assert.Less(t, ended.Sub(told), max(whole/2, time.Second))
	}
}
