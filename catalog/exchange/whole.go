package exchange

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Wholeness says whether a record that was read is all that was written.
//
//	Told   the file tells it, as files do from version 3 of the format on
//	Whole  it holds what it says it holds
//	Words  what is missing or changed, or that nothing tells; empty when it is whole
type Wholeness struct {
	Told, Whole bool
	Words       string
}

// NotWholeError says that a record is not what was written.
type NotWholeError struct{ Wholeness Wholeness }

func (e *NotWholeError) Error() string { return "the record is not whole: " + e.Wholeness.Words }

// sealedFrom is the first version whose files tell whether they are whole.
const sealedFrom = 3

// inWords lists counts, as 3 marks, 1 passage.
func (t things) inWords() string {
	var words []string
	for _, noun := range slices.Sorted(maps.Keys(t)) {
		if n := t[noun]; n == 1 {
			words = append(words, "1 "+noun)
		} else if n > 1 {
			words = append(words, fmt.Sprintf("%d %ss", n, noun))
		}
	}
	return strings.Join(words, ", ")
}

// seal gathers what the last line of a record says of those before it. Line ends, spacing
// and the order of members and of lines, which mail and editors change, do not matter to
// it; nor does when the record was written.
type seal struct{ lines [][sha256.Size]byte }

// add takes in a line.
func (s *seal) add(noun string, text []byte) error {
	var members map[string]any
	if err := json.Unmarshal(text, &members); err != nil {
		return err
	}
	if noun == "record" {
		delete(members, "written_utc")
	}
	s.lines = append(s.lines, sha256.Sum256(appendCanonical(nil, members)))
	return nil
}

// sum is the SHA-256 of the SHA-256 of all lines, those in rising order.
func (s *seal) sum() string {
	lines := slices.Clone(s.lines)
	slices.SortFunc(lines, func(a, b [sha256.Size]byte) int { return bytes.Compare(a[:], b[:]) })
	all := sha256.New()
	for _, line := range lines {
		all.Write(line[:])
	}
	return hex.EncodeToString(all.Sum(nil))
}

// wholeness holds what was read against what the file says of itself.
func (in *reader) wholeness() Wholeness {
	if in.version < sealedFrom {
		return Wholeness{Words: fmt.Sprintf("nothing tells whether the record is whole: it is of version %d of the format, and only from %d on a record says how it ends", in.version, sealedFrom)}
	}
	found := things{}
	for _, p := range in.places {
		found[p.noun]++
	}
	told := in.things
	if in.end != nil {
		told = in.end.Things
	}
	all := maps.Clone(found) // of the nouns alone
	maps.Copy(all, told)
	var short, words []string
	for _, noun := range slices.Sorted(maps.Keys(all)) {
		if found[noun] != told[noun] {
			short = append(short, fmt.Sprintf("%d of %d %ss", found[noun], told[noun], noun))
		}
	}
	if in.cut > 0 {
		words = append(words, fmt.Sprintf("line %d breaks off", in.cut))
	}
	if in.end == nil {
		words = append(words, "its last line is missing")
	}
	if len(short) > 0 {
		words = append(words, "there are "+strings.Join(short, ", "))
	} else if in.end == nil {
		words = append(words, "there is as much of everything as its first line says")
	} else if in.end.SHA256 != in.seal.sum() {
		words = append(words, "something in it was changed since it was written, for the check sum in its last line is another")
	}
	return Wholeness{Told: true, Whole: len(words) == 0, Words: strings.Join(words, "; ")}
}
