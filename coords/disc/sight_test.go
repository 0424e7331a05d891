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
)

// randomView is any picture of the Sun from the Earth, half of them flattened, and a
// pixel r radii from its centre.
func randomView(rng *rand.Rand, r float64) (disc.View, coords.Pixel) {
	v := disc.View{
		Limb: coords.Limb{
			Centre: coords.Pixel{X: 2000 * rng.Float64(), Y: 1500 * rng.Float64()}, RadiusPx: 100 + 1900*rng.Float64(),
			Cov: coords.LimbCovariance{XX: 0.02, YY: 0.01, RR: 0.01, XY: 0.003, XR: -0.002},
		},
		Layer:     coords.Layer{HeightMm: 6 * rng.Float64(), SigmaMm: rng.Float64()},
		North:     coords.North{Angle: deg(360*rng.Float64() - 180), Mirrored: rng.IntN(2) == 0, Sigma: deg(rng.Float64())},
		Face:      face(52*rng.Float64()-26, 14.4*rng.Float64()-7.2, 360*rng.Float64(), 944+32*rng.Float64()),
		SigmaTime: time.Minute,
	}
	if rng.IntN(2) == 0 {
		v.Limb.Flattening, v.Limb.ShortAxis = 0.05*rng.Float64(), deg(360*rng.Float64())
	}
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	return v, v.Limb.At(r*sin, r*cos)
}

// anyRadius is a distance from the centre: anywhere, often within a ten-thousandth of
// the limb, and now and then on it or at the centre.
func anyRadius(rng *rand.Rand) float64 {
	switch rng.IntN(8) {
	case 0:
		return 0
	case 1:
		return 1
	case 2, 3, 4:
		return 1 - 1e-4*rng.Float64()
	}
	return 1.02 * rng.Float64()
}

// A sight that was made for many pixels says of each what a view asked for that alone
// says, to the last bit, and its lean answer is the same place.
func TestSightReadsAsItsView(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 3000 {
		v, p := randomView(rng, anyRadius(rng))
		s := v.Sight()
		for _, height := range []disc.Height{{}, {Mm: 26, SigmaMm: 10}} {
			place := v.Place(p, 0.5, height)
			require.Equal(t, place, s.Place(p, 0.5, height))
			polar := v.PlacePolar(place.PositionAngle, place.R, 0.001, height)
			require.Equal(t, polar, s.PlacePolar(place.PositionAngle, place.R, 0.001, height))
		}
		place, point := v.Place(p, 0.5, disc.Height{}), s.Point(p)
		require.Equal(t, disc.Point{
			Where: place.Where, PositionAngle: place.PositionAngle, R: place.R,
			Heliographic: place.Photosphere.Heliographic, CMD: place.Photosphere.CMD, Mu: place.Photosphere.Mu,
		}, point)
	}
	for _, nothing := range []disc.View{{}, {Face: face(0, 0, 0, 960)}, {Limb: coords.Limb{RadiusPx: 100}}} {
		require.Zero(t, nothing.Sight().Point(coords.Pixel{X: 1}))
		require.Zero(t, nothing.Sight().Place(coords.Pixel{X: 1}, 0.5, disc.Height{}))
	}
	require.Zero(t, benchView.Sight().Point(coords.Pixel{X: math.NaN()}))
}

// The place follows from the angle rho that the line of sight makes at the Sun's centre
// (Thompson 2006, A&A 449, 791, eq. 12 with the point given by rho and theta), which
// the program does not take the sine of: it has that without the angle.
func TestPlaceIsThatOfItsAngles(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	near := 0
	for range 20_000 {
		v, p := randomView(rng, anyRadius(rng))
		v.Layer = coords.Photosphere // so that the limb is reached
		place := v.Place(p, 0.5, disc.Height{})
		if place.Where != disc.OnDisc {
			continue
		}
		q := min(1, math.Sin(place.R*v.Face.Semidiameter.Radians())/v.Face.Semidiameter.Sin())
		rho := coords.Asin(q) - coords.Angle(place.R)*v.Face.Semidiameter
		sinRho, cosRho := rho.Sincos()
		sinChi, cosChi := (v.Face.P - place.PositionAngle).Sincos()
		sinB0, cosB0 := v.Face.B0.Sincos()
		want := coords.Heliographic{
			B: coords.Asin(sinB0*cosRho + cosB0*sinRho*cosChi),
			L: v.Face.L0 + coords.Atan2(sinRho*sinChi, cosRho*cosB0-sinRho*sinB0*cosChi),
		}
		// Where a radius is the sine of 90°, sixteen digits of it are eight of the
		// angle, so the formula itself moves that much there.
		allowed := 1e-14 / max(1e-8, math.Cos(math.Asin(q)))
		got := place.Photosphere
		assert.InDelta(t, 0, got.Distance(want).Degrees(), 60*allowed, "r %v", place.R)
		assert.InDelta(t, 0, (got.Rho - rho).Degrees(), 60*allowed, "r %v", place.R)
		if q > 0.9999 {
			near++
		}
	}
	assert.Greater(t, near, 3000, "places near the limb")
}

// Beside the limb a place, its error and what is said of the limb don't jump from one
// pixel to the next.
func TestPlaceIsSteadyTowardTheLimb(t *testing.T) {
	v := benchView
	v.Layer = coords.Photosphere
	s := v.Sight()
	before := s.Place(polarPixel(v, 77, 0.99), 0.5, disc.Height{}).Photosphere
	for r := 0.99; r < 1; r += 1e-6 {
		now := s.Place(polarPixel(v, 77, r), 0.5, disc.Height{}).Photosphere
		require.Less(t, now.Distance(before.Heliographic).Degrees(), 0.12, "r %v", r) // √(2·10⁻⁶) radians, on the limb itself
		require.InEpsilon(t, before.Cov.SigmaL().Degrees(), now.Cov.SigmaL().Degrees(), 0.05, "r %v", r)
		before = now
	}
}
