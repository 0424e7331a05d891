package capture

import (
	"testing"
	"time"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/picture/exif"
)

func TestTextBesideThePicture(t *testing.T) {
	for _, c := range []struct {
		name, text, utc string
		moment          Moment
		length          float64
	}{
		{"start, mid and end in UTC", "[camera]\nGain=120\nDate=2024-05-12\nStart (UTC)=09:15:00.5\nMid (UTC)=09:15:30.5\nEnd (UTC)=09:16:00.5\n",
			"2024-05-12T09:15:30.5Z", Middle, 60},
		{"start and end", "start_utc: 2024-05-12T09:15:00Z\nend_utc: 2024-05-12T09:16:30Z\n", "2024-05-12T09:15:45Z", Middle, 90},
		{"start and duration", "Recording started: 2024-05-12 09:15:00 UT\nDuration = 90.0 s\nExposure = 5 ms\n", "2024-05-12T09:15:00Z", Start, 90},
		{"local beside UTC", "Local time: 2024-05-12 11:15:00\nUTC time: 2024-05-12 09:15:00\n", "2024-05-12T09:15:00Z", Unknown, 0},
		{"local with the file's zone", "TimeZone=Europe/Prague\nstart=2024-05-12 11:15:00\n", "2024-05-12T09:15:00Z", Start, 0},
		{"zone in words", "Time zone: Central European Summer Time (UTC+2)\nStart time: 2024-05-12 11:15:00\n", "2024-05-12T09:15:00Z", Start, 0},
		{"offset of its own", "capture: 2024-05-12T11:15:00+02:00\n", "2024-05-12T09:15:00Z", Unknown, 0},
		{"compact", "Date=20240512\nStart(UT)=091500.25\n", "2024-05-12T09:15:00.25Z", Start, 0},
		{"over midnight", "Date: 2024-05-12\nStart UT: 23:59:30\nEnd UT: 00:00:30\n", "2024-05-13T00:00:00Z", Middle, 60},
		{"twelve-hour clock", "Time (UTC) = 2024-05-12 3:15:03 PM\n", "2024-05-12T15:15:03Z", Unknown, 0},
		{"carriage returns and a byte order mark", "\ufeffstartUTC = 2024-05-12 09:15:03\r\n", "2024-05-12T09:15:03Z", Start, 0},
		{"other dates stand beside", "Software version date: 2021-01-01 10:00:00\nDark frame: 2024-05-01 12:00:00\nUTC: 2024-05-12 09:15:03\n", "2024-05-12T09:15:03Z", Unknown, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := FromText([]byte(c.text)).Resolve(Options{})
			require.NoError(t, err)
			assert.Equal(t, utc(t, c.utc), got.UTC)
			assert.Equal(t, c.moment, got.Moment)
			assert.InDelta(t, c.length, got.ExposureS, 1e-9)
			assert.Equal(t, TextFile, got.Source)
		})
	}
}

func TestTextInUTF16(t *testing.T) {
	raw := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune("UTC time = 2024-05-12 09:15:03\r\n")) {
		raw = append(raw, byte(u), byte(u>>8))
	}
	got, err := FromText(raw).Resolve(Options{})
	require.NoError(t, err)
	assert.Equal(t, utc(t, "2024-05-12T09:15:03Z"), got.UTC)
}

func TestTextsThatLeaveTheTimeOpen(t *testing.T) {
	_, err := FromText([]byte("start = 2024-05-12 11:15:00\n")).Resolve(Options{})
	var needed *ZoneNeededError
	assert.ErrorAs(t, err, &needed)

	_, err = FromText([]byte("UTC = 08/12/2024 11:15:00\n")).Resolve(Options{})
	var ambiguous *AmbiguousDateError
	assert.ErrorAs(t, err, &ambiguous)

	for _, text := range []string{"", "gain=12\n", "start utc = 09:15:00\n", "start = soon\n", "a note about the 12th of May\n", "UTC = 2024-05-12\n"} {
		_, err = FromText([]byte(text)).Resolve(Options{Zone: time.UTC})
		var none *NoTimeError
		assert.ErrorAs(t, err, &none, "%q", text)
	}
}

func TestSourcesThatDisagreeAreTold(t *testing.T) {
	header := FromFITS(cards("DATE-OBS= '2024-05-12T09:15:00'"))
	prague, err := ParseZone("Europe/Prague")
	require.NoError(t, err)

	c, err := Join(header, FromName("20240512_091512.fits")).Resolve(Options{})
	require.NoError(t, err)
	assert.Empty(t, c.Warnings, "twelve seconds on a clock of unknown zone")

	c, err = Join(header, FromName("20240512_111512.fits")).Resolve(Options{Zone: prague})
	require.NoError(t, err)
	assert.Empty(t, c.Warnings, "the same instant on a clock in Prague")

	c, err = Join(header, FromName("20240512_111512.fits")).Resolve(Options{NameIsUTC: true})
	require.NoError(t, err)
	require.Len(t, c.Warnings, 1)
	assert.Contains(t, c.Warnings[0], "as a wrong zone would make it")
	assert.Equal(t, FITSHeader, c.Source)

	c, err = Join(header, FromName("20240513_234912.fits")).Resolve(Options{})
	require.NoError(t, err)
	require.Len(t, c.Warnings, 1, "no zone stands 38 hours off")
}

func TestASourceWithItsZoneComesFirst(t *testing.T) {
	local := FromEXIF(exif.Tags{Original: "2024:05:12 11:15:03"})
	text := FromText([]byte("start utc = 2024-05-12 09:14:30\n"))
	c, err := Join(local, text).Resolve(Options{})
	require.NoError(t, err)
	assert.Equal(t, TextFile, c.Source, "EXIF has no zone here")
	assert.Equal(t, utc(t, "2024-05-12T09:14:30Z"), c.UTC)
	assert.Empty(t, c.Warnings, "two hours apart: a zone explains it")

	local = FromEXIF(exif.Tags{Original: "2024:05:12 11:15:03", Offset: "+02:00", SubSec: "05"})
	c, err = Join(local, text).Resolve(Options{})
	require.NoError(t, err)
	assert.Equal(t, EXIF, c.Source)
	assert.Equal(t, utc(t, "2024-05-12T09:15:03.05Z"), c.UTC, "SubSec 05 is 0.05 s (EXIF 2.32, section 4.6.5)")
}

func TestEXIFTimesThatAreNone(t *testing.T) {
	for _, original := range []string{"", "0000:00:00 00:00:00", "    :  :     :  :  ", "2024:13:45 11:15:03", "2024:05:12", "nonsense"} {
		_, err := FromEXIF(exif.Tags{Original: original}).Resolve(Options{Zone: time.UTC})
		var none *NoTimeError
		assert.ErrorAs(t, err, &none, "%q", original)
	}
}
