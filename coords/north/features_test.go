package north_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/north"
)

// sky is a view with a true north, from which marks are drawn.
func sky(truth coords.North) disc.View {
	return disc.View{
		Limb:  coords.Limb{Centre: coords.Pixel{X: 1000, Y: 900}, RadiusPx: 800},
		North: truth,
		Face:  coords.Face{P: deg(-21), B0: deg(-6), L0: deg(100), Semidiameter: 960 * coords.Arcsecond},
	}
}

// feature marks a place known to a sigma (degrees on the Sun) with a click error.
func feature(v disc.View, lat, cmd, sigmaPlace, sigmaPx float64, rng *rand.Rand) north.Feature {
	h := coords.Heliographic{B: deg(lat), L: v.Face.L0 + deg(cmd)}
	p, _ := v.Project(h, 0)
	noise := func(s float64) float64 {
		if rng == nil {
			return 0
		}
		return s * rng.NormFloat64()
	}
	listed := coords.Heliographic{B: h.B + deg(noise(sigmaPlace)), L: h.L + deg(noise(sigmaPlace)/h.B.Cos())}
	s := deg(sigmaPlace).Radians()
	return north.Feature{
		Pixel:   coords.Pixel{X: p.X + noise(sigmaPx), Y: p.Y + noise(sigmaPx)},
		SigmaPx: sigmaPx,
		Place:   coords.Measured{Heliographic: listed, Cov: coords.Covariance{BB: s * s, LL: s * s / math.Pow(h.B.Cos(), 2)}},
	}
}

func TestFeaturesFindNorthAndParity(t *testing.T) {
	for _, truth := range []coords.North{{Angle: deg(77)}, {Angle: deg(-150), Mirrored: true}, {Angle: deg(179.9)}} {
		v := sky(truth)
		var marks []north.Feature
		for _, at := range [][2]float64{{15, -50}, {-12, 30}, {22, 61}} {
			marks = append(marks, feature(v, at[0], at[1], 0.3, 1, nil))
		}
		v.North = coords.North{} // not used
		s, err := north.FromFeatures(v, marks, north.Either)
		require.NoError(t, err)
		assert.InDelta(t, 0, apart(s.Angle, truth.Angle), 0.01)
		assert.Equal(t, truth.Mirrored, s.Mirrored)
		assert.Greater(t, s.Parity, 0.99)
		assert.Equal(t, 3, s.Used)
		assert.Empty(t, s.Rejected)
		assert.Equal(t, north.MethodFeatures, s.Method)
		assert.Contains(t, s.Why, "3 known features")
		assert.NotEqual(t, s.Mirrored, s.Other.Mirrored)
	}
}

// The quoted error against draws of what is claimed: places, clicks and centre.
func TestFeatureErrorsAreTrue(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(5, 5))
	for _, c := range []struct {
		name  string
		marks [][2]float64
		known north.Parity
	}{
		{"two", [][2]float64{{15, -50}, {-12, 40}}, north.Upright},
		{"four", [][2]float64{{15, -50}, {-12, 30}, {22, 61}, {-18, -20}}, north.Either},
		{"one side only", [][2]float64{{15, 40}, {-12, 50}, {22, 61}}, north.Upright},
	} {
		n := 250
		if testing.Short() {
			n = 100
		}
		var mean, square, sigma float64
		answered := 0
		for range n {
			v := sky(coords.North{Angle: deg(360 * rng.Float64())})
			var marks []north.Feature
			for _, at := range c.marks {
				marks = append(marks, feature(v, at[0], at[1], 0.5, 1.5, rng))
			}
			truth := v.North.Angle
			v.Limb.Centre.X += 2 * rng.NormFloat64()
			v.Limb.Centre.Y += 1 * rng.NormFloat64()
			v.Limb.Cov = coords.LimbCovariance{XX: 4, YY: 1, RR: 0.5}
			s, err := north.FromFeatures(v, marks, c.known)
			if err != nil {
				continue
			}
			require.False(t, s.Mirrored)
			answered++
			pull := apart(s.Angle, truth) / s.Sigma.Degrees()
			mean, square, sigma = mean+pull, square+pull*pull, sigma+s.Sigma.Degrees()
		}
		k := float64(answered)
		t.Logf("%s: answered %d of %d, mean sigma %.2f deg, pulls %.2f ± %.2f", c.name, answered, n, sigma/k, mean/k, math.Sqrt(square/k))
		assert.Greater(t, k, 0.9*float64(n), c.name)
		assert.InDelta(t, 0, mean/k, 0.2, c.name)
		assert.InDelta(t, 0.95, math.Sqrt(square/k), 0.25, c.name)
	}
}

// The probability of a parity must be what it says: over many skies of random
// parity and random places, as many as claimed are right, and hardly any answer
// that was given is wrong.
func TestParityIsRightAsOftenAsClaimed(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(6, 6))
	n := 400
	if testing.Short() {
		n = 150
	}
	var answered, wrong, undecided, wrongGiven, wrongCaught int
	var expected float64
	for range n {
		v := sky(coords.North{Angle: deg(360 * rng.Float64()), Mirrored: rng.IntN(2) == 0})
		var marks []north.Feature
		for range 2 + rng.IntN(3) {
			marks = append(marks, feature(v, 50*rng.Float64()-25, 130*rng.Float64()-65, 0.7, 2, rng))
		}
		s, err := north.FromFeatures(v, marks, north.Either)
		var doubt *north.UndecidedError
		switch {
		case err == nil:
			answered++
			expected += 1 - s.Parity
			if s.Mirrored != v.North.Mirrored {
				wrong++
			}
		case errors.As(err, &doubt):
			undecided++
			assert.InDelta(t, 0.5, doubt.PStraight, 0.46)
		}
		// Told the wrong parity, it must say so wherever the data can tell.
		lie := north.MirrorImage
		if v.North.Mirrored {
			lie = north.Upright
		}
		if err == nil && s.Parity > 0.995 && s.Mirrored == v.North.Mirrored {
			wrongGiven++
			var caught *north.WrongParityError
			if _, err := north.FromFeatures(v, marks, lie); errors.As(err, &caught) {
				wrongCaught++
			}
		}
	}
	t.Logf("%d skies: %d answered, %d wrong (%.1f expected by their own odds), %d undecided; %d of %d wrong parities caught",
		n, answered, wrong, expected, undecided, wrongCaught, wrongGiven)
	assert.Greater(t, answered, n*6/10)
	assert.LessOrEqual(t, float64(wrong), 3+2*expected)
	assert.Equal(t, wrongGiven, wrongCaught)
}

func TestParityThatCannotBeTold(t *testing.T) {
	// Two marks in line with the centre look the same in a mirror.
	v := sky(coords.North{Angle: deg(30)})
	centre := coords.Heliographic{B: v.Face.B0, L: v.Face.L0}
	var marks []north.Feature
	for _, r := range []float64{0.5, 0.8} {
		right, down := v.North.Direction(deg(40))
		for _, side := range []float64{1, -1} {
			p := v.Limb.At(side*r*right, side*r*down)
			marks = append(marks, north.Feature{Pixel: p, SigmaPx: 1, Place: v.Place(p, 1, disc.Height{}).Photosphere.Measured})
		}
	}
	require.NotZero(t, centre)
	_, err := north.FromFeatures(v, marks, north.Either)
	var undecided *north.UndecidedError
	require.ErrorAs(t, err, &undecided)
	assert.InDelta(t, 0.5, undecided.PStraight, 0.01)
	assert.InDelta(t, 0, apart(undecided.Straight.Angle, deg(30)), 0.01)
	assert.InDelta(t, 0, apart(undecided.Mirrored.Angle, deg(30+2*40)), 0.01)
	// With the parity given it is no question.
	s, err := north.FromFeatures(v, marks, north.MirrorImage)
	require.NoError(t, err)
	assert.True(t, s.Mirrored)
	assert.Zero(t, s.Parity)
}

func TestOneWrongMatchDoesNotHarm(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	for range 50 {
		v := sky(coords.North{Angle: deg(360 * rng.Float64()), Mirrored: true})
		var marks []north.Feature
		for _, at := range [][2]float64{{15, -50}, {-12, 30}, {22, 61}, {-25, -40}, {10, 10}} {
			marks = append(marks, feature(v, at[0], at[1], 0.3, 1, rng))
		}
		marks[1].Place.B, marks[1].Place.L = deg(30), v.Face.L0+deg(-20)
		s, err := north.FromFeatures(v, marks, north.Either)
		require.NoError(t, err)
		assert.True(t, s.Mirrored)
		assert.InDelta(t, 0, apart(s.Angle, v.North.Angle), 4*s.Sigma.Degrees())
		assert.Less(t, s.Sigma.Degrees(), 1.0)
		assert.Equal(t, []int{1}, s.Rejected)
	}
}

func TestFeaturesRefuse(t *testing.T) {
	v := sky(coords.North{Angle: deg(30)})
	one := feature(v, 15, -50, 0.3, 1, nil)
	two := feature(v, -12, 40, 0.3, 1, nil)
	_, err := north.FromFeatures(v, nil, north.Either)
	assert.ErrorIs(t, err, north.ErrTooFew)
	_, err = north.FromFeatures(v, []north.Feature{one}, north.Upright)
	assert.ErrorIs(t, err, north.ErrTooFew)
	// One behind the Sun tells nothing.
	behind := two
	behind.Place.L = v.Face.L0 + deg(160)
	_, err = north.FromFeatures(v, []north.Feature{one, behind}, north.Upright)
	assert.ErrorIs(t, err, north.ErrTooFew)
	// Two near the centre of the disc tell little.
	near := feature(v, -6, 3, 0.5, 2, nil)
	nearer := feature(v, -9, 0.5, 0.5, 2, nil)
	_, err = north.FromFeatures(v, []north.Feature{near, nearer}, north.Upright)
	assert.ErrorContains(t, err, "near the centre")
	// Two that contradict each other.
	swapped := []north.Feature{one, two}
	swapped[0].Place, swapped[1].Place = two.Place, feature(v, 40, 0, 0.3, 1, nil).Place
	_, err = north.FromFeatures(v, swapped, north.Upright)
	assert.Error(t, err)
	free := one
	free.SigmaPx = 0
	_, err = north.FromFeatures(v, []north.Feature{free, two}, north.Upright)
	assert.ErrorContains(t, err, "error of mark")
}

// A drift gives two norths; one known spot is clue enough for the parity.
func TestOneFeatureTellsTheParityOfADrift(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 10))
	for _, truth := range []coords.North{{Angle: deg(20)}, {Angle: deg(-110), Mirrored: true}} {
		line, err := north.Drift(north.Run{Shots: drifted(truth, []float64{0, 40}, 0.2, rng), ArcsecPerPx: arcsecPerPx})
		require.NoError(t, err)
		v := sky(truth)
		found, err := line.WithFeatures(v, []north.Feature{feature(v, 20, 45, 0.5, 1, nil)})
		require.NoError(t, err)
		assert.Equal(t, truth.Mirrored, found.Mirrored)
		assert.InDelta(t, 0, apart(found.Angle, truth.Angle), 0.3)
		assert.Greater(t, found.Parity, 0.95)
		// A mark on the line west looks the same either way.
		right, down := truth.Direction(deg(270))
		p := v.Limb.At(0.7*right, 0.7*down)
		level := north.Feature{Pixel: p, SigmaPx: 1, Place: v.Place(p, 1, disc.Height{}).Photosphere.Measured}
		var undecided *north.UndecidedError
		_, err = line.WithFeatures(v, []north.Feature{level})
		assert.ErrorAs(t, err, &undecided)
		_, err = line.WithFeatures(v, nil)
		assert.ErrorContains(t, err, "none of the 0")
	}
}

// A filament's height is known badly; it moves the mark along the radius only and
// must not make a good match look wrong.
func TestHeightOfAFeatureDoesNotTurnNorth(t *testing.T) {
	v := sky(coords.North{Angle: deg(-33), Mirrored: true})
	var marks []north.Feature
	for _, at := range [][2]float64{{15, -50}, {-12, 40}, {30, 20}} {
		m := feature(v, at[0], at[1], 0.3, 1, nil)
		m.Pixel, _ = v.Project(m.Place.Heliographic, 45)
		m.Height = disc.Height{Mm: 20, SigmaMm: 12}
		marks = append(marks, m)
	}
	s, err := north.FromFeatures(v, marks, north.Either)
	require.NoError(t, err)
	assert.Equal(t, 3, s.Used)
	assert.InDelta(t, 0, apart(s.Angle, v.North.Angle), 0.01)
	assert.True(t, s.Mirrored)
}
