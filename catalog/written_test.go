package catalog

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// What is written is what the record's description says of its fields (exchange.Fields),
// and the same to the last bit when it is read.
func TestVerticesAreReadAsTheyWereWritten(t *testing.T) {
	deg := func(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }
	for _, c := range []struct {
		form     string
		pair     [2]float64
		geometry Geometry
	}{
		{"pixels", [2]float64{12.25, -0.5}, Geometry{Pixels: []coords.Pixel{{X: 12.25, Y: -0.5}}}},
		{"polar", [2]float64{359.9, 1.035}, Geometry{Polar: []PolarPoint{{PA: deg(359.9), R: 1.035}}}},
		{"carrington", [2]float64{-7.3, 280.46646}, Geometry{Places: []PlacePoint{{B: deg(-7.3), Lon: deg(280.46646)}}}},
		{"cmd", [2]float64{12.3, -45.1}, Geometry{Places: []PlacePoint{{B: deg(12.3), Lon: deg(-45.1), ByCMD: true}}}},
	} {
		form, pairs := c.geometry.Written()
		assert.Equal(t, c.form, form)
		assert.Equal(t, []Pair{c.pair}, pairs)
		var read Geometry
		require.NoError(t, read.SetWritten(form, pairs))
		assert.Equal(t, c.geometry, read)
	}
	assert.ErrorContains(t, new(Geometry).SetWritten("inches", []Pair{{1, 2}}), `form "inches"`)
}
