// Package figure says how figures with an error are written, wherever a person reads them:
// at the terminal, on the page, in charts and reports.
package figure

import (
	"math"
	"strconv"
	"strings"
)

// Decimals is how many places a value with this error is written to, and the error itself:
// to the error's first figure, its second where the first is a 1, and at most to most. A
// value without an error, or with an infinite one, is written to one.
func Decimals(sigma float64, most int) int {
	if !(sigma > 0) || math.IsInf(sigma, 0) {
		return min(1, most)
	}
	places := -int(math.Floor(math.Log10(sigma)))
	if sigma*math.Pow(10, float64(places)) < 2 {
		places++
	}
	return max(0, min(most, places))
}

// Signed writes a value with its sign, so rounded: +1.3, -0.2. What reads zero has none.
func Signed(value float64, decimals int) string {
	text := strconv.FormatFloat(value, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	if value > 0 {
		return "+" + text
	}
	return text
}

// Plain writes a value so rounded; what reads zero has no sign.
func Plain(value float64, decimals int) string {
	return strings.TrimPrefix(Signed(value, decimals), "+")
}

// Percent writes a probability so that no rounding makes it certain; not-a-number, which
// stands for none, is empty.
func Percent(p float64) string {
	switch {
	case math.IsNaN(p):
		return ""
	case p > 0.99:
		return "> 99 %"
	case p < 0.01:
		return "< 1 %"
	}
	return strconv.FormatFloat(100*p, 'f', 0, 64) + " %"
}
