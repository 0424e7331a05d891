package ephemeris

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/testdata"
)

// published is the folder of the tables that another library computed; each
// file says on top which.
const published = "../../testdata/published/"

// degrees reads a field in degrees.
func degrees(t *testing.T, r testdata.Row, column string) coords.Angle {
	t.Helper()
	return coords.Angle(r.Number(t, column)) * coords.Degree
}

// instant reads a time, with or without the Z.
func instant(t *testing.T, text string) time.Time {
	t.Helper()
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
