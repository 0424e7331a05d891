package follow

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/testdata"
)

// The table in density.go is the count of the lists of Big Bear and Kanzelhöhe in
// six Augusts, half a cycle of activity.
func TestDensityOfListedFilaments(t *testing.T) {
	lists, err := filepath.Glob(filepath.Join(testdata.Shared(t, "data", "bbso-filaments"), "AUTOMATIC_*.tab"))
	require.NoError(t, err)
	require.Len(t, lists, 6)
	picture := regexp.MustCompile(`^\s*Date :`)
	row := regexp.MustCompile(`^\s*\d+\s+[\d.]+\s+[\d.]+\s+-?\d+\s+-?\d+\s+(-?[\d.]+)\s+(-?[\d.]+)\s`)
	var count FilamentDensity
	pictures, all := 0.0, 0.0
	for _, list := range lists {
		f, err := os.Open(list)
		require.NoError(t, err)
		lines := bufio.NewScanner(f)
		for lines.Scan() {
			if picture.MatchString(lines.Text()) {
				pictures++
			}
			m := row.FindStringSubmatch(lines.Text())
			if m == nil {
				continue
			}
			lat, err := strconv.ParseFloat(m[1], 64)
			require.NoError(t, err)
			cmd, err := strconv.ParseFloat(m[2], 64)
			require.NoError(t, err)
			if math.Abs(cmd) <= densityReachDeg {
				count[densityBand(degrees(lat))]++
				all++
			}
		}
		require.NoError(t, lines.Err())
		require.NoError(t, f.Close())
	}
	t.Logf("%.0f filaments within %d° of the meridian in %.0f pictures", all, densityReachDeg, pictures)
	for i := range 7 { // beyond 70° stands a floor
		per := count[i] / pictures / (2 * 10 * 2 * densityReachDeg)
		assert.InDelta(t, per, listedFilaments[i], 0.006e-3, "per square degree, %d° to %d° from the equator: counted %.5f", i*10, i*10+10, per)
	}
}

// Other years' lists of another observatory, Meudon, fall off to the poles alike,
// though its programme lists three times as many specks.
func TestDensityFallsAsMeudonsDoes(t *testing.T) {
	path := testdata.Shared(t, "data", "meudon-filaments-2002", "meudon-2002-04-12_05-03.fil")
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	row := regexp.MustCompile(`^(\d+\.\d+)/\d+/[\d.]+/(-?[\d.]+)/`)
	var count FilamentDensity
	sum, listed := 0.0, 0.0
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		m := row.FindStringSubmatch(lines.Text())
		if m == nil || m[1] == "2452395.205498" { // of that picture the scale was lost (README)
			continue
		}
		lat, err := strconv.ParseFloat(m[2], 64)
		require.NoError(t, err)
		count[densityBand(degrees(lat))]++
		sum++
	}
	for _, d := range listedFilaments {
		listed += d
	}
	require.Greater(t, sum, 1000.0)
	low := (count[0] + count[1] + count[2]) / sum
	want := (listedFilaments[0] + listedFilaments[1] + listedFilaments[2]) / listed
	assert.InDelta(t, low, want, 0.1, "part within 30° of the equator: Meudon %.2f, table %.2f", low, want)
}

func TestDensityTurnsFromListToCatalogue(t *testing.T) {
	assert.Equal(t, listedFilaments, DensityOf(nil), "an empty catalogue has the listed density")
	s := invent(3, 1)
	d := DensityOf(s.seen)
	assert.Greater(t, d.at(15*coords.Degree), 0.3*listedFilaments.at(15*coords.Degree))
	assert.Less(t, d.at(15*coords.Degree), 2*listedFilaments.at(15*coords.Degree))
	assert.Equal(t, d.at(-15*coords.Degree), d.at(15*coords.Degree), "both hemispheres count together")
}
