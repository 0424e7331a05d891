package observe_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// What is known of the limb in H-alpha (Johannesson & Zirin 1996, ApJ 471, 510: 4.35 Mm)
// is said of no other line: a narrow filter in the continuum shows the photosphere's
// limb, and taken for the chromosphere's it would move a place by half a degree.
func TestTheLimbOfAnotherLineIsNotThatOfHAlpha(t *testing.T) {
	for name, c := range map[string]struct {
		wavelengthA, passbandA float64
		photosphere, hAlpha    bool // is possible: within two standard errors
	}{
		"no wavelength":        {0, 0.5, false, true},
		"H-alpha":              {6562.8, 0.5, false, true},
		"its wing":             {6562.0, 0.5, false, true},
		"a narrow continuum":   {6173, 0.08, true, true},
		"calcium, not so wide": {3933.7, 2, true, true},
		"white light":          {5400, 100, true, false},
	} {
		k := keeper(t)
		_, _, setup := yard(t, k)
		setup.WavelengthA, setup.PassbandA, setup.Stacked = c.wavelengthA, c.passbandA, 1
		_, err := k.EditSetup(ctx, setup)
		require.NoError(t, err)
		added := paintedFrame(t, k, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), middle)
		require.Equal(t, catalog.LayerPrior, added.Disc.LayerFrom)
		l := added.Disc.Layer
		possible := func(mm float64) bool { return mm >= l.HeightMm-2*l.SigmaMm && mm <= l.HeightMm+2*l.SigmaMm }
		assert.Equal(t, c.photosphere, possible(coords.Photosphere.HeightMm), "%s: %v", name, l)
		assert.Equal(t, c.hAlpha, possible(coords.Chromosphere.HeightMm), "%s: %v", name, l)
	}
}
