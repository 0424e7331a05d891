package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"limbwatch/catalog/chart"
	"limbwatch/coords"
)

// latitude writes N12.3 or S04.0.
func latitude(b coords.Angle, places int) string { return b.LetteredText(places, "N", "S") }

// meridianDistance writes W14.2 or E03.0.
func meridianDistance(cmd coords.Angle, places int) string { return cmd.LetteredText(places, "W", "E") }

// longitude writes 0 to 360 degrees with three figures before the point.
func longitude(l coords.Angle, places int) string {
	text := l.TurnText(places)
	whole := strings.IndexByte(text, '.')
	if whole < 0 {
		whole = len(text)
	}
	return strings.Repeat("0", max(0, 3-whole)) + text
}

// plusMinus writes ±0.3, nothing when no error is known.
func plusMinus(sigma float64, places int) string {
	if !(sigma > 0) {
		return ""
	}
	return fmt.Sprintf("±%.*f", places, sigma)
}

// optionalInt writes a count, nothing for one that is not known.
func optionalInt(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

// sumText writes a sum of counts: whole, or, where an observer's factor is in it, with
// one decimal.
func sumText(v float64) string {
	if v == math.Round(v) {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.1f", v)
}

func optionalMean(v *float64) string {
	if v == nil {
		return ""
	}
	return fmt.Sprintf("%.2f", *v)
}

const (
	noBreak  = "\u00a0" // a blank at which no line ends
	dayText  = "2" + noBreak + "Jan"
	whenText = dayText + noBreak + "15:04"
)

// momentText writes 14 Mar 09h ±5h, or 14 Mar ±1.2d for what is known to days.
func momentText(m chart.Moment) string {
	switch hours := m.Sigma.Hours(); {
	case m.UTC.IsZero():
		return ""
	case hours >= 24:
		return m.UTC.UTC().Format(dayText) + fmt.Sprintf("%s±%.1fd", noBreak, hours/24)
	default:
		return m.UTC.UTC().Round(time.Hour).Format(dayText+noBreak+"15") + fmt.Sprintf("h%s±%.0fh", noBreak, max(1, hours))
	}
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// listed joins words as in a sentence: a, b and c.
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
