package catalog

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// A point is exactly two numbers: one was taken for (500, 0), none and null for (0, 0),
// and of three the last was dropped.
func TestAPointIsExactlyTwoNumbers(t *testing.T) {
	var pairs []Pair
	require.NoError(t, json.Unmarshal([]byte(`[[500, 4.5], [-1e3,0]]`), &pairs))
	assert.Equal(t, []Pair{{500, 4.5}, {-1000, 0}}, pairs)
	for _, text := range []string{`[[500]]`, `[[]]`, `[null]`, `[[1,2,3]]`, `[[1,null]]`, `[["1","2"]]`, `[[1,1e999]]`, `[{"x":1,"y":2}]`, `[[1,[2]]]`, `[5]`, `[[1,2],[3]]`, `[[true,2]]`} {
		assert.Error(t, json.Unmarshal([]byte(text), &pairs), text)
	}
}

func FuzzPair(f *testing.F) {
	for _, text := range []string{`[1,2]`, `[null,2]`, `[1]`, `[1,2,3]`, `null`, `[1e308,-0]`} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var p Pair
		if json.Unmarshal(text, &p) != nil {
			return
		}
		require.False(t, math.IsInf(p[0], 0) || math.IsInf(p[1], 0) || math.IsNaN(p[0]) || math.IsNaN(p[1]))
		back, err := json.Marshal(p)
		require.NoError(t, err)
		var again Pair
		require.NoError(t, json.Unmarshal(back, &again))
		require.Equal(t, p, again)
	})
}

// Errors that no scatter can have are refused with their values, and so are a radius and
// a point that no picture has.
func TestFiguresThatCannotBeAreRefusedWithTheirValue(t *testing.T) {
	disc := func(c coords.LimbCovariance, radius float64) Disc {
		return Disc{Frame: 1, Limb: coords.Limb{RadiusPx: radius, Cov: c}, Method: DiscTyped, LayerFrom: LayerNamed}
	}
	for _, c := range []coords.LimbCovariance{{}, {XX: 1, YY: 1, RR: 1, XY: 1, XR: 1, YR: 1}, {XX: 4, YY: 1, RR: 9, XY: -2, XR: 6, YR: -3}, {XX: 1e-8, YY: 2, RR: 3, YR: 2.4}} {
		assert.NoError(t, disc(c, 100).Validate(), "%+v", c)
	}
	for _, c := range []coords.LimbCovariance{{XX: 1, YY: 1, XY: 2}, {XX: 1, XY: 0.5}, {XX: 1, YY: 1, RR: 1, XY: 0.9, XR: 0.9, YR: -0.9}, {XX: 1, YY: 1, RR: 0, XR: 1e-9}} {
		assert.ErrorContains(t, disc(c, 100).Validate(), "positive semi-definite", "%+v", c)
	}
	assert.ErrorContains(t, disc(coords.LimbCovariance{}, 1e-300).Validate(), "1e-300")
	assert.ErrorContains(t, disc(coords.LimbCovariance{XX: 1e300}, 100).Validate(), "1e+300")
	m := goodMark()
	m.Geometry.Pixels[0].Y = -1e308
	assert.ErrorContains(t, m.Validate(), "-1e+308")
	m.Geometry = Geometry{Shape: Point, Polar: []PolarPoint{{PA: 1e308 * coords.Degree, R: 1}}}
	assert.ErrorContains(t, m.Validate(), "1e+308")
}
