package catalog

import (
	"fmt"
	"unicode"
)

// Steers says whether a character is not written but obeyed: the control characters (C0,
// DEL and C1, with which a terminal is steered: ECMA-48), the marks that turn the order
// of reading (Unicode Standard Annex 9, table of explicit directional formatting
// characters and the Arabic letter mark), and the separators of lines and paragraphs.
func Steers(r rune) bool {
	switch {
	case unicode.IsControl(r):
		return true
	case r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069', r == '\u061c':
		return true
	case r == '\u2028', r == '\u2029':
		return true
	}
	return false
}

// validateSteerless refuses a name that could steer a terminal.
func validateSteerless(noun, name string) error {
	for _, r := range name {
		if Steers(r) {
			return fmt.Errorf("%s %q has the control character %U in it", noun, name, r)
		}
	}
	return nil
}
