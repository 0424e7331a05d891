package main

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inventedRecord is a record of spots that turn by 14.4 − 2.7 sin² B degrees a day
// (round figures of a glossary), seen while they are on the disc, over two rotations.
// At 10° they gain 0.134° a day on Carrington's system of 14.1844.
func inventedRecord(t *testing.T) string {
	t.Helper()
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,lon_deg,label,sigma_deg\n")
	start := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	var instants []string
	for day := range 45 {
		instants = append(instants, start.AddDate(0, 0, day).Format(time.RFC3339))
	}
	l0 := map[string]float64{}
	for _, row := range readColumns(t, limbwatch(t, strings.Join(instants, "\n"), "sun", "--times", "-").stdout) {
		l0[row["utc"]] = asFloat(t, row["l0_deg"])
	}
	for n, spot := range []struct{ lat, lon, drift float64 }{{10, 200, 0.134}, {-20, 150, -0.1}, {25, 100, -0.266}, {5, 60, 0.195}, {-12, 20, 0.099}, {18, 320, -0.042}, {-28, 270, -0.379}} {
		for day, utc := range instants {
			lon := spot.lon + spot.drift*float64(day)
			cmd := lon - l0[utc]
			for cmd > 180 {
				cmd -= 360
			}
			for cmd < -180 {
				cmd += 360
			}
			if cmd < -70 || cmd > 70 {
				continue
			}
			fmt.Fprintf(&csv, "sunspot,%s,%g,%.3f,%d,0.3\n", utc, spot.lat, lon-360*float64(int(lon/360)), n)
		}
	}
	path := filepath.Join(t.TempDir(), "record.csv")
	require.NoError(t, os.WriteFile(path, []byte(csv.String()), 0o600))
	return path
}

func TestWhatIsComingFollowsFromTheRecord(t *testing.T) {
	newCatalogue(t)
	done(t, "import", "positions", inventedRecord(t))
	done(t, "track", "follow")

	// The spot at 10° N stands at 200 + 0.134 × 3 on 4 March, a day after three sightings
	// or more; the Sun's own figures say where that is.
	var list []map[string]any
	require.NoError(t, json.Unmarshal([]byte(done(t, "expect", "--at", "2026-03-25T12:00:00Z", "--all", "--json")), &list))
	found := false
	for _, e := range list {
		lat := e["lat_deg"].(float64)
		if lat < 9 || lat > 11 {
			continue
		}
		found = true
		assert.InDelta(t, 200+0.134*24, e["lon_deg"], 3*e["sigma_lon_deg"].(float64), "longitude within three of its errors")
		meridian, err := time.Parse(time.RFC3339Nano, e["meridian"].(map[string]any)["utc"].(string))
		require.NoError(t, err)
		sun := readColumns(t, limbwatch(t, meridian.Format(time.RFC3339), "sun", "--times", "-").stdout)[0]
		assert.InDelta(t, 200+0.134*meridian.Sub(time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)).Hours()/24, asFloat(t, sun["l0_deg"]), 3,
			"on the meridian L0 is its longitude")
	}
	assert.True(t, found, "the spot at 10° N is expected")

	events := done(t, "expect", "--at", "2026-03-10T12:00:00Z", "--for", "5", "--json")
	var crossings []map[string]any
	require.NoError(t, json.Unmarshal([]byte(events), &crossings))
	for i := 1; i < len(crossings); i++ {
		assert.LessOrEqual(t, crossings[i-1]["utc"], crossings[i]["utc"], "in the order of time")
	}
	assert.Contains(t, done(t, "expect", "--at", "2026-03-10T12:00:00Z"), "alive")
}

func TestReturnsAndRatesOfAnInventedRecord(t *testing.T) {
	newCatalogue(t)
	done(t, "import", "positions", inventedRecord(t))
	done(t, "track", "follow")
	var returns []returnRow
	require.NoError(t, json.Unmarshal([]byte(done(t, "track", "returns", "--json")), &returns))
	require.NotEmpty(t, returns, "spots come back after a rotation")
	labels := map[string]string{}
	for _, row := range readColumns(t, done(t, "log", "--csv")) {
		labels[row["passage"]] = row["label"]
	}
	for _, r := range returns {
		if r.Odds > 0.5 {
			assert.Equal(t, labels[r.Earlier], labels[r.Later], "%s to %s, odds %.2f", r.Earlier, r.Later, r.Odds)
		}
	}
	again := done(t, "track", "returns", "--json")
	var second []returnRow
	require.NoError(t, json.Unmarshal([]byte(again), &second))
	assert.Equal(t, returns, second, "said twice it finds the same")

	var rates ratesRow
	require.NoError(t, json.Unmarshal([]byte(done(t, "track", "rates", "--json")), &rates))
	require.NotNil(t, rates.A)
	assert.InDelta(t, 14.4, *rates.A, 0.1, "degrees a day at the equator, as invented")
	assert.InDelta(t, -2.7, *rates.B, 0.6, "as invented")
	assert.Contains(t, done(t, "track", "rates"), "newton-nunn", "the literature stands beside it")
}

func TestChartsAreWhole(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "import", "positions", inventedRecord(t))
	done(t, "track", "follow")
	passage := readColumns(t, done(t, "log", "--csv"))[0]["passage"]
	for _, args := range [][]string{
		{"map", "--rotation", "2308"},
		{"latitudes", "--from", "2026-03-01", "--to", "2026-03-31"},
		{"numbers", "--from", "2026-03-01", "--to", "2026-03-31"},
		{"passage", passage},
		{"rates"},
		{"coming", "--at", "2026-03-14T12:00:00Z"},
	} {
		out := filepath.Join(folder, args[0]+".svg")
		done(t, append(append([]string{"chart"}, args...), "--out", out)...)
		file, err := os.Open(out)
		require.NoError(t, err)
		for decoder := xml.NewDecoder(file); ; {
			if _, err := decoder.Token(); errors.Is(err, io.EOF) {
				break
			} else if !assert.NoErrorf(t, err, "%s is well-formed", out) {
				break
			}
		}
		require.NoError(t, file.Close())
		again := limbwatch(t, "", append(append([]string{"chart"}, args...), "--out", out)...)
		assert.Equal(t, exitFailed, again.code, "nothing is written over unasked")
		assert.Contains(t, again.stderr, "is there already")
	}
	png := filepath.Join(folder, "map.png")
	done(t, "chart", "map", "--rotation", "2308", "--theme", "night", "--out", png)
	head, err := os.ReadFile(png)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(head), "\x89PNG"))

	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"chart", "map", "--out", "map.doc"}, "ends in .svg or .png"},
		{[]string{"chart", "map", "--rotation", "0", "--out", "m.svg"}, "Carrington rotation"},
		{[]string{"chart", "rates", "--kind", "cloud", "--out", "r.svg"}, `kind "cloud"`},
		{[]string{"chart", "rates", "--theme", "neon", "--out", "r.svg"}, "neon"},
		{[]string{"chart", "coming", "--for", "0", "--out", "c.svg"}, "1 to 120 days"},
	} {
		got := limbwatch(t, "", c.args...)
		assert.Equal(t, exitMisused, got.code, "%v: %s", c.args, got.stderr)
		assert.Contains(t, got.stderr, c.says)
		assert.NoFileExists(t, c.args[len(c.args)-1], "nothing is left behind")
	}
}

// Pixels of another time than the frame's are those of a picture that lies as it does:
// the Sun has turned meanwhile.
func TestExpectedPixelsAreOfTheTimeAsked(t *testing.T) {
	aDay(t)
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", "280,250")
	done(t, "track", "follow")
	later := []string{"expect", "--at", "2026-03-16T15:23:10Z"}
	plain := asJSON[[]expectedRow](t, later...)
	framed := asJSON[[]expectedRow](t, append(later, "--frame", "F1")...)
	require.Len(t, plain, 1)
	require.Len(t, framed, 1)
	assert.InDelta(t, *plain[0].PADeg, *framed[0].PADeg, 0.1)
	disc := asJSON[object](t, "frame", "show", "F1").object(t, "disc")
	r := math.Hypot(*framed[0].X-disc.number(t, "centre_x_px"), *framed[0].Y-disc.number(t, "centre_y_px")) / disc.number(t, "radius_px")
	assert.InDelta(t, *plain[0].R, r, 0.01, "of the limb's radius, which in H-alpha stands up to 0.6 % higher")
	assert.Contains(t, done(t, append(later, "--frame", "F1")...), "that lies as F1 does")
	refused(t, exitMisused, "--for 0: want 1 to 400 days", "expect", "--for", "0")
	refused(t, exitMisused, "--above NaN", "expect", "--for", "2", "--above", "NaN")
	refused(t, exitMisused, "--pa 1e+300: want 0 to 360", "edge", "--at", "2026-03-16T15:23:10Z", "--pa", "1e300")
}

func TestAJoinOfAnotherKindIsTold(t *testing.T) {
	aDay(t)
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", "280,250")
	done(t, "mark", "add", "plage", "--frame", "F1", "--point", "320,250")
	done(t, "track", "follow")
	got := limbwatch(t, "", "track", "join", "2026-spot-1", "M2")
	assert.Equal(t, exitDone, got.code)
	assert.Contains(t, got.stderr, "M2 is a plage, and 2026-spot-1 is of kind sunspot")
	assert.Empty(t, limbwatch(t, "", "track", "join", "2026-spot-1", "M1").stderr)
	refused(t, exitFailed, "looks like the number of something else", "track", "rename", "2026-spot-1", "M7")
	refused(t, exitFailed, "these are all the marks", "track", "split", "2026-spot-1", "M1", "M2")
	done(t, "track", "rename", "2026-spot-1", "the round one")
	assert.Contains(t, done(t, "undo"), "track edit 2026-spot-1, now called the round one")
}

func TestANameThatAPassageHadLeadsToItStill(t *testing.T) {
	aDay(t)
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", "280,250")
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", "380,250")
	done(t, "track", "join", "--new", "M1")
	done(t, "track", "rename", "2026-spot-1", "the round one")
	assert.Contains(t, done(t, "track", "show", "2026-spot-1"), "the round one")
	done(t, "track", "join", "--new", "M2")
	assert.Contains(t, done(t, "track", "list"), "2026-spot-2", "no name is given twice")
	refused(t, exitFailed, `passage name "the round one" already taken by P1`, "track", "rename", "2026-spot-2", "the round one")

	// Names may be handed on: the one that has it now goes before those that had it.
	done(t, "track", "rename", "2026-spot-2", "2026-spot-1")
	assert.Contains(t, done(t, "track", "show", "2026-spot-1"), "M2")
	done(t, "track", "rename", "2026-spot-2", "the small one")
	refused(t, exitFailed, `were both called "2026-spot-1" once`, "track", "show", "2026-spot-1")
	done(t, "undo")
	done(t, "undo")
	assert.Contains(t, done(t, "track", "show", "2026-spot-2"), "M2")
}
