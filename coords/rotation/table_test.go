package rotation

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/testdata"
)

func degrees(t *testing.T, r testdata.Row, column string) coords.Angle {
	t.Helper()
	return coords.Angle(r.Number(t, column)) * coords.Degree
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
