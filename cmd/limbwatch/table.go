package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"unicode"
)

// table prints rows for people, in columns.
type table struct {
	header []string
	rows   [][]string
}

func newTable(header ...string) *table { return &table{header: header} }

func (t *table) add(cells ...string) {
	for i := range cells {
		cells[i] = onOneLine(cells[i])
	}
	t.rows = append(t.rows, cells)
}

// onOneLine is text that somebody wrote, perhaps in another catalogue, without what would
// break a line.
func onOneLine(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, text)
}

// print writes the table, or, when it has no rows, what to do about that: nothing
// found is an answer and no error.
func (t *table) print(w io.Writer, empty string) error {
	if len(t.rows) == 0 {
		_, err := fmt.Fprintln(w, empty)
		return err
	}
	var columns bytes.Buffer
	out := tabwriter.NewWriter(&columns, 0, 0, 2, ' ', 0)
	for _, cells := range append([][]string{t.header}, t.rows...) {
		fmt.Fprintln(out, strings.Join(cells, "\t"))
	}
	if err := out.Flush(); err != nil {
		return err
	}
	for line := range strings.Lines(columns.String()) {
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " \n")); err != nil {
			return err
		}
	}
	return nil
}
