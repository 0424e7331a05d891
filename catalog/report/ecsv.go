package report

import (
	"bufio"
	"fmt"
	"io"
	"limbwatch/catalog/field"
	"limbwatch/catalog/measure"
	"strconv"
	"strings"
)

// WriteECSV writes marks as Enhanced Character Separated Values 1.0 (Astropy Proposal
// for Enhancement 6): CSV under a YAML head with types, units and meanings.
func WriteECSV(w io.Writer, entries []measure.Marked, about Origin) error {
	out := bufio.NewWriterSize(w, 1<<16)
	out.WriteString("# %ECSV 1.0\n# ---\n# delimiter: ','\n# datatype:\n")
	for _, c := range markColumns {
		fmt.Fprintf(out, "# - {name: %s, ", c.Name)
		if c.Unit != "" {
			fmt.Fprintf(out, "unit: %s, ", c.Unit)
		}
		fmt.Fprintf(out, "datatype: %s, description: %s", c.ecsvType(), yaml(c.About))
		if c.UCD != "" {
			fmt.Fprintf(out, ", meta: {ucd: %s}", yaml(c.UCD))
		}
		fmt.Fprint(out, "}\n")
	}
	fmt.Fprint(out, "# meta:\n")
	for _, line := range about.lines() {
		fmt.Fprintf(out, "#   %s: %s\n", line.Label, yaml(line.Text))
	}
	fmt.Fprint(out, "# schema: astropy-2.0\n")
	names := make([]string, len(markColumns))
	for i, c := range markColumns {
		names[i] = c.Name
	}
	fmt.Fprintln(out, strings.Join(names, ","))
	for at := range entries {
		for i, c := range markColumns {
			names[i] = c.ecsvCell(&entries[at])
		}
		fmt.Fprintln(out, strings.Join(names, ","))
	}
	return out.Flush()
}

func (c markColumn) ecsvType() string {
	switch c.Kind {
	case field.Number:
		return "float64"
	case field.Whole:
		return "int64"
	case field.Yes:
		return "bool"
	}
	return "string"
}

// ecsvCell is a value as ECSV has it. An empty unquoted one is masked, that is, not
// known; an empty text is a text.
func (c markColumn) ecsvCell(m *measure.Marked) string {
	text := c.cell(m)
	switch {
	case c.Kind == field.Text || c.Kind == field.Names:
		return `"` + strings.ReplaceAll(oneLine(text), `"`, `""`) + `"`
	case c.Kind == field.Yes && text != "":
		return strings.ToUpper(text[:1]) + text[1:]
	}
	return text
}

// oneLine keeps line ends out of a cell, which not every reader allows there.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// yaml is a text as a double-quoted YAML scalar, whose escapes are those of JSON.
func yaml(text string) string { return strconv.QuoteToASCII(oneLine(text)) }

// Origin says where marks in a file are from.
//
//	Title      what they are
//	Observers, Sites, Instruments  in words
//	Program    that wrote the file, Made when, RFC 3339
type Origin struct {
	Title, Observers, Sites, Instruments, Program, Made string
}

// lines are what there is to say.
func (o Origin) lines() (lines []Fact) {
	for _, f := range []Fact{
		{"title", o.Title}, {"observers", o.Observers}, {"sites", o.Sites}, {"instruments", o.Instruments},
		{"program", o.Program}, {"made", o.Made},
		{"frame", "heliographic, Carrington longitude growing westward (IAU rotation elements); position angles from celestial north through east; times UTC"},
	} {
		if f.Text != "" {
			lines = append(lines, f)
		}
	}
	return lines
}

// OriginOf says where the marks of a report's input are from.
func OriginOf(in Input) Origin {
	c := composer{Input: in}
	o := Origin{Title: "Marks on the Sun, " + in.Period.String(), Program: in.Program, Made: in.Made.UTC().Format("2006-01-02T15:04:05Z")}
	for _, f := range c.facts() {
		text := strings.ReplaceAll(f.Text, "\n", "; ")
		switch {
		case strings.HasPrefix(f.Label, "Observer"):
			o.Observers = text
		case strings.HasPrefix(f.Label, "Site"):
			o.Sites = text
		default:
			o.Instruments = text
		}
	}
	return o
}
