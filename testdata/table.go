package testdata

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"
)

// Row is a line of a table, by the names of its columns.
type Row map[string]string

// Table reads a CSV file that names its columns and may have comments, lines that begin
// with #.
func Table(t testing.TB, path string) []Row {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	lines, err := reader.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if len(lines) < 2 {
		t.Fatalf("%s: the table has no rows", path)
	}
	var rows []Row
	for _, line := range lines[1:] {
		row := Row{}
		for i, name := range lines[0] {
			row[strings.TrimSpace(name)] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// Number reads a numeric field.
func (r Row) Number(t testing.TB, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %s of %v: %v", column, r, err)
	}
	return v
}
