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
// start, begin, mid, centre, end, stop name the moment; utc, ut, gmt, UTC+2, local the
// zone; duration, length the length of the recording; zone or UTC offset the zone
// of all times that have none of their own. A time of day takes the day from a
// line of the same file that has only a date. A value is read whole: a line with a zone
// that is not understood behind its time, or anything else, is refused.
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
	local  bool // the line says so
}

type textTimes struct {
	times     []textTime
	zone      string // of the whole file
	zoneLine  string // that says so
	durationS float64
	twoZones  bool // it names another one too
	notes     []string
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
	at := separator(line)
	if at < 1 || len(line) > 500 {
		return
	}
	key, value := words(line[:at]), strings.Trim(line[at+1:], " \t\"'")
	switch {
	case value == "" || hasWord(key, otherDates...):
	case hasWord(key, "zone", "timezone", "tz") || hasWord(key, "offset") && hasWord(key, "utc", "gmt", "time"):
		t.readFileZone(line, value)
	case hasWord(key, "duration", "length", "elapsed"):
		s, ok := seconds(value)
		switch {
		case !ok:
			t.notes = append(t.notes, fmt.Sprintf("text file, %q: the length is not read", line))
		case t.durationS == 0:
			t.durationS = s
		}
	default:
		t.readLine(line, line[:at], key, value)
	}
}

// separator is where a key ends: at the first "=" or ":" that stands in no brackets, as
// one of an offset does; −1 for nowhere.
func separator(line string) int {
	depth := 0
	for i := range len(line) {
		switch line[i] {
		case '(', '[':
			depth++
		case ')', ']':
			depth--
		case '=', ':':
			if depth <= 0 {
				return i
			}
		}
	}
	return strings.IndexAny(line, "=:") // brackets that stay open
}

func (t *textTimes) readFileZone(line, value string) {
	if inside := insideZone.FindStringSubmatch(value); inside != nil {
		value = strings.ReplaceAll(inside[1], " ", "")
	}
	if _, err := ParseZone(value); err != nil {
		t.refused = append(t.refused, fmt.Errorf("text file, %q: %w", line, err))
		return
	}
	if t.zone != "" && !strings.EqualFold(t.zone, value) {
		t.refused = append(t.refused, fmt.Errorf("text file: it names two zones, %q and %q", t.zoneLine, line))
		t.twoZones = true
	}
	t.zone, t.zoneLine = value, line
}

// insideZone is an offset among words that are a zone's name and no figures: "Central
// European Summer Time (UTC+2)".
var insideZone = regexp.MustCompile(`(?i)^[^0-9+\-−]*\b((?:UTC|GMT)\s*[+\-−]\s*\d{1,2}(?::?\d{2})?)\b[^0-9+\-−]*$`)

// zoneInKey is what a key may say of the zone. Groups: what follows UTC; an offset, or
// a name, in brackets.
var zoneInKey = regexp.MustCompile(`(?i)\b(?:UTC|GMT|UT)\s*([+\-−]\s*\d[\d:]*)|[(\[]\s*([+\-−]\s*\d[\d:]*|[a-z_]+/[a-z_/]+)\s*[)\]]`)

var letters = regexp.MustCompile(`[A-Za-z]+`)

// keyZone is the zone that a key names: "Start (UTC+2)".
func keyZone(text string, key []string) (zone string, err error) {
	if m := zoneInKey.FindStringSubmatch(text); m != nil {
		zone = strings.ReplaceAll(m[1]+m[2], " ", "")
		_, err = ParseZone(zone)
		return zone, err
	}
	for _, word := range append(letters.FindAllString(text, -1), key...) {
		if isAbbreviation(word) {
			return "", abbreviationError(word)
		}
	}
	if hasWord(key, "utc", "ut", "gmt") {
		return "UTC", nil
	}
	return "", nil
}

// readLine takes a date, a time of day or both from the value.
func (t *textTimes) readLine(line, keyText string, key []string, value string) {
	e := textTime{line: line, moment: momentOf(strings.Join(key, " ")), local: hasWord(key, "local", "lt")}
	if e.moment == Unknown && !hasWord(key, captureWords...) {
		return
	}
	refuse := func(err error) {
		t.refused = append(t.refused, fmt.Errorf("text file, %q: %w", line, err))
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
	ofDay, behind, ok := readTime(rest, len(days) == 1 || sixDigits.MatchString(rest))
	switch {
	case ok:
		e.ofDay = &ofDay
	case len(days) == 0:
		return
	default:
		behind = weekday.ReplaceAllString(rest, "")
	}
	read, err := readTail(behind)
	if err != nil {
		refuse(err)
		return
	}
	named, err := keyZone(keyText, key)
	if err != nil {
		refuse(err)
		return
	}
	e.zone, e.local = read.zone, e.local || read.local
	switch {
	case e.zone == "":
		e.zone = named
	case named != "" && !sameZone(named, e.zone, e.day):
		refuse(fmt.Errorf("its key says %s and its value %s", named, e.zone))
		return
	}
	t.times = append(t.times, e)
}

// weekday is a day of the week behind a date, in brackets or not.
var weekday = regexp.MustCompile(`(?i)^[ ,]*[(\[]?(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?[)\]]?$`)

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
		if e.zone == "" && t.twoZones {
			continue
		}
		s := Stamp{Zone: zone, Source: TextFile, Moment: e.moment, Written: e.line, Local: e.local}
		s.at(day, *e.ofDay)
		stamps = append(stamps, s)
	}
	if len(stamps) == 0 {
		return Found{Refused: t.refused, Notes: t.notes}
	}
	known := slices.DeleteFunc(slices.Clone(stamps), func(s Stamp) bool { return s.Zone == "" })
	if len(known) > 0 {
		stamps = known
	}
	return Found{Stamps: []Stamp{t.best(stamps)}, Refused: t.refused, Notes: t.notes}
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
					Local: start.Local, leaps: slices.Concat(start.leaps, end.leaps),
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

// quantity is a length of time with its unit: one, or minutes and seconds. Groups:
// number, unit; seconds behind minutes.
var quantity = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(ms|msecs?|milliseconds?|s|secs?|seconds?|mins?|minutes?|m|h|hours?)?(?:\s*(\d+(?:[.,]\d+)?)\s*(?:s|secs?|seconds?))?$`)

// seconds reads a length of time, whole: "60.0s", "90000 ms", "1.5 min", "1 min 30 s",
// "00:01:30".
func seconds(value string) (float64, bool) {
	if strings.Count(value, ":") == 2 {
		t, behind, ok := readTime(value, false)
		return t.sinceMidnight.Seconds(), ok && !t.leap && strings.TrimSpace(behind) == ""
	}
	m := quantity.FindStringSubmatch(strings.ToLower(value))
	if m == nil {
		return 0, false
	}
	number := func(text string) float64 {
		v, _ := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64) // digits, or nothing
		return v
	}
	v, unit := number(m[1]), m[2]
	minutes := unit != "" && strings.HasPrefix(unit, "m") && !strings.HasPrefix(unit, "ms") && !strings.HasPrefix(unit, "milli")
	switch {
	case m[3] != "" && !minutes:
		return 0, false
	case minutes:
		v = v*60 + number(m[3])
	case strings.HasPrefix(unit, "m"):
		v /= 1000
	case strings.HasPrefix(unit, "h"):
		v *= 3600
	}
	return v, v > 0 && v < 86400
}
