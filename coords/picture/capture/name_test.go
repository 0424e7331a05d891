package capture

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTimesInFileNames(t *testing.T) {
	for name, want := range map[string]struct{ clock, zone string }{
		"20020430_165555.png":                           {"2002-04-30T16:55:55Z", ""},
		"bbso_halpha_20020430_165555_cleaned.fts":       {"2002-04-30T16:55:55Z", ""},
		"gong_20140709T195814_Mh.png":                   {"2014-07-09T19:58:14Z", ""},
		"2014-07-09T195814.fits":                        {"2014-07-09T19:58:14Z", ""},
		"2023-01-31T033923_HMI_continuum.png":           {"2023-01-31T03:39:23Z", ""},
		"2026_03_14-152310Z.tif":                        {"2026-03-14T15:23:10Z", "UTC"},
		"2026_03_14-15_23_10 UTC.tif":                   {"2026-03-14T15:23:10Z", "UTC"},
		"20240512091503.jpg":                            {"2024-05-12T09:15:03Z", ""},
		"IMG_20240512_091503123.jpg":                    {"2024-05-12T09:15:03.123Z", ""},
		"2024-05-12 09.15.03.tif":                       {"2024-05-12T09:15:03Z", ""},
		"Sun 2024.05.12 at 09h15m03s.png":               {"2024-05-12T09:15:03Z", ""},
		"ha-2024-05-12-0915_3-stacked.tif":              {"2024-05-12T09:15:00Z", ""},
		"20240512_0915.tif":                             {"2024-05-12T09:15:00Z", ""},
		"20230620T0000_site_512.jpeg":                   {"2023-06-20T00:00:00Z", ""},
		"20240701_0000_512.jpg":                         {"2024-07-01T00:00:00Z", ""}, // in the middle of a name: hardly a counter
		"20240512_091503+0200.tif":                      {"2024-05-12T09:15:03Z", "+0200"},
		"20240512_091503_UTC+2.tif":                     {"2024-05-12T09:15:03Z", "+2"},
		"12May2024_091503.tif":                          {"2024-05-12T09:15:03Z", ""},
		"2024Sep3 1402UT.tif":                           {"2024-09-03T14:02:00Z", "UTC"},
		"25-12-2024_101112.tif":                         {"2024-12-25T10:11:12Z", ""}, // there's no month 25
		"20240512_091503_crop_20240512_091503.tif":      {"2024-05-12T09:15:03Z", ""}, // twice the same
		"20240512_091503-0001.tif":                      {"2024-05-12T09:15:03Z", ""}, // a counter is no zone
		"/home/20200101_000000/sun_20240512_091503.tif": {"2024-05-12T09:15:03Z", ""},
	} {
		f := FromName(name)
		if assert.Len(t, f.Stamps, 1, name) {
			assert.Equal(t, utc(t, want.clock), f.Stamps[0].Clock, name)
			assert.Equal(t, want.zone, f.Stamps[0].Zone, name)
		}
	}
}

func TestFileNamesWithoutATime(t *testing.T) {
	for _, name := range []string{
		"sun.png", "0511_0812.fits", "2024-05-12.tif", "20240512_0001.tif", "frame_12345678_123456.png",
		"20240230_101112.tif", "20240512_256199.tif", "IMG_4711.jpg", "", ".", "20240512", "99999999999999.tif",
		"hash_20240512091503999999999.tif",
	} {
		f := FromName(name)
		assert.Empty(t, f.Stamps, "%q", name)
		_, err := f.Resolve(Options{Zone: time.UTC, NameIsUTC: true})
		var none *NoTimeError
		assert.ErrorAs(t, err, &none, "%q", name)
	}
}

func TestAmbiguousFileNamesAreRefused(t *testing.T) {
	for name, readings := range map[string]int{
		"08-12-2024_101112.tif": 2,
		"08.12.2024 101112.tif": 2,
		"130812.084253.fits":    2,
		"mh050501.074655.fits":  2,
		"040506_101112.png":     3,
	} {
		_, err := FromName(name).Resolve(Options{Zone: time.UTC})
		var ambiguous *AmbiguousDateError
		if assert.ErrorAs(t, err, &ambiguous, name) {
			assert.Len(t, ambiguous.Readings, readings, name)
		}
	}
	_, err := FromName("20240512_091503-20240512_091703.tif").Resolve(Options{Zone: time.UTC})
	assert.ErrorContains(t, err, "two times")
}

func TestTimeInAFileNameIsUTCOnlyWhereToldSo(t *testing.T) {
	f := FromName("20240712_091503.tif")
	_, err := f.Resolve(Options{})
	var needed *ZoneNeededError
	require.ErrorAs(t, err, &needed)
	assert.ErrorContains(t, err, "Europe/Prague, +02:00 or UTC", "it says how to")

	c, err := f.Resolve(Options{NameIsUTC: true})
	require.NoError(t, err)
	assert.Equal(t, utc(t, "2024-07-12T09:15:03Z"), c.UTC)
	assert.Equal(t, Unknown, c.Moment)
	assert.GreaterOrEqual(t, c.SigmaS, 30.0, "neither start nor length are known")

	prague, err := ParseZone("Europe/Prague")
	require.NoError(t, err)
	c, err = f.Resolve(Options{Zone: prague})
	require.NoError(t, err)
	assert.Equal(t, utc(t, "2024-07-12T07:15:03Z"), c.UTC, "CEST is UTC+2")
	assert.Equal(t, "Europe/Prague (+02:00)", c.Zone)
}
