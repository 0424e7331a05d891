package capture

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/picture/exif"
)

// Zones that nobody can tell, and what is no zone: behind a time each would be dropped
// in silence, and the time be another's.
var unread = []string{"local?", "CEST", "PST", "MESZ", "garbage", "+25:00", "-13:00", "+02:75", "+2 h", "UTC+25", "UTC+2 DST", "Zulu", "ZZ", "Europe/Atlantis", "+", "-", "2", "5'", "UTC UTC", "(UTC", "±02:00", "x", "/ 2", "EST5EDT"}

// The ways into the program on which a time is followed by something, zone known or not.
var sources = map[string]func(tail string) Found{
	"FITS DATE-OBS": func(tail string) Found { return FromFITS(cards("DATE-OBS= '2024-05-12T09:15:03" + tail + "'")) },
	"FITS TIME-OBS": func(tail string) Found {
		return FromFITS(cards("DATE-OBS= '2024-05-12'", "TIME-OBS= '09:15:03"+tail+"'"))
	},
	"FITS DATE-BEG":   func(tail string) Found { return FromFITS(cards("DATE-BEG= '2024-05-12T09:15:03" + tail + "'")) },
	"EXIF":            func(tail string) Found { return FromEXIF(exif.Tags{Original: "2024:05:12 09:15:03" + tail}) },
	"text":            func(tail string) Found { return FromText([]byte("Start=2024-05-12 09:15:03" + tail + "\n")) },
	"text, day apart": func(tail string) Found { return FromText([]byte("Date=2024-05-12\nstart: 09:15:03" + tail + "\n")) },
}

func TestATailThatIsNotReadIsRefused(t *testing.T) {
	site := time.FixedZone("+05:45", 20700)
	for name, read := range sources {
		for _, tail := range unread {
			for _, gap := range []string{" ", ""} {
				if gap == "" && (isDigit(tail[0]) || tail[0] == 'Z') {
					continue // a longer number; ZZ is told below
				}
				found := read(gap + tail)
				_, err := found.Resolve(Options{Zone: site})
				var none *NoTimeError
				if assert.ErrorAsf(t, err, &none, "%s with %q", name, gap+tail) {
					assert.Containsf(t, err.Error(), strings.Fields(tail)[0], "%s with %q: the error names it", name, gap+tail)
				}
			}
		}
		for tail, east := range map[string]time.Duration{"Z": 0, " UTC": 0, " UT": 0, "+02:00": 2 * time.Hour, " -0330": -210 * time.Minute,
			" UTC+2": 2 * time.Hour, " (UTC)": 0, " [+01:00]": time.Hour, " GMT -5": -5 * time.Hour, " Europe/Prague": 2 * time.Hour} {
			c, err := read(tail).Resolve(Options{Zone: site})
			if assert.NoErrorf(t, err, "%s with %q", name, tail) {
				assert.Equalf(t, utc(t, "2024-05-12T09:15:03Z").Add(-east), c.UTC, "%s with %q", name, tail)
			}
		}
		// The word local is the site's zone where a zone may be missing, and contradicts the
		// standard where it may not.
		c, err := read(" local").Resolve(Options{Zone: site, NameIsUTC: true})
		if strings.HasPrefix(name, "FITS") {
			assert.ErrorContains(t, err, "local time", name)
		} else if assert.NoError(t, err, name) {
			assert.Equal(t, utc(t, "2024-05-12T03:30:03Z"), c.UTC, name)
		}
	}
}

// Whatever stands behind a time of a value, the time is not taken as though it were not
// there: it is a zone that is read, or a refusal.
func FuzzTail(f *testing.F) {
	for _, tail := range append(unread, " UTC", "Z", "+02:00", " \t", " (local)") {
		f.Add(tail)
	}
	f.Fuzz(func(t *testing.T, tail string) {
		if strings.ContainsAny(tail, "'\"\x00\n\r=") || len(tail) > 40 || tail == "" || strings.ContainsAny(tail[:1], "0123456789.,:") {
			return // more of the time itself
		}
		bare := strings.Trim(tail, " \t\"")
		read, err := readTail(tail)
		if err == nil && read.zone == "" && !read.local {
			require.Empty(t, strings.TrimFunc(bare, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune("()[]_-", r) }), "%q was dropped", tail)
		}
		for name, from := range sources {
			c, resolved := from(tail).Resolve(Options{Zone: time.FixedZone("+05:45", 20700)})
			if err != nil && resolved == nil && halfDay.FindString(tail) == "" {
				t.Fatalf("%s: %q was dropped: %s", name, tail, c.UTC)
			}
		}
	})
}

func TestZonesInFileNames(t *testing.T) {
	site := time.FixedZone("+05:45", 20700)
	for name, want := range map[string]string{
		"20240512_091503-05:00.tif":     "2024-05-12T14:15:03Z",
		"20240512_091503UTC-5.tif":      "2024-05-12T14:15:03Z",
		"20240512_091503_UTC-0500.tif":  "2024-05-12T14:15:03Z",
		"20240512_091503+2.tif":         "2024-05-12T07:15:03Z",
		"20240512_091503 (UTC).tif":     "2024-05-12T09:15:03Z",
		"20240512_091503 local.tif":     "2024-05-12T03:30:03Z",
		"20240512_091503_LT_3.tif":      "2024-05-12T03:30:03Z",
		"20240512_091503_met.tif":       "2024-05-12T03:30:03Z", // in small letters a word
		"20240512_091503-UTC-0001.tif":  "2024-05-12T09:15:03Z", // a counter
		"20240512_091503_halpha.tif":    "2024-05-12T03:30:03Z",
		"20240512_091503_CESTA.tif":     "2024-05-12T03:30:03Z",
		"20240512_091503+dark.tif":      "2024-05-12T03:30:03Z",
		"20240512_091503-05.tif":        "2024-05-12T03:30:03Z", // noted
		"20240512_091503-0017.tif":      "2024-05-12T03:30:03Z",
		"20240512_091503 Zoom 2.tif":    "2024-05-12T03:30:03Z",
		"20240512_091503_stack-500.tif": "2024-05-12T03:30:03Z",
	} {
		c, err := FromName(name).Resolve(Options{Zone: site})
		if assert.NoError(t, err, name) {
			assert.Equal(t, utc(t, want), c.UTC, name)
		}
		assert.Equal(t, name == "20240512_091503-05.tif", len(c.Warnings) > 0, "%s: %v", name, c.Warnings)
	}
	for _, name := range []string{
		"20240512_091503 PST.tif", "20240512_091503_MESZ.tif", "20240512_091503 MESZ stack.tif", "20240512_091503-0500.tif", "20240512_091503cest.png",
		"2024-05-12T091503-05.tif", "20240512_091503_UTC-05.tif", "20240512_091503+2500.tif", "20240512_091503+25:00.tif", "20240512_091503UTC+25.tif",
		"20240512_091503 (EST).tif", "20240512_091503.MST_1.tif", "20240512_091503UTC1.tif", "20240512_091503-0330.tif", "20240512_0915 PDT.tif",
	} {
		_, err := FromName(name).Resolve(Options{Zone: site, NameIsUTC: true})
		var none *NoTimeError
		assert.ErrorAs(t, err, &none, name)
	}
	_, err := FromName("20240512_091503_local.tif").Resolve(Options{NameIsUTC: true})
	var needed *ZoneNeededError
	assert.ErrorAs(t, err, &needed, "the name itself says that it is not UTC")
}

func TestZonesInKeysOfATextFile(t *testing.T) {
	for text, want := range map[string]string{
		"Start (UTC+2)=2024-05-12 11:15:03":            "2024-05-12T09:15:03Z",
		"Start (UTC +02:00) = 2024-05-12 11:15:03":     "2024-05-12T09:15:03Z",
		"start [-05:00]: 2024-05-12 04:15:03":          "2024-05-12T09:15:03Z",
		"Start (Europe/Prague)=2024-05-12 11:15:03":    "2024-05-12T09:15:03Z",
		"Start(UT)=2024-05-12 09:15:03 UTC":            "2024-05-12T09:15:03Z",
		"Date = 2024-05-12 (Sunday)\nUTC = 09:15:03":   "2024-05-12T09:15:03Z",
		"Date = 2024-05-12, Sun\nUTC = 9:15:03 AM":     "2024-05-12T09:15:03Z",
		"Local start (UTC+2)=2024-05-12 11:15:03":      "2024-05-12T09:15:03Z",
		"Time zone = UTC+2\nStart=2024-05-12 11:15:03": "2024-05-12T09:15:03Z",
	} {
		c, err := FromText([]byte(text)).Resolve(Options{})
		if assert.NoError(t, err, text) {
			assert.Equal(t, utc(t, want), c.UTC, text)
		}
	}
	for _, text := range []string{
		"Start (PST)=2024-05-12 09:15:03", "Start_CEST: 2024-05-12 09:15:03", "StartPST=2024-05-12 09:15:03", "Start (EST)=2024-05-12 09:15:03",
		"Start (UTC+25)=2024-05-12 09:15:03", "Start (UTC)=2024-05-12 09:15:03 +02:00",
		"Date=2024-05-12 PST\nStart=09:15:03", "Start=2024-05-12 later", "Time zone = UTC+1 (DST +1)\nStart=2024-05-12 PST 09:15",
		"Time zone=UTC+1\nUTC offset=+02:00\nStart=2024-05-12 09:15:03",
	} {
		_, err := FromText([]byte(text)).Resolve(Options{Zone: time.UTC})
		var none *NoTimeError
		assert.ErrorAs(t, err, &none, text)
	}
}

func TestLengthsInATextFileAreReadWhole(t *testing.T) {
	for value, want := range map[string]float64{"60": 60, "60.0s": 60, "90000 ms": 90, "1,5 min": 90, "1 min 30 s": 90, "1m30s": 90, "00:01:30": 90, "1 h": 3600, "0.5 hours": 1800} {
		got, ok := seconds(value)
		assert.True(t, ok, value)
		assert.InDelta(t, want, got, 1e-9, value)
	}
	for _, value := range []string{"1 h 30 min", "5 fortnights", "60 s limited", "90,000.5", "1 s 30 s", "-5", "00:01:30 or so", "0", "one minute", "2 days"} {
		_, ok := seconds(value)
		assert.False(t, ok, value)
	}
	c, err := FromText([]byte("UTC start=2024-05-12 09:15:03\nduration=5 fortnights")).Resolve(Options{})
	require.NoError(t, err)
	require.Len(t, c.Warnings, 1)
	assert.Contains(t, c.Warnings[0], "fortnights")
	assert.Zero(t, c.ExposureS)
}

// An offset that EXIF brings is the clock's; one that is not understood is refused as a
// zone is, and blanks mean that it is not known (EXIF 2.32, section 4.6.5).
func TestOffsetsInEXIF(t *testing.T) {
	read := func(offset, behind, subSec string) (Capture, error) {
		return FromEXIF(exif.Tags{Original: "2024:05:12 11:15:03" + behind, Offset: offset, SubSec: subSec}).Resolve(Options{Zone: time.FixedZone("-03:00", -10800)})
	}
	for _, c := range []struct{ offset, behind, subSec, want string }{
		{"+02:00", "", "", "2024-05-12T09:15:03Z"}, {"   :  ", "", "", "2024-05-12T14:15:03Z"}, {"", "", "25", "2024-05-12T14:15:03.25Z"},
		{"+02:00", " UTC+2", "", "2024-05-12T09:15:03Z"}, {"+02:00", "", "1234567890123", "2024-05-12T09:15:03.123456789Z"},
	} {
		got, err := read(c.offset, c.behind, c.subSec)
		if assert.NoError(t, err, c) {
			assert.Equal(t, utc(t, c.want), got.UTC)
		}
	}
	for _, c := range [][3]string{{"garbage"}, {"CEST"}, {"+25:00"}, {"+02:00", "Z"}, {"", "", "4x"}, {"+2:00h"}} {
		_, err := read(c[0], c[1], c[2])
		var none *NoTimeError
		assert.ErrorAs(t, err, &none, fmt.Sprint(c))
	}
}

// 23:59:60 was on 2016-12-31 and not on 2018-12-31 (IERS Bulletins C 52 and 56), and is
// so from every source; in a clock's zone it is at another hour.
func TestLeapSecondsFromAllSources(t *testing.T) {
	prague, err := ParseZone("Europe/Prague")
	require.NoError(t, err)
	for name, read := range map[string]func(day, clock string) Found{
		"FITS": func(day, clock string) Found { return FromFITS(cards("DATE-OBS= '" + day + "T" + clock + "'")) },
		"EXIF": func(day, clock string) Found {
			return FromEXIF(exif.Tags{Original: strings.ReplaceAll(day, "-", ":") + " " + clock, Offset: "+00:00"})
		},
		"text": func(day, clock string) Found { return FromText([]byte("UTC: " + day + " " + clock)) },
		"name": func(day, clock string) Found {
			return FromName(day + "_" + strings.ReplaceAll(clock, ":", "") + "Z.png")
		},
		"began": func(day, clock string) Found {
			return FromText([]byte("UTC start: " + day + " " + clock + "\nUTC end: " + day + " 23:59:61"))
		},
	} {
		c, err := read("2016-12-31", "23:59:60").Resolve(Options{})
		if assert.NoError(t, err, name) {
			assert.Equal(t, utc(t, "2017-01-01T00:00:00Z"), c.UTC, name)
		}
		for _, day := range []string{"2018-12-31", "2016-12-30", "2016-11-30", "1970-12-31"} {
			_, err = read(day, "23:59:60").Resolve(Options{})
			assert.ErrorContains(t, err, "leap second", "%s on %s", name, day)
		}
		_, err = read("2016-12-31", "12:00:60").Resolve(Options{})
		assert.Error(t, err, name)
	}
	c, err := FromName("20170101_005960.png").Resolve(Options{Zone: prague})
	require.NoError(t, err)
	assert.Equal(t, utc(t, "2017-01-01T00:00:00Z"), c.UTC)
	_, err = FromName("20161231_235960.png").Resolve(Options{Zone: prague})
	var none *NoLeapSecondError
	assert.ErrorAs(t, err, &none, "in Prague it came an hour later")
	_, err = FromText([]byte("start utc: 2018-12-31 23:59:60\nend utc: 2019-01-01 00:00:40")).Resolve(Options{})
	assert.ErrorAs(t, err, &none, "a middle is made of both")
	// TAI has none.
	_, err = FromFITS(cards("TIMESYS = 'TAI'", "DATE-OBS= '2016-12-31T23:59:60'")).Resolve(Options{})
	assert.ErrorContains(t, err, "TAI has no leap seconds")
}
