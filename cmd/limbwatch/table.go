package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// table prints rows for people, in columns.
type table struct {
	header []string
	rows   [][]string
}

func newTable(header ...string) *table { return &table{header: header} }

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// print writes the table, or, when it has no rows, what to do about that: nothing
// found is an answer and no error.
func (t *table) print(w io.Writer, empty string) error {
	if len(t.rows) == 0 {
		_, err := fmt.Fprintln(w, empty)
		return err
	}
	out := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, cells := range append([][]string{t.header}, t.rows...) {
		line := strings.TrimRight(strings.Join(cells, "\t"), "\t ")
		if _, err := fmt.Fprintln(out, line); err != nil {
			return err
		}
	}
	return out.Flush()
}
