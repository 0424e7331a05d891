package chart

import (
	"io"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// someStrip is a strip map that is not drawn, 360 units wide and 180 high.
func someStrip(rotation int, looks ...Look) *strip {
	m := &strip{in: MapInput{Rotation: rotation, Looks: looks, Woven: true}, looks: sortedLooks(looks)}
	m.plot = plot{sheet: newSheet(Options{Width: 400, Theme: Paper, Density: 2}, 300), x0: 0, x1: 360, y0: -90, y1: 90}
	m.area.Width, m.area.Height = 360, 180
	m.rows = m.lookRows()
	return m
}

// A rotation starts where L0 is 360° (TRADE.md, 1.2) and ends where it is 0°; in
// between the strip's x of the meridian is L0 itself.
func TestMeridianOnTheStrip(t *testing.T) {
	m := someStrip(2308)
	start, end := ephemeris.RotationStart(2308), ephemeris.RotationStart(2309)
	assert.InDelta(t, 360, m.meridianX(start), 1e-3)
	assert.InDelta(t, 0, m.meridianX(end), 1e-3)
	for _, hours := range []int{1, 100, 300, 650} {
		at := start.Add(time.Duration(hours) * time.Hour)
		assert.InDelta(t, ephemeris.At(at).L0.Degrees(), m.meridianX(at), 1e-6)
	}
	assert.Greater(t, m.meridianX(start.Add(-24*time.Hour)), 373.0, "the day before lies beyond 360°")
}

// NOAA's list of 8 May 2019, 24h: region 2740 at N08 E14, L 307 (TRADE.md, 9.12).
func TestPublishedRegionOnTheStrip(t *testing.T) {
	at := time.Date(2019, 5, 9, 0, 0, 0, 0, time.UTC)
	m := someStrip(int(math.Floor(ephemeris.Rotation(at))))
	e := catalog.Entry{Position: catalog.Position{UTC: at}}
	x := m.xOf(e, coords.Heliographic{B: deg(8), L: ephemeris.At(at).L0 + deg(-14)})
	assert.InDelta(t, 307, x, 0.5, "printed to a degree")
}

func TestGapsOfTheStrip(t *testing.T) {
	start := ephemeris.RotationStart(2308)
	var looks []Look
	for d := range 27 {
		if d < 8 || d > 20 {
			looks = append(looks, Look{UTC: start.Add(time.Duration(d) * 24 * time.Hour)})
		}
	}
	m := someStrip(2308, looks...)
	gaps := m.unseen()
	require.Len(t, gaps, 1)
	// The meridian moves 13.2° a day: the last look before the gap, on day 7, saw down
	// to 360 − 92.4 − 65, the first after it, on day 21, up to 360 − 277.1 + 65.
	assert.InDelta(t, 360-21*13.2+65, gaps[0][0], 2)
	assert.InDelta(t, 360-7*13.2-65, gaps[0][1], 2)
	require.Len(t, m.rows, 27, "the days of the gap have a row too")
	assert.Empty(t, m.rows[10].looks)
	assert.Len(t, m.rows[3].looks, 1)
	assert.Len(t, someStrip(2308).unseen(), 1, "nobody looked at all")
}

// The woven map shows a spot at its longitude and latitude, and nothing where nobody
// looked.
func TestWovenMapPutsASpotInItsPlace(t *testing.T) {
	start := ephemeris.RotationStart(2308)
	at := coords.Heliographic{B: deg(-18), L: deg(205)}
	var looks []Look
	for d := 9; d < 15; d++ {
		utc := start.Add(time.Duration(d)*24*time.Hour + 5*time.Hour)
		camera := paint.Centred(200, 200, 80)
		camera.North = coords.North{Angle: deg(float64(40 * d))}
		frame, err := paint.Paint(paint.Scene{
			Sun:  paint.Sun{Spots: []paint.Spot{{At: at, UmbraMm: 45, PenumbraMm: 55}}},
			Face: ephemeris.At(utc), Band: paint.WhiteLight(), Camera: camera,
		})
		require.NoError(t, err)
		looks = append(looks, Look{UTC: utc, Picture: frame.Picture(), View: &disc.View{
			Limb: frame.Truth.Limb, Layer: frame.Truth.Layer, North: camera.North, Face: frame.Truth.Face,
		}})
	}
	m := someStrip(2308, looks...)
	woven := m.weave()
	require.NotNil(t, woven)
	b := woven.Bounds()
	level := func(x, y int) float64 {
		r, _, _, _ := woven.At(x, y).RGBA()
		return float64(r) / 65535 // what was not seen is bright
	}
	var sumX, sumY, sum float64
	for y := range b.Dy() {
		for x := range b.Dx() {
			lat := 90 - (float64(y)+0.5)*180/float64(b.Dy())
			if v := level(x, y); math.Abs(lat) < 45 {
				dark := max(0, 0.35-v)
				sumX, sumY, sum = sumX+dark*(float64(x)+0.5)*360/float64(b.Dx()), sumY+dark*lat, sum+dark
			}
		}
	}
	require.Greater(t, sum, 1.0)
	assert.InDelta(t, 205, sumX/sum, 0.6)
	assert.InDelta(t, -18, sumY/sum, 0.6)
	unseen := Paper.Unseen
	r, g, bl, _ := woven.At(b.Dx()-3, b.Dy()/2).RGBA()
	assert.Equal(t, [3]uint32{uint32(unseen.R), uint32(unseen.G), uint32(unseen.B)}, [3]uint32{r >> 8, g >> 8, bl >> 8}, "nobody looked there")
}

func TestTrackBreaksAtAReturn(t *testing.T) {
	entry := func(day int, passage string) catalog.Entry {
		return catalog.Entry{PassageName: passage, Position: catalog.Position{UTC: marchDay.AddDate(0, 0, day)}}
	}
	groups := byPassage([]catalog.Entry{entry(2, "P1"), entry(1, "P2"), entry(0, "P1"), entry(1, ""), entry(1, "")})
	require.Len(t, groups, 4, "what belongs to nothing stands alone")
	assert.Equal(t, marchDay, groups[0][0].Position.UTC, "in the order of time")
}

func TestMapRefuses(t *testing.T) {
	_, err := Map(MapInput{}, Options{})
	assert.ErrorContains(t, err, "rotation 0")
}

// A rotation of daily pictures, woven: it must not keep a report waiting.
func BenchmarkWovenMap(b *testing.B) {
	start := ephemeris.RotationStart(2308)
	sun := paintedSun(start, 30)
	in := MapInput{Rotation: 2308, Woven: true}
	for d := range 27 {
		day := paintedAt(b, sun, start.Add(time.Duration(d)*24*time.Hour), 400, 180, true)
		in.Looks = append(in.Looks, Look{Frame: catalog.FrameID(d), UTC: day.utc, View: &day.view, Picture: day.picture})
		in.Entries = append(in.Entries, day.entries...)
	}
	for b.Loop() {
		c, err := Map(in, Options{})
		require.NoError(b, err)
		require.NoError(b, Write(io.Discard, c, SVG, Options{}))
	}
}
