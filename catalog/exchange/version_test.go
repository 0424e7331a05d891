package exchange

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// A file of the first version, whose heights are megametres under names in _mm, is read,
// and written again in kilometres.
func TestTheFirstVersionIsReadStill(t *testing.T) {
	const old = `{"noun":"record","version":1}
{"noun":"passage","uuid":"0197c0de-0000-7000-8000-000000000009","name":"long","kind":"filament","height":{"height_mm":31.5,"sigma_mm":4}}
{"noun":"instrument","uuid":"0197c0de-0000-7000-8000-000000000004","name":"60 mm","aperture_mm":60,"focal_mm":500}
`
	r, whole, err := Read(strings.NewReader(old))
	require.NoError(t, err)
	assert.False(t, whole.Told)
	assert.Equal(t, "nothing tells whether the record is whole: it is of version 1 of the format, and only from 3 on a record says how it ends", whole.Words)
	require.Len(t, r.Passages, 1)
	require.NotNil(t, r.Passages[0].Height)
	assert.Equal(t, 31.5, r.Passages[0].Height.HeightMm)
	assert.Equal(t, 4.0, r.Passages[0].Height.SigmaMm)
	assert.Equal(t, 60.0, r.Instruments[0].ApertureMm)
	var b bytes.Buffer
	require.NoError(t, Write(&b, r, "test", time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)))
	assert.Contains(t, b.String(), `"version":4`)
	assert.Contains(t, b.String(), `"height_km":31500,"sigma_height_km":4000`)
	assert.Contains(t, b.String(), `"aperture_mm":60`)
	_, _, err = Read(strings.NewReader(`{"noun":"record","version":5}` + "\n"))
	assert.ErrorContains(t, err, "version 5")
}

// A record of the third version, in which some figures stood in objects and heights in
// megametres, as a program of that time wrote it: what it says is read to the last digit,
// and the record that is written from it says the same.
func TestTheThirdVersionIsReadStill(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "records", "0003.jsonl"))
	require.NoError(t, err)
	r, whole, err := Read(bytes.NewReader(text))
	require.NoError(t, err)
	assert.Equal(t, Wholeness{Told: true, Whole: true}, whole)

	require.Len(t, r.Setups, 1)
	assert.Equal(t, &coords.Layer{HeightMm: 4.2, SigmaMm: 0.4}, r.Setups[0].Surface)
	assert.Equal(t, &coords.Layer{HeightMm: 5, SigmaMm: 1}, r.Setups[0].Edge)
	assert.True(t, r.Setups[0].ReflectionsKnown)
	require.Len(t, r.Sittings, 1)
	s := r.Sittings[0]
	assert.Equal(t, catalog.Rating{Value: "3", Scale: "own scale"}, s.Transparency)
	assert.Equal(t, catalog.NoneSeen, s.Looked[catalog.Prominence])
	assert.Equal(t, catalog.LookedFor, s.Looked[catalog.Plage])
	assert.Equal(t, -2.5, s.ClockCorrectionS)
	require.Len(t, r.Counts, 1)
	assert.Equal(t, "N1,S2", r.Counts[0].String())
	require.Len(t, r.Discs, 2)
	for _, d := range r.Discs {
		assert.Contains(t, []coords.Layer{{HeightMm: 4.2, SigmaMm: 0.4}, {HeightMm: 5, SigmaMm: 1}}, d.Layer)
		assert.Positive(t, d.Limb.Cov.RR)
	}
	found := 0
	for _, m := range r.Marks {
		switch {
		case m.Label == "tall one":
			found++
			assert.Equal(t, &coords.Layer{HeightMm: 31.5, SigmaMm: 4}, m.Height)
			assert.Equal(t, 0.002, m.Geometry.SigmaR)
			assert.Equal(t, []string{"x 7"}, m.Aliases)
		case m.Sizes.LengthKm.Known:
			found++
			assert.Equal(t, catalog.Given{Value: 148_500, Known: true}, m.Sizes.LengthKm)
			assert.Equal(t, 26.0, m.Height.HeightMm)
		case m.Sizes.AreaMSH.Known:
			found++
			assert.Equal(t, catalog.Given{Value: 310, Sigma: 20, Known: true}, m.Sizes.AreaMSH)
		}
	}
	assert.Equal(t, 3, found)

	var first, second bytes.Buffer
	at := time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)
	require.NoError(t, Write(&first, r, "test", at))
	again, _, err := Read(bytes.NewReader(first.Bytes()))
	require.NoError(t, err)
	require.NoError(t, Write(&second, again, "test", at))
	assert.Equal(t, first.String(), second.String())
}
