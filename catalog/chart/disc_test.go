package chart

import (
	"bytes"
	"image"
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

func deg(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

var marchDay = time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)

func someView(north coords.North) disc.View {
	return disc.View{
		Limb: coords.Limb{Centre: coords.Pixel{X: 300, Y: 280}, RadiusPx: 200, Flattening: 0.02, ShortAxis: deg(30)},
		Face: ephemeris.At(marchDay), North: north,
	}
}

// What trade pictures agree on (TRADE.md, 1.4): solar or celestial north up means
// east left; a picture as taken keeps its turn and its mirror.
func TestDialDirections(t *testing.T) {
	v := someView(coords.North{Angle: deg(40), Mirrored: true})
	const x, y, r = 500, 400, 100
	celestial := newDial(v, CelestialNorthUp, x, y, r)
	north, east := celestial.at(0, 1), celestial.at(deg(90), 1)
	assert.InDelta(t, 0, distance(north, point(x, y-r)), 1e-9, "north is up")
	assert.InDelta(t, 0, distance(east, point(x-r, y)), 1e-9, "east is left")

	solar := newDial(v, SolarNorthUp, x, y, r)
	assert.InDelta(t, 0, distance(solar.at(v.Face.P, 1), point(x, y-r)), 1e-9, "the Sun's pole is up")
	p, visible := solar.place(coords.Heliographic{B: 0, L: v.Face.L0 + deg(60)})
	assert.True(t, visible)
	assert.Greater(t, p.X, float64(x)+80, "solar west is right")

	taken := newDial(v, AsTaken, x, y, r)
	for _, px := range []coords.Pixel{{X: 350, Y: 200}, {X: 150, Y: 300}, {X: 300, Y: 380}} {
		u, w := v.Limb.Unit(px)
		m := catalog.Mark{Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{px}}}
		assert.InDelta(t, 0, distance(taken.trace(m)[0], point(x+r*u, y+r*w)), 1e-9, "as taken: where it is in the picture")
	}
}

func TestDialThereAndBack(t *testing.T) {
	for _, up := range []Up{SolarNorthUp, CelestialNorthUp, AsTaken} {
		d := newDial(someView(coords.North{Angle: deg(-70), Mirrored: true}), up, 10, 20, 30)
		for pa := 0.0; pa < 360; pa += 17 {
			back, r := d.polarOf(d.at(deg(pa), 0.7))
			assert.InDelta(t, 0, (back - deg(pa)).Wrap180().Degrees(), 1e-9)
			assert.InDelta(t, 0.7, r, 1e-12)
		}
	}
}

// A mark lies on the same spot of the chart whether it was made by pixels, by
// position angle and radius, or by latitude and longitude.
func TestTraceOfThreeForms(t *testing.T) {
	v := someView(coords.North{Angle: deg(12)})
	d := newDial(v, SolarNorthUp, 400, 400, 300)
	px := coords.Pixel{X: 370, Y: 220}
	place := v.Place(px, 0, disc.Height{})
	byPixel := d.trace(catalog.Mark{Geometry: catalog.Geometry{Pixels: []coords.Pixel{px}}})[0]
	byPolar := d.trace(catalog.Mark{Geometry: catalog.Geometry{Polar: []catalog.PolarPoint{{PA: place.PositionAngle, R: place.R}}}})[0]
	byPlace := d.trace(catalog.Mark{Geometry: catalog.Geometry{Places: []catalog.PlacePoint{{B: place.Photosphere.B, Lon: place.Photosphere.L}}}})[0]
	byCMD := d.trace(catalog.Mark{Geometry: catalog.Geometry{Places: []catalog.PlacePoint{{B: place.Photosphere.B, Lon: place.Photosphere.CMD, ByCMD: true}}}})[0]
	assert.InDelta(t, 0, distance(byPixel, byPolar), 1e-6)
	assert.InDelta(t, 0, distance(byPixel, byPlace), 1e-6)
	assert.InDelta(t, 0, distance(byPixel, byCMD), 1e-6)
	behind := catalog.Mark{Geometry: catalog.Geometry{Places: []catalog.PlacePoint{{B: 0, Lon: v.Face.L0 + deg(180)}}}}
	assert.Empty(t, d.trace(behind), "behind the Sun")
}

// Lines of the grid end on the limb or close on themselves.
func TestGridEndsAtTheLimb(t *testing.T) {
	d := newDial(someView(coords.North{}), SolarNorthUp, 0, 0, 1)
	lines := 0
	check := func(runs [][]canvasPoint, name string) {
		for _, run := range runs {
			lines++
			for _, end := range []canvasPoint{run[0], run[len(run)-1]} {
				r := math.Hypot(end.X, end.Y)
				closed := distance(run[0], run[len(run)-1]) < 0.02
				assert.True(t, closed || math.Abs(r-1) < 3e-3 || name == "meridian" && math.Abs(r) < 1, "%s ends at r %.4f", name, r)
			}
			for _, p := range run {
				assert.Less(t, math.Hypot(p.X, p.Y), 1.0005)
			}
		}
	}
	for lat := -80.0; lat <= 80; lat += 20 {
		check(d.parallel(deg(lat)), "parallel")
	}
	for cmd := -180.0; cmd < 180; cmd += 20 {
		check(d.meridian(d.view.Face.L0+deg(cmd)), "meridian")
	}
	assert.Greater(t, lines, 15)
}

// The picture on the dial lies under the marks: the one spot of an otherwise even
// Sun is darkest where the dial says that it is.
func TestPictureLiesUnderTheGrid(t *testing.T) {
	at := coords.Heliographic{B: deg(22), L: ephemeris.At(marchDay).L0 + deg(-35)}
	camera := paint.Centred(240, 220, 90)
	camera.Limb.Flattening = 0.06
	camera.North = coords.North{Angle: deg(155), Mirrored: true}
	frame, err := paint.Paint(paint.Scene{
		Sun:  paint.Sun{Spots: []paint.Spot{{At: at, UmbraMm: 40, PenumbraMm: 50}}},
		Face: ephemeris.At(marchDay), Band: paint.WhiteLight(), Camera: camera,
	})
	require.NoError(t, err)
	view := disc.View{Limb: frame.Truth.Limb, Layer: frame.Truth.Layer, North: camera.North, Face: frame.Truth.Face}
	for _, up := range []Up{SolarNorthUp, CelestialNorthUp, AsTaken} {
		const reach, density = 1.1, 1.0
		d := newDial(view, up, 0, 0, 200)
		m := newShown(frame.Picture(), 0, 90, 200).onDial(d, reach, density, Paper)
		want, visible := d.place(at)
		require.True(t, visible)
		size := m.Bounds().Dx()
		var sumX, sumY, sum float64
		for row := range size {
			for column := range size {
				x, y := float64(column)+0.5-float64(size)/2, float64(row)+0.5-float64(size)/2
				if math.Hypot(x, y) > 0.8*200 {
					continue
				}
				level, _, _, _ := m.At(column, row).RGBA()
				dark := max(0, 0.4-float64(level)/65535)
				sumX, sumY, sum = sumX+dark*x, sumY+dark*y, sum+dark
			}
		}
		require.Greater(t, sum, 1.0)
		assert.InDelta(t, want.X, sumX/sum, 2.5, "up %d", up)
		assert.InDelta(t, want.Y, sumY/sum, 2.5, "up %d", up)
	}
}

// A reduced picture shows the same as the full one.
func TestReducedPictureShowsTheSame(t *testing.T) {
	day := paintedAt(t, paintedSun(marchDay.AddDate(0, 0, -10), 20), marchDay, 400, 170, true)
	full := newShown(day.picture, 0, 170, 1000)
	half := newShown(halved(day.picture), 400, 170, 1000)
	assert.InDelta(t, 0.5, half.scale, 1e-9)
	for _, p := range []coords.Pixel{{X: 200, Y: 200}, {X: 120.3, Y: 260.8}, {X: 300, Y: 150}} {
		assert.InEpsilon(t, full.at(p.X, p.Y), half.at(p.X, p.Y), 0.12)
	}
	assert.EqualValues(t, unseen, half.at(-1, 10))
	assert.EqualValues(t, unseen, half.at(400.2, 10))
}

func TestDiscIsDrawnTheSameTwice(t *testing.T) {
	day := paintedAt(t, paintedSun(marchDay.AddDate(0, 0, -10), 20), marchDay, 300, 130, true)
	in := DiscInput{Picture: day.picture, View: day.view, UTC: day.utc, Entries: day.entries, Heading: "Hill Garden"}
	for _, f := range []Format{SVG, PNG} {
		var b [2]bytes.Buffer
		for i := range b {
			c, err := Disc(in, Options{Density: 1, Theme: Night})
			require.NoError(t, err)
			require.NoError(t, Write(&b[i], c, f, Options{Density: 1}))
		}
		assert.True(t, bytes.Equal(b[0].Bytes(), b[1].Bytes()), f.String())
	}
	c, err := Disc(in, Options{MarkHref: func(id catalog.MarkID) string { return "/marks/" + id.String() }})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, c.WriteSVG(&b))
	assert.Contains(t, b.String(), `href="/marks/`+day.entries[0].Mark.ID.String()+`"`)
	assert.Contains(t, b.String(), "The Sun on 14 March 2026, 15:23:10 UT")
}

func TestDiscRefusesWhatItCannotDraw(t *testing.T) {
	_, err := Disc(DiscInput{UTC: marchDay}, Options{})
	assert.ErrorContains(t, err, "no semidiameter")
	v := someView(coords.North{})
	v.Limb.RadiusPx = 0
	_, err = Disc(DiscInput{UTC: marchDay, View: v, Picture: halved(paintedAt(t, paintedSun(marchDay, 3), marchDay, 60, 20, true).picture)}, Options{})
	assert.ErrorContains(t, err, "no limb")
	_, err = Disc(DiscInput{UTC: marchDay, View: v}, Options{Width: 100})
	assert.ErrorContains(t, err, "chart 100 units wide: want 320 to 4000")
	_, err = Disc(DiscInput{UTC: marchDay, View: v}, Options{Density: 99})
	assert.ErrorContains(t, err, "pixels a unit")
}

// A month's report needs 31 discs; one of these is one of them.
func BenchmarkDisc(b *testing.B) {
	day := paintedAt(b, paintedSun(marchDay.AddDate(0, 0, -10), 20), marchDay, 800, 360, true)
	in := DiscInput{Picture: day.picture, View: day.view, UTC: day.utc, Entries: day.entries}
	for _, f := range []Format{SVG, PNG} {
		b.Run(f.String(), func(b *testing.B) {
			for b.Loop() {
				var out bytes.Buffer
				c, err := Disc(in, Options{Density: 1.3})
				require.NoError(b, err)
				require.NoError(b, Write(&out, c, f, Options{Density: 1.3}))
			}
		})
	}
}

// An exposure for the limb burns the disc out: it is shown grey, and the sky stays dark.
func TestBurntDiscIsShownGrey(t *testing.T) {
	const size, reach = 200, 1.25
	levels := make([]float32, size*size)
	for i := range levels {
		x, y := float64(i%size)-size/2, float64(i/size)-size/2
		if math.Hypot(x, y)*2*reach/size < 1 {
			levels[i] = 1
		}
	}
	shown := newTone(levels, size, reach).image(levels, size, reach, Paper).(*image.Gray)
	assert.InDelta(t, 255*middleGrey, shown.GrayAt(size/2, size/2).Y, 1)
	assert.Zero(t, shown.GrayAt(2, size/2).Y)
}
