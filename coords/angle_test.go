package coords_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

func deg(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

func TestAngleUnits(t *testing.T) {
	assert.InDelta(t, math.Pi, float64(180*coords.Degree), 1e-15)
	assert.InDelta(t, 1, (60 * coords.Arcminute).Degrees(), 1e-15)
	assert.InDelta(t, 3600, (1 * coords.Degree).Arcseconds(), 1e-9)
	// One radian is 206 264.806″ (Allen, Astrophysical Quantities).
	assert.InDelta(t, 206264.806, coords.Radian.Arcseconds(), 5e-4)
	assert.Zero(t, coords.Angle(0).Degrees())
}

// An angle must not wander when it is written and read again and again, and what was
// typed must stay as it was typed.
func TestDegreesThereAndBackAreTheSameToTheLastBit(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 7))
	for range 100_000 {
		a := deg(720*random.Float64() - 360)
		require.Equal(t, a, deg(a.ExactDegrees()))
		anything := coords.Angle(7 * random.NormFloat64())
		once := deg(anything.ExactDegrees())
		require.InEpsilon(t, float64(anything), float64(once), 1e-15)
		require.Equal(t, once, deg(once.ExactDegrees()))
	}
	for _, typed := range []float64{12.3, 0.1, 359.9, -7.25, 45, 1e-3, 280.46646} {
		assert.Equal(t, typed, deg(typed).ExactDegrees())
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		name            string
		deg, w360, w180 float64
	}{
		{"zero", 0, 0, 0},
		{"a whole turn is nothing", 360, 0, 0},
		{"half a turn is the lower end of ±180", 180, 180, -180},
		{"minus half a turn", -180, 180, -180},
		{"just below half a turn", 179.5, 179.5, 179.5},
		{"a bit backwards", -1, 359, -1},
		{"many turns", 3*360 + 10, 10, 10},
		{"many turns back", -3*360 - 10, 350, -10},
		{"three quarters", 270, 270, -90},
	} {
		assert.InDelta(t, c.w360, deg(c.deg).Wrap360().Degrees(), 1e-9, "%s: Wrap360", c.name)
		assert.InDelta(t, c.w180, deg(c.deg).Wrap180().Degrees(), 1e-9, "%s: Wrap180", c.name)
	}
}

func TestWrapStaysInRange(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range 20000 {
		a := coords.Angle((rng.Float64() - 0.5) * math.Pow(10, float64(i%20-15)))
		full, half := a.Wrap360(), a.Wrap180()
		assert.True(t, full >= 0 && full < 2*math.Pi, "Wrap360(%g) = %g", float64(a), float64(full))
		assert.True(t, half >= -math.Pi && half < math.Pi, "Wrap180(%g) = %g", float64(a), float64(half))
		assert.InDelta(t, a.Sin(), full.Sin(), 1e-9)
		assert.InDelta(t, a.Cos(), half.Cos(), 1e-9)
	}
	assert.Zero(t, coords.Angle(-1e-300).Wrap360(), "a tiny negative angle must not become a whole turn")
}

// TRADE.md, 11.1: a mean of 359 and 1 is 0, not 180: the difference is what wraps.
func TestDifferenceOfPositionAngles(t *testing.T) {
	assert.InDelta(t, 2, (deg(1) - deg(359)).Wrap180().Degrees(), 1e-9)
	assert.InDelta(t, -2, (deg(359) - deg(1)).Wrap180().Degrees(), 1e-9)
	mean := (deg(359) + (deg(1)-deg(359)).Wrap180()/2).Wrap360()
	assert.InDelta(t, 0, mean.Wrap180().Degrees(), 1e-9)
}

func TestInverseFunctions(t *testing.T) {
	for d := -90.0; d <= 90; d += 7.5 {
		assert.InDelta(t, d, coords.Asin(deg(d).Sin()).Degrees(), 1e-6)
		sin, cos := deg(d).Sincos()
		assert.Equal(t, [2]float64{deg(d).Sin(), deg(d).Cos()}, [2]float64{sin, cos})
		assert.InDelta(t, math.Abs(d), deg(d).Abs().Degrees(), 1e-12)
	}
	for d := 0.0; d <= 180; d += 7.5 {
		assert.InDelta(t, d, coords.Acos(deg(d).Cos()).Degrees(), 1e-6)
	}
	for d := -180.0; d < 180; d += 15 {
		assert.InDelta(t, 0, (coords.Atan2(deg(d).Sin(), deg(d).Cos()) - deg(d)).Wrap180().Degrees(), 1e-9)
	}
	assert.InDelta(t, 1, deg(45).Tan(), 1e-12)
	// Rounding may leave the domain by a hair.
	assert.InDelta(t, 90, coords.Asin(1+1e-15).Degrees(), 1e-9)
	assert.InDelta(t, 180, coords.Acos(-1-1e-15).Degrees(), 1e-9)
	assert.True(t, math.IsNaN(float64(coords.Asin(math.NaN()))))
	assert.True(t, math.IsNaN(float64(coords.Acos(math.NaN()))))
}

// The short ways within a turn either side give what the remainder by a turn gives.
func TestWrapIsTheRemainder(t *testing.T) {
	const turn = 2 * math.Pi
	rng := rand.New(rand.NewPCG(1, 1))
	values := []float64{0, math.Copysign(0, -1), turn, -turn, 2 * turn, -2 * turn, math.Pi, -math.Pi, 1e-300, -1e-300, 1e17}
	for _, v := range values {
		values = append(values, math.Nextafter(v, math.Inf(1)), math.Nextafter(v, math.Inf(-1)))
	}
	for range 20_000 {
		values = append(values, 40*(rng.Float64()-0.5))
	}
	for _, v := range values {
		rest := math.Mod(v, turn)
		want := rest
		if rest < 0 {
			if want += turn; want >= turn {
				want = 0
			}
		}
		require.Equal(t, want, coords.Angle(v).Wrap360().Radians(), "%v", v)
		switch want = rest; {
		case rest >= math.Pi:
			want -= turn
		case rest < -math.Pi:
			want += turn
		}
		require.Equal(t, want, coords.Angle(v).Wrap180().Radians(), "%v", v)
	}
	assert.True(t, math.IsNaN(coords.Angle(math.NaN()).Wrap360().Radians()))
	assert.True(t, math.IsNaN(coords.Angle(math.Inf(1)).Wrap360().Radians()))
	assert.True(t, math.IsNaN(coords.Angle(math.Inf(-1)).Wrap180().Radians()))
}
