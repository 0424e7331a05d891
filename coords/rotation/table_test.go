package rotation

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// row is one line of a table, by column name.
type row map[string]string

// readTable reads a CSV file with comment lines on top.
func readTable(t *testing.T, path string) []row {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	lines, err := reader.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1, "the table has rows")
	var rows []row
	for _, line := range lines[1:] {
		r := row{}
		for i, name := range lines[0] {
			r[name] = line[i]
		}
		rows = append(rows, r)
	}
	return rows
}

func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	require.NoError(t, err, "column %s of %v", column, r)
	return v
}

func (r row) degrees(t *testing.T, column string) coords.Angle {
	t.Helper()
	return coords.Angle(r.number(t, column)) * coords.Degree
}

func instant(t *testing.T, text string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339, text)
	require.NoError(t, err)
	return v
}

// law is Parse of a text that must be right.
func law(t *testing.T, text string) Law {
	t.Helper()
	l, err := Parse(text)
	require.NoError(t, err)
	return l
}

const deg = coords.Degree
