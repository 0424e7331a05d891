package chart

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
	"limbwatch/testdata"
)

// solarUp is the view of a picture with solar north up, whose disc is known.
func solarUp(utc time.Time, x, y, r float64) disc.View {
	face := ephemeris.At(utc)
	return disc.View{Limb: coords.Limb{Centre: coords.Pixel{X: x, Y: y}, RadiusPx: r}, Face: face, North: coords.North{Angle: -face.P, Sigma: deg(0.2)}}
}

// spacecraftDays are eight days of white light, 1 to 8 July 2024: courtesy of NASA/SDO
// and the HMI science team.
func spacecraftDays(t *testing.T) (looks []Look) {
	for d := 1; d <= 8; d++ {
		utc := time.Date(2024, 7, d, 0, 0, 0, 0, time.UTC)
		p, _, err := picture.Open(testdata.Shared(t, "data", "hmi-continuum-daily", utc.Format("20060102")+"_0000_hmiigr_512.jpg"), picture.Options{})
		require.NoError(t, err)
		view := solarUp(utc, 255.86, 256.18, 233.6)
		looks = append(looks, Look{Frame: catalog.FrameID(d), UTC: utc, View: &view, Picture: p})
	}
	return looks
}

// The big southern spot of July 2024, worked by hand from three of the pictures (the
// README beside them): latitude −17.7 to −18.0, longitude 350.3 to 350.7. On the map
// woven from all of them it stands there.
func TestWovenSpacecraftDays(t *testing.T) {
	m := someStrip(2286, spacecraftDays(t)...)
	m.area.Width, m.area.Height = 720, 360
	woven := m.weave()
	require.NotNil(t, woven)
	b := woven.Bounds()
	var sumX, sumY, sum float64
	for y := range b.Dy() {
		for x := range b.Dx() {
			lon, lat := (float64(x)+0.5)*360/float64(b.Dx()), 90-(float64(y)+0.5)*180/float64(b.Dy())
			if math.Abs(lon-350.5) > 3 || math.Abs(lat+17.8) > 3 {
				continue
			}
			level, _, _, _ := woven.At(x, y).RGBA()
			dark := max(0, 0.3-float64(level)/65535)
			sumX, sumY, sum = sumX+dark*lon, sumY+dark*lat, sum+dark
		}
	}
	require.Greater(t, sum, 1.0)
	assert.InDelta(t, 350.5, sumX/sum, 0.4, "half a pixel of the pictures is 0.12°")
	assert.InDelta(t, -17.85, sumY/sum, 0.4)
}
