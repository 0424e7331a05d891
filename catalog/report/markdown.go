package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// WriteMarkdown writes a document as Markdown (CommonMark with the tables that most
// readers know). Charts are named, since text cannot hold them.
func WriteMarkdown(w io.Writer, d Document) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, "# %s\n\n%s\n", inText(d.Title), inText(d.Subtitle))
	if len(d.Facts) > 0 {
		fmt.Fprintln(out)
	}
	for _, f := range d.Facts {
		fmt.Fprintf(out, "- %s: %s\n", f.Label, inText(strings.ReplaceAll(f.Text, "\n", "; ")))
	}
	for _, s := range d.Sections {
		fmt.Fprintf(out, "\n## %s\n", inText(s.Title))
		for _, b := range s.Blocks {
			fmt.Fprintln(out)
			markdownBlock(out, b)
		}
	}
	fmt.Fprintf(out, "\nWritten by %s on %s. All times are UT.\n", inText(d.Program), d.Made.UTC().Format("2006-01-02 15:04Z"))
	return out.Flush()
}

func markdownBlock(out io.Writer, b Block) {
	switch {
	case b.Words != "":
		fmt.Fprintf(out, "> %s\n", strings.ReplaceAll(inText(b.Words), "\n", "\n> "))
	case len(b.Items) > 0:
		for _, item := range b.Items {
			fmt.Fprintf(out, "- %s\n", inText(item))
		}
	case b.Table != nil:
		markdownTable(out, *b.Table)
	case b.Figures != nil:
		for _, f := range b.Figures.Items {
			what := f.Caption
			if what == "" {
				what = f.Chart.Title
			}
			fmt.Fprintf(out, "- Chart (in the HTML and the PDF): %s\n", inText(what))
		}
	default:
		fmt.Fprintln(out, inText(b.Text+b.Small))
	}
}

func markdownTable(out io.Writer, t Table) {
	if len(t.Rows) == 0 {
		fmt.Fprintln(out, inText(t.Empty))
		return
	}
	var heads, rules []string
	for _, c := range t.Columns {
		heads = append(heads, inCell(strings.TrimSpace(c.Group+" "+c.Head)))
		if c.Figures {
			rules = append(rules, "---:")
		} else {
			rules = append(rules, "---")
		}
	}
	row := func(cells []string) { fmt.Fprintf(out, "| %s |\n", strings.Join(cells, " | ")) }
	row(heads)
	row(rules)
	for _, r := range t.Rows {
		cells := make([]string, len(r.Cells))
		for i, c := range r.Cells {
			cells[i] = inCell(c)
			if r.Strong && c != "" {
				cells[i] = "**" + cells[i] + "**"
			}
		}
		if r.Below != "" {
			cells[0] += "<br>" + inCell(r.Below)
		}
		row(cells)
	}
}

// inText keeps what somebody typed from becoming markup.
func inText(text string) string {
	return strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", "&lt;", "#", `\#`, "~", `\~`).Replace(text)
}

func inCell(text string) string {
	return strings.ReplaceAll(strings.Join(strings.Fields(inText(text)), " "), "|", `\|`)
}
