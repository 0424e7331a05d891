package observe_test

import (
	"math"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/testdata"
)

// geometryRow is a point of the disc by SunPy (shared/reference/geometry.csv, which
// says how it was made).
type geometryRow map[string]float64

func geometry(t *testing.T, every int) (rows []geometryRow, utc []time.Time) {
	t.Helper()
	for i, line := range testdata.Table(t, testdata.Shared(t, "reference", "geometry.csv")) {
		if i%every != 0 {
			continue
		}
		row := geometryRow{}
		var at time.Time
		for name, text := range line {
			if v, err := strconv.ParseFloat(text, 64); err == nil {
				row[name] = v
			} else if parsed, err := observe.ParseUTC(text); err == nil && at.IsZero() {
				at = parsed
			}
		}
		rows, utc = append(rows, row), append(utc, at)
	}
	return rows, utc
}

// The same point of the disc, written as a position angle, clicked in a picture
// upright and mirrored, and read off a picture turned to solar north, is the same
// place, and the place that another library gives.
func TestEveryWayOfMarkingGivesThePlaceThatAnotherLibraryGives(t *testing.T) {
	rows, utc := geometry(t, 7)
	for i, row := range rows {
		require.False(t, utc[i].IsZero(), "row %d has no time", i)
		face := ephemeris.At(utc[i])
		pa, r := deg(row["pa_celestial_deg"]), row["r_over_R"]
		for name, north := range map[string]catalog.North{
			"typed":    {Angle: deg(33), Sigma: deg(0.1)},
			"mirrored": {Angle: deg(-75), Mirrored: true, Sigma: deg(0.1)},
			"solar":    {Angle: deg(12), Sigma: deg(0.1), Toward: catalog.TowardSolar},
			"solar, mirrored": {Angle: deg(12), Mirrored: true, Sigma: deg(0.1),
				Toward: catalog.TowardSolar},
		} {
			b := catalog.Bearings{
				Frame: catalog.Frame{Taken: utc[i]},
				Disc:  &catalog.Disc{Limb: coords.Limb{Centre: coords.Pixel{X: 700, Y: 500}, RadiusPx: 450}},
				North: &north,
			}
			// The direction in the picture by the conventions of package coords: north is
			// counted counter-clockwise from up, and so is a position angle unless mirrored.
			turn := pa
			if north.Toward == catalog.TowardSolar {
				turn = pa - face.P
			}
			if north.Mirrored {
				turn = -turn
			}
			sin, cos := (north.Angle + turn).Sincos()
			m := catalog.Mark{Kind: catalog.Sunspot, Geometry: catalog.Geometry{Shape: catalog.Point, SigmaClickPx: 0.5,
				Pixels: []coords.Pixel{{X: 700 - 450*r*sin, Y: 500 - 450*r*cos}}}}
			check(t, name, row, observe.Derive(b, []catalog.Mark{m})[0])
		}
		polar := catalog.Mark{Kind: catalog.Sunspot, Geometry: catalog.Geometry{Shape: catalog.Point,
			Polar: []catalog.PolarPoint{{PA: pa, R: r}}}}
		check(t, "polar", row, observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: utc[i]}}, []catalog.Mark{polar})[0])
	}
}

func check(t *testing.T, name string, row geometryRow, p catalog.Position) {
	t.Helper()
	// Our own Sun of the date is good to some 0.0005 degrees in each of P, B0 and L0,
	// which foreshortening stretches by 5 at r/R 0.98 and by 22 at 0.999, the outermost.
	allowed := 0.003
	if row["r_over_R"] > 0.98 {
		allowed = 0.03
	}
	require.NotNil(t, p.Disc, "%s: %s, r/R %g", name, p.Reason, row["r_over_R"])
	assert.InDelta(t, row["lat_deg"], p.Disc.B.Degrees(), allowed, "%s: latitude at r/R %g", name, row["r_over_R"])
	cosB := math.Cos(row["lat_deg"] * math.Pi / 180)
	off := (p.Disc.CMD - deg(row["lon_stonyhurst_deg"])).Wrap180().Degrees() * cosB
	assert.InDelta(t, 0, off, allowed, "%s: central meridian distance at r/R %g", name, row["r_over_R"])
	off = (p.Disc.L - deg(row["lon_carrington_deg"])).Wrap180().Degrees() * cosB
	assert.InDelta(t, 0, off, allowed, "%s: Carrington longitude at r/R %g", name, row["r_over_R"])
}

var march = time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)

// onPaper derives a mark by position angles (degrees) and radii of a photospheric limb.
func onPaper(kind catalog.Kind, shape catalog.Shape, points ...[2]float64) catalog.Position {
	g := catalog.Geometry{Shape: shape, SigmaR: 0.001, SigmaPA: deg(0.2)}
	for _, p := range points {
		g.Polar = append(g.Polar, catalog.PolarPoint{PA: deg(p[0]), R: p[1]})
	}
	return observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{{Kind: kind, Geometry: g}})[0]
}

func TestAProminenceHasBaseTopAndHeightButNoPlace(t *testing.T) {
	p := onPaper(catalog.Prominence, catalog.Outline, [2]float64{268, 0.998}, [2]float64{270, 1.05}, [2]float64{274, 0.998})
	require.NotNil(t, p.Edge)
	assert.Nil(t, p.Disc, "its base dips under the limb by chance")
	assert.InDelta(t, 268.1, p.Edge.From.Degrees(), 0.3)
	assert.InDelta(t, 273.8, p.Edge.To.Degrees(), 0.3)
	assert.InDelta(t, 270, p.Edge.TopPA.Degrees(), 1e-6)
	assert.InDelta(t, 271, p.Edge.PA.Degrees(), 0.2)
	// 0.05 radii of 695.7 Mm, and of a semidiameter of 964 to 966 arcsec in mid March.
	assert.InDelta(t, 34.8, p.Edge.HeightMm, 0.1)
	assert.InDelta(t, 48.25, p.Edge.HeightArcsec, 0.1)
	assert.InDelta(t, 0.2, p.Edge.SigmaPA.Degrees(), 0.01)
}

func TestAFilamentOverTheLimbHasBothParts(t *testing.T) {
	p := onPaper(catalog.Filament, catalog.Line, [2]float64{270, 0.9}, [2]float64{270, 1.04})
	require.NotNil(t, p.Disc)
	require.NotNil(t, p.Edge)
	assert.NotNil(t, p.High)
	assert.InDelta(t, 27.8, p.Edge.HeightMm, 0.1) // 0.04 × 695.7 Mm
}

func TestHeightPushesInward(t *testing.T) {
	flat := onPaper(catalog.Sunspot, catalog.Point, [2]float64{250, 0.87})
	high := onPaper(catalog.Filament, catalog.Point, [2]float64{250, 0.87})
	assert.Nil(t, flat.High, "a sunspot lies on the photosphere")
	require.NotNil(t, high.High)
	assert.Equal(t, flat.Disc.Heliographic, high.Disc.Heliographic, "both are read as on the photosphere")
	// A filament at 26 Mm read so is 4 degrees off at 60 degrees from the meridian,
	// outward (the task's own figure; ours stands at 20 by its prior).
	assert.InDelta(t, -3, high.High.CMD.Degrees()-high.Disc.CMD.Degrees(), 1)
	assert.Greater(t, float64(high.High.Cov.LL), float64(high.Disc.Cov.LL), "the height's error is folded in")
}

func TestAPointBetweenTheLimbsSaysSo(t *testing.T) {
	g := catalog.Geometry{Shape: catalog.Point, Polar: []catalog.PolarPoint{{PA: deg(100), R: 0.998}},
		PolarLimb: coords.Chromosphere, SigmaR: 0.0005}
	m := catalog.Mark{Kind: catalog.Sunspot, Geometry: g}
	p := observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{m})[0]
	assert.Nil(t, p.Disc, "its line of sight does not meet the photosphere")
	require.NotNil(t, p.Edge)
	assert.True(t, p.Edge.WithinLimb)
	m.Kind = catalog.Filament
	p = observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{m})[0]
	_, ok := p.Reading()
	assert.True(t, ok, "what stands high has a place there")
}

// A line or an outline written as places is measured like one that is drawn.
func TestTheMiddleOfALineOfPlaces(t *testing.T) {
	line := func(shape catalog.Shape, latLon ...[2]float64) catalog.Position {
		g := catalog.Geometry{Shape: shape, SigmaPlace: deg(1)}
		for _, p := range latLon {
			g.Places = append(g.Places, catalog.PlacePoint{B: deg(p[0]), Lon: deg(p[1])})
		}
		return observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{{Kind: catalog.Other, Geometry: g}})[0]
	}
	// Along the equator across 360°, and along a meridian: by symmetry.
	p := line(catalog.Line, [2]float64{0, 350}, [2]float64{0, 355}, [2]float64{0, 20})
	assert.InDelta(t, 0, p.Disc.B.Degrees(), 1e-6)
	assert.InDelta(t, 0, (p.Disc.L - deg(5)).Wrap180().Degrees(), 1e-6)
	p = line(catalog.Line, [2]float64{10, 40}, [2]float64{50, 40})
	assert.InDelta(t, 30, p.Disc.B.Degrees(), 1e-6)
	// A lune's half, symmetric about both.
	p = line(catalog.Outline, [2]float64{-10, 170}, [2]float64{-10, 190}, [2]float64{10, 190}, [2]float64{10, 170})
	assert.InDelta(t, 0, p.Disc.B.Degrees(), 1e-6)
	assert.InDelta(t, 180, p.Disc.L.Degrees(), 1e-6)
}

func TestAPlaceThatNobodyCouldSeeIsKeptAsWritten(t *testing.T) {
	g := catalog.Geometry{Shape: catalog.Point, Places: []catalog.PlacePoint{{B: deg(10), Lon: deg(140), ByCMD: true}}}
	p := observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{{Kind: catalog.Sunspot, Geometry: g}})[0]
	require.NotNil(t, p.Disc)
	assert.Nil(t, p.Polar)
	assert.InDelta(t, 140, p.Disc.CMD.Degrees(), 1e-9)
	assert.Negative(t, p.Disc.Mu)
}

func TestATimeWithoutAnEphemerisGivesAReason(t *testing.T) {
	m := catalog.Mark{Kind: catalog.Sunspot, Geometry: catalog.Geometry{Shape: catalog.Point, Places: []catalog.PlacePoint{{}}}}
	p := observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: time.Date(1500, 1, 1, 0, 0, 0, 0, time.UTC)}}, []catalog.Mark{m})[0]
	assert.Contains(t, p.Reason, "no ephemeris for the year 1500")
}
