package disc_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// shapeView is a mirrored, turned picture with a chromospheric limb.
var shapeView = disc.View{
	Limb:  coords.Limb{Centre: coords.Pixel{X: 1000, Y: 1010}, RadiusPx: 900},
	Layer: coords.Chromosphere,
	North: coords.North{Angle: deg(-40), Mirrored: true},
	Face:  coords.Face{P: deg(-21), B0: deg(6.5), L0: deg(3), Semidiameter: 955 * coords.Arcsecond},
}

func at(t *testing.T, v disc.View, latDeg, cmdDeg float64) coords.Pixel {
	t.Helper()
	p, visible := v.Project(coords.Heliographic{B: deg(latDeg), L: v.Face.L0 + deg(cmdDeg)}, 0)
	require.True(t, visible)
	return p
}

func placeOf(v disc.View, p coords.Pixel) coords.Heliographic {
	return v.Place(p, 0, disc.Height{}).Photosphere.Heliographic
}

func TestSpineOnAMeridian(t *testing.T) {
	// A meridian is a great circle: lengths and midpoint are differences of latitude.
	line := []coords.Pixel{at(t, shapeView, -20, 30), at(t, shapeView, 5, 30), at(t, shapeView, 30, 30)}
	spine, err := shapeView.Spine(line)
	require.NoError(t, err)
	assert.InDelta(t, 50, spine.Length.Degrees(), 1e-9)
	assert.Zero(t, spine.Beyond)
	assert.Equal(t, line[0], spine.Ends[0])
	assert.Equal(t, line[2], spine.Ends[1])
	// TRADE.md, section 0: 1 deg of arc on the Sun is 12.142 Mm.
	assert.InDelta(t, 50*12.142, spine.LengthMm(0), 0.02)
	assert.InDelta(t, spine.LengthMm(0)*(1+26/695.7), spine.LengthMm(26), 1e-9)
	middle := placeOf(shapeView, spine.Middle)
	assert.InDelta(t, 5, middle.B.Degrees(), 1e-9)
	assert.InDelta(t, 0, apart(middle.L, 33), 1e-9)
}

func TestSpineMiddleIsHalfwayByLengthNotByPoints(t *testing.T) {
	// Many points crowd at one end; the middle must not follow them.
	line := []coords.Pixel{at(t, shapeView, 0, -40), at(t, shapeView, 0, 38), at(t, shapeView, 0, 39), at(t, shapeView, 0, 39.5), at(t, shapeView, 0, 40)}
	spine, err := shapeView.Spine(line)
	require.NoError(t, err)
	assert.InDelta(t, 80, spine.Length.Degrees(), 1e-9)
	middle := placeOf(shapeView, spine.Middle)
	assert.InDelta(t, 0, apart(middle.L, 3), 1e-9)
	reversed := []coords.Pixel{line[4], line[3], line[2], line[1], line[0]}
	again, err := shapeView.Spine(reversed)
	require.NoError(t, err)
	assert.InDelta(t, 0, math.Hypot(again.Middle.X-spine.Middle.X, again.Middle.Y-spine.Middle.Y), 1e-6)
}

func TestSpineOverTheLimbIsCutThere(t *testing.T) {
	inner := at(t, shapeView, 10, 70)
	right, down := shapeView.Limb.Unit(inner)
	r := math.Hypot(right, down)
	outer := shapeView.Limb.At(right/r*1.05, down/r*1.05)
	spine, err := shapeView.Spine([]coords.Pixel{inner, outer})
	require.NoError(t, err)
	assert.Equal(t, 1, spine.Beyond)
	// A radial line runs along a great circle to the limb at 90° − S.
	rho := shapeView.Place(inner, 0, disc.Height{}).Photosphere.Rho
	assert.InDelta(t, 90-955./3600-rho.Degrees(), spine.Length.Degrees(), 1e-6)

	_, err = shapeView.Spine([]coords.Pixel{outer})
	assert.ErrorIs(t, err, disc.ErrOffDisc)
	_, err = shapeView.Spine(nil)
	assert.Error(t, err)
	single, err := shapeView.Spine([]coords.Pixel{inner})
	require.NoError(t, err)
	assert.Zero(t, single.Length)
	assert.InDelta(t, 0, math.Hypot(single.Middle.X-inner.X, single.Middle.Y-inner.Y), 1e-6)
}

// A small circle about a place has its centroid there, wherever it is and
// however it is foreshortened; the centroid of its pixels is elsewhere.
func TestCentroidOfACircleIsItsCentre(t *testing.T) {
	for _, c := range []struct{ lat, cmd, radius float64 }{{0, 0, 5}, {20, 50, 12}, {-50, -20, 20}, {6, -60, 25}} {
		centre := coords.Heliographic{B: deg(c.lat), L: shapeView.Face.L0 + deg(c.cmd)}
		var outline []coords.Pixel
		var mean coords.Pixel
		const n = 72
		for i := range n {
			outline = append(outline, at(t, shapeView, 0, 0))
			b, l := around(centre, deg(c.radius), deg(float64(i)*360/n))
			p, _ := shapeView.Project(coords.Heliographic{B: b, L: l}, 0)
			outline[i] = p
			mean.X += p.X / n
			mean.Y += p.Y / n
		}
		for _, way := range [][]coords.Pixel{outline, backwards(outline)} {
			got, err := shapeView.Centroid(way)
			require.NoError(t, err)
			assert.InDelta(t, 0, centre.Distance(placeOf(shapeView, got)).Degrees(), 1e-6, "circle of %v° about %v %v", c.radius, c.lat, c.cmd)
		}
		if c.cmd != 0 {
			assert.Greater(t, centre.Distance(placeOf(shapeView, mean)).Degrees(), 0.01)
		}
	}
	_, err := shapeView.Centroid([]coords.Pixel{{X: 1, Y: 1}, {X: 2, Y: 2}})
	assert.Error(t, err)
	_, err = shapeView.Centroid([]coords.Pixel{{X: 1, Y: 1}, {X: 2, Y: 2}, {X: 0, Y: 3}})
	assert.ErrorIs(t, err, disc.ErrOffDisc)
}

// An octant of the sphere has its centroid in the direction (1, 1, 1).
func TestCentroidOfAnOctant(t *testing.T) {
	v := shapeView
	v.Face.B0 = deg(-7)
	// Three corners 60° apart pairwise about the middle of the disc.
	var outline []coords.Pixel
	centre := coords.Heliographic{B: v.Face.B0, L: v.Face.L0}
	for i := range 3 {
		b, l := around(centre, deg(54.7356), deg(float64(10+120*i)))
		p, _ := v.Project(coords.Heliographic{B: b, L: l}, 0)
		outline = append(outline, p)
	}
	got, err := v.Centroid(outline)
	require.NoError(t, err)
	assert.InDelta(t, 0, centre.Distance(placeOf(v, got)).Degrees(), 1e-6)
}

// around is the place at a distance and bearing from another.
func around(c coords.Heliographic, distance, bearing coords.Angle) (b, l coords.Angle) {
	b = coords.Asin(c.B.Sin()*distance.Cos() + c.B.Cos()*distance.Sin()*bearing.Cos())
	l = c.L + coords.Atan2(bearing.Sin()*distance.Sin()*c.B.Cos(), distance.Cos()-c.B.Sin()*b.Sin())
	return b, l.Wrap360()
}

func backwards(p []coords.Pixel) []coords.Pixel {
	out := make([]coords.Pixel, len(p))
	for i := range p {
		out[len(p)-1-i] = p[i]
	}
	return out
}

func polarPixel(v disc.View, paDeg, r float64) coords.Pixel {
	right, down := v.North.Direction(deg(paDeg))
	return v.Limb.At(r*right, r*down)
}

func TestProminenceShapes(t *testing.T) {
	v := shapeView
	px := func(pa, r float64) coords.Pixel { return polarPixel(v, pa, r) }
	for _, c := range []struct {
		name                   string
		points                 []coords.Pixel
		base0, base1, top, mid float64
		topR                   float64
	}{
		{"one point", []coords.Pixel{px(40, 1.03)}, 40, 40, 40, 40, 1.03},
		{"base, top, base", []coords.Pixel{px(40, 1.001), px(44, 1.05), px(46, 1.002)}, 40, 46, 44, 43, 1.05},
		{"across north", []coords.Pixel{px(357, 1.001), px(359.5, 1.04), px(3, 1.001)}, 357, 3, 359.5, 0, 1.04},
		{"overhang: top is wider than base", []coords.Pixel{px(100, 1.002), px(96, 1.06), px(110, 1.055), px(104, 1.001), px(100, 1.002)}, 100, 104, 96, 102, 1.06},
		{"runs in from the disc", []coords.Pixel{px(200, 0.9), px(200, 1.04)}, 200, 200, 200, 200, 1.04},
		{"outline cut by the limb", []coords.Pixel{px(250, 0.98), px(250, 1.05), px(256, 1.05), px(256, 0.98), px(250, 0.98)}, 250, 256, 250, 253, 1.05},
	} {
		got, err := v.Prominence(c.points)
		require.NoError(t, err, c.name)
		assert.InDelta(t, 0, apart(got.Base[0], c.base0), 1e-6, "%s: first base end", c.name)
		assert.InDelta(t, 0, apart(got.Base[1], c.base1), 1e-6, "%s: second base end", c.name)
		assert.InDelta(t, 0, apart(got.Top, c.top), 1e-6, "%s: top", c.name)
		assert.InDelta(t, 0, apart(got.Mean, c.mid), 1e-6, "%s: mean", c.name)
		assert.InDelta(t, c.topR, got.TopR, 1e-9, "%s: top r", c.name)
		place := v.Place(got.Middle, 0, disc.Height{})
		assert.Equal(t, disc.BeyondLimb, place.Where, c.name)
		assert.InDelta(t, 0, apart(place.PositionAngle, c.mid), 1e-6, c.name)
		assert.InDelta(t, c.topR, place.R, 1e-9, c.name)
	}
	_, err := v.Prominence([]coords.Pixel{px(10, 0.9), px(12, 0.95)})
	assert.ErrorIs(t, err, disc.ErrNotBeyond)
	_, err = v.Prominence(nil)
	assert.ErrorIs(t, err, disc.ErrNotBeyond)
}
