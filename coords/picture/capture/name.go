package capture

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

// behindDate is what may stand between a date and a time.
var behindDate = regexp.MustCompile(`^(?:[ _.,-]{0,3}(?:T|at)[ _.-]?|[ _.,-]{1,3})`)

// FromName reads a date and time in a file's name: "20020430_165555",
// "2014-07-09T195814", "2026_03_14-152310Z", "12May2024 09h15m" and their like,
// anywhere in the name. A zone counts only when the name says it (Z, UT, UTC, GMT,
// +0200), and one that is not understood (PST, MESZ, -0500, which may be a counter) is
// refused; Options.NameIsUTC is the other way. The moment is unknown: some programs
// name a file when they begin, others when they write it.
//
// Dates that may be read in two ways, as 08-12-2024 or 130812, are refused, and so
// is a name with two times that differ. Four digits behind a date are a time
// where they can hardly be a counter, and a note says so.
func FromName(path string) Found {
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	var f Found
	for i := 0; i < len(name); i++ {
		if i > 0 && isDigit(name[i-1]) || !isDigit(name[i]) {
			continue
		}
		found, rest := nameStamp(name[i:])
		f.add(found)
		if used := len(name) - i - len(rest); used > 0 {
			i += used - 1
		}
	}
	for _, s := range f.Stamps[min(1, len(f.Stamps)):] {
		if !s.Clock.Equal(f.Stamps[0].Clock) || s.Zone != f.Stamps[0].Zone {
			return Found{Refused: append(f.Refused, fmt.Errorf("the file's name has two times, %q and %q", f.Stamps[0].Written, s.Written))}
		}
	}
	f.Stamps = f.Stamps[:min(1, len(f.Stamps))]
	return f
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

// nameStamp reads date and time at the beginning of text; rest is text itself when
// there is no date.
func nameStamp(text string) (f Found, rest string) {
	days, rest := readDate(text)
	short := false
	if len(days) == 0 {
		days, rest = readShortDate(text)
		short = true
	}
	if len(days) == 0 {
		return Found{}, text
	}
	date := text[:len(text)-len(rest)]
	gap := behindDate.FindString(rest)
	if gap == "" && !isDigit(first(rest)) {
		gap = rest // nothing that leads to a time
	}
	t, tail, ok := readTime(rest[len(gap):], true)
	if ok && t.fourDigits {
		ok = !mayBeCounter(t, gap, tail)
	}
	switch {
	case !ok && short:
		return Found{}, text // six digits alone are any number
	case !ok:
		return Found{Refused: []error{&dayOnlyError{Written: date, Source: FileName}}}, rest
	case len(days) > 1:
		return Found{Refused: []error{&AmbiguousDateError{Written: date, Source: FileName, Readings: days}}}, tail
	}
	behind, err := readNameTail(tail, strings.Contains(gap, "T"))
	if err != nil {
		return Found{Refused: []error{fmt.Errorf("time in the file's name %q: %w", text, err)}}, tail
	}
	after := behind.rest
	s := Stamp{Zone: behind.zone, Source: FileName, Local: behind.local, Written: text[:len(text)-len(after)]}
	s.at(days[0], t)
	f = Found{Stamps: []Stamp{s}}
	if behind.note != "" {
		f.Notes = append(f.Notes, behind.note)
	}
	if t.fourDigits && !strings.Contains(gap, "T") && s.Zone == "" {
		f.Notes = append(f.Notes, fmt.Sprintf("%q in the file's name was read as hour and minute", rest[len(gap):len(rest)-len(tail)]))
	}
	return f, after
}

func first(text string) byte {
	if text == "" {
		return 0
	}
	return text[0]
}

// mayBeCounter tells whether four digits behind a date may count files: a low
// number at the end of the name, with neither a T before nor a zone behind it.
func mayBeCounter(t timeOfDay, gap, tail string) bool {
	if strings.Contains(gap, "T") || gap == "" {
		return false
	}
	return t.sinceMidnight < 4*time.Hour && tail == ""
}

// dayOnlyError is a day without a time of day. It is worth a word only when
// nothing better is found.
type dayOnlyError struct {
	Written string
	Source  Source
}

func (e *dayOnlyError) Error() string {
	return fmt.Sprintf("date %q (%s) has no time of day", e.Written, e.Source)
}
