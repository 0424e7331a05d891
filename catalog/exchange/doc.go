// Package exchange writes the whole record of an observer as JSON Lines, and reads
// it back to the last digit: one thing a line, each with the UUID that names it in
// every catalogue, and naming others by theirs. It knows no catalogue and no files.
//
// The short ids of a catalogue (M12) are not in the file: they are good in their own
// catalogue only. Nor are the history, what was removed, or the pictures themselves.
package exchange

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

// Record is what a file holds. Its ids count within the Record: those of the
// catalogue it was read from, or the place in the file it was read from.
//
//	Positions  where marks lie: written for whoever reads the file, not read back,
//	           since they follow from the rest
type Record struct {
	Observers   []catalog.Observer
	Sites       []catalog.Site
	Instruments []catalog.Instrument
	Setups      []catalog.Setup
	Sittings    []catalog.Sitting
	Counts      []catalog.Count
	Frames      []catalog.Frame
	Discs       []catalog.Disc
	Norths      []catalog.North
	Warnings    []catalog.Warning
	Marks       []catalog.Mark
	Passages    []catalog.Passage
	Joins       []catalog.Join
	Links       []catalog.Link
	Positions   map[catalog.MarkID]catalog.Position
}

// Version is the version of the format. A file of a later one is refused. In version 1
// the names of megametres ended in _mm, as those of millimetres do; up to version 2 nothing
// told whether a file was whole; up to version 3 some figures stood in objects of their
// own, and heights in megametres. They are read as before.
const Version = 4

// flatFrom is the first version whose lines have the fields of package field.
const flatFrom = 4

// Fields describes the lines of a file, field by field, with units.
var Fields = func() string {
	var b strings.Builder
	b.WriteString(`Each line is one JSON object; "noun" says of what, "uuid" (RFC 9562) names it. What is
not known is left out, and so are empty words and what is not so. Angles are degrees,
times UTC to the millisecond ending in Z, heights and lengths on the Sun kilometres,
pixels count from the centre of the top-left pixel, x right, y down. Other things are
named by their UUIDs.

`)
	entry(&b, "record", "first line: version, program, written_utc, things (how many of each noun the file holds)")
	for _, n := range nouns {
		text := n.describe()
		if n.name() == field.Mark.Name {
			text += "; derived: its position as limbwatch found it, which is computed anew when the file is read (" + fieldsInWords(field.Position) + ")"
		}
		entry(&b, n.name(), text)
	}
	entry(&b, "end", "last line, by which a file that was cut or changed is known: things (how many of each noun), "+
		"sha256 (in hexadecimal digits: each line before it, the first without written_utc, in canonical form by RFC 8785 and hashed "+
		"by SHA-256; these hashes, as bytes in rising order, one behind the other, hashed again. Line ends, spacing and the order of "+
		"fields and of lines do not matter)")
	return strings.TrimSuffix(b.String(), "\n")
}()

func (n travelling[T, ID]) describe() string { return fieldsInWords(n.Noun.Fields) }

// fieldsInWords lists fields with what they mean.
func fieldsInWords[T any](fields []field.Field[T]) string {
	words := make([]string, len(fields))
	for i, f := range fields {
		words[i] = f.Name
		if f.About != "" && (i+1 == len(fields) || fields[i+1].About != f.About) { // of several alike it is said once
			words[i] += " (" + f.About + ")"
		}
	}
	return strings.Join(words, ", ")
}

// entry writes a noun and what is said of it, in lines of 88 characters.
func entry(b *strings.Builder, noun, text string) {
	const indent, width = 14, 88
	line := fmt.Sprintf("  %-*s", indent-2, noun)
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
			b.WriteString(line + "\n")
			line, empty = strings.Repeat(" ", indent), true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	b.WriteString(line + "\n")
}
