package paint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"limbwatch/coords"
)

// Laws is how each kind of feature turns: its drift in the Carrington frame. A nil
// drift is none.
type Laws struct {
	Spot, Plage, Filament, Pattern Drift
}

// Population is an invented Sun over a run of days: what lives on it, when, and
// how it moves. At gives the Sun of an instant.
type Population struct {
	Start    time.Time
	Laws     Laws
	Mottling Mottling // its Days are filled in by At
	Regions  []Region
	Sheets   []Sheet
	Bursts   []Burst
}

// Life is when something is there, in days since the population's start, and how
// fast it comes and goes. Things born before the start have Born below 0.
type Life struct {
	Born, Gone        float64
	Growth, Decay     float64 // days in which it comes up and fades
	OwnEast, OwnNorth float64 // motion of its own, degrees a day, to the west and north
}

// alive is how much of it there is, 0 to 1.
func (l Life) alive(days float64) float64 {
	if days <= l.Born || days >= l.Gone {
		return 0
	}
	return math.Min(1, smoothstep(0, l.Growth, days-l.Born)) * math.Min(1, smoothstep(0, l.Decay, l.Gone-days))
}

// Region is an active region: a group of spots in its plage.
//
//	At              of its middle at the start of the population
//	LengthDeg, TiltDeg  from leader to follower when grown; the leader lies west and nearer to the equator
//	LeaderMm        penumbra of the leader when grown
//	PlageLife       longer than that of the spots
type Region struct {
	Label              string
	At                 coords.Heliographic
	Life, PlageLife    Life
	LengthDeg, TiltDeg float64
	LeaderMm           float64
	Pores              int
	Seed               uint64
}

// SpotLabel and PlageLabel name the region's group of spots and its plage.
func (r Region) SpotLabel() string { return r.Label + " spots" }

// PlageLabel names the region's plage.
func (r Region) PlageLabel() string { return r.Label + " plage" }

// Sheet is a filament with a life. Its Spine holds at the start of the population,
// each of its points turns at its own latitude's rate.
type Sheet struct {
	Filament
	Life Life
}

// Burst is a prominence that comes and goes: a surge, a loop, or a quiet one that
// shows on the disc hardly at all.
type Burst struct {
	Prominence
	Life Life
}

// carry moves a place by the drift of its latitude and its own motion.
func carry(h coords.Heliographic, d Drift, l Life, days float64) coords.Heliographic {
	rate := l.OwnEast
	if d != nil {
		rate += d(h.B)
	}
	return coords.Heliographic{
		B: h.B + degreesOf(l.OwnNorth*days),
		L: (h.L + degreesOf(rate*days)).Wrap360(),
	}
}

// days since the population's start.
func (p *Population) days(t time.Time) float64 { return t.Sub(p.Start).Hours() / 24 }

// At is the Sun of an instant, at any time; what is not there then is left out.
func (p *Population) At(t time.Time) Sun {
	days := p.days(t)
	sun := Sun{Mottling: p.Mottling}
	sun.Mottling.Days = days
	sun.Mottling.DriftDegPerDay = p.Laws.Pattern
	for _, r := range p.Regions {
		if alive := r.PlageLife.alive(days); alive > 0.02 {
			sun.Plages = append(sun.Plages, r.plage(p.Laws, days, alive))
		}
		if alive := r.Life.alive(days); alive > 0.02 {
			sun.Spots = append(sun.Spots, r.spots(p.Laws, days, alive)...)
		}
	}
	for _, s := range p.Sheets {
		if alive := s.Life.alive(days); alive > 0.02 {
			sun.Filaments = append(sun.Filaments, s.at(p.Laws, days, alive))
		}
	}
	for _, b := range p.Bursts {
		if alive := b.Life.alive(days); alive > 0.02 {
			pr := b.Prominence
			pr.At = carry(pr.At, p.Laws.Filament, b.Life, days)
			pr.Depth = orDefault(pr.Depth, 0.8) * alive
			pr.HeightMm *= 0.5 + 0.5*alive
			sun.Prominences = append(sun.Prominences, pr)
		}
	}
	return sun
}

func (r Region) plage(laws Laws, days, alive float64) Plage {
	size := 0.55 + 0.45*alive
	return Plage{
		Label: r.PlageLabel(), At: carry(r.At, laws.Plage, r.PlageLife, days),
		LengthMm: (r.LengthDeg*12 + 45) * size, WidthMm: (r.LengthDeg*5 + 28) * size, TiltDeg: r.tiltDeg(),
		HeightMm: 2, Brightness: 0.42 * alive, Patchy: 0.85, Seed: r.Seed,
	}
}

// tiltDeg turns the leader toward the equator: it lies west of the follower.
func (r Region) tiltDeg() float64 {
	if r.At.B > 0 {
		return -r.TiltDeg
	}
	return r.TiltDeg
}

// spots places leader, follower and pores, farther apart as the group grows.
func (r Region) spots(laws Laws, days, alive float64) []Spot {
	frame := localAt(carry(r.At, laws.Spot, r.Life, days))
	rng := stream(r.Seed, streamFeature)
	sin, cos := degreesOf(r.tiltDeg()).Sincos()
	half := r.LengthDeg / 2 * (0.5 + 0.5*alive)
	var out []Spot
	put := func(along, aside, penumbraMm float64, seed uint64) {
		penumbraMm *= math.Sqrt(alive)
		if penumbraMm < 1 {
			return
		}
		umbra := 0.42 * penumbraMm
		if penumbraMm < 4 { // a pore has no penumbra
			umbra = penumbraMm
		}
		at := frame.at(degreesOf(along*cos-aside*sin).Radians(), degreesOf(along*sin+aside*cos).Radians())
		out = append(out, Spot{
			Label: r.SpotLabel(), At: coords.HeliographicOf(at), UmbraMm: umbra, PenumbraMm: penumbraMm,
			Ragged: 0.15 + 0.2*rng.Float64(), Seed: seed,
		})
	}
	put(half, 0, r.LeaderMm, r.Seed+1)
	if r.LengthDeg > 0 {
		put(-half, 0, r.LeaderMm*0.55, r.Seed+2)
	}
	for k := range r.Pores {
		put(half*(2*rng.Float64()-1), 0.9*rng.NormFloat64(), 1.6+3*rng.Float64()*rng.Float64(), r.Seed+3+uint64(k))
	}
	return out
}

// at shears the sheet's spine and thins the sheet by age.
func (s Sheet) at(laws Laws, days, alive float64) Filament {
	f := s.Filament
	f.Spine = make([]coords.Heliographic, len(s.Spine))
	for i, h := range s.Spine {
		f.Spine[i] = carry(h, laws.Filament, s.Life, days)
	}
	f.Depth *= alive
	return f
}

// Generate invents a population for a run of days around an active, not too busy
// Sun: active regions in the belts of spots, tilted toward the equator, with spots
// that live for days or weeks and plage that outlives them; small filaments beside
// some of them; large quiescent filaments poleward of the belts with lifetimes of
// weeks, one or two of which erupt within the run; a polar crown; surges and loops
// of hours. Sizes, heights and lifetimes lie in the ranges that observers report
// (filaments 60 to 400 Mm long and 10 to 60 high, spots 2 to 25 Mm).
func Generate(seed uint64, start time.Time, days int, laws Laws) *Population {
	rng := stream(seed, streamPopulation)
	p := &Population{
		Start: start, Laws: laws,
		Mottling: Mottling{Strength: 0.07, Seed: rng.Uint64(), LifetimeDays: 3},
	}
	run := float64(days)
	for k := range 11 {
		r := newRegion(rng, k, run)
		p.Regions = append(p.Regions, r)
		if rng.Float64() < 0.45 {
			p.Sheets = append(p.Sheets, newRegionSheet(rng, r, len(p.Sheets), run))
		}
		for range rng.IntN(3) {
			p.Bursts = append(p.Bursts, newBurst(rng, r, len(p.Bursts), run))
		}
	}
	for k := range 14 {
		// Spread over all longitudes, so that some stand on every day's disc.
		lon := degreesOf((float64(k) + 0.7*rng.Float64()) / 14 * 360)
		p.Sheets = append(p.Sheets, newQuietSheet(rng, lon, len(p.Sheets), run, k%7 == 3))
	}
	for k := range 9 {
		lon := degreesOf((float64(k) + rng.Float64()) / 9 * 360)
		p.Bursts = append(p.Bursts, newCrown(rng, lon, len(p.Bursts)))
	}
	return p
}

func between(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }

func either(rng *rand.Rand) float64 {
	if rng.Float64() < 0.5 {
		return -1
	}
	return 1
}

func ownMotion(rng *rand.Rand, scale float64) Life {
	return Life{OwnEast: scale * rng.NormFloat64(), OwnNorth: scale / 3 * rng.NormFloat64()}
}

func newRegion(rng *rand.Rand, number int, run float64) Region {
	r := Region{
		Label:     fmt.Sprintf("region %d", number+1),
		At:        coords.Heliographic{B: degreesOf(either(rng) * between(rng, 6, 28)), L: degreesOf(360 * rng.Float64())},
		LengthDeg: between(rng, 3, 11),
		LeaderMm:  between(rng, 8, 24),
		Pores:     rng.IntN(9),
		Seed:      rng.Uint64(),
	}
	if rng.Float64() < 0.25 { // an old, single, round spot
		r.LengthDeg, r.Pores = 0, rng.IntN(2)
	}
	// Tilt grows with latitude (Joy's law), and scatters.
	r.TiltDeg = 0.3*r.At.B.Abs().Degrees() + 5*rng.NormFloat64()
	lives := math.Min(45, 5+12*rng.ExpFloat64())
	r.Life = ownMotion(rng, 0.08)
	r.Life.Born = between(rng, -0.8*lives, run-2)
	r.Life.Gone = r.Life.Born + lives
	r.Life.Growth, r.Life.Decay = math.Min(4, 0.3*lives), 0.6*lives
	r.PlageLife = r.Life
	r.PlageLife.Born -= 0.5
	r.PlageLife.Gone += lives + 10
	r.PlageLife.Decay = lives + 5
	return r
}

// newRegionSheet is a small, low filament beside a region.
func newRegionSheet(rng *rand.Rand, r Region, number int, run float64) Sheet {
	frame := localAt(r.At)
	middle := coords.HeliographicOf(frame.at(
		degreesOf(between(rng, -8, 8)).Radians(), degreesOf(either(rng)*between(rng, 3, 6)).Radians()))
	s := Sheet{Filament: Filament{
		Label: fmt.Sprintf("filament %d", number+1), Spine: arc(rng, middle, between(rng, 35, 90), rng.NormFloat64()*40),
		HeightMm: between(rng, 8, 16), BaseMm: 1.5, WidthMm: between(rng, 3.5, 5), Depth: between(rng, 1, 1.5),
		Barbs: rng.IntN(3), Seed: rng.Uint64(),
	}, Life: ownMotion(rng, 0.06)}
	s.Life.Born = between(rng, r.Life.Born, math.Max(r.Life.Born+1, run-2))
	s.Life.Gone = s.Life.Born + between(rng, 2, 9)
	s.Life.Growth, s.Life.Decay = 0.6, 0.6
	return s
}

// newQuietSheet is a large quiescent filament. One that erupts is gone in hours.
func newQuietSheet(rng *rand.Rand, lon coords.Angle, number int, run float64, erupts bool) Sheet {
	side := either(rng)
	middle := coords.Heliographic{B: degreesOf(side * between(rng, 15, 52)), L: lon.Wrap360()}
	// The eastern end lies nearer to the pole, by some 10° and a good scatter.
	tilt := -side*12 + 22*rng.NormFloat64()
	s := Sheet{Filament: Filament{
		Label: fmt.Sprintf("filament %d", number+1), Spine: arc(rng, middle, between(rng, 90, 340), tilt),
		HeightMm: between(rng, 22, 58), BaseMm: between(rng, 2, 6), WidthMm: between(rng, 6, 10), Depth: between(rng, 0.9, 1.4),
		Seed: rng.Uint64(),
	}, Life: ownMotion(rng, 0.05)}
	s.Barbs = int(between(rng, 2, 9))
	s.Life.Growth, s.Life.Decay = 2, 2
	s.Life.Born = between(rng, -25, 0.4*run)
	s.Life.Gone = s.Life.Born + between(rng, 18, 45)
	if erupts {
		s.Life.Born = -10
		s.Life.Gone, s.Life.Decay = between(rng, 0.3, 0.8)*run, 0.15
	}
	return s
}

// arc is a spine of five points through a middle, lengthMm long, turned tiltDeg
// from west toward north, bent a little.
func arc(rng *rand.Rand, middle coords.Heliographic, lengthMm, tiltDeg float64) []coords.Heliographic {
	frame := localAt(middle)
	sin, cos := degreesOf(tiltDeg).Sincos()
	bow, sway := 0.13*lengthMm*rng.NormFloat64(), 0.06*lengthMm*rng.NormFloat64()
	var out []coords.Heliographic
	for _, t := range []float64{-1, -0.5, 0, 0.5, 1} {
		a, b := t*lengthMm/2, bow*(t*t-0.4)+sway*(t*t*t-0.6*t)*2
		out = append(out, coords.HeliographicOf(frame.at((a*cos-b*sin)/toMm, (a*sin+b*cos)/toMm)))
	}
	return out
}

// newBurst is a surge or a set of loops at a region, of hours.
func newBurst(rng *rand.Rand, r Region, number int, run float64) Burst {
	frame := localAt(r.At)
	b := Burst{Prominence: Prominence{
		Label: fmt.Sprintf("prominence %d", number+1),
		At: coords.HeliographicOf(frame.at(
			degreesOf(3*rng.NormFloat64()).Radians(), degreesOf(2*rng.NormFloat64()).Radians())),
		AlongDeg: 180 * rng.Float64(), Brightness: between(rng, 0.3, 0.6), Seed: rng.Uint64(),
	}}
	if rng.Float64() < 0.5 {
		b.Form, b.LengthMm, b.HeightMm = Surge, between(rng, 8, 18), between(rng, 40, 120)
	} else {
		b.Form, b.LengthMm, b.HeightMm = Loop, between(rng, 25, 60), between(rng, 20, 55)
	}
	b.Life.Born = between(rng, math.Max(0, r.Life.Born), run)
	b.Life.Gone = b.Life.Born + between(rng, 0.08, 0.5)
	b.Life.Growth, b.Life.Decay = 0.03, 0.05
	return b
}

// newCrown is a prominence of the polar crown, or another quiet one too thin to be
// seen on the disc.
func newCrown(rng *rand.Rand, lon coords.Angle, number int) Burst {
	b := Burst{Prominence: Prominence{
		Label: fmt.Sprintf("prominence %d", number+1), Form: Hedgerow,
		At:       coords.Heliographic{B: degreesOf(either(rng) * between(rng, 30, 70)), L: lon.Wrap360()},
		AlongDeg: 25 * rng.NormFloat64(), LengthMm: between(rng, 35, 130), HeightMm: between(rng, 20, 60),
		Depth: between(rng, 0.25, 0.5), Brightness: between(rng, 0.2, 0.35), Seed: rng.Uint64(),
	}, Life: ownMotion(rng, 0.05)}
	if rng.Float64() < 0.25 {
		b.Form, b.HeightMm = Cloudlet, b.HeightMm+25
	}
	b.Life.Born = between(rng, -15, 3)
	b.Life.Gone = b.Life.Born + between(rng, 12, 40)
	b.Life.Growth, b.Life.Decay = 1, 1
	return b
}
