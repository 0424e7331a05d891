package disc_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/rotation"
)

func TestThereAndBackIsTheIdentity(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		v := disc.View{
			Limb: coords.Limb{
				Centre: coords.Pixel{X: 2000 * rng.Float64(), Y: 1500 * rng.Float64()}, RadiusPx: 100 + 1900*rng.Float64(),
				Flattening: 0.05 * rng.Float64(), ShortAxis: deg(360 * rng.Float64()),
			},
			Layer: coords.Layer{HeightMm: 6 * rng.Float64()},
			North: coords.North{Angle: deg(360*rng.Float64() - 180), Mirrored: rng.IntN(2) == 0},
			Face:  face(52*rng.Float64()-26, 14.4*rng.Float64()-7.2, 360*rng.Float64(), 944+32*rng.Float64()),
		}
		h := coords.Heliographic{B: coords.Asin(2*rng.Float64() - 1), L: deg(360 * rng.Float64())}
		height := 40 * rng.Float64()
		p, visible := v.Project(h, height)
		polar := v.ProjectPolar(h, height)
		assert.Equal(t, visible, polar.Visible)
		place := v.Place(p, 0, disc.Height{Mm: height})
		assert.InDelta(t, polar.R, place.R, 1e-9)
		assert.InDelta(t, 0, apart(place.PositionAngle, polar.PositionAngle.Degrees()), 1e-9)
		same := v.PlacePolar(polar.PositionAngle, polar.R, 0, disc.Height{Mm: height})
		assert.InDelta(t, place.R, same.R, 1e-9)
		if polar.Mu < 0.01 || place.Where == disc.BeyondLimb {
			continue
		}
		require.True(t, place.Corrected.Known)
		assert.InDelta(t, 0, h.Distance(place.Corrected.Heliographic).Degrees(), 1e-6)
		assert.InDelta(t, 0, h.Distance(same.Corrected.Heliographic).Degrees(), 1e-6)
		assert.InDelta(t, polar.Mu, place.Corrected.Mu, 1e-9)
		assert.InDelta(t, v.Face.CMD(h).Degrees(), place.Corrected.CMD.Degrees(), 1e-6)
		assert.Zero(t, place.Corrected.Cov)
	}
}

func TestCentreAndPoles(t *testing.T) {
	for _, mirrored := range []bool{false, true} {
		v := disc.View{
			Limb:  coords.Limb{Centre: coords.Pixel{X: 500, Y: 400}, RadiusPx: 300},
			North: coords.North{Angle: deg(12), Mirrored: mirrored},
			Face:  face(-20, 6, 222, 960),
		}
		centre := v.Place(v.Limb.Centre, 0, disc.Height{})
		assert.InDelta(t, 6, centre.Photosphere.B.Degrees(), 1e-12)
		assert.InDelta(t, 222, centre.Photosphere.L.Degrees(), 1e-12)
		assert.InDelta(t, 1, centre.Photosphere.Mu, 1e-12)
		// The north pole stands at position angle P, 84° from the middle.
		polar := v.ProjectPolar(coords.Heliographic{B: deg(90)}, 0)
		assert.InDelta(t, 0, apart(polar.PositionAngle, 340), 1e-9)
		assert.True(t, polar.Visible)
		south := v.ProjectPolar(coords.Heliographic{B: deg(-90)}, 0)
		assert.False(t, south.Visible)
		// East is where the Sun has not turned to yet: negative CMD, PA near 90°.
		east := v.ProjectPolar(coords.Heliographic{L: deg(222 - 80)}, 0)
		assert.InDelta(t, 0, apart(east.PositionAngle, 70), 8)
		pixel, _ := v.Project(coords.Heliographic{L: deg(222 - 80)}, 0)
		assert.Equal(t, mirrored, pixel.X > 500, "east is left unless mirrored, north being near up")
	}
}

func TestBetweenTheLimbs(t *testing.T) {
	v := shapeView // chromospheric limb at 4.35 Mm: 1.00625
	p := polarPixel(v, 100, 0.998)
	place := v.Place(p, 0.5, disc.Height{})
	assert.Equal(t, disc.BetweenLimbs, place.Where)
	assert.Equal(t, "a point of the visible disc, but beyond the photospheric limb", place.Where.String())
	assert.False(t, place.Photosphere.Known)
	assert.False(t, place.Corrected.Known)
	b := place.Beyond
	assert.InDelta(t, -0.002*955*1.00625, b.HeightArcsec, 0.01)
	assert.InDelta(t, (0.998*1.00625-1)*695.7, b.AboveSunMm, 0.01)
	assert.InDelta(t, b.AboveSunMm-4.35, b.HeightMm, 1e-9)
	// Plage known to stand as high as the limb has a place there, plainly at r.
	raised := v.Place(p, 0, disc.Height{Mm: 4.35})
	require.True(t, raised.Corrected.Known)
	assert.InDelta(t, math.Sqrt(1-0.998*0.998), raised.Corrected.Mu, 1e-4)
	// As a photospheric limb the same pixel is an ordinary one.
	v.Layer = coords.Photosphere
	assert.Equal(t, disc.OnDisc, v.Place(p, 0, disc.Height{}).Where)
}

func TestBeyondTheLimb(t *testing.T) {
	v := shapeView
	for _, pa := range []float64{5, 69, 100, 190, 249, 330} {
		place := v.Place(polarPixel(v, pa, 1.04), 0.5, disc.Height{Mm: 26, SigmaMm: 10})
		require.Equal(t, disc.BeyondLimb, place.Where)
		assert.False(t, place.Photosphere.Known)
		assert.False(t, place.Corrected.Known, "nobody knows on which side of the limb it stands")
		b := place.Beyond
		limbArcsec := math.Asin((1+4.35/695.7)*math.Sin(955./3600*math.Pi/180)) * 180 / math.Pi * 3600
		assert.InDelta(t, 0.04*limbArcsec, b.HeightArcsec, 1e-6)
		assert.InDelta(t, 0.04*(695.7+4.35), b.HeightMm, 0.003)
		assert.InDelta(t, b.HeightMm+4.35, b.AboveSunMm, 1e-9)
		// The limb's latitude by TRADE.md 5.5 item 4, with rho = 90° − S.
		s, b0 := 955./3600*math.Pi/180, v.Face.B0.Radians()
		sinB := math.Sin(b0)*math.Sin(s) + math.Cos(b0)*math.Cos(s)*math.Cos(v.Face.P.Radians()-pa*math.Pi/180)
		assert.InDelta(t, math.Asin(sinB)*180/math.Pi, b.Limb.B.Degrees(), 1e-9)
		cmd, _ := rotation.EdgeCMD(b.Limb.B, v.Face)
		assert.InDelta(t, 0, (b.WestL - v.Face.L0 - cmd).Wrap180().Degrees(), 1e-6)
		assert.InDelta(t, 0, (b.EastL - v.Face.L0 + cmd).Wrap180().Degrees(), 1e-6)
		if east := pa < 159 || pa > 339; east {
			assert.InDelta(t, 0, (b.Limb.L - b.EastL).Wrap180().Degrees(), 1e-6)
		} else {
			assert.InDelta(t, 0, (b.Limb.L - b.WestL).Wrap180().Degrees(), 1e-6)
		}
	}
}

// The errors of heights, position angle and limb latitude against draws.
func TestErrorsBeyondTheLimb(t *testing.T) {
	s := scenario{click: 1, limb: coords.LimbCovariance{XX: 0.2, YY: 0.3, RR: 0.5, XY: 0.05, XR: -0.08, YR: 0.06}, layer: coords.Chromosphere, north: 0.5, time: time.Minute}
	w := s.world(3)
	at := polarPixel(w.view, 60, 1.05)
	claimed := w.view.Place(at, 1, disc.Height{})
	const n = 20000
	var arcsec, mm, above, pa, r, b, l float64
	for range n {
		got := w.other().Place(w.clicked(at), 0, disc.Height{})
		arcsec += math.Pow(got.Beyond.HeightArcsec-claimed.Beyond.HeightArcsec, 2) / n
		mm += math.Pow(got.Beyond.HeightMm-claimed.Beyond.HeightMm, 2) / n
		above += math.Pow(got.Beyond.AboveSunMm-claimed.Beyond.AboveSunMm, 2) / n
		pa += math.Pow((got.PositionAngle-claimed.PositionAngle).Wrap180().Radians(), 2) / n
		r += math.Pow(got.R-claimed.R, 2) / n
		b += math.Pow((got.Beyond.Limb.B-claimed.Beyond.Limb.B).Radians(), 2) / n
		l += math.Pow((got.Beyond.Limb.L-claimed.Beyond.Limb.L).Wrap180().Radians(), 2) / n
	}
	for _, c := range []struct {
		name           string
		square, wanted float64
	}{
		{"height in arcsec", arcsec, claimed.Beyond.SigmaArcsec},
		{"height in Mm", mm, claimed.Beyond.SigmaMm},
		{"height above the photosphere", above, claimed.Beyond.SigmaAboveMm},
		{"position angle", pa, claimed.SigmaPositionAngle.Radians()},
		{"r", r, claimed.SigmaR},
		{"latitude of the limb", b, claimed.Beyond.Limb.Cov.SigmaB().Radians()},
		{"longitude of the limb", l, claimed.Beyond.Limb.Cov.SigmaL().Radians()},
	} {
		assert.InDelta(t, 1, math.Sqrt(c.square)/c.wanted, 0.03, c.name)
	}
}

func TestNearTheLimbIsSaid(t *testing.T) {
	v := disc.View{Limb: coords.Limb{RadiusPx: 900}, Face: face(0, 0, 0, 960)}
	place := v.Place(coords.Pixel{X: 890}, 2, disc.Height{})
	assert.InDelta(t, 5, place.LimbSigmas, 0.01)
	assert.False(t, place.NearLimb())
	place = v.Place(coords.Pixel{X: 896}, 2, disc.Height{})
	assert.InDelta(t, 2, place.LimbSigmas, 0.01)
	assert.True(t, place.NearLimb())
	assert.False(t, math.IsNaN(place.Photosphere.Cov.LL) || math.IsInf(place.Photosphere.Cov.LL, 0))
	place = v.Place(coords.Pixel{X: 901}, 2, disc.Height{})
	assert.Equal(t, disc.BeyondLimb, place.Where)
	assert.InDelta(t, -0.5, place.LimbSigmas, 0.01)
	assert.True(t, place.NearLimb())
	assert.False(t, v.Place(coords.Pixel{X: 896}, 0, disc.Height{}).NearLimb(), "an exact point is on one side")
	// Errors grow toward the limb, by 1/mu: TRADE.md 1.5, one pixel on a disc of
	// 1000 px is 0.06° at the centre, 0.11 at rho 60, 0.33 at 80.
	v.Limb.RadiusPx = 1000
	for _, c := range []struct{ rho, want, tol float64 }{{0, 0.06, 0.005}, {60, 0.11, 0.006}, {80, 0.33, 0.01}} {
		p, _ := v.Project(coords.Heliographic{L: deg(c.rho)}, 0)
		assert.InDelta(t, c.want, v.Place(p, 1, disc.Height{}).Photosphere.Cov.SigmaL().Degrees(), c.tol)
	}
}

func TestTimeMovesLongitudeOnly(t *testing.T) {
	v := disc.View{Limb: coords.Limb{RadiusPx: 900}, Face: face(0, 0, 0, 960), SigmaTime: time.Hour}
	c := v.Place(coords.Pixel{X: 300, Y: 200}, 0, disc.Height{}).Photosphere.Cov
	assert.InDelta(t, 0.550, c.SigmaL().Degrees(), 0.001, "TRADE.md, section 0: 0.550 deg per hour")
	assert.Zero(t, c.BB)
	assert.Zero(t, c.BL)
}

func TestNonsenseHasNoPlace(t *testing.T) {
	good := disc.View{Limb: coords.Limb{RadiusPx: 900}, Face: face(0, 0, 0, 960)}
	p := coords.Pixel{X: 10, Y: 10}
	for name, spoil := range map[string]func(*disc.View){
		"no semidiameter":      func(v *disc.View) { v.Face.Semidiameter = 0 },
		"negative radius":      func(v *disc.View) { v.Limb.RadiusPx = -900 },
		"no radius":            func(v *disc.View) { v.Limb.RadiusPx = 0 },
		"NaN centre":           func(v *disc.View) { v.Limb.Centre.X = math.NaN() },
		"NaN north":            func(v *disc.View) { v.North.Angle = coords.Angle(math.NaN()) },
		"limb below the Sun":   func(v *disc.View) { v.Layer.HeightMm = -800 },
		"semidiameter of 100°": func(v *disc.View) { v.Face.Semidiameter = deg(100) },
	} {
		v := good
		spoil(&v)
		assert.Equal(t, disc.Nowhere, v.Place(p, 0.5, disc.Height{}).Where, name)
		assert.Equal(t, disc.Nowhere, v.Place(p, 0, disc.Height{}).Where, name)
	}
	assert.Equal(t, disc.Nowhere, good.PlacePolar(0, math.NaN(), 0, disc.Height{}).Where)
	assert.Equal(t, disc.Nowhere, good.PlacePolar(0, -1, 0, disc.Height{}).Where)
}

// TRADE.md, 5.3: a filament at 26 Mm is 3.95° out at 60° from the meridian, far
// more than a click; at the middle of the disc it is nothing.
func TestHeightMattersAwayFromTheMiddle(t *testing.T) {
	v := disc.View{Limb: coords.Limb{RadiusPx: 900}, Face: face(0, 0, 0, 960)}
	outward := func(x float64) float64 {
		place := v.Place(coords.Pixel{X: x}, 0.5, disc.Height{Mm: 26, SigmaMm: 10})
		return (place.Photosphere.L - place.Corrected.L).Wrap180().Degrees()
	}
	assert.InDelta(t, 3.95, outward(900*deg(63.95).Sin()), 0.06)
	assert.InDelta(t, 0, outward(3), 0.02)
	assert.False(t, v.Place(coords.Pixel{X: 950}, 0.5, disc.Height{Mm: 26}).Corrected.Known, "beyond the limb there are no readings")
}

func TestLongitudeAtThePoleIsUnknownNotInfinite(t *testing.T) {
	v := disc.View{Limb: coords.Limb{RadiusPx: 900}, Face: face(0, 7, 0, 960)}
	p, visible := v.Project(coords.Heliographic{B: deg(90)}, 0)
	require.True(t, visible)
	c := v.Place(p, 0.5, disc.Height{}).Photosphere.Cov
	// A uniform spread over 360° has a standard deviation of 360/√12.
	assert.InDelta(t, 360/math.Sqrt(12), c.SigmaL().Degrees(), 1e-6)
	assert.LessOrEqual(t, math.Abs(c.Correlation()), 1.0)
	assert.Less(t, c.SigmaB().Degrees(), 1.0)
}
