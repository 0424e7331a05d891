package capture

import (
	"fmt"
	"regexp"
	"strings"
)

// tail is what stands behind a time: a zone, or the word that it is the clock's own,
// whichever that is.
type tail struct {
	zone  string
	local bool
}

var (
	localWords = regexp.MustCompile(`^(?i:local(?:[ _-]?time)?|lt)$`)
	utcWords   = regexp.MustCompile(`^(?i:UTC|UT|GMT|Z)$`)
	spaced     = regexp.MustCompile(`^(?i:UTC|GMT|UT)? *[+\-−]`) // UTC +2
)

// readTail reads all that stands behind a time in a value. What is no zone is an
// error: dropped, it would make another time of it.
func readTail(text string) (tail, error) {
	body := strings.TrimSpace(text)
	if n := len(body); n > 1 && (body[0] == '(' && body[n-1] == ')' || body[0] == '[' && body[n-1] == ']') {
		body = strings.TrimSpace(body[1 : n-1])
	}
	if len(body) > 1 && (body[0] == '_' || body[0] == '-') && !isDigit(body[1]) {
		body = body[1:]
	}
	switch {
	case body == "":
		return tail{}, nil
	case localWords.MatchString(body):
		return tail{local: true}, nil
	case spaced.MatchString(body):
		body = strings.ReplaceAll(body, " ", "")
	}
	if _, err := ParseZone(body); err != nil {
		return tail{}, fmt.Errorf("%q behind the time is not understood: %w", strings.TrimSpace(text), err)
	}
	return tail{zone: body}, nil
}

// nameTail is what stands behind a time in a file's name, where much else may stand.
//
//	rest  what follows
//	note  what a reader should know of how it was read
type nameTail struct {
	tail
	rest, note string
}

var (
	wordInName   = regexp.MustCompile(`^[ _.,-]{0,2}[(\[]?([A-Za-z]+)`)
	offsetInName = regexp.MustCompile(`^[ _]?[(\[]?([+\-−])(\d+(?::\d{2})?)`)
	closing      = regexp.MustCompile(`^[)\]]`)
)

// readNameTail reads what stands behind a time in a name, as far as it says anything of
// the zone. A zone that is not understood is an error, and so is a number behind a
// hyphen that may be an offset as well as a counter. Where the time is written as ISO
// 8601 has it, with a T before it, an offset is the likelier.
func readNameTail(text string, iso bool) (nameTail, error) {
	none := nameTail{rest: text}
	m := wordInName.FindStringSubmatch(text)
	if m == nil {
		return readNameOffset(text, false, iso)
	}
	after := text[len(m[0]):]
	switch {
	case localWords.MatchString(m[1]):
		return nameTail{tail: tail{local: true}, rest: closing.ReplaceAllString(after, "")}, nil
	case isAbbreviation(m[1]):
		return none, abbreviationError(m[1])
	case !utcWords.MatchString(m[1]):
		return none, nil
	case after != "" && isDigit(after[0]):
		return none, fmt.Errorf("%q behind the time is not understood", text)
	}
	t, err := readNameOffset(after, true, iso)
	if t.zone == "" {
		t.zone, t.rest = "UTC", closing.ReplaceAllString(after, "")
	}
	return t, err
}

// readNameOffset reads an offset in a name, behind the word UTC or alone.
func readNameOffset(text string, behindUTC, iso bool) (nameTail, error) {
	none := nameTail{rest: text}
	m := offsetInName.FindStringSubmatch(text)
	if m == nil || len(m[0]) < len(text) && isWordByte(text[len(m[0])]) {
		return none, nil
	}
	sign, number := m[1], m[2]
	if sign == "-" && !strings.Contains(number, ":") { // the hyphen before a counter?
		doubt := fmt.Errorf("%q behind the time may be an offset or a number: say when it was taken, or name the picture anew, as with UTC-5", sign+number)
		switch {
		case !wasOffset(number):
			return none, nil
		case behindUTC && len(number) != 2:
		case behindUTC, iso, len(number) == 4:
			return none, doubt
		case len(number) == 2:
			none.note = fmt.Sprintf("%q behind the time in the file's name was read as a number, not as an offset", sign+number)
			return none, nil
		default:
			return none, nil
		}
	}
	if _, err := ParseZone(sign + number); err != nil {
		return none, err
	}
	return nameTail{tail: tail{zone: sign + number}, rest: closing.ReplaceAllString(text[len(m[0]):], "")}, nil
}

// wasOffset says whether digits behind a minus are an offset that clocks have: west of
// UTC by whole quarters of an hour, up to twelve hours (IANA time zone database).
func wasOffset(number string) bool {
	hours, minutes := digits(number), 0
	if len(number) == 4 {
		hours, minutes = digits(number[:2]), digits(number[2:])
	}
	return len(number) != 3 && len(number) <= 4 && hours <= 12 && minutes < 60 && minutes%15 == 0 && hours+minutes > 0 && (hours < 12 || minutes == 0)
}
