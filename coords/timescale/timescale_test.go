package timescale

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func at(t *testing.T, text string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339Nano, text)
	require.NoError(t, err)
	return v.UTC()
}

// IERS Bulletin C 16 (June 1998 for the end of that year), 49 and 52: TAI − UTC.
func TestTAIMinusUTC(t *testing.T) {
	for text, want := range map[string]int{
		"1972-01-01T00:00:00Z": 10, "1972-06-30T23:59:59Z": 10, "1972-07-01T00:00:00Z": 11,
		"1998-12-31T23:59:59Z": 31, "1999-01-01T00:00:00Z": 32,
		"2015-07-01T00:00:00Z": 36, "2016-12-31T23:59:59Z": 36, "2017-01-01T00:00:00Z": 37, "2026-03-14T00:00:00Z": 37,
	} {
		got, ok := TAIMinusUTC(at(t, text))
		assert.True(t, ok)
		assert.Equal(t, time.Duration(want)*time.Second, got, text)
	}
	_, ok := TAIMinusUTC(at(t, "1971-12-31T23:59:59Z"))
	assert.False(t, ok)
}

// There and back, a second before, in and after every leap second and anywhere else.
func TestUTCOfTAIIsTheInverse(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	check := func(utc time.Time) {
		ahead, ok := TAIMinusUTC(utc)
		require.True(t, ok)
		back, ok := UTCOfTAI(utc.Add(ahead))
		require.True(t, ok, utc)
		assert.True(t, utc.Equal(back), "%s came back as %s", utc, back)
	}
	for i, l := range taiMinusUTC {
		first := time.Unix(l.from, 0).UTC()
		check(first)
		check(first.Add(time.Second))
		if i == 0 {
			continue
		}
		check(first.Add(-time.Nanosecond))
		during, ok := UTCOfTAI(first.Add(time.Duration(l.seconds-1)*time.Second + 500*time.Millisecond))
		require.True(t, ok)
		assert.True(t, first.Add(500*time.Millisecond).Equal(during), "a leap second is given as the one after it: %s", during)
	}
	for range 2000 {
		check(time.Unix(day(1972, 1)+random.Int64N(70*365*86400), 0))
	}
	_, ok := UTCOfTAI(at(t, "1972-01-01T00:00:09Z"))
	assert.False(t, ok)
}

// 27 leap seconds were added up to 2017 (IERS), all at the end of June or of December,
// and none else is one.
func TestLeapSecondsAreTwentySeven(t *testing.T) {
	found := 0
	for first := time.Date(1960, 1, 1, 0, 0, 0, 0, time.UTC); first.Year() < 2040; first = first.AddDate(0, 1, 0) {
		assert.False(t, EndsLeapSecond(first.Add(time.Second)))
		assert.False(t, EndsLeapSecond(first.Add(-time.Second)))
		if EndsLeapSecond(first) {
			found++
			assert.Contains(t, []time.Month{time.January, time.July}, first.Month())
			assert.True(t, EndsLeapSecond(first.Add(999*time.Millisecond)), "all of it")
		}
	}
	assert.Equal(t, 27, found)
}

func TestASecondSixtyIsALeapSecondOrNone(t *testing.T) {
	for _, c := range []struct {
		text string
		east time.Duration
		utc  string // empty: refused
	}{
		{"2016-12-31T23:59:60", 0, "2017-01-01T00:00:00Z"},
		{"2016-12-31 23:59:60.5", 0, "2017-01-01T00:00:00.5Z"},
		{"2017-01-01T00:59:60", time.Hour, "2017-01-01T00:00:00Z"},
		{"2012-07-01T05:29:60", 5*time.Hour + 30*time.Minute, "2012-07-01T00:00:00Z"},
		{"2016-12-31T23:59:60", time.Hour, ""},
		{"2018-12-31T23:59:60", 0, ""},
		{"2016-12-30T23:59:60", 0, ""},
		{"2016-12-31T12:00:60", 0, ""},
		{"1971-12-31T23:59:60", 0, ""},
		{"2030-06-30T23:59:60", 0, ""},
	} {
		clock, hasTime, tail, err := ParseClock(c.text)
		require.NoError(t, err, c.text)
		assert.True(t, hasTime)
		assert.Empty(t, tail)
		got, err := clock.At(c.east)
		if c.utc == "" {
			var none *NoLeapSecondError
			require.ErrorAs(t, err, &none, c.text)
			assert.Contains(t, err.Error(), ":60", "the error names what was written")
			continue
		}
		require.NoError(t, err, c.text)
		assert.Equal(t, at(t, c.utc), got, c.text)
	}
}

func TestParseClock(t *testing.T) {
	for _, c := range []struct{ text, reading, tail string }{
		{"2026-03-14T15:23:10Z", "2026-03-14T15:23:10Z", "Z"},
		{"2026-03-14 15:23:10.25+02:00", "2026-03-14T15:23:10.25Z", "+02:00"},
		{"2026-03-14T15:23 UT", "2026-03-14T15:23:00Z", " UT"},
		{"2026-03-14", "2026-03-14T00:00:00Z", ""},
		{"2026-03-14T15:23:10,5 PST", "2026-03-14T15:23:10.5Z", " PST"},
		{"2026-03-14T15:23:1", "2026-03-14T15:23:00Z", ":1"},
		{"2026-03-14T24:00:00Z", "2026-03-14T23:59:59.999Z", "Z"}, // the end of the day, by ISO 8601 (its clause from memory)
		{"2026-02-28 24:00", "2026-02-28T23:59:59.999Z", ""},
		{"2026-03-14T1", "2026-03-14T00:00:00Z", "T1"},
		{"2026-03-14T15:23:10.1234567891", "2026-03-14T15:23:10.123456789Z", "1"},
	} {
		clock, _, tail, err := ParseClock(c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, at(t, c.reading), clock.Reading, c.text)
		assert.Equal(t, c.tail, tail, "what is not read is given back")
	}
	for _, text := range []string{"", "now", "14.3.2026", "2026-13-01", "2026-02-30T00:00", "2026-03-14T24:30", "2026-03-14T24:00:01", "2026-03-14T24:00:00.5", "2026-03-14T25:00", "2026-03-14T15:60", "2026-03-14T15:23:61", "26-03-14", " 2026-03-14"} {
		_, _, _, err := ParseClock(text)
		assert.Errorf(t, err, "%q", text)
	}
}

// Whatever stands behind a time is given back whole: nothing of a text is dropped.
func FuzzParseClock(f *testing.F) {
	for _, text := range []string{"2026-03-14T15:23:10Z", "2016-12-31T23:59:60.999999999-05:00", "2026-03-14 15:23", "2026-02-29", "0000-00-00T99:99:99"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		c, hasTime, tail, err := ParseClock(text)
		if err != nil {
			return
		}
		require.Contains(t, text, tail)
		read := text[:len(text)-len(tail)]
		back, again, rest, err := ParseClock(read)
		require.NoError(t, err)
		require.Empty(t, rest)
		require.Equal(t, hasTime, again)
		require.Equal(t, c.Reading, back.Reading)
		require.Equal(t, c.Leap, back.Leap)
	})
}
