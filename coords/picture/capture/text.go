package capture

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
)

// maxTextBytes bounds a text file; real ones have a few kilobytes.
const maxTextBytes = 1 << 20

// FromText reads the text that a capture program left beside a picture: lines
// "key=value" or "key: value", whatever the program. Keys are read by their words:
// start, begin, mid, centre, end, stop name the moment; utc, ut, gmt, local the
// zone; duration, length the length of the recording; zone or UTC offset the zone
// of all times that have none of their own. A time of day takes the day from a
// line of the same file that has only a date.
//
// Of several times the best is taken: one of known zone, then the middle (or start
// and end, whose mean it is), then start, end, and a time of unknown moment. Dates
// with two readings are refused.
func FromText(data []byte) Found {
	if len(data) > maxTextBytes {
		return Found{Refused: []error{fmt.Errorf("the text file has %d bytes, which is no capture log", len(data))}}
	}
	var t textTimes
	for line := range strings.Lines(plainText(data)) {
		t.line(strings.TrimSpace(line))
	}
	return t.found()
}

// plainText brings UTF-16, as some programs write it, to UTF-8.
func plainText(data []byte) string {
	if len(data) >= 2 && (data[0] == 0xff && data[1] == 0xfe || data[0] == 0xfe && data[1] == 0xff) {
		little := data[0] == 0xff
		var units []uint16
		for d := data[2:]; len(d) >= 2; d = d[2:] {
			if little {
				units = append(units, uint16(d[0])|uint16(d[1])<<8)
			} else {
				units = append(units, uint16(d[1])|uint16(d[0])<<8)
			}
		}
		data = []byte(string(utf16.Decode(units)))
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	return strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
}

// textTime is one line with a date, a time or both.
type textTime struct {
	line   string
	day    time.Time // zero when the line has none
	ofDay  *timeOfDay
	moment Moment
	zone   string
	local  bool // the key says so
}

type textTimes struct {
	times     []textTime
	zone      string // of the whole file
	durationS float64
	refused   []error
}

// Keys whose date is about something else than the picture.
var otherDates = []string{
	"version", "build", "software", "firmware", "driver", "licence", "license", "release",
	"modified", "saved", "processed", "dark", "flat", "bias", "copyright", "birth",
}

// Keys of times without a moment.
var captureWords = []string{
	"date", "time", "datetime", "timestamp", "capture", "captured", "observation", "observed", "obs",
	"acquired", "acquisition", "recorded", "recording", "taken", "exposure", "utc", "ut", "gmt", "local",
}

func (t *textTimes) line(line string) {
	at := strings.IndexAny(line, "=:")
	if at < 1 || len(line) > 500 {
		return
	}
	key, value := words(line[:at]), strings.Trim(line[at+1:], " \t\"'")
	switch {
	case value == "" || hasWord(key, otherDates...):
	case hasWord(key, "zone", "timezone", "tz") || hasWord(key, "offset") && hasWord(key, "utc", "gmt", "time"):
		t.readFileZone(line, value)
	case hasWord(key, "duration", "length", "elapsed"):
		if s, ok := seconds(value); ok && t.durationS == 0 {
			t.durationS = s
		}
	default:
		t.readLine(line, key, value)
	}
}

func (t *textTimes) readFileZone(line, value string) {
	if inside := insideZone.FindString(value); inside != "" {
		value = strings.ReplaceAll(inside, " ", "")
	}
	if _, err := ParseZone(value); err != nil {
		t.refused = append(t.refused, fmt.Errorf("text file, %q: %w", line, err))
		return
	}
	t.zone = value
}

// readLine takes a date, a time of day or both from the value.
func (t *textTimes) readLine(line string, key []string, value string) {
	e := textTime{line: line, moment: momentOf(strings.Join(key, " ")), local: hasWord(key, "local", "lt")}
	if e.moment == Unknown && !hasWord(key, captureWords...) {
		return
	}
	days, rest := readDate(value)
	if len(days) > 1 {
		t.refused = append(t.refused, &AmbiguousDateError{Written: value[:len(value)-len(rest)], Source: TextFile, Readings: days})
		return
	}
	if len(days) == 1 {
		e.day = days[0]
		rest = rest[len(behindDate.FindString(rest)):]
	}
	ofDay, tail, ok := readTime(rest, len(days) == 1 || sixDigits.MatchString(rest))
	if ok {
		e.ofDay = &ofDay
	}
	if !ok && len(days) == 0 {
		return
	}
	if zone, _, ok := readZone(tail, inValue); ok {
		e.zone = zone
	} else if hasWord(key, "utc", "ut", "gmt") {
		e.zone = "UTC"
	}
	t.times = append(t.times, e)
}

// sixDigits is a compact time of day that stands alone: 091503 or 091503.25.
var sixDigits = regexp.MustCompile(`^\d{6}(?:[.,]\d+)?(?:\D|$)`)

// found composes days with times of day and picks the best stamp.
func (t *textTimes) found() Found {
	var stamps []Stamp
	for _, e := range t.times {
		if e.ofDay == nil {
			continue
		}
		day := e.day
		if day.IsZero() {
			if day = t.dayFor(e); day.IsZero() {
				t.refused = append(t.refused, fmt.Errorf("text file, %q: a time without its day", e.line))
				continue
			}
		}
		zone := e.zone
		if zone == "" {
			zone = t.zone
		}
		stamps = append(stamps, Stamp{
			Clock: day.Add(e.ofDay.sinceMidnight), Zone: zone, Source: TextFile, Moment: e.moment,
			Written: e.line, ResolutionS: e.ofDay.resolutionS,
		})
	}
	if len(stamps) == 0 {
		return Found{Refused: t.refused}
	}
	known := slices.DeleteFunc(slices.Clone(stamps), func(s Stamp) bool { return s.Zone == "" })
	if len(known) > 0 {
		stamps = known
	}
	return Found{Stamps: []Stamp{t.best(stamps)}, Refused: t.refused}
}

// dayFor finds the day for a bare time: of a line with a day alone that speaks of
// the same zone, else of any line with a day.
func (t *textTimes) dayFor(e textTime) time.Time {
	var any time.Time
	for _, d := range t.times {
		if d.day.IsZero() {
			continue
		}
		if d.ofDay == nil && d.zone == e.zone && d.local == e.local {
			return d.day
		}
		if any.IsZero() {
			any = d.day
		}
	}
	return any
}

// best picks among stamps of equal standing.
func (t *textTimes) best(stamps []Stamp) Stamp {
	of := func(m Moment) *Stamp {
		if i := slices.IndexFunc(stamps, func(s Stamp) bool { return s.Moment == m }); i >= 0 {
			return &stamps[i]
		}
		return nil
	}
	start, middle, end := of(Start), of(Middle), of(End)
	length := t.durationS
	if start != nil && end != nil && start.Zone == end.Zone {
		span := end.Clock.Sub(start.Clock)
		if span < 0 {
			span += 24 * time.Hour // the recording ran over midnight
		}
		if span > 0 && span < 12*time.Hour {
			length = span.Seconds()
			if middle == nil {
				middle = &Stamp{
					Clock: start.Clock.Add(span / 2), Zone: start.Zone, Source: TextFile, Moment: Middle,
					Written: start.Written + ", " + end.Written, ResolutionS: start.ResolutionS,
				}
			}
		}
	}
	best := stamps[0]
	for _, s := range []*Stamp{middle, start, end} {
		if s != nil {
			best = *s
			break
		}
	}
	best.ExposureS = length
	return best
}

var quantity = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(ms|milliseconds?|s|sec|secs|seconds?|min|minutes?|m)?\b`)

// seconds reads a length of time: "60.0s", "90000 ms", "1.5 min", "00:01:30".
func seconds(value string) (float64, bool) {
	if strings.Count(value, ":") == 2 {
		t, _, ok := readTime(value, false)
		return t.sinceMidnight.Seconds(), ok
	}
	m := quantity.FindStringSubmatch(strings.ToLower(value))
	if m == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(m[1], ",", "."), 64)
	switch {
	case err != nil || v <= 0:
		return 0, false
	case strings.HasPrefix(m[2], "ms"), strings.HasPrefix(m[2], "milli"):
		v /= 1000
	case strings.HasPrefix(m[2], "m"):
		v *= 60
	}
	return v, v < 86400
}
