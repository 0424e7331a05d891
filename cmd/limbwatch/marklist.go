package main

import (
	"cmp"
	"slices"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// span is a range of marks by their numbers, both ends included; a mark named alone is a
// span of one.
type span struct{ first, last catalog.MarkID }

// isRange says whether an argument names more than one mark.
func isRange(text string) bool { return strings.ContainsAny(text, "-–,") }

// parseSpans reads marks as they are named: M12, M1-M3705, or several with commas between.
func parseSpans(args []string) (spans []span, err error) {
	for _, text := range strings.FieldsFunc(strings.Join(args, ","), func(r rune) bool { return r == ',' }) {
		from, to, is := strings.Cut(strings.ReplaceAll(text, "–", "-"), "-")
		if !is {
			to = from
		}
		s := span{}
		if s.first, err = parseMark(strings.TrimSpace(from)); err != nil {
			return nil, err
		}
		if s.last, err = parseMark(strings.TrimSpace(to)); err != nil {
			return nil, err
		}
		if s.last < s.first {
			return nil, misuse("marks %s: want the lower number first, as %s-%s", text, s.last, s.first)
		}
		for _, other := range spans {
			if s.first == s.last && other == s {
				return nil, misuse("mark %s is named twice", s.first)
			}
		}
		spans = append(spans, s)
	}
	return spans, nil
}

// marksNamed reads the marks that are named, each once, in the order of their numbers. One
// that is named alone must be there; of a range those that are there count, and one at
// least.
func marksNamed(v *store.View, args []string) (marks []catalog.Mark, err error) {
	spans, err := parseSpans(args)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(spans, func(a, b span) int { return cmp.Compare(a.first, b.first) })
	next := catalog.MarkID(0) // what lies before is read
	for _, s := range spans {
		if s.first == s.last {
			m, err := v.Mark(s.first)
			if err != nil {
				return nil, err
			}
			if m.ID >= next {
				marks, next = append(marks, m), m.ID+1
			}
			continue
		}
		found, err := v.MarksFrom(s.first, s.last)
		if err != nil {
			return nil, err
		}
		if len(found) == 0 {
			return nil, &store.NotFoundError{Noun: "mark", ID: s.first.String() + " to " + s.last.String()}
		}
		for _, m := range found {
			if m.ID >= next {
				marks, next = append(marks, m), m.ID+1
			}
		}
	}
	return marks, nil
}

// parseKinds reads the kinds that a flag names.
func parseKinds(texts []string) (kinds []catalog.Kind, err error) {
	for _, text := range texts {
		kind, err := catalog.ParseKind(text)
		if err != nil {
			return nil, &misuseError{err}
		}
		kinds = append(kinds, kind)
	}
	return kinds, nil
}
