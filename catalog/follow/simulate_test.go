package follow

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// sun is an invented Sun for thirty days, geometry only: features are born, turn
// with their kind's law and a rate of their own, and die. It stands by itself:
// nothing of the follower's model is used but the published laws.
type sun struct {
	rng      *rand.Rand
	alive    []feature
	born     int
	mistakes float64 // share of marks of which the kind is drawn by lot
}

type feature struct {
	id        int
	kind      catalog.Kind
	lat, lon  float64
	rate      float64 // degrees a day in Carrington longitude
	length    float64 // of a spine, degrees
	tilt      float64
	dies      float64 // day
	crossings int
	seenLast  bool
}

// newborn puts a feature of a kind where its kind lives, away from its likes.
func (s *sun) newborn(kind catalog.Kind, day float64) feature {
	for {
		f := feature{kind: kind, lon: 360 * s.rng.Float64()}
		side := float64(1 - 2*s.rng.IntN(2))
		var law rotation.Law
		var life float64
		switch kind {
		case catalog.Sunspot:
			f.lat, law, life = side*(5+25*s.rng.Float64()), rotation.Law{A: 14.381, B: -2.72, C: 0}, 10 // Jha 2021
		case catalog.Plage:
			f.lat, law, life = side*(5+27*s.rng.Float64()), rotation.Law{A: 14.61, B: -2.18, C: -1.10}, 25 // Mishra 2024
			f.length = 3 + 5*s.rng.Float64()
		default:
			f.lat, law, life = side*60*s.rng.Float64(), rotation.Law{A: 14.48, B: -2.16, C: 0}, 15 // Allen
			f.length = 4 + 25*s.rng.Float64()
		}
		f.tilt = (s.rng.Float64()*80 - 40) * math.Pi / 180
		f.rate = driftDegPerDay(law, f.lat) + 0.15*s.rng.NormFloat64()
		f.dies = day + life*s.rng.ExpFloat64()
		crowded := slices.ContainsFunc(s.alive, func(o feature) bool {
			return o.kind == kind && math.Hypot(o.lat-f.lat, wrap180(o.lon-f.lon)) < 5
		})
		if !crowded {
			s.born++
			f.id = s.born
			return f
		}
	}
}

// watch is some days of one observer: pictures on some days, marks on them
// with errors, misses and mistakes. The label is feature and crossing.
func watch(seed uint64, days int, hasPicture func(day int, rng *rand.Rand) bool) []labelled {
	s := &sun{rng: rand.New(rand.NewPCG(seed, 99)), mistakes: 0.05}
	for _, k := range []catalog.Kind{catalog.Sunspot, catalog.Plage, catalog.Filament} {
		for range 5 + s.rng.IntN(21) { // 5 to 25 live ones of each kind
			s.alive = append(s.alive, s.newborn(k, 0))
		}
	}
	start := time.Date(2023, 3, 1, 9, 0, 0, 0, time.UTC)
	var out []labelled
	for day := range days {
		utc := start.AddDate(0, 0, day).Add(time.Duration(s.rng.IntN(6*3600)) * time.Second)
		face := ephemeris.At(utc)
		picture := hasPicture(day, s.rng)
		for i := range s.alive {
			f := &s.alive[i]
			f.lon += f.rate
			if f.dies < float64(day) {
				*f = s.newborn(f.kind, float64(day))
			}
			cmd := wrap180(f.lon - face.L0.Degrees())
			inView := math.Abs(cmd) < 88
			if inView && !f.seenLast {
				f.crossings++
			}
			f.seenLast = inView
			if inView && picture && s.rng.Float64() > 0.25 {
				out = append(out, s.mark(f, utc, cmd))
			}
		}
	}
	return out
}

// mark is what the observer makes of a feature in view.
func (s *sun) mark(f *feature, utc time.Time, cmd float64) labelled {
	fromCentre := math.Acos(math.Cos(f.lat*math.Pi/180)*math.Cos(cmd*math.Pi/180)) * 180 / math.Pi
	sigma := 0.5 + 1.5*math.Pow(fromCentre/70, 2)
	kind := f.kind
	if kind == catalog.Filament && math.Abs(cmd) > 80 {
		kind = catalog.Prominence
	}
	if s.rng.Float64() < s.mistakes {
		kind = catalog.Kinds[s.rng.IntN(len(catalog.Kinds))]
	}
	lat, lon := f.lat+sigma*s.rng.NormFloat64(), f.lon+sigma*s.rng.NormFloat64()
	var shape []coords.Heliographic
	if f.length > 0 {
		// Both ends are put too far in or out: 70 to 130 % of the length.
		west := f.length / 2 * (0.7 + 0.6*s.rng.Float64())
		east := f.length / 2 * (0.7 + 0.6*s.rng.Float64())
		sin, cos := math.Sincos(f.tilt)
		for k := range 7 {
			along := -east + (east+west)*float64(k)/6
			bow := 0.1 * f.length * (1 - math.Pow(2*along/f.length, 2))
			shape = append(shape, coords.Heliographic{
				B: coords.Angle(lat+along*sin+bow*cos) * coords.Degree,
				L: (coords.Angle(lon+along*cos-bow*sin) * coords.Degree).Wrap360(),
			})
		}
		lat, lon = lat+(west-east)/2*sin, lon+(west-east)/2*cos
	}
	m := at(kind, utc, lat, lon, sigma)
	if kind == catalog.Filament || kind == catalog.Plage {
		m.Shape = shape
	}
	return labelled{Sighting: m, label: fmt.Sprintf("%d/%d", f.id, f.crossings)}
}

// idf1 is the identity F1 of multi-object tracking (Ristani et al. 2016,
// arXiv:1609.01775): true and found tracks are matched one to one so that most
// marks lie in matched tracks; with every mark in one true and one found track it
// is the share of marks that do.
func idf1(rows []labelled, groups [][]string) float64 {
	label := map[string]string{}
	number := map[string]int{}
	for _, r := range rows {
		label[r.ID] = r.label
		if _, known := number[r.label]; !known {
			number[r.label] = len(number)
		}
	}
	cost := make([][]float64, len(groups))
	for i, g := range groups {
		cost[i] = make([]float64, len(number)+len(groups))
		for _, id := range g {
			cost[i][number[label[id]]]--
		}
	}
	kept := 0.0
	for i, j := range assign(cost) {
		kept -= cost[i][j]
	}
	return kept / float64(len(rows))
}

func groupsOf(res Result) [][]string {
	var out [][]string
	for _, p := range res.Passages {
		var ids []string
		for _, s := range p.Sightings {
			ids = append(ids, s.ID)
		}
		out = append(out, ids)
	}
	return out
}

// nearestNeighbour is the plain way: each mark goes to the nearest open track of
// its kind, carried by one law, within a gate; nearest pairs first.
func nearestNeighbour(seen []Sighting, gateDeg, reachDays float64) [][]string {
	seen = slices.Clone(seen)
	slices.SortStableFunc(seen, canonical)
	type pair struct {
		track, mark int
		far         float64
	}
	var last []Sighting
	var out [][]string
	law := rotation.Law{A: 14.38, B: -2.7, C: 0}
	for from := 0; from < len(seen); {
		to := from
		for to < len(seen) && seen[to].UTC.Equal(seen[from].UTC) {
			to++
		}
		var near []pair
		for m := from; m < to; m++ {
			for t, s := range last {
				dt := seen[m].UTC.Sub(s.UTC).Hours() / 24
				lat, lon := s.Place.B.Degrees(), s.Place.L.Degrees()
				far := math.Hypot(seen[m].Place.B.Degrees()-lat, wrap180(seen[m].Place.L.Degrees()-lon-driftDegPerDay(law, lat)*dt))
				if seen[m].Kind == s.Kind && dt < reachDays && far < gateDeg {
					near = append(near, pair{t, m, far})
				}
			}
		}
		slices.SortStableFunc(near, func(a, b pair) int { return cmp.Compare(a.far, b.far) })
		usedTrack, usedMark := map[int]bool{}, map[int]bool{}
		for _, p := range near {
			if !usedTrack[p.track] && !usedMark[p.mark] {
				usedTrack[p.track], usedMark[p.mark] = true, true
				last[p.track] = seen[p.mark]
				out[p.track] = append(out[p.track], seen[p.mark].ID)
			}
		}
		for m := from; m < to; m++ {
			if !usedMark[m] {
				last = append(last, seen[m])
				out = append(out, []string{seen[m].ID})
			}
		}
		from = to
	}
	return out
}

// TestFollowsInventedSuns follows thirty days each of a number of invented Suns, and
// tells how much better that is than going to the nearest (with the gate that suits
// each run best).
func TestFollowsInventedSuns(t *testing.T) {
	runs := uint64(16)
	if testing.Short() {
		runs = 4
	}
	for _, c := range []struct {
		name       string
		hasPicture func(int, *rand.Rand) bool
		atLeast    float64
	}{
		{"one day in three without a picture", func(_ int, rng *rand.Rand) bool { return rng.IntN(3) > 0 }, 0.97},
		{"three days from picture to picture", func(day int, _ *rand.Rand) bool { return day%3 == 0 }, 0.93},
	} {
		ours, plain := 0.0, 0.0
		for seed := range runs {
			rows := watch(seed, 30, c.hasPicture)
			seen := sightingsOf(rows)
			res, err := Follow(t.Context(), seen, Options{})
			require.NoError(t, err)
			ours += idf1(rows, groupsOf(res)) / float64(runs)
			best := 0.0
			for _, gate := range []float64{2, 3, 4, 6, 8} {
				best = max(best, idf1(rows, nearestNeighbour(seen, gate, 10)))
			}
			plain += best / float64(runs)
		}
		t.Logf("%s: IDF1 %.3f, nearest neighbour %.3f", c.name, ours, plain)
		assert.GreaterOrEqual(t, ours, c.atLeast, "%s: mean IDF1 of %d runs", c.name, runs)
		assert.Greater(t, 1-plain, 1.5*(1-ours), "%s: nearest neighbour loses more", c.name)
	}
}
