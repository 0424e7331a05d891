package north

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// juneTwins are two pictures of one Sun while B0 is 0, when the pictures alone tell
// nothing about the parity: at 9 h, and at 15 h of the next day, on an alt-azimuth mount at
// 50° N whose camera stays put: north turns by the parallactic angle. P is -14°.
func juneTwins(t *testing.T, mirrored bool) ([]TurningFrame, []coords.North) {
	t.Helper()
	start := time.Date(2026, time.June, 7, 9, 0, 0, 0, time.UTC)
	rng := rand.New(rand.NewPCG(5, 81))
	sun := restlessSun(t, 71001, start, false)
	var frames []TurningFrame
	var truth []coords.North
	for _, hours := range []float64{0, 30} {
		at := start.Add(time.Duration(hours * float64(time.Hour)))
		q := ephemeris.FromSite(at, 50*coords.Degree, 0).Parallactic
		n := coords.North{Angle: 40*coords.Degree - q, Mirrored: mirrored}
		if mirrored {
			n.Angle = 40*coords.Degree + q
		}
		f, limb := paintedLying(t, rng, sun.At(at), at, paint.SingleStack(), sky{radiusPx: 160}, &n)
		frames = append(frames, TurningFrame{Unoriented: Unoriented{Picture: f.Picture(), Limb: limb, Layer: f.Truth.Layer, UTC: at}, SetUp: 1,
			Held: Held{PositionAngle: q, Sigma: UprightSigma}})
		truth = append(truth, n)
	}
	return frames, truth
}

// markedOn is where a feature of a painted frame stands, with its place.
func markedOn(t *testing.T, f TurningFrame, n coords.North, at coords.Heliographic) Feature {
	t.Helper()
	view := f.viewOf(n)
	px, visible := view.Project(at, 0)
	require.True(t, visible)
	return Feature{Pixel: px, SigmaPx: 1, Place: coords.Measured{Heliographic: at, Cov: coords.Covariance{BB: 1e-4, LL: 1e-4}}}
}

// Each clue decides by itself what the pictures leave open, for either parity.
func TestCluesTellTheTwinsApart(t *testing.T) {
	parities := []bool{false, true}
	if testing.Short() {
		parities = parities[1:]
	}
	for _, mirrored := range parities {
		frames, truth := juneTwins(t, mirrored)
		looked, err := newTurn(context.Background(), frames, TurningOptions{})
		require.NoError(t, err)
		// The pairs are looked at once: no clue changes what they show.
		answer := func(alter func([]TurningFrame)) (Turning, error) {
			in := *looked
			in.frames = slices.Clone(frames)
			alter(in.frames)
			return in.answer(context.Background())
		}
		with := func(alter func([]TurningFrame)) Turning {
			out, err := answer(alter)
			require.NoError(t, err)
			return out
		}
		isRight := func(out Turning, what string) {
			t.Helper()
			t.Logf("%s: decided %v, odds %.5f, clues %v", what, out.Decided, out.Answers[0].Odds, out.Clues)
			for i, n := range out.Answers[0].Norths {
				require.NotNil(t, n, what)
				assert.Equal(t, mirrored, n.Mirrored, what)
				assert.LessOrEqual(t, (n.Angle - truth[i].Angle).Wrap180().Abs(), 3*n.Sigma, "%s: north of picture %d", what, i+1)
			}
		}
		free := with(func([]TurningFrame) {})
		require.False(t, free.Decided, "nothing tells with B0 of 0: %v", free.Answers)
		sigma := free.Answers[0].Norths[1].Sigma

		out := with(func(f []TurningFrame) { f[0].Held.Group, f[1].Held.Group = 1, 1 })
		isRight(out, "the field's turning on an alt-azimuth mount")
		assert.True(t, out.Decided)

		opposite := truth[0]
		opposite.Mirrored, opposite.Sigma = !mirrored, 0.1*coords.Degree
		opposite.Angle += math.Pi // the line is one: it leads west
		right := truth[0]
		right.Sigma = opposite.Sigma
		line := DriftLine{Straight: right, Mirrored: opposite}
		if mirrored {
			line = DriftLine{Straight: opposite, Mirrored: right}
		}
		out = with(func(f []TurningFrame) { f[0].Drift = &line })
		isRight(out, "a drift line")
		assert.True(t, out.Decided, "P is 14°: west as the sky turns and as the Sun does lie 28° apart in the twins")
		assert.Less(t, out.Answers[0].Norths[0].Sigma.Degrees(), 0.2, "and its north is as good as the drift")
		assert.Less(t, out.Answers[0].Norths[1].Sigma, sigma, "which helps the other")

		out = with(func(f []TurningFrame) { f[0].Said, f[0].Parity = &right, parityOf(mirrored) })
		isRight(out, "a north that is known of one")
		assert.True(t, out.Decided)
		assert.Less(t, out.Answers[0].Norths[1].Sigma, sigma, "a better north of one gives a better one of the other")

		spot := coords.Heliographic{B: 18 * coords.Degree, L: frames[0].viewOf(truth[0]).Face.L0 + 30*coords.Degree}
		out = with(func(f []TurningFrame) { f[0].Known = []Feature{markedOn(t, f[0], truth[0], spot)} })
		isRight(out, "one place of a list")
		assert.True(t, out.Decided)

		out = with(func(f []TurningFrame) {
			f[0].Sides = []SidedMark{{Pixel: markedOn(t, f[0], truth[0], spot).Pixel, SigmaPx: 2, North: true}}
		})
		isRight(out, "a mark's hemisphere")
		assert.Greater(t, out.Answers[0].Odds, 0.9, "a word about a side is a slip now and then")

		wrong := right
		wrong.Angle += 50 * coords.Degree
		_, err = answer(func(f []TurningFrame) { f[0].Said, f[0].Parity = &wrong, parityOf(mirrored) })
		assert.ErrorContains(t, err, "does not go with how the Sun turned")
	}
}

func parityOf(mirrored bool) Parity {
	if mirrored {
		return MirrorImage
	}
	return Upright
}

// The side of a mark counts as much as its distance from the equator allows.
func TestHemisphereOfAMark(t *testing.T) {
	view := disc.View{Limb: coords.Limb{Centre: coords.Pixel{X: 200, Y: 200}, RadiusPx: 160}, Face: coords.Face{Semidiameter: 0.2666 * coords.Degree, DistanceAU: 1}}
	for _, c := range []struct {
		y, least, most float64
	}{{120, 0.97, 0.981}, {199, 0.5, 0.7}, {280, 0.019, 0.03}} {
		p, ok := onSide(view, SidedMark{Pixel: coords.Pixel{X: 220, Y: c.y}, SigmaPx: 2, North: true}, coords.Degree)
		require.True(t, ok)
		assert.GreaterOrEqual(t, p, c.least, "y %v", c.y)
		assert.LessOrEqual(t, p, c.most, "y %v", c.y)
	}
	_, ok := onSide(view, SidedMark{Pixel: coords.Pixel{X: 20, Y: 20}, SigmaPx: 2}, coords.Degree)
	assert.False(t, ok, "beyond the limb")
}
