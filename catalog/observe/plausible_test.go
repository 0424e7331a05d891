package observe_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
)

func drawn(kind catalog.Kind, shape catalog.Shape, points ...coords.Pixel) catalog.Mark {
	return catalog.Mark{Kind: kind, Geometry: catalog.Geometry{Shape: shape, Pixels: points, SigmaClickPx: 0.5}}
}

// A slip of the hand in a drawn figure is told: points set in the wrong order, a line
// without a length. What is concave, or touches itself in a corner, is meant.
func TestSlipsInDrawnFigures(t *testing.T) {
	a, b, c, d := coords.Pixel{X: 500, Y: 450}, coords.Pixel{X: 520, Y: 450}, coords.Pixel{X: 520, Y: 470}, coords.Pixel{X: 500, Y: 470}
	dent := coords.Pixel{X: 505, Y: 460}
	for name, m := range map[string]catalog.Mark{
		"crosses itself":   drawn(catalog.Plage, catalog.Outline, a, c, b, d),
		"without a length": drawn(catalog.Filament, catalog.Line, a, a),
	} {
		var odd *observe.ImplausibleError
		require.ErrorAs(t, observe.Plausible(m, catalog.Position{}), &odd, name)
		assert.Contains(t, odd.Reason, name)
	}
	for _, m := range []catalog.Mark{
		drawn(catalog.Plage, catalog.Outline, a, b, c, d),
		drawn(catalog.Plage, catalog.Outline, d, c, b, a),
		drawn(catalog.Plage, catalog.Outline, a, b, dent, c, d),
		drawn(catalog.Plage, catalog.Outline, a, b, c),
		drawn(catalog.Filament, catalog.Line, a, c, b, d),
		drawn(catalog.Filament, catalog.Line, a, a, b),
		drawn(catalog.Sunspot, catalog.Point, a),
	} {
		assert.NoError(t, observe.Plausible(m, catalog.Position{}))
	}
}

// One that is kept all the same stands where it was drawn, not at the far limb, where the
// centroid of areas that cancel may lie.
func TestAnOutlineThatCrossesItselfStandsWhereItWasDrawn(t *testing.T) {
	b := catalog.Bearings{Frame: catalog.Frame{Taken: march},
		Disc:  &catalog.Disc{Limb: coords.Limb{Centre: coords.Pixel{X: 500, Y: 450}, RadiusPx: 384, Cov: coords.LimbCovariance{XX: 0.01, YY: 0.01, RR: 0.01}}},
		North: &catalog.North{Angle: deg(12), Sigma: deg(0.3)}}
	at := func(m catalog.Mark) *catalog.OnDisc {
		p := observe.Derive(b, []catalog.Mark{m})[0]
		require.NotNil(t, p.Disc, p.Reason)
		return p.Disc
	}
	p, q, r, s := coords.Pixel{X: 500, Y: 450}, coords.Pixel{X: 520, Y: 470}, coords.Pixel{X: 520, Y: 450}, coords.Pixel{X: 500, Y: 470}
	tied, open := at(drawn(catalog.Plage, catalog.Outline, p, q, r, s)), at(drawn(catalog.Plage, catalog.Outline, p, r, q, s))
	assert.InDelta(t, open.B.Degrees(), tied.B.Degrees(), 0.05)
	assert.InDelta(t, open.CMD.Degrees(), tied.CMD.Degrees(), 0.05)
}
