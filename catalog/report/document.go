package report

import (
	"time"

	"limbwatch/catalog/chart/canvas"
)

// Document is a report put together: what HTML, PDF and Markdown say alike.
type Document struct {
	Title, Subtitle string
	Facts           []Fact
	Sections        []Section
	Program         string
	Made            time.Time
}

// Fact is a line of the head: what it is of, and what it says.
type Fact struct{ Label, Text string }

// Section is a part under a heading. NewPage begins it on a page of its own.
type Section struct {
	Title   string
	NewPage bool
	Blocks  []Block
}

// Block is one thing in a section: exactly one of its fields is set.
type Block struct {
	Text    string // a paragraph
	Words   string // a paragraph in the observer's own words
	Small   string // a remark under a table
	Items   []string
	Table   *Table
	Figures *Figures
}

// Table is a table; Rows may be empty, and then Empty says why.
type Table struct {
	Columns []Column
	Rows    []Row
	Empty   string
}

// Column is a column of a table.
//
//	Group   stands over neighbouring columns of one group; may be empty
//	Weight  share of the table's width
//	Figures set to the right, with figures of one width
//	Kind    the name of a kind, whose colour the group's heading has; may be empty
type Column struct {
	Group, Head string
	Weight      float64
	Figures     bool
	Kind        string
}

// Row is a row of a table.
//
//	Below   a line under the row, across the table
//	Strong  totals
//	Faint   a day on which nobody observed
type Row struct {
	Cells         []string
	Below         string
	Strong, Faint bool
}

// withoutEmpty is the table without the columns in which nothing stands.
func (t Table) withoutEmpty() *Table {
	used := make([]bool, len(t.Columns))
	for _, r := range t.Rows {
		for i, cell := range r.Cells {
			used[i] = used[i] || cell != ""
		}
	}
	out := Table{Empty: t.Empty}
	for i, c := range t.Columns {
		if used[i] {
			out.Columns = append(out.Columns, c)
		}
	}
	for _, r := range t.Rows {
		kept := r
		kept.Cells = nil
		for i, cell := range r.Cells {
			if used[i] {
				kept.Cells = append(kept.Cells, cell)
			}
		}
		out.Rows = append(out.Rows, kept)
	}
	return &out
}

// Figures are charts beside and below one another, PerRow to a row.
type Figures struct {
	PerRow int
	Items  []Figure
}

// Figure is a chart with what stands under it.
type Figure struct {
	Chart   *canvas.Canvas
	Caption string
}

func paragraph(text string) Block { return Block{Text: text} }
func small(text string) Block     { return Block{Small: text} }
