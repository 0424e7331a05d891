package ephemeris

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// published is the folder of the tables that another library computed; each
// file says on top which.
const published = "../../testdata/published"

// row is one line of a table, by column name.
type row map[string]string

// readTable reads a CSV file with comment lines on top.
func readTable(t *testing.T, path ...string) []row {
	t.Helper()
	file, err := os.Open(filepath.Join(path...))
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

// number reads a numeric field.
func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	require.NoError(t, err, "column %s of %v", column, r)
	return v
}

// degrees reads a field in degrees.
func (r row) degrees(t *testing.T, column string) coords.Angle {
	t.Helper()
	return coords.Angle(r.number(t, column)) * coords.Degree
}

// instant reads a field that holds a time, with or without the Z.
func (r row) instant(t *testing.T, column string) time.Time {
	t.Helper()
	text := r[column]
	if text[len(text)-1] != 'Z' {
		text += "Z"
	}
	v, err := time.Parse(time.RFC3339, text)
	require.NoError(t, err)
	return v
}

// apart is the difference of two angles in degrees, without sign or whole turns.
func apart(a, b coords.Angle) float64 { return (a - b).Wrap180().Abs().Degrees() }

// worst keeps the largest value it has seen.
type worst float64

func (w *worst) see(v float64) { *w = max(*w, worst(v)) }
