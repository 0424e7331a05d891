package disc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

func utc(t *testing.T, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	require.NoError(t, err)
	return at
}

// Duffett-Smith, Practical Astronomy with your Calculator (TRADE.md, 9.7):
// 1988 May 1, position angle 220°, 10.5′ from the centre: L 142.59, B −19.94.
func TestDuffettSmith(t *testing.T) {
	for _, c := range []struct {
		name   string
		face   coords.Face
		tolDeg float64 // of L
	}{
		// The elements are TRADE.md's of Meeus, chapter 29; the tolerance is its own.
		{"elements of the book", face(-24.130, -4.126, 103.461, ephemeris.At(utc(t, "1988-05-01T00:00:00Z")).Semidiameter.Arcseconds()), 0.02},
		// Carrington's elements stand off the IAU's by 0.02° to 0.03° in 1988.
		{"our own Sun", ephemeris.At(utc(t, "1988-05-01T00:00:00Z")), 0.05},
	} {
		r := 10.5 * 60 / c.face.Semidiameter.Arcseconds()
		got := disc.View{Face: c.face}.PlacePolar(deg(220), r, 0, disc.Height{}).Photosphere
		assert.InDelta(t, -19.94, got.B.Degrees(), 0.02, c.name)
		assert.InDelta(t, 0, apart(got.L, 142.59), c.tolDeg, "%s: L %.3f", c.name, got.L.Degrees())
	}
}

// Debrecen catalogue rows as quoted in TRADE.md, 9.8; position angles count from
// solar north, which is a P of 0. Latitude and CMD are printed to 0.01, r to
// 0.0001, which at r 0.9893 is 0.04° of longitude.
func TestDebrecenRows(t *testing.T) {
	for _, c := range []struct {
		utc                   string
		r, pa, lat, cmd, long float64
		tolCMD                float64
	}{
		{"2000-08-12T14:47:34Z", 0.9815, 97.46, -5.98, -77.90, 204.40, 0.05},
		{"2000-08-12T14:47:34Z", 0.9833, 97.58, -6.17, -78.39, 203.91, 0.05},
		{"2000-08-12T14:47:34Z", 0.9893, 98.07, -6.94, -80.41, 201.89, 0.05},
		{"2001-01-21T10:41:59Z", 0.8220, 104.71, -15.01, -55.21, 252.85, 0.04},
		{"2001-01-21T10:41:59Z", 0.8082, 104.79, -14.97, -53.77, 254.29, 0.04},
		{"2001-01-21T10:41:59Z", 0.8623, 104.87, -15.42, -59.59, 248.46, 0.04},
	} {
		f := ephemeris.At(utc(t, c.utc))
		f.P = 0
		got := disc.View{Face: f}.PlacePolar(deg(c.pa), c.r, 0, disc.Height{}).Photosphere
		assert.InDelta(t, c.lat, got.B.Degrees(), 0.02, "r %v", c.r)
		assert.InDelta(t, c.cmd, got.CMD.Degrees(), c.tolCMD, "r %v", c.r)
		assert.InDelta(t, 0, apart(got.L, c.long), 0.05, "r %v: Carrington's elements in the catalogue", c.r)
		t.Logf("Debrecen %s r %.4f: off by lat %+.3f, CMD %+.3f, L %+.3f deg", c.utc, c.r,
			got.B.Degrees()-c.lat, got.CMD.Degrees()-c.cmd, apart(got.L, c.long))
	}
}

// Kanzelhoehe filament pixels, TRADE.md, 9.10: 2048 px, celestial north up, east
// left, origin lower left, centre 1024, 1024. Published in whole degrees, hours
// of some days assumed: tolerance 1.5° as stated there.
func TestKanzelhoeheFilaments(t *testing.T) {
	for _, c := range []struct {
		utc            string
		x, y, radius   float64
		lat, cmd, long float64
	}{
		{"2018-12-07T12:00:00Z", 623, 1408, 959, 29, -21, 150},
		{"2018-12-07T12:00:00Z", 1524, 365, 959, -52, 34, 205},
		{"2021-08-21T13:00:00Z", 521, 1512, 934, 47, -32, 58},
		{"2021-08-21T13:00:00Z", 428, 1464, 934, 45, -41, 48},
		{"2021-08-21T13:00:00Z", 284, 1164, 934, 27, -53, 37},
		{"2021-08-21T13:00:00Z", 706, 572, 934, -15, -29, 60},
		{"2021-08-21T13:00:00Z", 600, 399, 934, -25, -44, 45},
		{"2021-08-21T13:00:00Z", 1181, 194, 934, -57, -11, 78},
		{"2021-02-18T15:00:00Z", 358, 643, 953, -42, -46, 314},
		{"2021-02-18T15:00:00Z", 1259, 354, 953, -41, 38, 38},
		{"2021-02-18T15:00:00Z", 1418, 301, 953, -39, 56, 56},
		{"2020-09-22T08:00:00Z", 1160, 1841, 940, 52, 52, 219},
		{"2020-09-22T08:00:00Z", 1493, 341, 940, -53, 15, 182},
		{"2020-11-13T12:00:00Z", 886, 1705, 954, 49, 10, 209},
		{"2020-11-13T12:00:00Z", 657, 1624, 954, 49, -12, 187},
		{"2021-04-29T09:00:00Z", 1476, 524, 934, -19, 44, 204},
		{"2021-04-29T09:00:00Z", 420, 502, 934, -55, -37, 123},
		{"2021-12-04T12:00:00Z", 1377, 481, 955, -39, 17, 161},
		{"2021-12-04T12:00:00Z", 1060, 363, 955, -42, -10, 135},
	} {
		v := disc.View{
			Limb: coords.Limb{Centre: coords.Pixel{X: 1024, Y: 1024}, RadiusPx: c.radius},
			Face: ephemeris.At(utc(t, c.utc)),
		}
		got := v.Place(coords.Pixel{X: c.x, Y: 2048 - c.y}, 0, disc.Height{}).Photosphere
		assert.InDelta(t, c.lat, got.B.Degrees(), 1.5, "%s %v,%v", c.utc, c.x, c.y)
		assert.InDelta(t, c.cmd, got.CMD.Degrees(), 1.5, "%s %v,%v", c.utc, c.x, c.y)
		assert.InDelta(t, 0, apart(got.L, c.long), 2, "%s %v,%v: CMD and rounding of L", c.utc, c.x, c.y)
	}
}

// TRADE.md, 9.16: a prominence of 1.3 where the disc's diameter is 31.2 stands
// 57 975 km high, on 2009 May 3 at position angle 210.
func TestProminenceHeightOfTheTrade(t *testing.T) {
	v := disc.View{Face: ephemeris.At(utc(t, "2009-05-03T12:00:00Z"))}
	place := v.PlacePolar(deg(210), 1+2*1.3/31.2, 0, disc.Height{})
	require.Equal(t, disc.BeyondLimb, place.Where)
	assert.InDelta(t, 57.975, place.Beyond.HeightMm, 0.002)
	// The Sun's semidiameter that day was 951″ to 953″ (TRADE.md, section 0: between
	// 943.9 and 975.9 in a year).
	assert.InDelta(t, 952*2*1.3/31.2, place.Beyond.HeightArcsec, 0.2)
}

// TRADE.md, 9.20: elements of Meeus's example 29.a.
func TestRoundTripsOfTheTrade(t *testing.T) {
	v := disc.View{Face: face(26.27, 5.99, 238.63, 961.93)}
	for _, c := range []struct{ lat, cmd, pa, r, rho float64 }{
		{20, 30, 324.782, 0.53680, 32.323},
		{-15, -60, 136.472, 0.89323, 63.043},
		{0, 0, 206.270, 0.10484, 5.990},
		{10, 80, 305.342, 0.98298, 79.152},
		{-40, -20, 186.130, 0.76323, 49.546},
	} {
		polar := v.ProjectPolar(coords.Heliographic{B: deg(c.lat), L: v.Face.L0 + deg(c.cmd)}, 0)
		assert.True(t, polar.Visible)
		assert.InDelta(t, 0, apart(polar.PositionAngle, c.pa), 0.0006)
		assert.InDelta(t, c.r, polar.R, 7e-6, "printed to 1e-5; the table counts r by sines, which is 1.4e-6 of it")
		back := v.PlacePolar(deg(c.pa), c.r, 0, disc.Height{}).Photosphere
		assert.InDelta(t, c.lat, back.B.Degrees(), 0.002)
		assert.InDelta(t, c.cmd, back.CMD.Degrees(), 0.003)
		assert.InDelta(t, c.rho, back.Rho.Degrees(), 0.003)
	}
}

// TRADE.md, 2.4: a radius 0.6 % too large shrinks rho by so much.
func TestChromosphericLimbReadAsPhotospheric(t *testing.T) {
	f := face(0, 0, 0, 0.001) // the table is for a Sun far away
	for _, c := range []struct{ rho, shift, tol float64 }{
		{30, 0.20, 0.006}, {45, 0.34, 0.006}, {60, 0.59, 0.006}, {70, 0.92, 0.025}, {80, 1.78, 0.03}, {85, 3.0, 0.051},
	} {
		polar := disc.View{Face: f}.ProjectPolar(coords.Heliographic{L: deg(c.rho)}, 0)
		wrong := disc.View{Face: f}.PlacePolar(polar.PositionAngle, polar.R/1.006, 0, disc.Height{}).Photosphere
		assert.InDelta(t, c.shift, c.rho-wrong.Rho.Degrees(), c.tol, "rho %v", c.rho)
		right := disc.View{Face: f, Layer: coords.Layer{HeightMm: 0.006 * coords.SolarRadiusMm}}.
			PlacePolar(polar.PositionAngle, polar.R/1.006, 0, disc.Height{}).Photosphere
		assert.InDelta(t, c.rho, right.Rho.Degrees(), 0.002, "rho %v", c.rho)
	}
}

// TRADE.md, 5.3: read as on the photosphere, a cloud appears pushed outward by so
// much; the same table says at which true CMD it seems to reach the limb.
func TestHeightPushesOutward(t *testing.T) {
	f := face(0, 0, 0, 0.001) // the table is for a Sun far away
	v := disc.View{Face: f}
	for _, c := range []struct{ height, cmd, push, tol float64 }{
		{10, 30, 0.48, 0.006}, {10, 45, 0.83, 0.006}, {10, 60, 1.46, 0.006}, {10, 70, 2.4, 0.06},
		{26, 15, 0.57, 0.006}, {26, 30, 1.24, 0.006}, {26, 45, 2.18, 0.01}, {26, 60, 3.95, 0.011}, {26, 70, 7.1, 0.06},
		{50, 30, 2.41, 0.006}, {50, 45, 4.28, 0.011}, {50, 60, 8.17, 0.011},
	} {
		polar := v.ProjectPolar(coords.Heliographic{L: deg(c.cmd)}, c.height)
		place := v.PlacePolar(polar.PositionAngle, polar.R, 0, disc.Height{Mm: c.height})
		assert.InDelta(t, c.push, place.Photosphere.CMD.Degrees()-c.cmd, c.tol, "%v Mm at %v", c.height, c.cmd)
		assert.InDelta(t, c.cmd, place.Corrected.CMD.Degrees(), 1e-6)
	}
	for _, c := range []struct{ height, cmd float64 }{{10, 80.3}, {26, 74.6}, {50, 68.9}} {
		inside := v.ProjectPolar(coords.Heliographic{L: deg(c.cmd - 0.1)}, c.height)
		outside := v.ProjectPolar(coords.Heliographic{L: deg(c.cmd + 0.1)}, c.height)
		assert.Less(t, inside.R, 1.0)
		assert.Greater(t, outside.R, 1.0)
	}
}
