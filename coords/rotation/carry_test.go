package rotation

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
	"limbwatch/testdata"
)

// A feature carried from one instant to another, against SunPy's
// propagate_with_solar_surface. SunPy leaves out the change of light time
// between the two, up to 0.001° (comment of the table).
func TestMovesAgainstSunPy(t *testing.T) {
	var inCarrington, inCMD float64
	for _, r := range testdata.Table(t, "../../testdata/published/rotation_moves.csv") {
		l, from, to := law(t, r["law"]), instant(t, r["utc1"]), instant(t, r["utc2"])
		lat := degrees(t, r, "lat_deg")
		assert.InDelta(t, r.Number(t, "interval_days"), Days(from, to), 1e-7, "%v", r)

		moved := l.Carry(coords.Heliographic{B: lat, L: degrees(t, r, "carr1_deg")}, Days(from, to))
		inCarrington = max(inCarrington, (moved.L - degrees(t, r, "carr2_deg")).Wrap180().Abs().Degrees())

		cmd := degrees(t, r, "lon1_deg") + l.CMDMove(lat, from, to)
		inCMD = max(inCMD, (cmd - degrees(t, r, "lon2_deg")).Wrap180().Abs().Degrees())
	}
	t.Logf("worst: %.5f° in Carrington longitude, %.5f° in central meridian distance", inCarrington, inCMD)
	assert.Less(t, inCarrington, 0.001)
	assert.Less(t, inCMD, 0.001)
}

// Regions of the lists of NOAA for 2019 May 8 and 12, 24h: 2740 at N08E14, then
// N08W40; 2741 at N05E52, then N06W02. They are printed to the degree.
func TestRegionsFourDaysApart(t *testing.T) {
	from := instant(t, "2019-05-09T00:00:00Z")
	to := instant(t, "2019-05-13T00:00:00Z")
	spots := law(t, "newton-nunn")
	first := (-14*deg + spots.CMDMove(8*deg, from, to)).Degrees()
	second := (-52*deg + spots.CMDMove(5*deg, from, to)).Degrees()
	assert.InDelta(t, 40, first, 1)
	assert.InDelta(t, 2, second, 1)
	// The same by another hand, from an ephemeris of its own.
	assert.InDelta(t, 39.4, first, 0.06)
	assert.InDelta(t, 1.6, second, 0.06)
	rigid := (-14*deg + law(t, "rigid").CMDMove(8*deg, from, to)).Degrees()
	assert.InDelta(t, 38.9, rigid, 0.06)
}

// Region 12192 of October 2014 at S14-15, 0h UT, as a list of regions had it:
// E23 on the 22nd, W30 on the 26th, W68 on the 29th.
func TestLongLivedRegion(t *testing.T) {
	from := instant(t, "2014-10-22T00:00:00Z")
	for day, want := range map[int]float64{26: 30, 29: 68} {
		to := time.Date(2014, 10, day, 0, 0, 0, 0, time.UTC)
		got := -23*deg + law(t, "newton-nunn").CMDMove(-14.5*deg, from, to)
		assert.InDelta(t, want, got.Degrees(), 2, "October %d", day)
	}
}

func TestDaysCountLeapSeconds(t *testing.T) {
	newYear := instant(t, "2017-01-01T00:00:00Z")
	assert.InDelta(t, 1+1/86400.0, Days(newYear.AddDate(0, 0, -1), newYear), 1e-12)
	assert.InDelta(t, -1, Days(newYear.AddDate(0, 0, 1), newYear), 1e-12)
}

// The Earth's motion at mid-month of 2025, which another hand computed from
// 0.9856 sqrt(1-e²)/r² cos i / cos² B0.
func TestEarthMotionThroughTheYear(t *testing.T) {
	want := []float64{1.0164, 1.0161, 1.0039, 0.9805, 0.9586, 0.9477, 0.9514, 0.9658, 0.9820, 0.9934, 1.0016, 1.0094}
	for i, w := range want {
		at := time.Date(2025, time.Month(i+1), 15, 12, 0, 0, 0, time.UTC)
		assert.InDelta(t, w, EarthDegPerDay(at), 0.0015, "%s", at.Month())
		assert.InDelta(t, 14.1844-w, law(t, "rigid").SynodicDegPerDay(30*deg, at), 0.0015)
	}
}

// What the covariance claims, against features thrown about by chance.
func TestCarriedErrorsByMonteCarlo(t *testing.T) {
	prior := PriorOf("filament")
	place := coords.Measured{
		Heliographic: coords.Heliographic{B: 35 * deg, L: 100 * deg},
		Cov:          coords.Covariance{BB: square(1.0), LL: square(1.5), BL: 0.4 * square(1.0) * 1.5},
	}
	const days, n = 6.5, 60000
	random := rand.New(rand.NewPCG(4, 2))
	centre := prior.Law.Carry(place.Heliographic, days)
	lawSigma := prior.Law.SigmaDegPerDay(place.B)
	var bb, ll, bl float64
	for range n {
		// A place within its errors…
		u, v := random.NormFloat64(), random.NormFloat64()
		b := place.B + coords.Angle(u)*deg
		l := place.L + 1.5*coords.Angle(0.4*u+math.Sqrt(1-0.16)*v)*deg
		// …its own rate, the law's error, a drift and a walk of its middle.
		rate := prior.Law.CarringtonDriftDegPerDay(b) + prior.RateSigmaDegPerDay*random.NormFloat64() + lawSigma*random.NormFloat64()
		l += coords.Angle(rate*days+prior.WanderLonDeg*math.Sqrt(days)*random.NormFloat64()) * deg
		b += coords.Angle(prior.DriftSigmaDegPerDay*days*random.NormFloat64()+prior.WanderLatDeg*math.Sqrt(days)*random.NormFloat64()) * deg
		db, dl := float64(b-centre.B), float64((l - centre.L).Wrap180())
		bb, ll, bl = bb+db*db/n, ll+dl*dl/n, bl+db*dl/n
	}
	got := prior.Carry(place, days)
	assert.Equal(t, centre, got.Heliographic)
	assert.InEpsilon(t, bb, got.Cov.BB, 0.03)
	assert.InEpsilon(t, ll, got.Cov.LL, 0.03)
	assert.InDelta(t, bl/math.Sqrt(bb*ll), got.Cov.Correlation(), 0.02)
}

func TestCarryBackIsCarryUndone(t *testing.T) {
	place := coords.Measured{Heliographic: coords.Heliographic{B: -22 * deg, L: 1 * deg}}
	prior := PriorOf("sunspot")
	there := prior.Carry(place, 9)
	back := prior.Law.Carry(there.Heliographic, -9)
	assert.InDelta(t, place.L.Degrees(), back.L.Degrees(), 1e-9)
	assert.Equal(t, there.Cov, prior.Carry(place, -9).Cov, "errors grow into the past too")
	assert.Equal(t, place, prior.Carry(place, 0))
}

func TestPriors(t *testing.T) {
	assert.Zero(t, PriorOf("sunspot").HeightMm)
	assert.Equal(t, PriorOf("other"), PriorOf("coronal hole"))
	for name, p := range priors {
		assert.NotEmpty(t, p.Source, name)
		// A few days cost degrees, not tenths: two or three after a week is what
		// observers reckon with (common practice, no source).
		sigma := math.Sqrt(p.Growth(25*deg, 7).LL) / float64(deg)
		assert.Greater(t, sigma, 1.5, name)
		assert.Less(t, sigma, 4.0, name)
	}
	// The middle of a filament 40° long is known to degrees, that of a spot is not so vague.
	assert.InDelta(t, 4.06, PriorOf("filament").CentreSigma(40*deg).Degrees(), 0.01)
	assert.Less(t, PriorOf("sunspot").CentreSigma(0).Degrees(), 0.5)
}

func BenchmarkCarry(b *testing.B) {
	prior := PriorOf("filament")
	place := coords.Measured{Heliographic: coords.Heliographic{B: 35 * deg, L: 100 * deg}}
	for b.Loop() {
		place.Cov = prior.Carry(place, 3).Cov
	}
}

func BenchmarkCMDMove(b *testing.B) {
	l := PriorOf("sunspot").Law
	from := time.Date(2024, 5, 10, 12, 0, 0, 0, time.UTC)
	for b.Loop() {
		l.CMDMove(20*deg, from, from.Add(50*time.Hour))
	}
}
