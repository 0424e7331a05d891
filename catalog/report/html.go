package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"
	"time"
)

//go:embed page.html
var pageSource string

//go:embed page.css
var pageStyle string

var page = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Funcs(template.FuncMap{
		"style":  func() template.CSS { return template.CSS(pageStyle) },
		"svg":    svgOf,
		"lines":  func(text string) []string { return strings.Split(text, "\n") },
		"utc":    func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04Z") },
		"heads":  headsOf,
		"shares": sharesOf,
		"next":   func(i int) int { return i + 1 },
	}).Parse(pageSource))
})

// WriteHTML writes a document as one HTML file that needs no other.
func WriteHTML(w io.Writer, d Document) error {
	var b bytes.Buffer // so that a chart that cannot be written leaves no half page
	if err := page().Execute(&b, d); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

// svgOf is a figure's chart, which scales with the page.
func svgOf(f Figure) (template.HTML, error) {
	var b bytes.Buffer
	if err := f.Chart.WriteSVG(&b); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}

// headGroup is a heading over neighbouring columns.
type headGroup struct {
	Text, Kind string
	Span       int
}

// headsOf gives the headings over a table's columns, none when no column has one.
func headsOf(t Table) []headGroup {
	var groups []headGroup
	grouped := false
	for _, c := range t.Columns {
		grouped = grouped || c.Group != ""
		if last := len(groups) - 1; last >= 0 && groups[last].Text == c.Group {
			groups[last].Span++
			continue
		}
		groups = append(groups, headGroup{c.Group, c.Kind, 1})
	}
	if !grouped {
		return nil
	}
	return groups
}

// sharesOf gives the columns' widths in parts of a hundred.
func sharesOf(t Table) []string {
	sum := 0.0
	for _, c := range t.Columns {
		sum += c.Weight
	}
	shares := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		shares[i] = fmt.Sprintf("%.1f", 100*c.Weight/sum)
	}
	return shares
}
