package capture

import (
	"regexp"
	"slices"
	"strings"
	"time"
)

// The ways a date is written, most certain first.
var (
	compactDate = regexp.MustCompile(`^(\d{4})(\d{2})(\d{2})`)
	yearFirst   = regexp.MustCompile(`^(\d{4})([-_./: ])(\d{1,2})([-_./: ])(\d{1,2})`)
	yearLast    = regexp.MustCompile(`^(\d{1,2})([-_./ ])(\d{1,2})([-_./ ])(\d{4})`)
	dayMonth    = regexp.MustCompile(`^(\d{1,2})[-_. ]?([A-Za-z]{3,9})[-_., ]{0,2}(\d{4})`)
	monthDay    = regexp.MustCompile(`^(\d{4})[-_. ]?([A-Za-z]{3,9})[-_. ]?(\d{1,2})`)
	shortDate   = regexp.MustCompile(`^(\d{2})(\d{2})(\d{2})`)
)

// readDate reads a date at the beginning of text. More than one reading means
// that the text leaves open which; none that there is no date.
func readDate(text string) (readings []time.Time, rest string) {
	if m := compactDate.FindStringSubmatch(text); m != nil {
		if t, ok := recent(digits(m[1]), digits(m[2]), digits(m[3])); ok {
			return []time.Time{t}, text[len(m[0]):]
		}
	}
	if m := yearFirst.FindStringSubmatch(text); m != nil && m[2] == m[4] {
		if t, ok := recent(digits(m[1]), digits(m[3]), digits(m[5])); ok && endsNumber(text, m[0]) {
			return []time.Time{t}, text[len(m[0]):]
		}
	}
	if m := yearLast.FindStringSubmatch(text); m != nil && m[2] == m[4] && endsNumber(text, m[0]) {
		year, a, b := digits(m[5]), digits(m[1]), digits(m[3])
		return calendar([3]int{year, b, a}, [3]int{year, a, b}), text[len(m[0]):]
	}
	if m := dayMonth.FindStringSubmatch(text); m != nil && endsNumber(text, m[0]) {
		return calendar([3]int{digits(m[3]), monthOf(m[2]), digits(m[1])}), text[len(m[0]):]
	}
	if m := monthDay.FindStringSubmatch(text); m != nil && endsNumber(text, m[0]) {
		return calendar([3]int{digits(m[1]), monthOf(m[2]), digits(m[3])}), text[len(m[0]):]
	}
	return nil, text
}

// readShortDate reads six digits as a date; which of them is the year is open in
// most cases.
func readShortDate(text string) (readings []time.Time, rest string) {
	m := shortDate.FindStringSubmatch(text)
	if m == nil || !endsNumber(text, m[0]) {
		return nil, text
	}
	a, b, c := digits(m[1]), digits(m[2]), digits(m[3])
	return calendar([3]int{2000 + a, b, c}, [3]int{2000 + c, b, a}, [3]int{2000 + c, a, b}), text[len(m[0]):]
}

// endsNumber tells that the match is not a part of a longer number.
func endsNumber(text, match string) bool {
	return len(text) == len(match) || text[len(match)] < '0' || text[len(match)] > '9'
}

// calendar keeps the different days among readings of year, month and day.
func calendar(readings ...[3]int) []time.Time {
	var days []time.Time
	for _, r := range readings {
		if t, ok := recent(r[0], r[1], r[2]); ok && !slices.ContainsFunc(days, t.Equal) {
			days = append(days, t)
		}
	}
	return days
}

// recent is civil within the years in which files are named and programs write,
// so that other long numbers are not taken for dates.
func recent(year, month, day int) (time.Time, bool) {
	if year < 1900 || year > 2099 {
		return time.Time{}, false
	}
	return civil(year, month, day)
}

// monthOf is the number of an English month, whole or its first three letters; 0
// for none.
func monthOf(name string) int {
	for m := time.January; m <= time.December; m++ {
		if full := m.String(); strings.EqualFold(name, full) || strings.EqualFold(name, full[:3]) || m == time.September && strings.EqualFold(name, "Sept") {
			return int(m)
		}
	}
	return 0
}
