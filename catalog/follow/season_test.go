package follow

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// mixedSeason is a season of one observer on an invented Sun of active regions, plage
// with spots inside it, and of filaments: some weeks with clouded days, features missed,
// 3 of 100 marks called by a wrong name.
func mixedSeason(seed uint64) []labelled {
	s := &sun{rng: rand.New(rand.NewPCG(seed, 1859)), mistakes: 0.03}
	for range 3 + s.rng.IntN(8) {
		s.alive = append(s.alive, s.newborn(catalog.Plage, 0))
	}
	for range 2 + s.rng.IntN(10) {
		s.alive = append(s.alive, s.newborn(catalog.Filament, 0))
	}
	s.spotted(0, 0.7)
	start := time.Date(1970+s.rng.IntN(60), time.Month(1+s.rng.IntN(12)), 1, 8, 0, 0, 0, time.UTC)
	cloudy, missed := 0.1+0.3*s.rng.Float64(), 0.05+0.2*s.rng.Float64()
	drawn := s.rng.IntN(2) == 0 // whether shapes are drawn, or points set
	single := s.rng.IntN(2) == 0
	var out []labelled
	last := start
	for day := range 25 + s.rng.IntN(60) {
		utc := start.AddDate(0, 0, day).Add(time.Duration(s.rng.IntN(7*3600)) * time.Second)
		face, dt := ephemeris.At(utc), utc.Sub(last).Hours()/24
		last = utc
		s.comeAndGo(float64(day))
		picture := s.rng.Float64() > cloudy
		for i := range s.alive {
			f := &s.alive[i]
			f.lon += f.rate * dt
			cmd := wrap180(f.lon - face.L0.Degrees())
			inView := math.Abs(cmd) < 85
			if inView && !f.seenLast {
				f.crossings++
			}
			f.seenLast = inView
			if inView && picture && s.rng.Float64() > missed {
				m := s.mark(f, utc, cmd)
				if !drawn {
					m.Shape = nil
				}
				if single && m.Kind == catalog.Sunspot {
					m.Extent = catalog.SingleSpot
				}
				out = append(out, m)
			}
		}
	}
	return out
}

// comeAndGo lets plages and filaments that died be followed by others elsewhere, and
// spots come up now and then in plages without one.
func (s *sun) comeAndGo(day float64) {
	left := s.alive[:0]
	var died []catalog.Kind
	for _, f := range s.alive {
		if f.dies >= day {
			left = append(left, f)
		} else if f.kind != catalog.Sunspot {
			died = append(died, f.kind)
		}
	}
	s.alive = left
	for _, kind := range died {
		s.alive = append(s.alive, s.newborn(kind, day))
	}
	s.spotted(day, 0.05)
}

// spotted puts a spot, with a chance, into each plage that has none.
func (s *sun) spotted(day, chance float64) {
	for _, p := range slices.Clone(s.alive) {
		if p.kind != catalog.Plage || s.rng.Float64() > chance {
			continue
		}
		f := feature{
			id: s.born + 1, kind: catalog.Sunspot, lat: p.lat + s.rng.NormFloat64(), lon: p.lon + 2*s.rng.NormFloat64(),
			rate: p.rate + 0.1*s.rng.NormFloat64(), dies: day + 10*s.rng.ExpFloat64(),
		}
		crowded := slices.ContainsFunc(s.alive, func(o feature) bool {
			return o.kind == catalog.Sunspot && math.Hypot(o.lat-f.lat, wrap180(o.lon-f.lon)) < 6
		})
		if !crowded {
			s.born++
			s.alive = append(s.alive, f)
		}
	}
}

// TestFollowsMixedSeasons: links between consecutive sightings of one feature, over
// several hundred seasons.
func TestFollowsMixedSeasons(t *testing.T) {
	seasons := uint64(300)
	if testing.Short() {
		seasons = 60
	}
	var all tally
	for seed := range seasons {
		rows := mixedSeason(seed)
		res, err := Follow(t.Context(), sightingsOf(rows), Options{})
		require.NoError(t, err, "season %d", seed)
		requireSound(t, rows, res, fmt.Sprintf("season %d", seed))
		all.add(score(rows, res))
	}
	t.Logf("%d seasons, %d links: precision %.4f recall %.4f", seasons, all.truth, all.precision(), all.recall())
	assert.GreaterOrEqual(t, all.precision(), 0.97, "links of the same feature among the links made")
	assert.GreaterOrEqual(t, all.recall(), 0.97, "links made among the links of the same feature")
}

// requireSound checks what must hold of any result: each sighting is in one passage, in
// the order of time, odds are chances, places lie on the Sun, covariances are those of
// something.
func requireSound(t *testing.T, rows []labelled, res Result, name string) {
	t.Helper()
	chance := func(p float64) bool { return p >= 0 && p <= 1 }
	seen := map[string]int{}
	for i := range res.Passages {
		p := &res.Passages[i]
		require.Len(t, p.Links, len(p.Sightings)-1, name)
		for k, s := range p.Sightings {
			seen[s.ID]++
			if k > 0 {
				require.False(t, s.UTC.Before(p.Sightings[k-1].UTC), "%s: sighting %s comes before the one before it", name, s.ID)
				require.True(t, chance(p.Links[k-1].Odds), "%s: odds %g of sighting %s", name, p.Links[k-1].Odds, s.ID)
			}
		}
		for end, s := range []state{p.first, p.last} {
			for _, a := range []axis{s.lon, s.lat} {
				require.True(t, a.xx > 0 && a.vv > 0 && a.xx*a.vv > a.xv*a.xv, "%s: passage %d, end %d: covariance %+v", name, i, end, a)
				for _, v := range []float64{a.x, a.v, a.xx, a.xv, a.vv} {
					require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%s: passage %d, end %d: %+v", name, i, end, a)
				}
			}
		}
		for _, days := range []int{-40, -1, 0, 1, 12, 400} {
			pred := p.Predict(p.Sightings[0].UTC.AddDate(0, 0, days))
			require.True(t, chance(pred.Alive), "%s: alive %g", name, pred.Alive)
			require.LessOrEqual(t, pred.Place.B.Abs(), 90*coords.Degree, name)
			require.True(t, pred.Place.Cov.BB > 0 && pred.Place.Cov.LL > 0, "%s: prediction's covariance %+v", name, pred.Place.Cov)
		}
		rate, sigma := p.Rate()
		require.True(t, math.Abs(rate) < math.MaxFloat64 && sigma > 0 && sigma < math.MaxFloat64, "%s: rate %g ± %g", name, rate, sigma)
	}
	for _, r := range rows {
		require.Equal(t, 1, seen[r.ID], "%s: passages with sighting %s", name, r.ID)
	}
	for _, p := range res.Proposals {
		require.True(t, chance(p.Odds), "%s: proposal of odds %g", name, p.Odds)
		for _, r := range p.Rivals {
			require.True(t, chance(r.Odds), "%s: rival of odds %g", name, r.Odds)
		}
	}
	for _, e := range res.Habits.Eras {
		for _, v := range []float64{e.Misses, e.MissesAgain, e.Mistakes, e.Misplaced} {
			require.True(t, chance(v), "%s: habits %+v", name, e)
		}
		for _, f := range e.Fortunes {
			require.True(t, f.Rough > 0 && f.Rough < 10 && f.Jumpy > 0 && f.Jumpy < 10 && chance(f.DiesYoung) && chance(f.DiesOld), "%s: habits %+v", name, f)
		}
	}
	for _, r := range Returns(res.Passages) {
		require.True(t, chance(r.Odds) && r.SigmaLonDeg > 0 && r.SigmaLatDeg > 0, "%s: return %+v", name, r)
	}
}

// spoilt is a season with what records may hold: several frames of one instant, marks
// given twice, errors of nothing and of everything, places at the poles and beyond the
// limb, kinds by lot, passages of the observer's that make no sense.
func spoilt(seed uint64) []labelled {
	rows := mixedSeason(seed)
	rng := rand.New(rand.NewPCG(seed, 1861))
	how := rng.Perm(9)[:1+rng.IntN(5)]
	share := []float64{0.02, 0.2, 1}[rng.IntN(3)]
	for i := range rows {
		for _, what := range how {
			if rng.Float64() > share {
				continue
			}
			s := &rows[i].Sighting
			switch what {
			case 0:
				s.Kind = catalog.Kinds[rng.IntN(len(catalog.Kinds))]
			case 1:
				s.Place.Cov = coords.Covariance{BB: math.Pow(10, -320*rng.Float64()), LL: math.Pow(10, -320*rng.Float64())}
			case 2:
				s.Place.Cov = coords.Covariance{BB: math.Pow(10, 308*rng.Float64()), LL: math.Pow(10, 308*rng.Float64())}
			case 3:
				s.UTC, s.Face = rows[i/7*7].UTC, rows[i/7*7].Face
				s.Frame = fmt.Sprint(rng.IntN(3))
			case 4:
				s.Place.Heliographic = rows[i/5*5].Place.Heliographic
			case 5:
				s.Place.B = degrees([]float64{-90, 90, 89.99, 0}[rng.IntN(4)])
			case 6:
				s.Place.L = degrees(360 * rng.Float64())
			case 7:
				s.Pinned = fmt.Sprint(rng.IntN(12))
			case 8:
				s.Shape = []coords.Heliographic{s.Place.Heliographic, s.Place.Heliographic}
				s.Closed = rng.IntN(2) == 0
			}
		}
	}
	return rows
}

// story writes a result down whole, passages and odds, so that two can be compared.
func story(res Result) string {
	var b strings.Builder
	for _, p := range res.Passages {
		for k, s := range p.Sightings {
			fmt.Fprint(&b, s.ID, " ")
			if k > 0 {
				fmt.Fprint(&b, p.Links[k-1].Odds, " ")
			}
		}
		fmt.Fprintln(&b)
	}
	for _, p := range res.Proposals {
		fmt.Fprintln(&b, p.Earlier.ID, p.Later.ID, p.Odds, p.Made)
	}
	return b.String()
}

// TestAnyRecordIsFollowed: whatever a record holds, in whatever order, what comes out is
// sound and the same.
func TestAnyRecordIsFollowed(t *testing.T) {
	records, most := uint64(200), 150
	if testing.Short() {
		records = 40
	}
	for seed := range records {
		name := fmt.Sprintf("record %d", seed)
		rows := spoilt(seed)
		if from := len(rows) - most; from > 0 { // some weeks of it
			from = rand.New(rand.NewPCG(seed, 1874)).IntN(from)
			rows = rows[from : from+most]
		}
		seen := sightingsOf(rows)
		res, err := Follow(t.Context(), seen, Options{})
		require.NoError(t, err, name)
		requireSound(t, rows, res, name)

		rng := rand.New(rand.NewPCG(seed, 1868))
		rng.Shuffle(len(seen), func(i, j int) { seen[i], seen[j] = seen[j], seen[i] })
		again, err := Follow(t.Context(), seen, Options{})
		require.NoError(t, err, name)
		require.Equal(t, story(res), story(again), "%s in another order", name)
	}
}
