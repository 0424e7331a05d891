package follow

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// seenThrough is where the line of sight to a point at a height meets the
// photosphere, by vectors: the observer, the point, and a quadratic equation. It
// shares nothing with coords/disc.
func seenThrough(face coords.Face, h coords.Heliographic, heightMm float64) coords.Heliographic {
	radius := 1 + heightMm/coords.SolarRadiusMm
	distance := 1 / face.Semidiameter.Sin()
	observer := coords.Heliographic{B: face.B0, L: face.L0}.Vector()
	point := h.Vector()
	var o, d [3]float64
	for i := range o {
		o[i] = distance * observer[i]
		d[i] = radius*point[i] - o[i]
	}
	dd, od, oo := 0.0, 0.0, 0.0
	for i := range o {
		dd += d[i] * d[i]
		od += o[i] * d[i]
		oo += o[i] * o[i]
	}
	k := (-od - math.Sqrt(od*od-dd*(oo-1))) / dd
	var at [3]float64
	for i := range at {
		at[i] = o[i] + k*d[i]
	}
	return coords.HeliographicOf(at)
}

// Published: at height 26 Mm a cloud at true CMD 45° seems to stand 2.18° farther
// out, 1.24° at 30°, 3.95° at 60°: sin l' = (1 + h/R) sin l (after Vršnak et al.
// 1999). It holds for a far observer over the equator; perspective takes a part
// in a hundred off.
func TestHeightDisplacesAsPublished(t *testing.T) {
	face := coords.Face{Semidiameter: 960 * coords.Arcsecond}
	for _, c := range []struct{ cmd, heightMm, published float64 }{
		{30, 26, 1.24}, {45, 26, 2.18}, {60, 26, 3.95}, {45, 10, 0.83}, {45, 50, 4.28},
	} {
		got := seenThrough(face, coords.Heliographic{L: degrees(c.cmd)}, c.heightMm).L.Degrees() - c.cmd
		assert.InDelta(t, c.published, got, 0.02*c.published+0.02, "at CMD %g°, %g Mm", c.cmd, c.heightMm)
	}
}

// crossing is a filament's readings on most days of a crossing.
func crossing(rng *rand.Rand, lat, rateDegPerDay, heightMm, sigmaDeg, fromCMD, toCMD float64) []HeightReading {
	start := time.Date(2025, 3, 1, 9, 0, 0, 0, time.UTC)
	l0 := ephemeris.At(start).L0
	var out []HeightReading
	for day := 0.0; day < 14; day += 0.7 + 0.6*rng.Float64() {
		at := start.Add(time.Duration(day * 24 * float64(time.Hour)))
		face := ephemeris.At(at)
		drift := rateDegPerDay - ephemeris.CarringtonDegPerDay
		h := coords.Heliographic{B: degrees(lat), L: (l0 + degrees(-80+drift*day)).Wrap360()}
		cmd := face.CMD(h).Degrees()
		if cmd < fromCMD || cmd > toCMD {
			continue
		}
		flat := seenThrough(face, h, heightMm)
		sigma := degrees(sigmaDeg)
		flat.B += sigma * coords.Angle(rng.NormFloat64())
		flat.L += sigma / coords.Angle(flat.B.Cos()) * coords.Angle(rng.NormFloat64())
		out = append(out, HeightReading{UTC: at, Face: face, Flat: coords.Measured{Heliographic: flat,
			Cov: coords.Covariance{BB: coords.Square(sigma.Radians()), LL: coords.Square(sigma.Radians() / flat.B.Cos())}}})
	}
	return out
}

func TestFitHeightFindsRateAndHeight(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	var heights, rates, flat float64
	var given, refused int
	const runs = 120
	for range runs {
		lat, height := -45+90*rng.Float64(), 10+50*rng.Float64()
		rate := 14.4 - 2*coords.Square(degrees(lat).Sin()) + 0.2*rng.NormFloat64()
		fit, err := FitHeight(crossing(rng, lat, rate, height, 0.4, -65, 65), HeightOptions{CentreSigma: 0.01 * coords.Degree})
		if err != nil {
			refused++
			continue
		}
		given++
		heights += coords.Square((fit.HeightMm - height) / fit.SigmaMm)
		rates += coords.Square((fit.RateDegPerDay - rate) / fit.SigmaRate)
		flat += fit.FlatRateDegPerDay - rate
	}
	n := float64(given)
	t.Logf("%d of %d crossings give a height; mean square of miss/error: height %.2f, rate %.2f; read on the photosphere the rate is %.2f deg/day too fast", given, runs, heights/n, rates/n, flat/n)
	assert.Greater(t, given, runs/2)
	assert.InDelta(t, 1, heights/n, 0.4, "heights miss by their errors")
	assert.InDelta(t, 1, rates/n, 0.4, "rates miss by their errors")
	assert.Greater(t, flat/n, 0.1, "what stands high seems to turn too fast")
}

func TestFitHeightWithAKnownRateIsSharper(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	prior := rotation.PriorOf("filament")
	lat := 20.0
	rate := prior.Law.SiderealDegPerDay(degrees(lat))
	readings := crossing(rng, lat, rate, 30, 0.4, -55, 55)
	free, err := FitHeight(readings, HeightOptions{CentreSigma: 0.01 * coords.Degree})
	if err != nil {
		var refused *HeightError
		require.ErrorAs(t, err, &refused)
		free = refused.Fit
	}
	held, err := FitHeight(readings, HeightOptions{Rate: &prior, CentreSigma: 0.01 * coords.Degree})
	require.NoError(t, err)
	assert.Less(t, held.SigmaMm, free.SigmaMm)
	assert.InDelta(t, 30, held.HeightMm, 3*held.SigmaMm)
	assert.Less(t, free.Correlation, -0.8, "height and rate are hard to tell apart")
}

func TestFitHeightRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	for name, c := range map[string]struct {
		readings []HeightReading
		says     string
	}{
		"three days":                   {crossing(rng, 10, 14.4, 30, 0.4, -15, 15), "readings over"},
		"a short way about the centre": {crossing(rng, 10, 14.4, 30, 0.4, -35, 30), "its error would be"},
		"nothing near the meridian":    {crossing(rng, 10, 14.4, 30, 0.4, 79, 90), "no reading within 78°"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := FitHeight(c.readings, HeightOptions{})
			var refused *HeightError
			require.ErrorAs(t, err, &refused)
			assert.Contains(t, refused.Error(), c.says)
		})
	}
	noError := crossing(rng, 10, 14.4, 30, 0.4, -60, 60)
	noError[2].Flat.Cov = coords.Covariance{}
	_, err := FitHeight(noError, HeightOptions{})
	assert.EqualError(t, err, "height: reading 3 has no time, or no error")
}
