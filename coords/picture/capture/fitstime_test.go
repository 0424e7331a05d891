package capture

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/picture/fits"
	"limbwatch/testdata"
)

// cards makes a header of lines.
func cards(lines ...string) fits.Header {
	var b strings.Builder
	for _, l := range lines {
		fmt.Fprintf(&b, "%-80.80s", l)
	}
	return fits.ParseCards([]byte(b.String()))
}

func utc(t *testing.T, text string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339Nano, text)
	require.NoError(t, err)
	return v.UTC()
}

// The rules are those of the FITS standard 4.0, section 9, and Rots et al. 2015.
// TAI - UTC was 37 s in 2024 and 34 s in 2010 (IERS Bulletin C), TT = TAI +
// 32.184 s, GPS = TAI - 19 s.
func TestFITSTimes(t *testing.T) {
	for _, c := range []struct {
		name   string
		header fits.Header
		utc    string
		moment Moment
		length float64
		mid    string
	}{
		{"DATE-OBS is the start", cards("DATE-OBS= '2024-05-12T09:15:03.5'", "EXPTIME = 2.0"), "2024-05-12T09:15:03.5Z", Start, 2, "2024-05-12T09:15:04.5Z"},
		{"its comment says otherwise", cards("DATE-OBS= '2024-05-12T09:15:03' / middle of the exposure"), "2024-05-12T09:15:03Z", Middle, 0, "2024-05-12T09:15:03Z"},
		{"DATE-AVG comes first", cards("DATE-OBS= '2024-05-12T09:15:00'", "DATE-AVG= '2024-05-12T09:15:30'", "XPOSURE = 60"), "2024-05-12T09:15:30Z", Middle, 60, "2024-05-12T09:15:30Z"},
		{"DATE-BEG and DATE-END", cards("DATE-BEG= '2024-05-12T23:59:30'", "DATE-END= '2024-05-13T00:00:30'"), "2024-05-13T00:00:00Z", Middle, 60, "2024-05-13T00:00:00Z"},
		{"DATE-END alone", cards("DATE-END= '2024-05-12T09:16:00'", "XPOSURE = 30"), "2024-05-12T09:16:00Z", End, 30, "2024-05-12T09:15:45Z"},
		{"DATE-END equal to DATE_OBS says nothing", cards("DATE_OBS= '2005-05-01T07:46:55.000'", "DATE_END= '2005-05-01T07:46:55.000'"), "2005-05-01T07:46:55Z", Start, 0, "2005-05-01T07:46:55Z"},
		{"day and TIME-OBS", cards("DATE-OBS= '2002-04-30'", "TIME-OBS= '16:55:55'"), "2002-04-30T16:55:55Z", Start, 0, "2002-04-30T16:55:55Z"},
		{"day and UT", cards("DATE-OBS= '2002/04/30'", "UT      = '16:55:55.5'"), "2002-04-30T16:55:55.5Z", Start, 0, "2002-04-30T16:55:55.5Z"},
		{"the form before 2000", cards("DATE-OBS= '30/04/99'", "TIME-OBS= '16:55:55'"), "1999-04-30T16:55:55Z", Start, 0, "1999-04-30T16:55:55Z"},
		{"XPOSURE before EXPTIME", cards("DATE-OBS= '2024-05-12T09:15:00'", "EXPTIME = 99", "XPOSURE = 10"), "2024-05-12T09:15:00Z", Start, 10, "2024-05-12T09:15:05Z"},
		{"MJD-OBS", cards("MJD-OBS = 60442.5"), "2024-05-12T12:00:00Z", Start, 0, "2024-05-12T12:00:00Z"}, // MJD 60442 is 2024 May 12
		{"TAI", cards("TIMESYS = 'TAI'", "DATE-OBS= '2024-05-12T09:15:37'"), "2024-05-12T09:15:00Z", Start, 0, "2024-05-12T09:15:00Z"},
		{"TAI in 2010", cards("TIMESYS = 'TAI'", "DATE-AVG= '2010-10-15T23:01:00'"), "2010-10-15T23:00:26Z", Middle, 0, "2010-10-15T23:00:26Z"},
		{"TT", cards("TIMESYS = 'TT'", "DATE-OBS= '2024-05-12T09:16:09.184'"), "2024-05-12T09:15:00Z", Start, 0, "2024-05-12T09:15:00Z"},
		{"GPS", cards("TIMESYS = 'GPS'", "DATE-OBS= '2024-05-12T09:15:18'"), "2024-05-12T09:15:00Z", Start, 0, "2024-05-12T09:15:00Z"},
		{"a leap second", cards("DATE-OBS= '2016-12-31T23:59:60'"), "2017-01-01T00:00:00Z", Start, 0, "2017-01-01T00:00:00Z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := FromFITS(c.header).Resolve(Options{})
			require.NoError(t, err)
			assert.Equal(t, utc(t, c.utc), got.UTC)
			assert.Equal(t, c.moment, got.Moment)
			assert.InDelta(t, c.length, got.ExposureS, 1e-6)
			assert.Equal(t, utc(t, c.mid), got.Mid())
			assert.Equal(t, "UTC", got.Zone)
			assert.Equal(t, FITSHeader, got.Source)
			assert.Positive(t, got.SigmaS)
		})
	}
}

func TestFITSTimesThatAreRefused(t *testing.T) {
	for _, c := range []struct {
		name   string
		header fits.Header
		says   string
	}{
		{"none", cards("OBJECT  = 'SUN'"), "no capture time"},
		{"a day alone", cards("DATE-OBS= '2024-05-12'"), "without a time"},
		{"a day that isn't", cards("DATE-OBS= '2023-02-29T10:00:00'"), "no such day"},
		{"words", cards("DATE-OBS= 'yesterday at noon'"), "no date"},
		{"an unknown scale", cards("TIMESYS = 'LOCAL'", "DATE-OBS= '2024-05-12T09:15:00'"), "TIMESYS"},
		{"25 hours", cards("DATE-OBS= '2024-05-12T25:15:00'"), "no time of day"},
	} {
		_, err := FromFITS(c.header).Resolve(Options{})
		var none *NoTimeError
		if assert.ErrorAs(t, err, &none, c.name) {
			assert.ErrorContains(t, err, c.says, c.name)
		}
	}
}

// Headers of real observatories; times as printed in them.
func TestFITSTimesOfObservatories(t *testing.T) {
	folder := testdata.Shared(t, "data", "fits-headers")
	for name, want := range map[string]string{
		"gong_halpha.header":                        "2024-02-16T00:00:02Z",
		"medn_halph_fl_20050501_074655.header":      "2005-05-01T07:46:55Z",
		"mq130812.084253.header":                    "2013-08-12T08:42:53Z",
		"mdi.fd_Ic.20101015_230100_TAI.data.header": "2010-10-15T23:00:11Z",
		"SOHO_EIT_171_20070601T120013_L1.header":    "2007-06-01T11:59:05.18Z", // DATE-AVG
	} {
		raw, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		if strings.Contains(string(raw), "\n") {
			raw = []byte(cardText(string(raw)))
		}
		got, err := FromFITS(fits.ParseCards(raw)).Resolve(Options{})
		require.NoError(t, err, name)
		assert.Equal(t, utc(t, want), got.UTC, name)
	}
}

// cardText pads lines to cards.
func cardText(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		fmt.Fprintf(&b, "%-80.80s", strings.TrimRight(line, "\r\n"))
	}
	return b.String()
}
