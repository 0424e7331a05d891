package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSunPrintsTheWorkedExample(t *testing.T) {
	// Meeus, Astronomical Algorithms, 2nd ed., example 29.a: 1992 Oct 13, 0h UT.
	// Its elements are Carrington's classical ones: they differ from the IAU's by
	// up to 0.02° in the 1990s.
	got := limbwatch(t, "", "sun", "--at", "1992-10-13T00:00:00Z", "--json")
	require.Equal(t, 0, got.code, got.stderr)
	var row map[string]any
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &row))
	for name, want := range map[string]float64{"p_deg": 26.27, "b0_deg": 5.99, "l0_deg": 238.63} {
		assert.InDeltaf(t, want, row[name], 0.02, "%s, printed %v, Meeus example 29.a", name, want)
	}
	assert.Equal(t, "1992-10-13T00:00:00Z", row["utc"])
	assert.NotContains(t, row, "altitude_deg", "no site was named")
}

func TestSunBatchAgreesWithSingle(t *testing.T) {
	instants := []string{"2013-04-01T00:00:00Z", "1950-06-30T12:34:56.5Z", "2026-03-14T15:23:10Z"}
	site := []string{"--site-lat", "51.5", "--site-lon", "-1.25"}
	batch := limbwatch(t, strings.Join(instants, "\n")+"\n", append([]string{"sun", "--times", "-"}, site...)...)
	require.Equal(t, 0, batch.code, batch.stderr)
	rows, err := csv.NewReader(strings.NewReader(batch.stdout)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 4)
	assert.Equal(t, "utc,p_deg,b0_deg,l0_deg,rotation,semidiameter_arcsec,distance_au,ra_deg,dec_deg,altitude_deg,azimuth_deg,parallactic_deg",
		strings.Join(rows[0], ","))
	for i, instant := range instants {
		single := limbwatch(t, "", append([]string{"sun", "--json", "--at", instant}, site...)...)
		require.Equal(t, 0, single.code, single.stderr)
		var row map[string]any
		decoder := json.NewDecoder(strings.NewReader(single.stdout))
		decoder.UseNumber()
		require.NoError(t, decoder.Decode(&row))
		for c, name := range rows[0] {
			if name == "utc" {
				assert.Equal(t, row[name], rows[i+1][c])
				continue
			}
			want, err := row[name].(json.Number).Float64()
			require.NoError(t, err)
			var got float64
			_, err = fmt.Sscan(rows[i+1][c], &got)
			require.NoError(t, err)
			assert.Equalf(t, want, got, "%s at %s", name, instant)
		}
	}
}

func TestSunRefusesWhatItCannotRead(t *testing.T) {
	for _, c := range []struct {
		name, stdin string
		args        []string
		code        int
		says        string
	}{
		{"no zone", "", []string{"sun", "--at", "2026-03-14T15:23:10"}, 2, "has no zone"},
		{"not a time", "", []string{"sun", "--at", "yesterday"}, 2, `time "yesterday": want it as`},
		{"latitude alone", "", []string{"sun", "--site-lat", "50"}, 2, "site-lon"},
		{"latitude beyond the pole", "", []string{"sun", "--site-lat", "95", "--site-lon", "0"}, 2, "-90 and 90"},
		{"list and one instant", "", []string{"sun", "--times", "-", "--at", "2026-03-14T15:23:10Z"}, 2, "--times writes CSV"},
		{"bad line", "2026-03-14\nsoon\n", []string{"sun", "--times", "-"}, 1, `line 2: time "soon"`},
		{"no such file", "", []string{"sun", "--times", "nowhere.txt"}, 1, "nowhere.txt"},
		{"year out of reach", "", []string{"sun", "--at", "1066-10-14T12:00:00Z"}, 1, "1066"},
		{"unknown command", "", []string{"moon"}, 2, `"moon" is no command`},
		{"unknown flag", "", []string{"sun", "--when", "now"}, 2, "unknown flag"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := limbwatch(t, c.stdin, c.args...)
			assert.Equal(t, c.code, got.code, got.stderr)
			assert.Contains(t, got.stderr, c.says)
			assert.True(t, strings.HasPrefix(got.stderr, "limbwatch: "), got.stderr)
		})
	}
}

func TestALineThatIsNoInstantIsToldInPlainWords(t *testing.T) {
	got := limbwatch(t, "2026-03-14T15:23:10Z\n"+strings.Repeat("x", 1<<20), "sun", "--times", "-")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.stderr, "line 2 has more than 65536 bytes")
	assert.NotContains(t, got.stderr, "token")
}
