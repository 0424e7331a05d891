package north

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/coords/rotation"
)

// restless is a painted Sun whose features do not only turn: each has a steady rate of
// its own, walks at random in longitude and latitude, and changes its shape; pores and
// the grains of plage live for a day or so, threads of filaments a little longer.
// Without that, a match would look better, and its error smaller, than it is.
//
// How far spots stray is what the Greenwich groups show (rotation.PriorOf): residuals of
// 0.71°, 1.33° and 2.04° in longitude after 1, 3 and 6 days, 0.44°, 0.59° and 0.89° in
// latitude. That is a walk of 0.7° in the first day and a rate of 0.18° a day in
// longitude; in latitude a walk of 0.14°, a rate of 0.12° a day, and 0.28° by which
// the middle of a group is not the same thing to two days' measurers. For plage and
// filaments there is no such record; theirs are common practice, no source.
type restless struct {
	*paint.Population
	seed uint64
}

// stir is how a feature strays in some days, degrees, from what is the same for all
// that bears the name; wander is after one day, rate a day.
func (r restless) stir(name string, salt uint64, days, wanderLon, wanderLat, rateLon, rateLat float64) (lon, lat float64) {
	h := fnv.New64a()
	h.Write([]byte(name))
	rng := rand.New(rand.NewPCG(r.seed^h.Sum64(), salt))
	lon, lat = rateLon*rng.NormFloat64()*days, rateLat*rng.NormFloat64()*days
	const perDay = 8
	for k := 0; float64(k) < days*perDay; k++ {
		part := math.Min(1, days*perDay-float64(k))
		step := part / math.Sqrt(perDay)
		lon += wanderLon * step * rng.NormFloat64()
		lat += wanderLat * step * rng.NormFloat64()
	}
	return lon, lat
}

func moved(h coords.Heliographic, lon, lat float64) coords.Heliographic {
	return coords.Heliographic{B: h.B + coords.Angle(lat)*coords.Degree, L: (h.L + coords.Angle(lon/h.B.Cos())*coords.Degree).Wrap360()}
}

// At is the Sun of an instant after the population's start.
func (r restless) At(t time.Time) paint.Sun {
	sun := r.Population.At(t)
	days := t.Sub(r.Start).Hours() / 24
	spots := sun.Spots[:0]
	for _, s := range sun.Spots {
		spots = append(spots, r.spot(s, days))
	}
	sun.Spots = spots
	plages := sun.Plages
	sun.Plages = nil
	for _, p := range plages {
		sun.Plages = append(sun.Plages, r.plage(p, days)...)
	}
	filaments := sun.Filaments
	sun.Filaments = nil
	for _, f := range filaments {
		sun.Filaments = append(sun.Filaments, r.filament(f, days)...)
	}
	return sun
}

// spot strays with its group and by itself: 0.7° and 0.14° in a day together.
func (r restless) spot(s paint.Spot, days float64) paint.Spot {
	lon, lat := r.stir(s.Label, 1, days, 0.5, 0.10, 0.18, 0.12)
	salt, lives := s.Seed, days
	if s.PenumbraMm <= s.UmbraMm { // a pore
		age, generation := generation(s.Seed, days, 1.2)
		salt += generation
		lon, lat = lon+spread(salt, 1)*1.0, lat+spread(salt, 2)*0.4
		fade := math.Sin(math.Pi * age)
		s.PenumbraMm, s.UmbraMm, lives = s.PenumbraMm*fade, s.UmbraMm*fade, age
	}
	ownLon, ownLat := r.stir("spot", salt, lives, 0.5, 0.10, 0, 0)
	grow, _ := r.stir("size", salt, days, 0.12, 0, 0, 0)
	s.PenumbraMm, s.UmbraMm = s.PenumbraMm*math.Exp(grow), s.UmbraMm*math.Exp(grow)
	s.At = moved(s.At, lon+ownLon, lat+ownLat)
	return s
}

// plage keeps half of its shape; the other half is of grains that live for a day.
func (r restless) plage(p paint.Plage, days float64) []paint.Plage {
	lon, lat := r.stir(p.Label, 2, days, 0.5, 0.20, 0.20, 0.12)
	p.At = moved(p.At, lon, lat)
	long, wide := r.stir("extent", p.Seed, days, 0.08, 0.08, 0, 0)
	p.LengthMm, p.WidthMm = p.LengthMm*math.Exp(long), p.WidthMm*math.Exp(wide)
	age, g := generation(p.Seed, days, 1.3)
	parts := []paint.Plage{p, p, p}
	parts[0].Brightness *= 0.5
	parts[1].Brightness *= 0.5 * (1 - age)
	parts[2].Brightness *= 0.5 * age
	parts[1].Seed += 1000 + g
	parts[2].Seed += 1001 + g
	return parts
}

// filament strays as a whole and bends: 0.5° and 0.35° in a day together.
func (r restless) filament(f paint.Filament, days float64) []paint.Filament {
	lon, lat := r.stir(f.Label, 3, days, 0.35, 0.25, 0.25, 0.10)
	spine := make([]coords.Heliographic, len(f.Spine))
	for i, h := range f.Spine {
		ownLon, ownLat := r.stir(f.Label, 10+uint64(i), days, 0.35, 0.25, 0, 0)
		spine[i] = moved(h, lon+ownLon, lat+ownLat)
	}
	f.Spine = spine
	deep, high := r.stir("depth", f.Seed, days, 0.2, 0.1, 0, 0)
	f.Depth, f.HeightMm = f.Depth*math.Exp(deep), f.HeightMm*math.Exp(high)
	age, g := generation(f.Seed, days, 1.5)
	parts := []paint.Filament{f, f}
	parts[0].Depth *= 1 - age
	parts[1].Depth *= age
	parts[0].Seed += g
	parts[1].Seed += g + 1
	return parts
}

// generation is the age, 0 to 1, of what is replaced every so many days, and its
// number.
func generation(seed uint64, days, life float64) (age float64, number uint64) {
	at := days/life + float64(seed%1000)/1000 + 20
	return at - math.Floor(at), uint64(at)
}

func spread(seed, use uint64) float64 { return rand.New(rand.NewPCG(seed, use)).NormFloat64() }

// sky is how busy the Sun is, and how good the camera.
type sky struct {
	calm   bool // features turn and age, and hardly move by themselves
	quiet  bool
	eight  bool // bits
	phone  bool // noisy, sharpened, a curve of brightness
	cloudy bool // thin clouds, in patches

	radiusPx float64 // 0: of chance
}

// restlessSun invents a Sun. Filaments, plage, spots and the network each turn by a
// law of their own, none of them the one that the match uses.
func restlessSun(t testing.TB, seed uint64, start time.Time, quiet bool) restless {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 78))
	drift := func(names ...string) paint.Drift {
		l, err := rotation.Parse(names[rng.IntN(len(names))])
		require.NoError(t, err)
		return l.CarringtonDriftDegPerDay
	}
	p := paint.Generate(seed, start, 16, paint.Laws{
		Spot:     drift("newton-nunn", "poljancic-beljan", "balthasar", "jha"),
		Plage:    drift("mishra", "poljancic-beljan", "snodgrass-ulrich"),
		Filament: drift("dazambuja", "allen-filaments", "brajsa"),
		Pattern:  drift("snodgrass-ulrich", "snodgrass-ulrich-doppler", "snodgrass"),
	})
	p.Mottling.LifetimeDays = 1.2 + 1.6*rng.Float64()
	p.Mottling.Patterns = 5
	if quiet {
		p.Regions = p.Regions[:1+rng.IntN(3)]
		rng.Shuffle(len(p.Sheets), func(i, j int) { p.Sheets[i], p.Sheets[j] = p.Sheets[j], p.Sheets[i] })
		p.Sheets = p.Sheets[:4+rng.IntN(5)]
	}
	return restless{p, seed}
}

// paintedPair is an invented Sun on two days, the second one in a picture turned
// and perhaps mirrored.
func paintedPair(t testing.TB, seed uint64, days float64, s sky) (Oriented, Unoriented, coords.North) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 77))
	start := time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC).AddDate(0, 0, rng.IntN(300))
	sun := restlessSun(t, seed, start, s.quiet)
	band := []paint.Band{paint.DoubleStack(), paint.SingleStack(), paint.WhiteLight()}[rng.IntN(3)]
	first := start.Add(time.Duration(rng.Float64() * 10 * 24 * float64(time.Hour)))
	second := first.Add(time.Duration(days * 24 * float64(time.Hour)))
	at := sun.At
	if s.calm {
		at = sun.Population.At
	}
	a, limbA := paintedPicture(t, rng, at(first), first, band, s)
	b, limbB := paintedPicture(t, rng, at(second), second, band, s)
	old := Oriented{Picture: a.Picture(), UTC: first, View: disc.View{Limb: limbA, Layer: a.Truth.Layer, North: a.Truth.North, Face: a.Truth.Face}}
	return old, Unoriented{Picture: b.Picture(), Limb: limbB, Layer: b.Truth.Layer, UTC: second}, b.Truth.North
}

// paintedPicture paints with a camera of chance, and gives a limb with an error of a
// thousandth of the radius.
func paintedPicture(t testing.TB, rng *rand.Rand, sun paint.Sun, at time.Time, band paint.Band, s sky) (*paint.Frame, coords.Limb) {
	t.Helper()
	return paintedLying(t, rng, sun, at, band, s, nil)
}

// paintedLying is paintedPicture with the north as wanted; nil: of chance.
func paintedLying(t testing.TB, rng *rand.Rand, sun paint.Sun, at time.Time, band paint.Band, s sky, north *coords.North) (*paint.Frame, coords.Limb) {
	t.Helper()
	r := 150 + 150*rng.Float64()
	if s.radiusPx > 0 {
		r = s.radiusPx
	}
	size := int(2.3 * r)
	c := paint.Centred(size, size, r)
	c.North = coords.North{Angle: coords.Angle(rng.Float64() * 2 * math.Pi), Mirrored: rng.IntN(2) == 0}
	if north != nil {
		c.North = *north
	}
	c.BlurPx = r * (0.002 + 0.006*rng.Float64())
	c.Gradient = paint.Gradient{Slope: 0.2 * rng.Float64(), Toward: coords.Angle(rng.Float64() * 6)}
	if s.eight {
		c.Bits = 8
	}
	if s.phone {
		c.ReadNoise, c.ShotNoise = 0.02, 0.03
		c.Gamma = 0.6 + 0.6*rng.Float64()
		c.Sharpen = paint.Sharpen{Amount: 1, RadiusPx: 2}
		c.Vignetting = 0.2 * rng.Float64()
	}
	if s.cloudy {
		c.Cloud = paint.Cloud{Depth: 0.1 + 0.3*rng.Float64(), Veil: 0.05, ScalePx: r * (0.5 + rng.Float64())}
	}
	f, err := paint.Paint(paint.Scene{Sun: sun, Face: ephemeris.At(at), Band: band, Camera: c, Seed: rng.Uint64()})
	require.NoError(t, err)
	limb, sigma := f.Truth.Limb, 0.001*r
	limb.Centre.X += sigma * rng.NormFloat64()
	limb.Centre.Y += sigma * rng.NormFloat64()
	limb.RadiusPx += sigma * rng.NormFloat64()
	limb.Cov = coords.LimbCovariance{XX: sigma * sigma, YY: sigma * sigma, RR: sigma * sigma}
	return f, limb
}
