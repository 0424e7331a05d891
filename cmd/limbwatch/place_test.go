package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// readColumns reads CSV output into one map a row.
func readColumns(t *testing.T, text string) []map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	require.NotEmpty(t, rows)
	var list []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		list = append(list, m)
	}
	return list
}

func asFloat(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err, "number %q", text)
	return v
}

func TestPlaceAgreesWithPublished(t *testing.T) {
	// Duffett-Smith, Practical Astronomy with your Calculator: 1988 May 1, position
	// angle 220°, 10.5′ from the centre: L 142.59, B −19.94 (0h UT). r is 10.5′ over
	// the semidiameter 15.88′ of that day. Classical elements: 0.05° allowed.
	semidiameter := asFloat(t, readColumns(t, limbwatch(t, "1988-05-01", "sun", "--times", "-").stdout)[0]["semidiameter_arcsec"])
	in := fmt.Sprintf("utc,pa_deg,r\n1988-05-01T00:00:00Z,220,%.6f\n", 10.5*60/semidiameter)
	got := limbwatch(t, in, "place")
	require.Equal(t, 0, got.code, got.stderr)
	row := readColumns(t, got.stdout)[0]
	assert.InDelta(t, -19.94, asFloat(t, row["lat_deg"]), 0.05, "latitude")
	assert.InDelta(t, 142.59, asFloat(t, row["lon_deg"]), 0.05, "longitude")
	assert.Equal(t, "true", row["on_disc"])
	assert.Empty(t, row["sigma_lat_deg"], "no error was given")
	assert.Empty(t, row["height_km"])
}

func TestPlacePixelsAndPolarAgree(t *testing.T) {
	// A point 400 px up of the centre of a disc of 500 px, north 30° to the left:
	// its position angle is −30°, so 330°; mirrored +30°.
	for _, c := range []struct {
		mirrored bool
		pa       string
	}{{false, "330"}, {true, "30"}} {
		args := []string{"place", "--at", "2026-03-14T15:23:10Z", "--disc", "600,600,500", "--north", "30", "--csv", "600,200"}
		if c.mirrored {
			args = append(args, "--mirrored")
		}
		pixel := limbwatch(t, "", args...)
		require.Equal(t, 0, pixel.code, pixel.stderr)
		polar := limbwatch(t, "utc,pa_deg,r\n2026-03-14T15:23:10Z,"+c.pa+",0.8\n", "place")
		a, b := readColumns(t, pixel.stdout)[0], readColumns(t, polar.stdout)[0]
		for _, name := range []string{"lat_deg", "cmd_deg", "lon_deg", "mu"} {
			assert.InDeltaf(t, asFloat(t, b[name]), asFloat(t, a[name]), 1e-9, "%s, mirrored %v", name, c.mirrored)
		}
		assert.NotEmpty(t, a["sigma_lat_deg"], "a click is half a pixel wide unless told otherwise")
	}
}

func TestPlaceBeyondTheLimb(t *testing.T) {
	// 0.01 radii above the limb are 6.957 Mm (the solar radius is 695.7 Mm), less
	// half a per cent for the perspective.
	got := limbwatch(t, "utc,pa_deg,r\n2026-03-14T15:23:10Z,270,1.01\n", "place")
	row := readColumns(t, got.stdout)[0]
	assert.Equal(t, "false", row["on_disc"])
	for _, name := range []string{"lat_deg", "cmd_deg", "lon_deg", "mu", "sigma_lat_deg"} {
		assert.Emptyf(t, row[name], "%s of a point off the disc", name)
	}
	assert.InDelta(t, 6957, asFloat(t, row["height_km"]), 20)
	assert.InDelta(t, 9.648, asFloat(t, row["height_arcsec"]), 0.01, "0.01 of the semidiameter 964.76″")

	// Read with the limb of the chromosphere, 4.35 Mm up, the same point stands
	// as high above that limb and 4.35 Mm higher above the photosphere.
	row = readColumns(t, limbwatch(t, "utc,pa_deg,r\n2026-03-14T15:23:10Z,270,1.01\n", "place", "--limb", "chromosphere").stdout)[0]
	assert.InDelta(t, 6957*1.00625+4350, asFloat(t, row["height_km"]), 20)

	// Inside that limb and outside the photosphere's: on the visible disc, no place.
	row = readColumns(t, limbwatch(t, "utc,pa_deg,r\n2026-03-14T15:23:10Z,270,0.998\n", "place", "--limb", "chromosphere").stdout)[0]
	assert.Equal(t, "true", row["on_disc"])
	assert.Empty(t, row["lat_deg"])
}

func TestPlaceNamesTheBadRow(t *testing.T) {
	in := "utc,pa_deg,r,note\n2026-03-14T15:23:10Z,10,0.5,a\n2026-03-14T15:23:10Z,ten,0.5,b\n2026-03-14T15:23:10Z,10,0.5\n2026-03-14T15:23:10Z,20,-0.5,d\n2026-03-14T15:23:10Z,20,0.5,e\n"
	got := limbwatch(t, in, "place")
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stderr, `line 3: "ten" is not a number`)
	assert.Len(t, readColumns(t, got.stdout), 1, "what could be read before it stands")

	rejects := filepath.Join(t.TempDir(), "bad.csv")
	got = limbwatch(t, in, "place", "--rejects", rejects)
	require.Equal(t, 0, got.code, got.stderr)
	assert.Contains(t, got.stderr, "3 rows could not be read")
	rows := readColumns(t, got.stdout)
	require.Len(t, rows, 2)
	assert.Equal(t, "e", rows[1]["note"], "columns that it does not know are repeated")
	text, err := os.ReadFile(rejects)
	require.NoError(t, err)
	assert.Contains(t, string(text), `2026-03-14T15:23:10Z,ten,0.5,b,3,"""ten"" is not a number"`)

	assert.Contains(t, string(text), "2026-03-14T15:23:10Z,10,0.5,,4,", "a short row is filled up")

	quoted := limbwatch(t, "utc,pa_deg,r\nab\"c,1,2\n", "place")
	assert.Equal(t, exitFailed, quoted.code)
	assert.Contains(t, quoted.stderr, "line 2: bare \"")

	again := limbwatch(t, in, "place", "--rejects", rejects)
	assert.Equal(t, 1, again.code, "a file that is there is not written over")
	assert.Contains(t, again.stderr, "is there already")
}

func TestPlaceRefusesFlagsThatDoNotGoTogether(t *testing.T) {
	polar, pixels := "utc,pa_deg,r\n2026-03-14T15:23:10Z,10,0.5\n", "utc,x,y\n2026-03-14T15:23:10Z,10,10\n"
	for _, c := range []struct {
		name, stdin string
		args        []string
		code        int
		says        string
	}{
		{"pixel error with angles", polar, []string{"--sigma-click-px", "1"}, 2, "--sigma-click-px goes with pixels"},
		{"disc with angles", polar, []string{"--disc", "1,1,1"}, 2, "--disc goes with pixels"},
		{"radius error with pixels", pixels, []string{"--sigma-r", "0.01", "--disc", "9,9,9", "--north", "0"}, 2, "--sigma-r goes with the columns"},
		{"pixels without a disc", pixels, nil, 2, "pixels need the disc and the north"},
		{"points without a time", "", []string{"--disc", "9,9,9", "--north", "0", "1,1"}, 2, "need the time"},
		{"no radius", "", []string{"--at", "2026-03-14T15:23:10Z", "--disc", "9,9,0", "--north", "0", "1,1"}, 2, "want 3 to 100000"},
		{"a negative error", polar, []string{"--sigma-r", "-1"}, 2, "0 or more"},
		{"unknown limb", polar, []string{"--limb", "corona"}, 2, `--limb "corona"`},
		{"no such columns", "when,where\n1,2\n", nil, 1, "has not the columns needed"},
		{"nothing at all", "", nil, 2, "no points"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := limbwatch(t, c.stdin, append([]string{"place"}, c.args...)...)
			assert.Equal(t, c.code, got.code, got.stderr)
			assert.Contains(t, got.stderr, c.says)
		})
	}
}

func TestPlaceJSONSaysWhatThereIsNoneOf(t *testing.T) {
	got := limbwatch(t, "", "place", "--at", "2026-03-14T15:23:10Z", "--disc", "600,600,500", "--north", "0", "--json", "--height", "26,10", "600,600", "1200,600")
	require.Equal(t, 0, got.code, got.stderr)
	var rows []map[string]any
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &rows))
	require.Len(t, rows, 2)
	assert.InDelta(t, -7.18, rows[0]["lat_deg"], 0.01, "the middle of the disc is at B0")
	assert.Equal(t, true, rows[0]["on_disc"])
	assert.Nil(t, rows[0]["height_km"])
	assert.Nil(t, rows[1]["lat_deg"])
	assert.Equal(t, "beyond the limb", rows[1]["where"])
	assert.NotNil(t, rows[0]["corrected_lat_deg"])
}

// BenchmarkPlaceOfCSV converts 100 000 rows of 500 pictures, CSV to CSV.
func BenchmarkPlaceOfCSV(b *testing.B) {
	var in strings.Builder
	in.WriteString("utc,x,y\n")
	for i := range 100_000 {
		fmt.Fprintf(&in, "2025-03-%02dT%02d:15:00Z,%d.5,%d.25\n", 1+i/4000, i/200%20, 400+i%1200, 500+i*7%1000)
	}
	for b.Loop() {
		code := run(b.Context(), []string{"place", "--disc", "1000,1000,900", "--north", "12"}, strings.NewReader(in.String()), io.Discard, io.Discard)
		require.Zero(b, code)
	}
	b.ReportMetric(float64(b.N)*1e5/b.Elapsed().Seconds(), "rows/s")
}
