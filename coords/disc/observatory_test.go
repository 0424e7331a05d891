package disc_test

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/testdata"
)

// share is the value below which a share of the values lies.
func share(values []float64, of float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	return sorted[min(len(sorted)-1, int(of*float64(len(sorted))))]
}

// greenwich is a row of the Royal Observatory's measures: distance from the
// centre and position angle from solar north, and the place reduced from them.
type greenwich struct {
	at             time.Time
	r, pa          float64
	long, lat, cmd float64
}

func greenwichRows(t *testing.T, path string) []greenwich {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	var rows []greenwich
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		line := lines.Text()
		if len(line) < 74 {
			continue
		}
		get := func(from, to int) float64 { return number(t, strings.TrimSpace(line[from-1:to])) }
		fraction := number(t, "0"+strings.ReplaceAll(line[8:12], " ", "0"))
		day := time.Date(int(get(1, 4)), time.Month(int(get(5, 6))), int(get(7, 8)), 0, 0, 0, 0, time.UTC)
		rows = append(rows, greenwich{
			at: day.Add(time.Duration(fraction * 24 * float64(time.Hour))),
			r:  get(46, 50), pa: get(52, 56), long: get(58, 62), lat: get(64, 68), cmd: get(70, 74),
		})
	}
	require.NoError(t, lines.Err())
	return rows
}

// The README of the set names what an independent reduction reached: up to r 0.97
// median 0.03°, 95 % within 0.12° (lat) and 0.08° (CMD); 24 rows of large-groups.txt
// disagree by more than 1° and are misprints.
func TestGreenwichMeasures(t *testing.T) {
	for _, c := range []struct {
		file      string
		rows, bad int
	}{{"all-groups-1916-06.txt", 144, 0}, {"large-groups.txt", 1564, 24}} {
		rows := greenwichRows(t, testdata.Shared(t, "data", "rgo-measured", c.file))
		require.Len(t, rows, c.rows, c.file)
		var dLat, dCMD, dL, ratio []float64
		bad := 0
		for _, row := range rows {
			f := ephemeris.At(row.at)
			f.P = 0
			v := disc.View{Face: f}
			got := v.PlacePolar(deg(row.pa), row.r, 0, disc.Height{}).Photosphere
			if !got.Known { // r printed as 1.000
				continue
			}
			lat, cmd, long := math.Abs(got.B.Degrees()-row.lat), math.Abs(apart(got.CMD, row.cmd)), math.Abs(apart(got.L, row.long))
			if lat > 1 || cmd > 1 {
				if row.r <= 0.97 {
					bad++
				}
				continue
			}
			// What the rounding of r (0.0005), PA, latitude and CMD (0.05°) can do.
			foreshortened := max(0.05, got.Mu)
			reach := deg(0.05).Degrees() + 0.0005*57.3/foreshortened + 0.05*row.r
			ratio = append(ratio, max(lat, cmd*got.B.Cos())/reach)
			if row.r <= 0.97 {
				dLat, dCMD, dL = append(dLat, lat), append(dCMD, cmd), append(dL, long)
			}
		}
		t.Logf("%s: %d rows of r <= 0.97: latitude median %.3f, 95 %% %.3f, most %.3f; CMD %.3f, %.3f, %.3f; L %.3f, %.3f deg; %d rows off by more than 1 deg; %.1f %% of all rows within what rounding allows",
			c.file, len(dLat), share(dLat, 0.5), share(dLat, 0.95), share(dLat, 1), share(dCMD, 0.5), share(dCMD, 0.95), share(dCMD, 1), share(dL, 0.5), share(dL, 0.95), bad, 100*within(ratio, 1))
		assert.LessOrEqual(t, share(dLat, 0.5), 0.035, c.file)
		assert.LessOrEqual(t, share(dCMD, 0.5), 0.035, c.file)
		assert.LessOrEqual(t, share(dLat, 0.95), 0.125, c.file)
		assert.LessOrEqual(t, share(dCMD, 0.95), 0.105, c.file)
		// Carrington's elements, which the observatory used, drift by 0.115° a century
		// in L0 against the IAU's (reference/README.md): 0.08° in 1916.
		assert.LessOrEqual(t, share(dL, 0.95), 0.08+0.085, c.file)
		assert.LessOrEqual(t, bad, c.bad, c.file)
		assert.GreaterOrEqual(t, within(ratio, 1), 0.9, c.file)
	}
}

func within(values []float64, limit float64) float64 {
	n := 0
	for _, v := range values {
		if v <= limit {
			n++
		}
	}
	return float64(n) / float64(len(values))
}

// The only set whose axis is celestial north: x to the west and y to the north
// along the daily motion, printed to 0.01. The README's reduction, which leaves
// out the finite distance, agrees for r² < 0.9 to a median of 0.14° in latitude
// and 0.18° in CMD; with P of the wrong sign the median is 13°.
func TestFlaugerguesUsesP(t *testing.T) {
	rows := testdata.Table(t, testdata.Shared(t, "data", "flaugergues", "coordinates.csv"))
	require.Len(t, rows, 343)
	var dLat, dCMD, wrong []float64
	for _, row := range rows {
		if row["x"] == "" || row["outlier"] == "TRUE" {
			continue
		}
		x, y := number(t, row["x"]), number(t, row["y"])
		if x*x+y*y >= 0.9 {
			continue
		}
		v := disc.View{
			Limb: coords.Limb{RadiusPx: 1},
			Face: face(number(t, row["p"]), number(t, row["b0"]), number(t, row["l0"]), 959.63),
		}
		// North up, east left.
		got := v.Place(coords.Pixel{X: x, Y: -y}, 0, disc.Height{}).Photosphere
		dLat = append(dLat, math.Abs(got.B.Degrees()-number(t, row["lat"])))
		dCMD = append(dCMD, math.Abs(apart(got.CMD, number(t, row["cmd"]))))
		v.Face.P = -v.Face.P
		wrong = append(wrong, math.Abs(v.Place(coords.Pixel{X: x, Y: -y}, 0, disc.Height{}).Photosphere.B.Degrees()-number(t, row["lat"])))
	}
	t.Logf("%d rows: latitude median %.2f, 95 %% %.2f; CMD %.2f, %.2f deg; with P of the wrong sign latitude median %.1f",
		len(dLat), share(dLat, 0.5), share(dLat, 0.95), share(dCMD, 0.5), share(dCMD, 0.95), share(wrong, 0.5))
	assert.Greater(t, len(dLat), 200)
	assert.LessOrEqual(t, share(dLat, 0.5), 0.16)
	assert.LessOrEqual(t, share(dLat, 0.95), 0.4)
	// Finite distance adds some 0.2° that these authors left out.
	assert.LessOrEqual(t, share(dCMD, 0.5), 0.25)
	assert.LessOrEqual(t, share(dCMD, 0.95), 0.95)
	assert.Greater(t, share(wrong, 0.5), 5.0)
}

// Filaments of August 2000 to 2010, pixels from the centre of a disc of 970 px
// turned to solar north. The README: its reduction agrees to 0.5° in 2146 of 2147
// rows (the whole of 2000 to 2010). Places are printed to 0.01°, pixels whole: it
// is a reduction to be met digit by digit, finite distance and all.
func TestBigBearFilaments(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(testdata.Shared(t, "data", "bbso-filaments"), "AUTOMATIC_*.tab"))
	require.NoError(t, err)
	var dLat, dCMD []float64
	for _, path := range files {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		var v disc.View
		for _, line := range strings.Split(string(text), "\n") {
			if _, date, ok := strings.Cut(line, "Date : "); ok && !strings.Contains(line, "Julian") {
				at, err := time.Parse("20060102_150405", strings.TrimSpace(date))
				require.NoError(t, err)
				f := ephemeris.At(at)
				v = disc.View{Limb: coords.Limb{RadiusPx: 970}, North: coords.North{Angle: -f.P}, Face: f}
				continue
			}
			fields := strings.Fields(line)
			if len(fields) < 7 {
				continue
			}
			if _, err := strconv.Atoi(fields[0]); err != nil {
				continue
			}
			x, y := number(t, fields[3]), number(t, fields[4])
			got := v.Place(coords.Pixel{X: x, Y: -y}, 0, disc.Height{}).Photosphere
			if math.Hypot(x, y) > 0.95*970 || !got.Known {
				continue
			}
			dLat = append(dLat, math.Abs(got.B.Degrees()-number(t, fields[5])))
			dCMD = append(dCMD, math.Abs(apart(got.CMD, number(t, fields[6])))*got.B.Cos())
		}
	}
	t.Logf("%d filaments within r 0.95: latitude median %.3f, 99 %% %.3f; CMD cos B %.3f, %.3f deg", len(dLat), share(dLat, 0.5), share(dLat, 0.99), share(dCMD, 0.5), share(dCMD, 0.99))
	assert.Greater(t, len(dLat), 500)
	assert.LessOrEqual(t, share(dLat, 0.99), 0.02)
	assert.LessOrEqual(t, share(dCMD, 0.99), 0.02)
}

// The README of hmi-continuum-daily follows one spot through three days, pixel by
// pixel, on pictures that have solar north up; it prints to 0.1.
func TestSpotOfThreeDays(t *testing.T) {
	testdata.Shared(t, "data", "hmi-continuum-daily", "README.md")
	var longs []float64
	for _, c := range []struct {
		utc                 string
		x, y, lat, cmd, lon float64
	}{
		{"2024-07-01T00:00:00Z", 276.1, 338.8, -17.7, 5.2, 350.7},
		{"2024-07-02T00:00:00Z", 325.7, 339.1, -17.9, 18.2, 350.5},
		{"2024-07-03T00:00:00Z", 371.6, 338.7, -18.0, 31.3, 350.3},
	} {
		f := ephemeris.At(utc(t, c.utc))
		v := disc.View{
			Limb:  coords.Limb{Centre: coords.Pixel{X: 255.86, Y: 256.18}, RadiusPx: 233.6},
			North: coords.North{Angle: -f.P},
			Face:  f,
		}
		got := v.Place(coords.Pixel{X: c.x, Y: c.y}, 0, disc.Height{}).Photosphere
		assert.InDelta(t, c.lat, got.B.Degrees(), 0.11)
		assert.InDelta(t, c.cmd, got.CMD.Degrees(), 0.11)
		assert.InDelta(t, 0, apart(got.L, c.lon), 0.11)
		longs = append(longs, got.L.Degrees())
	}
	// The truth that needs no other program: a spot keeps its longitude.
	assert.InDelta(t, longs[0], longs[2], 0.7)
}

// With our own Sun of the date: P, B0 and L0 from the ephemeris.
func TestGeometryWithOurOwnSun(t *testing.T) {
	rows := testdata.Table(t, filepath.Join("..", "..", "testdata", "published", "geometry.csv"))
	inner, outer := 0.0, 0.0
	for _, row := range rows {
		get := func(name string) float64 { return number(t, row[name]) }
		v := disc.View{Face: ephemeris.At(utc(t, row["utc"]))}
		got := v.PlacePolar(deg(get("pa_celestial_deg")), get("r_over_R"), 0, disc.Height{}).Photosphere
		want := coords.Heliographic{B: deg(get("lat_deg")), L: deg(get("lon_carrington_deg"))}
		off := got.Distance(want).Degrees()
		if get("r_over_R") <= 0.98 {
			inner = max(inner, off)
			assert.LessOrEqual(t, off, 0.003, "r %s", row["r_over_R"])
		} else {
			outer = max(outer, off)
			assert.LessOrEqual(t, off, 0.03, "r %s", row["r_over_R"])
		}
	}
	t.Logf("geometry.csv with the ephemeris's P, B0, L0: at most %.4f deg for r/R <= 0.98, %.4f beyond", inner, outer)
}
