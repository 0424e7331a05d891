package exchange

import (
	"encoding/csv"
	"errors"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// endless gives the same byte for ever.
type endless byte

func (e endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(e)
	}
	return len(p), nil
}

func TestARowThatDoesNotEndIsGivenUp(t *testing.T) {
	for what, begin := range map[string]string{"a line without end": "", "a quote that is not closed": "\"\n\n"} {
		rows := NewRows(io.MultiReader(strings.NewReader("kind,utc\nplage,now\n"+begin), endless('x')))
		for range 2 {
			_, err := rows.Read()
			require.NoError(t, err)
		}
		_, err := rows.Read()
		long, ok := errors.AsType[*RowTooLongError](err)
		require.True(t, ok, "%s: %v", what, err)
		assert.Equal(t, 3, long.Row)
	}
}

func TestManyRowsOfAllowedLengthAreRead(t *testing.T) {
	row := strings.Repeat("x", MaxRowBytes-8192) + ",y\n"
	rows := NewRows(strings.NewReader(strings.Repeat(row, 5)))
	for range 5 {
		record, err := rows.Read()
		require.NoError(t, err)
		assert.Len(t, record, 2)
	}
	_, err := rows.Read()
	assert.Equal(t, io.EOF, err)
}

func TestARecordIsBounded(t *testing.T) {
	begin := `{"noun":"record","version":1}` + "\n"
	_, _, err := Read(io.MultiReader(strings.NewReader(begin), endless('x')))
	require.ErrorContains(t, err, "line 2: the line is longer than")
	_, _, err = Read(io.MultiReader(strings.NewReader(begin), endless(' ')))
	require.ErrorContains(t, err, "line 2: the line is longer than")
}

// Rows are written as the standard library's writer of CSV does.
func TestRowIsQuotedAsCSV(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	pieces := []string{"", "a", "12.5", ",", `"`, "\r", "\n", " ", "\t", `\.`, "é", "\u00a0", "\xff", "'"}
	for range 5000 {
		row := make([]string, 2+rng.IntN(3))
		for i := range row {
			for range rng.IntN(4) {
				row[i] += pieces[rng.IntN(len(pieces))]
			}
		}
		var want strings.Builder
		w := csv.NewWriter(&want)
		require.NoError(t, w.Write(row))
		w.Flush()
		require.Equal(t, want.String(), string(AppendRow(nil, row))+"\n", "%q", row)
	}
}
