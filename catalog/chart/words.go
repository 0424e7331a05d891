package chart

import (
	"fmt"
	"math"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// minus writes a number with a true minus sign.
func minus(format string, args ...any) string {
	return strings.ReplaceAll(fmt.Sprintf(format, args...), "-", "−")
}

// latitude is a latitude as observers write it: N14, S7.
func latitude(b coords.Angle, decimals int) string {
	return hemisphere(b.Degrees(), decimals, "N", "S")
}

// meridianDistance is a central meridian distance as observers write it: E32, W5.
func meridianDistance(cmd coords.Angle, decimals int) string {
	return hemisphere(cmd.Degrees(), decimals, "W", "E")
}

func hemisphere(deg float64, decimals int, positive, negative string) string {
	text := fmt.Sprintf("%.*f", decimals, math.Abs(deg))
	if strings.Trim(text, "0.") == "" {
		return text
	}
	if deg < 0 {
		return negative + text
	}
	return positive + text
}

// dateOf is a date in words: 14 March 2026.
func dateOf(t time.Time) string { return t.UTC().Format("2 January 2006") }

// shortDay is a day within a month: 14 Mar.
func shortDay(t time.Time) string { return t.UTC().Format("2 Jan") }

// isoDay names a UT day.
func isoDay(t time.Time) string { return t.UTC().Format("2006-01-02") }

// nameOf is what a mark is called: the passage it belongs to, its label, or its id.
func nameOf(e catalog.Entry) string {
	switch {
	case e.PassageName != "":
		return e.PassageName
	case e.Mark.Label != "":
		return e.Mark.Label
	case e.Mark.ID != 0:
		return e.Mark.ID.String()
	}
	return e.Mark.Kind.String()
}

// describe says of a mark what a touch should tell.
func describe(e catalog.Entry) string {
	parts := []string{fmt.Sprintf("%s, %s", nameOf(e), e.Mark.Kind)}
	if !e.Position.UTC.IsZero() {
		parts = append(parts, e.Position.UTC.UTC().Format("2006-01-02 15:04 UT"))
	}
	switch p := e.Position; {
	case p.Edge != nil && p.Disc == nil:
		parts = append(parts, fmt.Sprintf("position angle %s°, latitude %s°, %.0f Mm high", p.Edge.PA.TurnText(1), latitude(p.Edge.Lat, 1), p.Edge.HeightMm))
	default:
		if m, ok := p.Reading(); ok {
			parts = append(parts, fmt.Sprintf("%s° L %s°", latitude(m.B, 1), m.L.TurnText(1)))
		}
	}
	return strings.Join(parts, ", ")
}

// plural is a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// kindPlural names several of a kind.
func kindPlural(k catalog.Kind) string {
	switch k {
	case catalog.Plage:
		return "plages"
	case catalog.Other:
		return "other"
	}
	return k.String() + "s"
}
