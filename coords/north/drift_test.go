package north_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/north"
)

const arcsecPerPx = 1.06

// equinox is when the declination changes fastest: 0.99″ a minute, which tilts
// the drift by about 0.06° (TRADE.md, 2.2).
var equinox = time.Date(2025, 3, 20, 10, 0, 0, 0, time.UTC)

// drifted makes pictures of a Sun that moves west by 15.04″ a second times cos δ
// and north by 0.99″ a minute, in a picture that lies so.
func drifted(n coords.North, seconds []float64, sigmaPx float64, rng *rand.Rand) []north.Shot {
	var shots []north.Shot
	for _, s := range seconds {
		west, up := 15.0*s/arcsecPerPx, 0.99/60*s/arcsecPerPx
		wx, wy := n.Direction(deg(270))
		nx, ny := n.Direction(0)
		shots = append(shots, north.Shot{
			Centre:  coords.Pixel{X: 900 + west*wx + up*nx + sigmaPx*rng.NormFloat64(), Y: 800 + west*wy + up*ny + sigmaPx*rng.NormFloat64()},
			SigmaPx: max(sigmaPx, 0.01),
			Time:    equinox.Add(time.Duration(s * float64(time.Second))),
		})
	}
	return shots
}

func TestDriftFindsTheLineButNotTheParity(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, truth := range []coords.North{{Angle: deg(0)}, {Angle: deg(137), Mirrored: true}, {Angle: deg(-80)}, {Angle: deg(-179), Mirrored: true}} {
		line, err := north.Drift(north.Run{Shots: drifted(truth, []float64{0, 40}, 0, rng), ArcsecPerPx: arcsecPerPx})
		require.NoError(t, err)
		found := line.Known(truth.Mirrored)
		assert.InDelta(t, 0, apart(found.Angle, truth.Angle), 0.003, "the motion in declination is taken out")
		assert.Equal(t, truth.Mirrored, found.Mirrored)
		assert.Equal(t, north.MethodDrift, found.Method)
		assert.Zero(t, found.Parity, "it was not weighed")
		// The other parity has north the opposite way but for the tilt of the path.
		assert.InDelta(t, 180, math.Abs(apart(line.Straight.Angle, line.Mirrored.Angle)), 0.15)
	}
}

func TestDriftErrorIsTrue(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	truth := coords.North{Angle: deg(50)}
	for _, seconds := range [][]float64{{0, 20}, {0, 10, 20, 30, 40}} {
		var pulls, squares float64
		const n = 2000
		for range n {
			line, err := north.Drift(north.Run{Shots: drifted(truth, seconds, 0.5, rng), ArcsecPerPx: arcsecPerPx})
			require.NoError(t, err)
			pull := apart(line.Straight.Angle, truth.Angle) / line.Straight.Sigma.Degrees()
			pulls, squares = pulls+pull/n, squares+pull*pull/n
		}
		assert.InDelta(t, 0, pulls, 0.1)
		// The quoted error has 0.05° for refraction that these shots don't have.
		assert.Less(t, math.Sqrt(squares), 1.1, "%v", seconds)
		assert.Greater(t, math.Sqrt(squares), 0.7, "%v", seconds)
	}
}

func TestDriftRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	truth := coords.North{}
	good := drifted(truth, []float64{0, 40}, 0, rng)
	for name, c := range map[string]struct {
		run  north.Run
		says string
	}{
		"one picture":     {north.Run{Shots: good[:1], ArcsecPerPx: arcsecPerPx}, "need at least 2"},
		"no scale":        {north.Run{Shots: good}, "scale"},
		"the tracking on": {north.Run{Shots: []north.Shot{good[0], {Centre: coords.Pixel{X: 905, Y: 800}, SigmaPx: 0.1, Time: good[1].Time}}, ArcsecPerPx: arcsecPerPx}, "tracking"},
		"same time":       {north.Run{Shots: []north.Shot{good[0], {Centre: good[1].Centre, SigmaPx: 0.1, Time: good[0].Time}}, ArcsecPerPx: arcsecPerPx}, "all pictures are of"},
		"wrong times":     {north.Run{Shots: []north.Shot{good[0], {Centre: good[1].Centre, SigmaPx: 0.1, Time: good[1].Time.Add(time.Minute)}}, ArcsecPerPx: arcsecPerPx}, "tracking"},
		"too short":       {north.Run{Shots: drifted(truth, []float64{0, 1}, 0.5, rng), ArcsecPerPx: arcsecPerPx}, "too short"},
		"no error":        {north.Run{Shots: []north.Shot{good[0], {Centre: good[1].Centre, Time: good[1].Time}}, ArcsecPerPx: arcsecPerPx}, "error of centre"},
		"the Sun has set": {north.Run{Shots: good, ArcsecPerPx: arcsecPerPx, Site: &north.Site{Lat: deg(40), LonEast: deg(180)}}, "below the horizon"},
	} {
		_, err := north.Drift(c.run)
		assert.ErrorContains(t, err, c.says, name)
	}
}

// Low in the sky refraction bends the path. The motion is recomputed here from
// altitude and azimuth: the site's sky turned by hand, and the refraction of
// Bennett's formula, 1/tan(h + 7.31/(h + 4.4)) arcmin of the apparent altitude h
// (Meeus, ch. 16), which is not the formula of the program.
func TestDriftCorrectsForRefraction(t *testing.T) {
	site := north.Site{Lat: deg(50), LonEast: deg(8)}
	evening := time.Date(2025, 3, 20, 16, 40, 0, 0, time.UTC) // some 6° high
	lat := deg(50)
	// The hour angle is near 4 h 57 min of apparent solar time; declination 0.
	seen := func(seconds float64) (alt, az float64) {
		hour := deg(15*(16+40./60+8./15-12-7.5/60) + 15.0/3600*seconds)
		sinAlt := lat.Cos() * hour.Cos()
		alt = math.Asin(sinAlt)
		az = math.Atan2(hour.Sin(), hour.Cos()*lat.Sin()) // from south, west positive
		apparent := alt * 180 / math.Pi
		for range 20 {
			refraction := 1 / math.Tan((apparent+7.31/(apparent+4.4))*math.Pi/180) / 60
			apparent = alt*180/math.Pi + refraction
		}
		return apparent * math.Pi / 180, az
	}
	alt0, az0 := seen(0)
	alt1, az1 := seen(40)
	right := (az1 - az0) * math.Cos((alt0+alt1)/2) * 206265 / arcsecPerPx
	up := (alt1 - alt0) * 206265 / arcsecPerPx
	run := north.Run{
		Shots: []north.Shot{
			{Centre: coords.Pixel{X: 100, Y: 100}, SigmaPx: 0.1, Time: evening},
			{Centre: coords.Pixel{X: 100 + right, Y: 100 - up}, SigmaPx: 0.1, Time: evening.Add(40 * time.Second)},
		},
		ArcsecPerPx: arcsecPerPx,
		Site:        &site,
	}
	level, err := north.FromLevel(evening.Add(20*time.Second), 0, site, north.Level{Sigma: deg(0.1)})
	require.NoError(t, err)
	with, err := north.Drift(run)
	require.NoError(t, err)
	run.Site = nil
	without, err := north.Drift(run)
	require.NoError(t, err)
	// Declination drifts by 0.99″ a minute and was left out above: 0.063°.
	const declination = 0.063
	assert.InDelta(t, declination, math.Abs(apart(with.Straight.Angle, level.Angle)), 0.04)
	assert.Greater(t, math.Abs(apart(without.Straight.Angle, with.Straight.Angle)), 0.2, "at 6° refraction matters")
}

func TestStepTellsTheParity(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for _, truth := range []coords.North{{Angle: deg(20)}, {Angle: deg(20), Mirrored: true}, {Angle: deg(200), Mirrored: true}} {
		line, err := north.Drift(north.Run{Shots: drifted(truth, []float64{0, 40}, 0.2, rng), ArcsecPerPx: arcsecPerPx})
		require.NoError(t, err)
		sx, sy := truth.Direction(deg(180 + 6)) // a little askew
		step := north.Step{From: coords.Pixel{X: 500, Y: 500}, To: coords.Pixel{X: 500 + 90*sx, Y: 500 + 90*sy}, SigmaPx: 0.5}
		found, err := line.WithStep(step)
		require.NoError(t, err)
		assert.Equal(t, truth.Mirrored, found.Mirrored)
		assert.InDelta(t, 0, apart(found.Angle, truth.Angle), 0.3)
		assert.Greater(t, found.Parity, 0.9)
		assert.Less(t, found.Parity, 1.0)
		// Pushed to the south it moves the other way.
		step.From, step.To, step.TowardSouth = step.To, step.From, true
		again, err := line.WithStep(step)
		require.NoError(t, err)
		assert.Equal(t, found.Mirrored, again.Mirrored)

		_, err = line.WithStep(north.Step{From: step.From, To: coords.Pixel{X: step.From.X + 2, Y: step.From.Y}, SigmaPx: 0.5})
		assert.ErrorContains(t, err, "too short")
		wx, wy := truth.Direction(deg(270))
		_, err = line.WithStep(north.Step{From: coords.Pixel{}, To: coords.Pixel{X: 90 * wx, Y: 90 * wy}, SigmaPx: 0.5})
		assert.ErrorContains(t, err, "away from the line")
		_, err = line.WithStep(north.Step{To: coords.Pixel{X: 90}})
		assert.ErrorContains(t, err, "error")
	}
}
