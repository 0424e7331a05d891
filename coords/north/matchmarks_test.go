package north

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// markedPicture invents a disc turned by chance, features on it whose places are
// foretold with an error, and marks: some features have none, some marks no feature.
func markedPicture(rng *rand.Rand, features int) (Unoriented, []UnknownMark, []Foretold, coords.North) {
	now := Unoriented{
		Limb: coords.Limb{Centre: coords.Pixel{X: 512, Y: 500}, RadiusPx: 430, Cov: coords.LimbCovariance{XX: 0.1, YY: 0.1, RR: 0.1}},
		UTC:  time.Date(2025, 4, 2, 8, 0, 0, 0, time.UTC),
	}
	truth := coords.North{Angle: coords.Angle(rng.Float64() * 2 * math.Pi), Mirrored: rng.IntN(2) == 0}
	view := now.viewOf(truth)
	var marks []UnknownMark
	var foretold []Foretold
	for range features {
		place := coords.Heliographic{
			B: coords.Angle((-35 + 70*rng.Float64()) * math.Pi / 180),
			L: view.Face.L0 + coords.Angle((-65+130*rng.Float64())*math.Pi/180),
		}
		sigma := (0.5 + 1.5*rng.Float64()) * math.Pi / 180
		if rng.Float64() < 0.7 {
			px, _ := view.Project(place, 0)
			px.X += 2 * rng.NormFloat64()
			px.Y += 2 * rng.NormFloat64()
			marks = append(marks, UnknownMark{Pixel: px, SigmaPx: 2})
		}
		place.B += coords.Angle(sigma * rng.NormFloat64())
		place.L += coords.Angle(sigma * rng.NormFloat64())
		foretold = append(foretold, Foretold{Place: coords.Measured{Heliographic: place, Cov: coords.Covariance{BB: sigma * sigma, LL: sigma * sigma}}})
	}
	for rng.Float64() < 0.5 {
		a, r := rng.Float64()*2*math.Pi, 0.9*math.Sqrt(rng.Float64())
		marks = append(marks, UnknownMark{Pixel: now.Limb.At(r*math.Cos(a), r*math.Sin(a)), SigmaPx: 2})
	}
	rng.Shuffle(len(marks), func(i, j int) { marks[i], marks[j] = marks[j], marks[i] })
	return now, marks, foretold, truth
}

func TestFromMarksOnInventedDiscs(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 3))
	runs := 120
	if testing.Short() {
		runs = 30
	}
	for _, features := range []int{3, 6, 12} {
		var c tallyOf
		wrong := 0
		for range runs {
			now, marks, foretold, truth := markedPicture(rng, features)
			m, err := FromMarks(now, marks, foretold, MatchOptions{})
			off := (m.North.Angle - truth.Angle).Wrap180().Abs().Degrees()
			if err == nil && (m.North.Mirrored != truth.Mirrored || off > 5) {
				wrong++
			}
			c.add(Match{North: m.North}, err, truth, 3*m.North.Sigma.Degrees())
		}
		t.Logf("%d features: %v; %d wrong", features, &c, wrong)
		assert.LessOrEqual(t, float64(wrong), 0.01*float64(c.accepted)+1, "wrong norths, accepted at odds of 0.99")
		assert.GreaterOrEqual(t, float64(c.within), 0.95*float64(c.accepted)-1, "within three standard errors")
		if features > 3 {
			assert.Greater(t, c.accepted, c.tried/2)
		}
	}
}

func TestFromMarksRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	now, marks, foretold, truth := markedPicture(rng, 8)
	_, err := FromMarks(now, marks[:1], foretold, MatchOptions{})
	var refused *MarksIndecisiveError
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, refused.Error(), "at least 2 of each")

	// Two alike at the same distance from the middle fit both ways round.
	view := now.viewOf(truth)
	sigma := math.Pi / 180
	var twins []Foretold
	var seen []UnknownMark
	for _, side := range []coords.Angle{-1, 1} {
		h := coords.Heliographic{B: view.Face.B0, L: view.Face.L0 + side*30*coords.Degree}
		twins = append(twins, Foretold{Place: coords.Measured{Heliographic: h, Cov: coords.Covariance{BB: sigma * sigma, LL: sigma * sigma}}})
		px, _ := view.Project(h, 0)
		seen = append(seen, UnknownMark{Pixel: px, SigmaPx: 1})
	}
	_, err = FromMarks(now, seen, twins, MatchOptions{})
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, refused.Error(), "do not tell whether the picture is mirrored")

	marks[0].SigmaPx = 0
	_, err = FromMarks(now, marks, foretold, MatchOptions{})
	assert.EqualError(t, err, "north from marks: error of mark 1 is 0 px, need more than 0")
}
