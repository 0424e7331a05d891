package coords

import (
	"math"
	"strconv"
	"strings"
)

// TurnText writes an angle in degrees, 0 to below 360 as it reads: 359.97° with one
// decimal is 0.0.
func (a Angle) TurnText(decimals int) string {
	text := strconv.FormatFloat(a.Wrap360().Degrees(), 'f', decimals, 64)
	if strings.HasPrefix(text, "360") {
		return strconv.FormatFloat(0, 'f', decimals, 64)
	}
	return text
}

// LetteredText writes an angle in degrees as observers do, with a letter for its sign
// and two figures at least before the point: N08.3, W14. What reads 0 has the letter of
// positive ones.
func (a Angle) LetteredText(decimals int, positive, negative string) string {
	text := strconv.FormatFloat(math.Abs(a.Degrees()), 'f', decimals, 64)
	letter := positive
	if a < 0 && strings.Trim(text, "0.") != "" {
		letter = negative
	}
	if whole, _, _ := strings.Cut(text, "."); len(whole) < 2 {
		text = "0" + text
	}
	return letter + text
}
