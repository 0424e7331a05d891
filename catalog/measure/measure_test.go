package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

func deg(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

// farView is a disc of radius 950 px seen from very far, for which the trade's formulas
// hold to the letter; solar north up, B0 and L0 zero.
func farView() disc.View {
	return disc.View{
		Limb: coords.Limb{Centre: coords.Pixel{X: 1000, Y: 1000}, RadiusPx: 950},
		Face: coords.Face{Semidiameter: deg(0.0005)},
	}
}

// nearView is a disc as it is.
func nearView() disc.View {
	v := farView()
	v.Face = coords.Face{P: deg(-20), B0: deg(6), L0: deg(100), Semidiameter: 959.63 * coords.Arcsecond}
	v.North = coords.North{Angle: deg(33), Mirrored: true}
	v.Limb.Flattening, v.Limb.ShortAxis = 0.01, deg(50)
	return v
}

// circlePx is an outline of an area in square pixels.
func circlePx(at coords.Pixel, areaPx float64) (outline []coords.Pixel) {
	const n = 60
	// A polygon of n corners on a circle has less area than the circle.
	radius := math.Sqrt(areaPx / (n / 2.0 * math.Sin(2*math.Pi/n)))
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		outline = append(outline, coords.Pixel{X: at.X + radius*cos, Y: at.Y + radius*sin})
	}
	return outline
}

// circleOn is an outline round a place, so many degrees in radius, drawn on a view.
func circleOn(t *testing.T, v disc.View, at coords.Heliographic, radius coords.Angle) (outline []coords.Pixel) {
	up := at.Vector()
	sinL, cosL := at.L.Sincos()
	sinB, cosB := at.B.Sincos()
	west, north := [3]float64{-sinL, cosL, 0}, [3]float64{-sinB * cosL, -sinB * sinL, cosB}
	sinR, cosR := radius.Sincos()
	for i := range 90 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 90)
		var p [3]float64
		for k := range p {
			p[k] = cosR*up[k] + sinR*(cos*west[k]+sin*north[k])
		}
		px, visible := v.Project(coords.HeliographicOf(p), 0)
		require.True(t, visible)
		outline = append(outline, px)
	}
	return outline
}

// TRADE.md, 9.22: 1000 px on a disc of radius 950 px is 176.3 MSH at ρ 0, 352.7 at
// 60°, 681.4 at 75° (formula 3.1, own calculation there). The formula takes 1/cos ρ at
// the middle; over 1000 px it varies, so an outline ten times smaller is measured and
// scaled: what is left over at 75° is a tenth of the 3 % that the whole one would have.
func TestAreaByTheTradesFormula(t *testing.T) {
	v := farView()
	for _, c := range []struct{ rhoDeg, msh, tol float64 }{{0, 176.3, 0.1}, {60, 352.7, 0.4}, {75, 681.4, 2.5}} {
		at := coords.Pixel{X: 1000 + 950*deg(c.rhoDeg).Sin(), Y: 1000}
		a, err := OfOutline(v, circlePx(at, 100), 0.5)
		require.NoError(t, err)
		assert.InDelta(t, c.msh, 10*a.MSH, c.tol, "ρ %g°", c.rhoDeg)
		assert.InDelta(t, 100, a.Px, 0.01)
		assert.InDelta(t, 100/(math.Pi*950*950)*1e6, a.DiscMillionths, 0.01)
		assert.False(t, a.AtLeast)
	}
}

// Debrecen Photoheliographic Data (TRADE.md, 9.8): r/R, projected area in millionths
// of the disc, corrected area in MSH. The correction is that at the middle of a spot, so
// outlines a hundred times smaller are measured and scaled.
func TestAreaOfPublishedSpots(t *testing.T) {
	for _, c := range []struct{ r, projected, corrected, tol float64 }{
		{0.9815, 69, 177, 3}, // printed to 1 in 69, and r to 4 digits: 0.3 % of the factor
		{0.8220, 266, 230, 4},
		{0.8082, 245, 210, 4},
		{0.8623, 11, 10, 1},
	} {
		v := farView()
		v.Face.Semidiameter = 947 * coords.Arcsecond
		areaPx := c.projected / 1e6 * math.Pi * 950 * 950
		a, err := OfOutline(v, circlePx(coords.Pixel{X: 1000 - 950*c.r, Y: 1000}, areaPx/100), 0.5)
		require.NoError(t, err)
		assert.InDelta(t, c.projected, 100*a.DiscMillionths, 0.01, "r/R %g", c.r)
		assert.InDelta(t, c.corrected, 100*a.MSH, c.tol, "r/R %g", c.r)
		assert.False(t, a.AtLeast)
	}
}

// A circle of angular radius α has 1 − cos α of a hemisphere wherever it lies.
func TestAreaDoesNotDependOnThePlace(t *testing.T) {
	v := nearView()
	for _, c := range []struct{ b, cmd, radius float64 }{{0, 0, 3}, {25, -40, 3}, {-30, 55, 3}, {10, 68, 2}, {70, 10, 5}, {5, 20, 20}} {
		at := coords.Heliographic{B: deg(c.b), L: v.Face.L0 + deg(c.cmd)}
		a, err := OfOutline(v, circleOn(t, v, at, deg(c.radius)), 1)
		require.NoError(t, err)
		assert.InEpsilon(t, (1-deg(c.radius).Cos())*1e6, a.MSH, 0.002, "%+v", c)
		assert.False(t, a.AtLeast)
	}
}

// TRADE.md, 3.1: at ρ 80° the factor is 5.8. Beyond it is not followed.
func TestAreaIsCappedAtTheLimb(t *testing.T) {
	assert.InDelta(t, 5.8, maxForeshortening, 0.05)
	v := farView()
	at := coords.Pixel{X: 1000 + 950*0.997, Y: 1000} // ρ 85.6°, where the factor is 13
	a, err := OfOutline(v, circlePx(at, 12), 0.5)
	require.NoError(t, err)
	assert.True(t, a.AtLeast)
	assert.InEpsilon(t, a.DiscMillionths/2*maxForeshortening, a.MSH, 1e-9)
	over, err := OfOutline(v, circlePx(coords.Pixel{X: 1945, Y: 1000}, 400), 0.5)
	require.NoError(t, err)
	assert.True(t, over.AtLeast, "it runs over the limb")
	_, err = OfOutline(v, circlePx(coords.Pixel{X: 1990, Y: 1000}, 100), 0.5)
	assert.ErrorIs(t, err, disc.ErrOffDisc)
	_, err = OfOutline(v, []coords.Pixel{{X: 1, Y: 1}, {X: 2, Y: 2}}, 0.5)
	assert.ErrorContains(t, err, "outline of 2 points")
}

// The stated error is what trembling clicks really do (Monte Carlo), the half pixel
// for the outline as a whole left aside.
func TestErrorOfAnArea(t *testing.T) {
	v := nearView()
	rng := rand.New(rand.NewPCG(11, 11))
	at := coords.Heliographic{B: deg(15), L: v.Face.L0 + deg(45)}
	full := circleOn(t, v, at, deg(4))
	var outline []coords.Pixel
	for i := 0; i < len(full); i += 6 {
		outline = append(outline, full[i])
	}
	const sigma = 4.0
	a, err := OfOutline(v, outline, sigma)
	require.NoError(t, err)
	var sum, square float64
	const n = 1500
	for range n {
		shaken := make([]coords.Pixel, len(outline))
		for i, p := range outline {
			shaken[i] = coords.Pixel{X: p.X + sigma*rng.NormFloat64(), Y: p.Y + sigma*rng.NormFloat64()}
		}
		b, err := OfOutline(v, shaken, sigma)
		require.NoError(t, err)
		sum, square = sum+b.MSH/n, square+b.MSH*b.MSH/n
	}
	real := math.Sqrt(square - sum*sum)
	assert.InEpsilon(t, real, a.SigmaMSH, 0.25, "stated %.1f, found %.1f of %.0f MSH", a.SigmaMSH, real, a.MSH)
}

// TRADE.md, 3.3: 1° along a great circle is 12.14 Mm at the photosphere.
func TestLengthOfALine(t *testing.T) {
	v := nearView()
	at := func(b, cmd float64) coords.Pixel {
		p, _ := v.Project(coords.Heliographic{B: deg(b), L: v.Face.L0 + deg(cmd)}, 0)
		return p
	}
	s, err := OfLine(v, []coords.Pixel{at(-10, 20), at(0, 20), at(30, 20)}, 1, 0)
	require.NoError(t, err)
	assert.InDelta(t, 40, s.Length.Degrees(), 0.01)
	assert.InDelta(t, 40*12.14, s.Mm, 0.3)
	assert.InDelta(t, 90, s.Tilt.Abs().Degrees(), 0.1, "along a meridian")
	assert.False(t, s.Cut || s.Steep)

	high, err := OfLine(v, []coords.Pixel{at(-10, 20), at(30, 20)}, 1, 50)
	require.NoError(t, err)
	assert.InEpsilon(t, 1+50/695.7, high.Mm/s.Mm, 1e-3, "a degree grows with height")

	over, err := OfLine(v, []coords.Pixel{at(0, 60), {X: at(0, 60).X * 3, Y: at(0, 60).Y * 3}}, 1, 0)
	require.NoError(t, err)
	assert.True(t, over.Cut && over.Steep)
	_, err = OfLine(v, []coords.Pixel{at(0, 0)}, 1, 0)
	assert.ErrorContains(t, err, "line of 1 points")
}

// The sign as the package states it: positive when the eastern end lies nearer to the
// pole, which Tlatov 2016 found below 50° in two filaments of three.
func TestTiltIsPositiveWhenTheEasternEndIsNearerThePole(t *testing.T) {
	at := func(b, l float64) coords.Heliographic { return coords.Heliographic{B: deg(b), L: deg(l)} }
	for _, c := range []struct {
		name string
		a, b coords.Heliographic
		want float64
	}{
		{"north, eastern end higher", at(22, 100), at(18, 104), 46.8}, // ΔB 4, ΔL cos 20° 3.76
		{"the same, named the other way", at(18, 104), at(22, 100), 46.8},
		{"north, western end higher", at(18, 100), at(22, 104), -46.8},
		{"south, eastern end nearer to its pole", at(-22, 100), at(-18, 104), 46.8},
		{"across longitude 0", at(2, 358), at(-2, 2), 45},
		{"along the equator", at(0, 10), at(0, 20), 0},
		{"a place and itself", at(5, 10), at(5, 10), 0},
	} {
		assert.InDelta(t, c.want, Tilt(c.a, c.b).Degrees(), 0.1, c.name)
	}
}

func TestErrorsOfALine(t *testing.T) {
	v := nearView()
	v.North.Sigma = deg(0.5)
	rng := rand.New(rand.NewPCG(12, 12))
	var line []coords.Pixel
	for i := range 5 {
		p, _ := v.Project(coords.Heliographic{B: deg(-25 + 2*float64(i)), L: v.Face.L0 + deg(-50+5*float64(i))}, 0)
		line = append(line, p)
	}
	const sigma, n = 4.0, 1500
	s, err := OfLine(v, line, sigma, 0)
	require.NoError(t, err)
	var length, tilt []float64
	for range n {
		shaken := make([]coords.Pixel, len(line))
		for i, p := range line {
			shaken[i] = coords.Pixel{X: p.X + sigma*rng.NormFloat64(), Y: p.Y + sigma*rng.NormFloat64()}
		}
		w := v
		w.North.Angle += coords.Angle(rng.NormFloat64()) * v.North.Sigma
		b, err := OfLine(w, shaken, sigma, 0)
		require.NoError(t, err)
		length, tilt = append(length, b.Length.Degrees()), append(tilt, b.Tilt.Degrees())
	}
	assert.InEpsilon(t, spread(length), s.Sigma.Degrees(), 0.15, "length")
	assert.InEpsilon(t, spread(tilt), s.SigmaTilt.Degrees(), 0.15, "tilt")
}

func spread(v []float64) float64 {
	var sum, square float64
	n := float64(len(v))
	for _, x := range v {
		sum, square = sum+x/n, square+x*x/n
	}
	return math.Sqrt(square - sum*sum)
}

// TRADE.md, 9.16 [perezmedia]: 1.3/31.2 of the disc's diameter above the limb is
// 57,975 km (published 58,000), 4.55 Earth diameters; 3.4: 1° of the limb is 12.14 Mm,
// 0.01 R is 6.957 Mm.
func TestProminenceOfAPublishedExample(t *testing.T) {
	v := farView()
	at := func(paDeg, r float64) coords.Pixel {
		right, down := v.North.Direction(deg(paDeg))
		return v.Limb.At(r*right, r*down)
	}
	top := 1 + 2*1.3/31.2
	p, err := BeyondLimb(v, []coords.Pixel{at(205, 1), at(210, top), at(215, 1)}, 1)
	require.NoError(t, err)
	assert.InDelta(t, 57.975, p.HeightMm, 0.02)
	assert.InDelta(t, 4.55, p.HeightMm/disc.EarthDiameterMm, 0.01)
	assert.InDelta(t, 210, p.Top.Degrees(), 0.01)
	assert.InDelta(t, 205, p.From.Degrees(), 0.05)
	assert.InDelta(t, 215, p.To.Degrees(), 0.05)
	assert.InDelta(t, 10*12.14, p.ExtentMm, 0.7)
	assert.InDelta(t, 695.7/950, p.SigmaMm, 0.01, "a pixel of click")
	assert.InDelta(t, math.Sqrt2/950*180/math.Pi, p.SigmaExtent.Degrees(), 1e-6)

	low, err := BeyondLimb(v, []coords.Pixel{at(90, 1.01)}, 1)
	require.NoError(t, err)
	assert.InDelta(t, 6.957, low.HeightMm, 0.01)
	assert.Zero(t, low.Extent, "a point has none")
	across, err := BeyondLimb(v, []coords.Pixel{at(356, 1), at(1, 1.05), at(4, 1)}, 1)
	require.NoError(t, err)
	assert.InDelta(t, 8, across.Extent.Degrees(), 0.1, "across north")
	_, err = BeyondLimb(v, []coords.Pixel{at(10, 0.9)}, 1)
	assert.ErrorIs(t, err, disc.ErrNotBeyond)
}

// Heights are above the photosphere whichever limb was fitted: 4.35 Mm more above it
// than above an H-alpha limb (Johannesson & Zirin 1996).
func TestHeightFromAChromosphericLimb(t *testing.T) {
	v := nearView()
	v.Layer = coords.Chromosphere
	right, down := v.North.Direction(deg(60))
	p, err := BeyondLimb(v, []coords.Pixel{v.Limb.At(1.05*right, 1.05*down)}, 0.5)
	require.NoError(t, err)
	assert.InDelta(t, 0.05*(695.7+4.35)+4.35, p.HeightMm, 0.2)
	assert.InDelta(t, 0.05*959.63*(1+4.35/695.7), p.HeightArcsec, 0.2)
}

// One mark, given in three ways, has one size.
func TestSizeOfAMarkInThreeForms(t *testing.T) {
	v := nearView()
	at := coords.Heliographic{B: deg(-20), L: v.Face.L0 + deg(30)}
	pixels := circleOn(t, v, at, deg(3))
	var polar []catalog.PolarPoint
	var places []catalog.PlacePoint
	for _, p := range pixels {
		place := v.Place(p, 0, disc.Height{})
		polar = append(polar, catalog.PolarPoint{PA: place.PositionAngle, R: place.R})
		places = append(places, catalog.PlacePoint{B: place.Photosphere.B, Lon: place.Photosphere.L})
	}
	want := (1 - deg(3).Cos()) * 1e6
	for _, g := range []catalog.Geometry{
		{Shape: catalog.Outline, Pixels: pixels, SigmaClickPx: 1},
		{Shape: catalog.Outline, Polar: polar, SigmaR: 0.001},
		{Shape: catalog.Outline, Places: places},
	} {
		size, err := OfMark(v, catalog.Mark{Kind: catalog.Plage, Geometry: g}, 0)
		require.NoError(t, err, g.Form())
		require.NotNil(t, size.Area)
		assert.InEpsilon(t, want, size.Area.MSH, 0.002, g.Form())
		assert.Greater(t, size.Area.SigmaMSH, 0.0)
		assert.Nil(t, size.Prominence)
		line := g
		line.Shape = catalog.Line
		size, err = OfMark(v, catalog.Mark{Kind: catalog.Filament, Geometry: line}, 0)
		require.NoError(t, err)
		assert.InDelta(t, 2*math.Pi*3*89/90, size.Spine.Length.Degrees(), 0.15, "round the circle")
	}
	size, err := OfMark(v, catalog.Mark{Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: pixels[:1], SigmaClickPx: 1}}, 0)
	require.NoError(t, err)
	assert.Equal(t, Size{}, size, "a point has no size")
	_, err = OfMark(disc.View{}, catalog.Mark{Geometry: catalog.Geometry{Shape: catalog.Line, Pixels: pixels}}, 0)
	assert.ErrorContains(t, err, "the frame has no disc")
}
