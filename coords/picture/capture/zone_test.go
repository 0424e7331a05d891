package capture

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseZone(t *testing.T) {
	noon := time.Date(2024, 7, 1, 12, 0, 0, 0, time.UTC)
	for text, offset := range map[string]int{
		"UTC": 0, "utc": 0, "Z": 0, "GMT": 0, "+02:00": 7200, "-0330": -12600, "+2": 7200, "UTC+2": 7200, "GMT-05:00": -18000, "−03:00": -10800,
		"+14:00": 50400, "-12:00": -43200, "+05:45": 20700, "Europe/Prague": 7200, "America/New_York": -14400, "Asia/Kolkata": 19800, "Etc/GMT+3": -10800,
	} {
		zone, err := ParseZone(text)
		if assert.NoError(t, err, text) {
			_, got := noon.In(zone).Zone()
			assert.Equal(t, offset, got, text)
		}
	}
	for _, text := range []string{"", "Local", "CET", "EST", "+15:00", "-13:00", "+02:75", "Europe/Atlantis", "../../etc/passwd", "2", "summer"} {
		_, err := ParseZone(text)
		assert.Error(t, err, "%q", text)
	}
}

// Clocks of the European Union went back on 2024-10-27 at 01:00 UTC and forward on
// 2024-03-31 at 01:00 UTC (Directive 2000/84/EC); those of New York went back on
// 2024-11-03 at 06:00 UTC (Energy Policy Act of 2005); Lord Howe Island shifts by
// half an hour (IANA time zone database); Samoa left out 2011-12-30.
func TestHoursThatOccurTwiceOrNever(t *testing.T) {
	for _, c := range []struct {
		name, zone string
		offsets    [2]string // empty for never
	}{
		{"20241027_023000", "Europe/Prague", [2]string{"+02:00", "+01:00"}},
		{"20241103_013000", "America/New_York", [2]string{"-04:00", "-05:00"}},
		{"20240407_014500", "Australia/Lord_Howe", [2]string{"+11:00", "+10:30"}},
		{"20240331_023000", "Europe/Prague", [2]string{}},
		{"20111230_120000", "Pacific/Apia", [2]string{}},
	} {
		zone, err := ParseZone(c.zone)
		require.NoError(t, err)
		_, err = FromName(c.name + ".tif").Resolve(Options{Zone: zone})
		if c.offsets[0] == "" {
			var never *NeverError
			assert.ErrorAs(t, err, &never, c.name)
			continue
		}
		var twice *TwiceError
		if assert.ErrorAs(t, err, &twice, c.name) {
			assert.Equal(t, c.offsets, twice.Offsets, c.name)
			assert.ErrorContains(t, err, c.offsets[0]+" or "+c.offsets[1])
		}
	}
}

func TestHoursBesideTheShiftAreTaken(t *testing.T) {
	prague, err := ParseZone("Europe/Prague")
	require.NoError(t, err)
	for name, want := range map[string]string{
		"20241027_015959": "2024-10-26T23:59:59Z",
		"20241027_030000": "2024-10-27T02:00:00Z",
		"20240331_015959": "2024-03-31T00:59:59Z",
		"20240331_030000": "2024-03-31T01:00:00Z",
	} {
		c, err := FromName(name + ".tif").Resolve(Options{Zone: prague})
		if assert.NoError(t, err, name) {
			assert.Equal(t, utc(t, want), c.UTC, name)
		}
	}
	// The offset settles the hour that occurs twice.
	for offset, want := range map[string]string{"+02:00": "2024-10-27T00:30:00Z", "+01:00": "2024-10-27T01:30:00Z"} {
		zone, err := ParseZone(offset)
		require.NoError(t, err)
		c, err := FromName("20241027_023000.tif").Resolve(Options{Zone: zone})
		require.NoError(t, err)
		assert.Equal(t, utc(t, want), c.UTC)
	}
}
