package report

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// WriteECSV writes marks as Enhanced Character Separated Values 1.0 (Astropy Proposal
// for Enhancement 6): CSV under a YAML head with types, units and meanings.
func WriteECSV(w io.Writer, entries []Marked, about Origin) error {
	out := bufio.NewWriterSize(w, 1<<16)
	out.WriteString("# %ECSV 1.0\n# ---\n# delimiter: ','\n# datatype:\n")
	for _, c := range markColumns {
		fmt.Fprintf(out, "# - {name: %s, ", c.name)
		if c.unit != "" {
			fmt.Fprintf(out, "unit: %s, ", c.unit)
		}
		fmt.Fprintf(out, "datatype: %s, description: %s", c.ecsvType(), yaml(c.about))
		if c.ucd != "" {
			fmt.Fprintf(out, ", meta: {ucd: %s}", yaml(c.ucd))
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
		names[i] = c.name
	}
	fmt.Fprintln(out, strings.Join(names, ","))
	for _, e := range entries {
		for i, c := range markColumns {
			names[i] = c.ecsvCell(e)
		}
		fmt.Fprintln(out, strings.Join(names, ","))
	}
	return out.Flush()
}

func (c markColumn) ecsvType() string {
	switch {
	case c.isNumber():
		return "float64"
	case c.whole != nil:
		return "int64"
	case c.yes != nil:
		return "bool"
	}
	return "string"
}

// ecsvCell is a value as ECSV has it. An empty unquoted one is masked, that is, not
// known; an empty text is a text.
func (c markColumn) ecsvCell(e Marked) string {
	text := c.cell(e)
	switch {
	case c.text != nil:
		return `"` + strings.ReplaceAll(oneLine(text), `"`, `""`) + `"`
	case c.yes != nil && text != "":
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
