package capture

import (
	"fmt"
	"slices"
	"strings"
)

// abbreviations are names of zones that are understood by people and mean several:
// IST is India's, Israel's and Ireland's. Those in use since 1985, IANA time zone
// database 2026; then others that are written though it has none (common practice, no
// source).
var abbreviations = strings.Fields(`
	ACDT ACST ADDT ADT AEDT AEST AKDT AKST AST AWDT AWST BST CAST CAT CDT CEST CET CST ChST EAT EDT
	EEST EET EST GST HDT HKT HST IDT IST JST KDT KST MDT MEST MET MSD MSK MST NDDT NDT NST NZDT NZST
	PDT PKST PKT PST SAST SST WAT WEST WET WIB WIT WITA
	MEZ MESZ OEZ OESZ WEZ WESZ LMT SGT PHT ICT NPT BRT BRST ART CLT CLST COT PET TRT IRST IRDT AZT MYT`)

// plainWords are abbreviations that are also words or names of other things; they are
// zones in capitals only.
var plainWords = []string{"CAST", "CAT", "EAT", "MET", "WEST", "WET", "WIT", "ART", "COT", "PET", "EST", "HST", "SST", "PHT", "NPT"}

// isAbbreviation says whether a word behind a time is the abbreviation of a zone.
func isAbbreviation(word string) bool {
	upper := strings.ToUpper(word)
	if !slices.ContainsFunc(abbreviations, func(a string) bool { return strings.EqualFold(a, word) }) {
		return false
	}
	return word == upper || !slices.Contains(plainWords, upper)
}

func abbreviationError(word string) error {
	return fmt.Errorf("zone %q: abbreviations mean several zones; want an offset like +02:00, or UTC", word)
}
