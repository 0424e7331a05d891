package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/testdata"
)

// Eight days of white light (SDO/HMI quick-look continuum, courtesy of NASA/SDO and the
// HMI science team), worked up, reported, handed on and read back. The pixels of the
// large southern spot and its places are those of the data's README, printed to 0.1°
// and worked with older elements; solar north is up, so it says, and the limb in white
// light is the photosphere. Its pixels count from the corner of the first pixel, for its
// disc lies half a pixel right of and below the one between the points at which rows and
// columns cross half the disc's level: half a pixel is taken off here.
func TestAWeekOfRealPicturesWorkedUpAndHandedOn(t *testing.T) {
	folder := testdata.Shared(t, "data", "hmi-continuum-daily")
	path := filepath.Join(t.TempDir(), "catalogue.db")
	inCatalogue(t, path, []string{"observer", "add", "R. Vane"},
		[]string{"instrument", "add", "Orbiter", "--setup", "white light"})
	spot := map[int]string{1: "275.6,338.3", 2: "325.2,338.6", 3: "371.1,338.2"}
	places := [][2]float64{{-17.7, 350.7}, {-17.9, 350.5}, {-18.0, 350.3}} // latitude, longitude
	for day := 1; day <= 8; day++ {
		frame := fmt.Sprintf("F%d", day)
		inCatalogue(t, path,
			[]string{"frame", "add", filepath.Join(folder, fmt.Sprintf("2024070%d_0000_hmiigr_512.jpg", day)),
				"--at", fmt.Sprintf("2024-07-0%dT00:00:00Z", day), "--limb", "photosphere"},
			[]string{"north", "set", frame, "--solar-north", "0", "--sigma-north-deg", "0.1"})
		if at, ok := spot[day]; ok {
			inCatalogue(t, path, []string{"mark", "add", "sunspot", "--frame", frame, "--point", at, "--group", "--spots", "1", "--label", "large"})
		}
	}
	out := t.TempDir()
	inCatalogue(t, path, []string{"log", "report", "--from", "2024-07-01", "--to", "2024-07-08", "--out", out})
	rows := readCSV(t, filepath.Join(out, "sun-2024-07-01-to-2024-07-08.csv"))
	require.Len(t, rows, 4)
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	for i, row := range rows[1:] {
		number := func(name string) float64 {
			v, err := strconv.ParseFloat(row[column[name]], 64)
			require.NoError(t, err, name)
			return v
		}
		assert.InDelta(t, places[i][0], number("lat_deg"), 0.15, row[column["utc"]])
		assert.InDelta(t, places[i][1], number("lon_deg"), 0.15, row[column["utc"]])
		assert.Less(t, number("sigma_lat_deg"), 0.5)
	}
	page, err := os.ReadFile(filepath.Join(out, "sun-2024-07-01-to-2024-07-08.html"))
	require.NoError(t, err)
	assert.Equal(t, 8, strings.Count(string(page), "<figcaption>")-strings.Count(string(page), "<figcaption>Rotation"), "a disc a day")
	assert.NotContains(t, string(page), "not the white-light number", "it is white light")

	again := filepath.Join(t.TempDir(), "again.db")
	inCatalogue(t, again, []string{"import", "record", filepath.Join(out, "sun-2024-07-01-to-2024-07-08.jsonl")})
	second := filepath.Join(t.TempDir(), "second.jsonl")
	inCatalogue(t, again, []string{"export", "record", second})
	assert.Equal(t, withoutHead(t, filepath.Join(out, "sun-2024-07-01-to-2024-07-08.jsonl")), withoutHead(t, second))
	inCatalogue(t, again, []string{"log", "report", "--rotation", "2286", "--out", t.TempDir()})
}
