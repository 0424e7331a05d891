package exchange

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A file of the first version is read, and written again with names that tell
// megametres (Mm, SI) from millimetres (mm).
func TestTheFirstVersionIsReadStill(t *testing.T) {
	const old = `{"noun":"record","version":1}
{"noun":"passage","uuid":"0197c0de-0000-7000-8000-000000000009","name":"long","kind":"filament","height":{"height_mm":31.5,"sigma_mm":4}}
{"noun":"instrument","uuid":"0197c0de-0000-7000-8000-000000000004","name":"60 mm","aperture_mm":60,"focal_mm":500}
`
	r, err := Read(strings.NewReader(old))
	require.NoError(t, err)
	require.Len(t, r.Passages, 1)
	require.NotNil(t, r.Passages[0].Height)
	assert.Equal(t, 31.5, r.Passages[0].Height.HeightMm)
	assert.Equal(t, 4.0, r.Passages[0].Height.SigmaMm)
	assert.Equal(t, 60.0, r.Instruments[0].ApertureMm)
	var b bytes.Buffer
	require.NoError(t, Write(&b, r, "test", time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)))
	assert.Contains(t, b.String(), `"version":2`)
	assert.Contains(t, b.String(), `"height_Mm":31.5,"sigma_Mm":4`)
	assert.Contains(t, b.String(), `"aperture_mm":60`)
	_, err = Read(strings.NewReader(`{"noun":"record","version":3}` + "\n"))
	assert.ErrorContains(t, err, "version 3")
}
