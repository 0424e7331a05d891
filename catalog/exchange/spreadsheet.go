package exchange

import (
	"regexp"
	"strings"
)

// spreadsheetTrap is what a spreadsheet would run as a formula or take for a date or
// another number: 1-2 becomes the first of February, 1E5 a hundred thousand, Mar 1 a
// day, 5 p an hour, 007 a 7. A plain whole number, as a region's, comes to no harm.
var spreadsheetTrap = regexp.MustCompile(`(?i)^([=+\-@\t\r']|0\d|\d+[^\da-z]|\d+e[+-]?\d|\d{16}|\d{1,2}[ap]m?$|(\d+)?(jan(uary)?|feb(ruary)?|mar(ch)?|apr(il)?|may|june?|july?|aug(ust)?|sept?(ember)?|oct(ober)?|nov(ember)?|dec(ember)?)[-/. ]?\d|\d+(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec))`)

// Harmless keeps a spreadsheet from making something else of what somebody typed: an apostrophe stands before it, which reading takes off again (Typed).
func Harmless(text string) string {
	if spreadsheetTrap.MatchString(text) {
		return "'" + text
	}
	return text
}

// Typed undoes Harmless.
func Typed(text string) string {
	if rest, ok := strings.CutPrefix(text, "'"); ok && spreadsheetTrap.MatchString(rest) {
		return rest
	}
	return text
}

var (
	namesEscaped = strings.NewReplacer(`\`, `\\`, `|`, `\|`)
	namesPlain   = strings.NewReplacer(`\\`, `\`, `\|`, `|`)
)

// Names writes several names into one cell, apart by |.
func Names(names []string) string {
	cells := make([]string, len(names))
	for i, name := range names {
		cells[i] = namesEscaped.Replace(name)
	}
	return strings.Join(cells, "|")
}

// NamesOf reads what Names wrote; empty names and blanks round them are left out.
func NamesOf(cell string) (names []string) {
	add := func(escaped string) {
		if name := strings.TrimSpace(namesPlain.Replace(escaped)); name != "" {
			names = append(names, name)
		}
	}
	from := 0
	for i := 0; i < len(cell); i++ {
		switch cell[i] {
		case '\\':
			i++ // what it stands before
		case '|':
			add(cell[from:i])
			from = i + 1
		}
	}
	add(cell[min(from, len(cell)):])
	return names
}
