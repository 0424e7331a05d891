package follow

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// inventedFilament is a cloud of the invented Sun. Longitudes are as on day 0, degrees.
type inventedFilament struct {
	lat, lon, rate, drift float64
	half, tilt            float64
	bodyMm, topMm         float64 // above the photosphere
	born, dies            float64
	markable              bool
}

// inventedSun is a run of days with an observer who looks on two days in three.
type inventedSun struct {
	rng   *rand.Rand
	start time.Time
	all   []inventedFilament
	looks []time.Time
	seen  []Sighting
	owner map[string]int           // sighting to filament
	flat  map[string]HeightReading // sighting as it was read on the photosphere
}

const inventedDays = 46.0

// invent makes a Sun whose filaments are as many by latitude as the lists have
// them times richness, live for two weeks on average, turn by another law than the
// check uses, with scatter, and stand up to 100 Mm high. On the disc they are seen where
// their bodies' heights put them, and are placed as if all stood as high as is usual.
func invent(seed uint64, richness float64) *inventedSun {
	rng := rand.New(rand.NewPCG(seed, 4))
	s := &inventedSun{rng: rng, start: time.Date(2024, 1, 5, 9, 0, 0, 0, time.UTC).AddDate(0, int(seed%12), 0), owner: map[string]int{}, flat: map[string]HeightReading{}}
	law, err := rotation.Parse("allen-filaments")
	if err != nil {
		panic(err)
	}
	const lifeDays = 14
	for band := range 7 {
		for _, sign := range []float64{1, -1} {
			// Alive at a time: density × 360° × 10°. Born over the run in proportion.
			expected := listedFilaments[band] * 3600 * richness * (1 + inventedDays/lifeDays)
			for n := poisson(rng, expected); n > 0; n-- {
				f := inventedFilament{lat: sign * (float64(band) + rng.Float64()) * 10, lon: 360 * rng.Float64()}
				f.rate = law.CarringtonDriftDegPerDay(degrees(f.lat)) + 0.25*rng.NormFloat64()
				f.drift = 0.1 * rng.NormFloat64()
				f.half = 1.5 + 8*rng.Float64()*rng.Float64()
				f.tilt = (rng.Float64() - 0.5) * 100 * math.Pi / 180
				f.topMm = 28 * math.Exp(0.45*rng.NormFloat64())
				f.bodyMm = f.topMm * (0.5 + 0.5*rng.Float64())
				f.markable = rng.Float64() < 0.85
				// A population in balance: those alive on day 0 are as many as are born in a life.
				f.born = -lifeDays + rng.Float64()*(inventedDays+lifeDays)
				if rng.Float64() < lifeDays/(inventedDays+lifeDays) {
					f.born = -1e3
				}
				f.dies = max(f.born, 0) + lifeDays*rng.ExpFloat64()
				s.all = append(s.all, f)
			}
		}
	}
	for day := range int(inventedDays) {
		if rng.Float64() < 0.34 {
			continue
		}
		t := s.start.Add(time.Duration((float64(day) + 0.3*rng.Float64()) * 24 * float64(time.Hour)))
		s.looks = append(s.looks, t)
		s.look(t)
	}
	return s
}

func poisson(rng *rand.Rand, mean float64) int {
	n, p := 0, math.Exp(-mean)
	for sum, u := p, rng.Float64(); u > sum && n < 1000; sum += p {
		n++
		p *= mean / float64(n)
	}
	return n
}

// spine is the filament's line at an instant.
func (s *inventedSun) spine(f *inventedFilament, t time.Time) []coords.Heliographic {
	days := t.Sub(s.start).Hours() / 24
	lat, lon := f.lat+f.drift*days, f.lon+f.rate*days
	sin, cos := math.Sincos(f.tilt)
	var out []coords.Heliographic
	for k := -3; k <= 3; k++ {
		along := f.half * float64(k) / 3
		out = append(out, coords.Heliographic{B: degrees(lat + along*sin), L: degrees(lon + along*cos).Wrap360()})
	}
	return out
}

func (s *inventedSun) alive(f *inventedFilament, t time.Time) bool {
	days := t.Sub(s.start).Hours() / 24
	return days > f.born && days < f.dies
}

// look marks what is seen on the disc.
func (s *inventedSun) look(t time.Time) {
	face := ephemeris.At(t)
	for i := range s.all {
		f := &s.all[i]
		if !f.markable || !s.alive(f, t) {
			continue
		}
		line := s.spine(f, t)
		middle := line[3]
		cmd := face.CMD(middle).Degrees()
		if math.Abs(cmd) > 72 || s.rng.Float64() < 0.25 {
			continue
		}
		rho := math.Acos(middle.B.Cos()*degrees(cmd).Cos()) * 180 / math.Pi
		sigma := 0.5 + 1.5*coords.Square(rho/70)
		flat := at(catalog.Filament, t, 0, 0, sigma).Place
		flat.Heliographic = seenThrough(face, middle, f.bodyMm)
		flat.B += degrees(sigma * s.rng.NormFloat64())
		flat.L += degrees(sigma * s.rng.NormFloat64() / middle.B.Cos())
		m := at(catalog.Filament, t, 0, 0, sigma)
		polar := s.view(face).ProjectPolar(flat.Heliographic, 0)
		placed := s.view(face).PlacePolar(polar.PositionAngle, polar.R, 0, usualHeight).Corrected
		if !placed.Known {
			continue
		}
		m.Place.Heliographic = placed.Heliographic
		m.Place.Cov.BB += placed.Cov.BB
		m.Place.Cov.LL += placed.Cov.LL
		m.Place.Cov.BL += placed.Cov.BL
		long := coords.Angle(0.7 + 0.6*s.rng.Float64())
		for _, h := range line {
			m.Shape = append(m.Shape, coords.Heliographic{B: m.Place.B + long*(h.B-middle.B), L: m.Place.L + long*(h.L-middle.L).Wrap180()})
		}
		m.ID = fmt.Sprintf("%d@%d", i, t.Unix())
		s.owner[m.ID] = i
		s.flat[m.ID] = HeightReading{UTC: t, Face: face, Flat: flat}
		s.seen = append(s.seen, m)
	}
}

// usualHeight is that by which filaments are placed whose own is not known.
var usualHeight = func() disc.Height {
	p := rotation.PriorOf(catalog.Filament.String())
	return disc.Height{Mm: p.HeightMm, SigmaMm: p.HeightSigmaMm}
}()

func (s *inventedSun) view(face coords.Face) disc.View {
	return disc.View{Layer: coords.Chromosphere, Face: face}
}

// heights are those of passages as their motion tells; zero where it does not.
func (s *inventedSun) heights(passages []Passage) []coords.Layer {
	prior := rotation.PriorOf(catalog.Filament.String())
	out := make([]coords.Layer, len(passages))
	for i, p := range passages {
		var readings []HeightReading
		for _, m := range p.Sightings {
			readings = append(readings, s.flat[m.ID])
		}
		if fit, err := FitHeight(readings, HeightOptions{Rate: &prior}); err == nil {
			out[i] = fit.Tempered(prior)
		}
	}
	return out
}

// prominences are what stands up from the limb at an instant and is drawn, with the
// filament of each. The geometry is done here by vectors, apart from coords/disc.
func (s *inventedSun) prominences(t time.Time) (edges []AtEdge, whose []int) {
	face := ephemeris.At(t)
	const limbMm = 4.35
	for i := range s.all {
		f := &s.all[i]
		if !s.alive(f, t) || s.rng.Float64() < 0.25 {
			continue
		}
		var low, high, top float64
		seen := false
		var reference float64
		for _, h := range s.spine(f, t) {
			cmd := face.CMD(h).Radians()
			sinB, cosB := h.B.Sincos()
			sinB0, cosB0 := face.B0.Sincos()
			west, north := cosB*math.Sin(cmd), sinB*cosB0-cosB*math.Cos(cmd)*sinB0
			r := (coords.SolarRadiusMm + f.topMm) * math.Hypot(west, north)
			if r < coords.SolarRadiusMm+limbMm+3 {
				continue
			}
			pa := math.Atan2(-west, north)*180/math.Pi + face.P.Degrees()
			if !seen {
				seen, reference = true, pa
			}
			d := wrap180(pa - reference)
			low, high, top = min(low, d), max(high, d), max(top, r-coords.SolarRadiusMm)
		}
		if !seen {
			continue
		}
		middle := reference + (low+high)/2 + s.rng.NormFloat64()
		edges = append(edges, AtEdge{
			UTC: t, PA: degrees(middle).Wrap360(), SigmaPA: 1 * coords.Degree,
			Width: degrees((high - low + 2) * (0.7 + 0.6*s.rng.Float64())),
			TopMm: top * (1 + 0.12*s.rng.NormFloat64()), SigmaTopMm: 4,
			Limb: coords.Chromosphere,
		})
		whose = append(whose, i)
	}
	return edges, whose
}

// reliability gathers probabilities with what came of them, by tenths.
type reliability struct {
	n           [10]int
	said, truth [10]float64
}

func (r *reliability) add(p float64, truth bool) {
	k := min(9, int(p*10))
	r.n[k]++
	r.said[k] += p
	if truth {
		r.truth[k]++
	}
}

// nearestInLatitude is the baseline: the passage whose predicted latitude is nearest,
// of those whose middle is predicted within 20° of that edge, if within 5°.
func nearestInLatitude(e AtEdge, passages []Passage) int {
	view := disc.View{Layer: e.Limb, Face: ephemeris.At(e.UTC)}
	limb := view.PlacePolar(e.PA, 1.0001, 0, disc.Height{}).Beyond.Limb
	best, at := 5*coords.Degree, -1
	for i := range passages {
		here := passages[i].Predict(e.UTC).Place
		if (here.L - limb.L).Wrap180().Abs() < 20*coords.Degree {
			if d := (here.B - limb.B).Abs(); d < best {
				best, at = d, i
			}
		}
	}
	return at
}

// Nothing is published against which the probabilities could be held: they are held
// against invented Suns, whose truth is known, and must be as often right as they
// say. The Suns are not made by the model's own rules: another law, other heights,
// lifetimes, habits.
func TestEdgeProbabilitiesAreCalibrated(t *testing.T) {
	suns := uint64(16)
	if testing.Short() {
		suns = 3
	}
	var table, none reliability
	var brier, brierFlat, baseline, climate float64
	var edges, known, right, firstKnown, fitted, passages int
	kinds := map[string]int{}
	type verdict struct {
		took  int
		truth bool
	}
	var took []verdict
	for seed := range suns {
		s := invent(seed+1, 0.6+0.25*float64(seed%5))
		rng := rand.New(rand.NewPCG(seed, 9))
		for k := 4; k < len(s.looks)-3; k += 3 {
			at := s.looks[k].Add(time.Duration(rng.IntN(5)) * time.Hour)
			// What has been seen by the time of the check: half of the checks are made
			// at once, the others when up to twelve days more have been looked at.
			until := at
			if rng.IntN(2) == 0 {
				until = at.Add(time.Duration(rng.IntN(12*24)) * time.Hour)
			}
			var sightings []Sighting
			for _, m := range s.seen {
				if !m.UTC.After(until) {
					sightings = append(sightings, m)
				}
			}
			var looks []time.Time
			for _, l := range s.looks {
				if !l.After(until) {
					looks = append(looks, l)
				}
			}
			followed, err := Follow(t.Context(), sightings, Options{})
			require.NoError(t, err)
			owner := make([]int, len(followed.Passages))
			for i, p := range followed.Passages {
				owner[i] = s.owner[p.Sightings[len(p.Sightings)-1].ID]
				if p.Sightings[0].UTC.After(at) {
					owner[i] = s.owner[p.Sightings[0].ID]
				}
			}
			heights := s.heights(followed.Passages)
			for _, h := range heights {
				passages++
				if h.HeightMm > 0 {
					fitted++
				}
			}
			found, whose := s.prominences(at)
			for j, e := range found {
				got, err := CheckEdge(e, followed.Passages, EdgeOptions{Heights: heights, Looks: looks, Until: until})
				require.NoError(t, err)
				flat, err := CheckEdge(e, followed.Passages, EdgeOptions{Looks: looks, Until: until})
				require.NoError(t, err)
				edges++
				isKnown := false
				for i := range owner {
					if owner[i] == whose[j] && near(&followed.Passages[i], at) {
						isKnown = true
					}
				}
				if isKnown {
					known++
				}
				none.add(got.None, !isKnown)
				share := sharesOf(got, owner)
				for f, p := range share {
					table.add(p, f == whose[j])
				}
				brier += brierOf(got.None, share, whose[j], isKnown)
				brierFlat += brierOf(flat.None, sharesOf(flat, owner), whose[j], isKnown)
				if len(got.Candidates) > 0 && isKnown {
					firstKnown++
					if owner[got.Candidates[0].Passage] == whose[j] {
						right++
					}
				}
				took = append(took, verdict{nearestInLatitude(e, followed.Passages), false})
				if n := &took[len(took)-1]; n.took >= 0 {
					n.truth = owner[n.took] == whose[j]
				} else {
					n.truth = !isKnown
				}
				kinds[fmt.Sprintf("east %v known %v", got.East, isKnown)]++
			}
		}
	}
	// The baseline says its answer with the probability with which it is right, the
	// best constant it could have, and spreads the rest over none (or nothing).
	hits := 0.0
	for _, v := range took {
		hits += one(v.truth)
	}
	p := hits / float64(len(took))
	for _, v := range took {
		if v.truth {
			baseline += 2 * coords.Square(1-p)
		} else {
			baseline += coords.Square(p) + 1
		}
	}
	n := float64(edges)
	climate = 2 * (float64(known) / n) * (1 - float64(known)/n)
	t.Logf("%d edges, %d of a known filament; %v", edges, known, kinds)
	t.Logf("Brier score %.3f, without heights (%d of %d passages have one by motion) %.3f, nearest in latitude %.3f (right in %.2f), never naming any %.3f", brier/n, fitted, passages, brierFlat/n, baseline/n, p, climate)
	t.Logf("of %d edges with a known filament and a candidate, the first candidate is right in %.2f", firstKnown, float64(right)/float64(max(1, firstKnown)))
	for _, r := range []struct {
		name string
		of   *reliability
	}{{"candidates", &table}, {"none known", &none}} {
		for k, count := range r.of.n {
			if count == 0 {
				continue
			}
			said, truth := r.of.said[k]/float64(count), r.of.truth[k]/float64(count)
			t.Logf("%-10s %.1f-%.1f: %4d cases, said %.3f, true %.3f", r.name, float64(k)/10, float64(k+1)/10, count, said, truth)
			const enough = 100 // the error of a tenth itself is then up to 0.05
			if count >= enough && !testing.Short() {
				assert.InDelta(t, said, truth, 0.1, "%s in tenth %d: %d cases", r.name, k, count)
			}
		}
	}
	assert.Less(t, brier, 0.75*baseline, "Brier score against nearest in latitude")
}

// sharesOf are the probabilities of filaments: a filament's earlier and later passage
// count together.
func sharesOf(c Edge, owner []int) map[int]float64 {
	share := map[int]float64{}
	for _, one := range c.Candidates {
		share[owner[one.Passage]] += one.Probability
	}
	return share
}

// brierOf is the sum of the squares by which probabilities miss the truth.
func brierOf(none float64, share map[int]float64, whose int, isKnown bool) float64 {
	b := coords.Square(none - one(!isKnown))
	for f, p := range share {
		b += coords.Square(p - one(f == whose))
	}
	if _, listed := share[whose]; isKnown && !listed {
		b++
	}
	return b
}

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// near says that a passage is one that a check at an instant may name.
func near(p *Passage, t time.Time) bool {
	first, last := p.Sightings[0].UTC, p.Sightings[len(p.Sightings)-1].UTC
	return t.Sub(last).Hours() < 22*24 && first.Sub(t).Hours() < 22*24
}
