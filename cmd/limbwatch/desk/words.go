package desk

import (
	"fmt"
	"math"
	"strings"
)

// How the page writes figures: with the digits that "limbwatch place" would give
// them, none beyond the first of the error (its second, where the first is a 1).

// decimalsFor is the number of decimals that an error of this size allows, 0 to 4;
// 3 when no error is known.
func decimalsFor(sigma float64) int {
	if !(sigma > 0) || math.IsInf(sigma, 0) {
		return 3
	}
	places := -int(math.Floor(math.Log10(sigma)))
	if sigma*math.Pow(10, float64(places)) < 2 {
		places++
	}
	return max(0, min(4, places))
}

// sigmaText writes an error; nothing when there is none.
func sigmaText(sigma float64) string {
	if !(sigma > 0) || math.IsInf(sigma, 0) {
		return ""
	}
	return fmt.Sprintf("%.*f", decimalsFor(sigma), sigma)
}

// plusMinus is the error with its sign and unit, or nothing.
func plusMinus(sigma float64, unit string) string {
	if text := sigmaText(sigma); text != "" {
		return " ± " + text + unit
	}
	return ""
}

// latText writes a latitude as observers do, with the letter for its sign.
func latText(deg float64, decimals int) string { return lettered(deg, "N", "S", 2, decimals) }

// cmdText writes a distance from the central meridian.
func cmdText(deg float64, decimals int) string { return lettered(deg, "W", "E", 2, decimals) }

func lettered(deg float64, plus, minus string, whole, decimals int) string {
	letter := plus
	text := fmt.Sprintf("%.*f", decimals, math.Abs(deg))
	if deg < 0 && strings.Trim(text, "0.") != "" {
		letter = minus
	}
	return letter + padded(text, whole)
}

// turnText writes an angle of 0° to 360°, which never reads 360.
func turnText(deg float64, decimals int) string {
	text := fmt.Sprintf("%.*f", decimals, deg)
	if strings.HasPrefix(text, "360") {
		text = fmt.Sprintf("%.*f", decimals, 0.0)
	}
	return padded(text, 3)
}

// padded fills the whole part of a number with zeros.
func padded(text string, whole int) string {
	point := strings.IndexByte(text, '.')
	if point < 0 {
		point = len(text)
	}
	return strings.Repeat("0", max(0, whole-point)) + text
}

// minus writes the sign of a figure as people print it.
func minus(text string) string { return strings.Replace(text, "-", "−", 1) }
