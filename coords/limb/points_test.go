package limb

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

func TestThreePointsGiveTheirCircle(t *testing.T) {
	// The circle through (1,7), (8,6), (7,-1) has its centre at (4,3), radius 5.
	f, err := FitPoints([]coords.Pixel{{X: 1, Y: 7}, {X: 8, Y: 6}, {X: 7, Y: -1}}, Options{SigmaClickPx: 0.01})
	require.NoError(t, err)
	assert.InDelta(t, 4, f.Limb.Centre.X, 1e-6, "centre x, by geometry")
	assert.InDelta(t, 3, f.Limb.Centre.Y, 1e-6, "centre y, by geometry")
	assert.InDelta(t, 5, f.Limb.RadiusPx, 1e-6, "radius, by geometry")
	assert.Positive(t, f.Limb.Cov.SigmaRadiusPx(), "three points fit exactly, but were clicked with an error")
}

// TestPublishedPoints: Gander, Golub & Strebel 1994, BIT 34, 558, section 1 and
// table: six points whose geometric fit has centre (4.7398, 2.9835), radius 4.7142
// (figures from memory; 4 decimals are printed).
func TestPublishedPoints(t *testing.T) {
	points := []coords.Pixel{{X: 1, Y: 7}, {X: 2, Y: 6}, {X: 5, Y: 8}, {X: 7, Y: 7}, {X: 9, Y: 5}, {X: 3, Y: 7}}
	start, ok := algebraic(points)
	require.True(t, ok)
	// Least squares, all points counted: the paper has no outliers.
	o := outline{circle: start}
	for range 200 {
		n := newNormal(circleTerms)
		for _, d := range o.departures(points) {
			row := designRow(d.sin, d.cos)
			n.add(row[:circleTerms], d.rho)
		}
		x, _, ok := n.solve(0)
		require.True(t, ok)
		o = o.corrected(correction{x[0], x[1], x[2]})
	}
	assert.InDelta(t, 4.7398, o.x, 6e-5, "centre x")
	assert.InDelta(t, 2.9835, o.y, 6e-5, "centre y")
	assert.InDelta(t, 4.7142, o.r, 6e-5, "radius")
}

// TestTypedPointsHaveTrueErrors throws clicks about circles and ellipses.
func TestTypedPointsHaveTrueErrors(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, c := range []struct {
		name                string
		n                   int
		arcDeg, clickPx, of float64 // of: share of points far off
		shape               Shape
	}{
		{"four points, whole disc", 4, 360, 0.5, 0, Circle},
		{"eight points, whole disc", 8, 360, 0.5, 0, CircleOrEllipse},
		{"twelve points on 100°", 12, 100, 0.5, 0, Circle},
		{"twenty points, clicked badly", 20, 360, 2, 0, Circle},
		{"twenty points, three of them far off", 20, 360, 0.5, 0.15, Circle},
		{"twelve points of an ellipse", 12, 360, 0.5, 0, Ellipse},
	} {
		var pulls []float64
		for range 300 {
			truth := coords.Limb{Centre: coords.Pixel{X: 1000, Y: 900}, RadiusPx: 800}
			if c.shape == Ellipse {
				truth.Flattening, truth.ShortAxis = 0.02, 30*coords.Degree
			}
			var points []coords.Pixel
			start := 2 * math.Pi * r.Float64()
			for k := range c.n {
				sin, cos := math.Sincos(start + c.arcDeg*math.Pi/180*(float64(k)+0.5*r.Float64())/float64(c.n))
				p := truth.At(cos, sin)
				off := c.clickPx
				if float64(k) < c.of*float64(c.n) {
					off = 40
				}
				points = append(points, coords.Pixel{X: p.X + off*r.NormFloat64(), Y: p.Y + off*r.NormFloat64()})
			}
			f, err := FitPoints(points, Options{Shape: c.shape})
			require.NoError(t, err, c.name)
			pulls = append(pulls, (f.Limb.Centre.X-1000)/math.Sqrt(f.Limb.Cov.XX), (f.Limb.Centre.Y-900)/math.Sqrt(f.Limb.Cov.YY), (f.Limb.RadiusPx-800)/f.Limb.Cov.SigmaRadiusPx())
		}
		t.Logf("%-40s spread of the pulls %.2f, largest %.1f", c.name, spread(pulls), largest(pulls))
		assert.True(t, spread(pulls) > 0.7 && spread(pulls) < 1.4, "%s: spread of the pulls is %.2f, allowed 0.7 to 1.4", c.name, spread(pulls))
	}
}

func TestHopelessPointsAreRefused(t *testing.T) {
	for name, points := range map[string][]coords.Pixel{
		"none":           nil,
		"two":            {{X: 1, Y: 1}, {X: 5, Y: 5}},
		"on a line":      {{X: 1, Y: 1}, {X: 5, Y: 5}, {X: 9, Y: 9}},
		"all the same":   {{X: 1, Y: 1}, {X: 1, Y: 1}, {X: 1, Y: 1}},
		"on a short arc": {{X: 0, Y: 0}, {X: 10, Y: 0.03}, {X: 20, Y: 0}},
	} {
		f, err := FitPoints(points, Options{})
		assert.ErrorAs(t, err, new(*RefusedError), "%s: %v", name, f)
	}
	_, err := FitPoints([]coords.Pixel{{X: math.NaN()}, {X: 5}, {Y: 4}}, Options{})
	assert.Error(t, err)
}

func TestTypedCircle(t *testing.T) {
	f, err := Typed(coords.Pixel{X: 10, Y: 20}, 300, 0.7)
	require.NoError(t, err)
	assert.InDelta(t, 0.7, f.Limb.Cov.SigmaRadiusPx(), 1e-12)
	assert.InDelta(t, 0.7, f.Limb.Cov.SigmaCentrePx(), 1e-12)
	_, err = Typed(coords.Pixel{}, 300, 0)
	assert.Error(t, err, "nothing is known exactly")
	_, err = Typed(coords.Pixel{}, -1, 1)
	assert.Error(t, err)
	_, err = Typed(coords.Pixel{X: math.Inf(1)}, 1, 1)
	assert.Error(t, err)
}
