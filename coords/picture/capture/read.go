package capture

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// civil is midnight of a day of the calendar; false for a day that does not exist
// or lies where no picture of the Sun does.
func civil(year, month, day int) (time.Time, bool) {
	if year < 1840 || year > 2199 || month < 1 || month > 12 || day < 1 {
		return time.Time{}, false
	}
	t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	return t, t.Day() == day
}

// digits is the number that text writes in digits alone, −1 when it doesn't.
func digits(text string) int {
	if text == "" || len(text) > 9 {
		return -1
	}
	for i := range len(text) {
		if text[i] < '0' || text[i] > '9' {
			return -1
		}
	}
	n, _ := strconv.Atoi(text)
	return n
}

// timeOfDay is a time since midnight, with the step it was written in.
type timeOfDay struct {
	sinceMidnight time.Duration
	resolutionS   float64
	leap          bool // the second was written as 60
	fourDigits    bool // written as 0915, which may be a number of another kind
}

// The ways a time of day is written. Groups: hour, minute, second, decimals.
var (
	colonTime   = regexp.MustCompile(`^(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?`)
	letterTime  = regexp.MustCompile(`^(\d{1,2})[hH](\d{2})(?:[mM](?:(\d{2})(?:[.,](\d{1,9}))?[sS]?)?)?`)
	compactTime = regexp.MustCompile(`^(\d{2})(\d{2})(\d{2})(?:[.,]?(\d{3})|[.,](\d{1,9}))?`)
	shortTime   = regexp.MustCompile(`^(\d{2})(\d{2})`)
	brokenTime  = regexp.MustCompile(`^(\d{2})([-_. ])(\d{2})([-_. ])(\d{2})(?:[.,](\d{1,9}))?`)
)

// readTime reads a time of day at the beginning of text. With wide set it takes
// also 09-15-03, 091503 and 0915, which only the place behind a date makes a time.
func readTime(text string, wide bool) (t timeOfDay, rest string, ok bool) {
	try := func(pattern *regexp.Regexp, groups ...int) bool {
		m := pattern.FindStringSubmatch(text)
		if m == nil {
			return false
		}
		rest = text[len(m[0]):]
		if rest != "" && unicode.IsDigit(rune(rest[0])) {
			return false // a part of a longer number
		}
		part := func(i int) string {
			if i < len(groups) && groups[i] < len(m) {
				return m[groups[i]]
			}
			return ""
		}
		decimals := part(3)
		if decimals == "" {
			decimals = part(4)
		}
		t, ok = newTimeOfDay(part(0), part(1), part(2), decimals)
		if half := halfDay.FindStringSubmatch(rest); ok && half != nil {
			rest = rest[len(half[0]):]
			ok = t.turnTo24Hours(half[1] == "p" || half[1] == "P")
		}
		return ok
	}
	if try(colonTime, 1, 2, 3, 4) || try(letterTime, 1, 2, 3, 4) {
		return t, rest, true
	}
	if !wide {
		return timeOfDay{}, text, false
	}
	if m := brokenTime.FindStringSubmatch(text); m != nil && m[2] == m[4] && try(brokenTime, 1, 3, 5, 6) {
		return t, rest, true
	}
	if try(compactTime, 1, 2, 3, 4, 5) {
		return t, rest, true
	}
	if try(shortTime, 1, 2) {
		t.fourDigits = true
		return t, rest, true
	}
	return timeOfDay{}, text, false
}

// newTimeOfDay checks the parts; an absent second is 0, and 60 a leap second.
func newTimeOfDay(hour, minute, second, decimals string) (timeOfDay, bool) {
	h, m := digits(hour), digits(minute)
	t := timeOfDay{resolutionS: 60}
	s := 0
	if second != "" {
		s, t.resolutionS = digits(second), 1
	}
	if h < 0 || h > 23 || m < 0 || m > 59 || s < 0 || s > 60 {
		return timeOfDay{}, false
	}
	t.leap = s == 60
	t.sinceMidnight = time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
	return t, decimals == "" || t.addDecimals(decimals)
}

// addDecimals adds decimals of the second; false when they are no digits.
func (t *timeOfDay) addDecimals(decimals string) bool {
	step := time.Second
	for _, d := range []byte(decimals) {
		if !isDigit(d) {
			return false
		}
		step /= 10
		t.sinceMidnight += time.Duration(d-'0') * step
		t.resolutionS /= 10
	}
	return true
}

// halfDay is the am or pm behind a time.
var halfDay = regexp.MustCompile(`^ ?([aApP])\.?[mM]\b\.?`)

// turnTo24Hours reads the time as one of the twelve-hour clock; false when its
// hour is not 1 to 12.
func (t *timeOfDay) turnTo24Hours(afternoon bool) bool {
	if t.sinceMidnight < time.Hour || t.sinceMidnight >= 13*time.Hour {
		return false
	}
	t.sinceMidnight %= 12 * time.Hour
	if afternoon {
		t.sinceMidnight += 12 * time.Hour
	}
	return true
}

func isWordByte(b byte) bool {
	return b >= '0' && b <= '9' || b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z'
}

// Words that say which moment a time is. They are matched whole.
var momentWords = map[string]Moment{
	"start": Start, "started": Start, "begin": Start, "beg": Start, "beginning": Start, "first": Start,
	"mid": Middle, "middle": Middle, "midpoint": Middle, "centre": Middle, "center": Middle,
	"average": Middle, "avg": Middle, "mean": Middle,
	"end": End, "ended": End, "stop": End, "stopped": End, "finish": End, "finished": End, "last": End,
}

// momentOf finds the moment that a key or a comment names; the first word counts.
func momentOf(text string) Moment {
	for _, word := range words(text) {
		if m := momentWords[word]; m != Unknown {
			return m
		}
	}
	return Unknown
}

// words splits a key into lower-case words, also at changes of case: "startUTC"
// gives start and utc.
func words(text string) []string {
	var all []string
	var word []rune
	flush := func() {
		if len(word) > 0 {
			all = append(all, strings.ToLower(string(word)))
			word = word[:0]
		}
	}
	var last rune
	for _, r := range text {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			flush()
		} else {
			if unicode.IsUpper(r) && unicode.IsLower(last) {
				flush()
			}
			word = append(word, r)
		}
		last = r
	}
	flush()
	return all
}

// hasWord tells whether one of the wanted words is among those of a key.
func hasWord(key []string, wanted ...string) bool {
	return slices.ContainsFunc(key, func(w string) bool { return slices.Contains(wanted, w) })
}
