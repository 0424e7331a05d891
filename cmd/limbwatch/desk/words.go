package desk

import (
	"fmt"
	"math"
	"strings"

	"limbwatch/coords"
	"limbwatch/coords/figure"
)

// How the page writes figures: with the digits that "limbwatch place" would give
// them, none beyond the first of the error (its second, where the first is a 1).

// sigmaText writes an error; nothing when there is none.
func sigmaText(sigma float64) string {
	if !(sigma > 0) || math.IsInf(sigma, 0) {
		return ""
	}
	return fmt.Sprintf("%.*f", figure.Decimals(sigma, 4), sigma)
}

// plusMinus is the error with its sign and unit, or nothing.
func plusMinus(sigma float64, unit string) string {
	if text := sigmaText(sigma); text != "" {
		return " ± " + text + unit
	}
	return ""
}

// latText writes a latitude as observers do, with the letter for its sign.
func latText(b coords.Angle, decimals int) string { return b.LetteredText(decimals, "N", "S") }

// cmdText writes a distance from the central meridian.
func cmdText(cmd coords.Angle, decimals int) string { return cmd.LetteredText(decimals, "W", "E") }

// turnText writes an angle of 0° to below 360° with three figures before the point.
func turnText(a coords.Angle, decimals int) string { return padded(a.TurnText(decimals), 3) }

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
