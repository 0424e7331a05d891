package observe_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// TestMeasureLimbFindsTheHeight drifts a circle across a field as the Sun does, 15″
// cos δ a second (360° in a mean solar day, less the Sun's own motion, which the
// error holds), with a radius that belongs to a limb 4.35 Mm up.
func TestMeasureLimbFindsTheHeight(t *testing.T) {
	ctx := context.Background()
	start := time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
	k, err := observe.Open(ctx, filepath.Join(t.TempDir(), "c.db"), catalog.Terminal, func() time.Time { return start })
	require.NoError(t, err)
	defer k.Close()
	_, _, err = k.AddInstrument(ctx, catalog.Instrument{Name: "scope"}, catalog.Setup{Name: "usual"})
	require.NoError(t, err)

	sun := ephemeris.SunAt(start)
	const arcsecPerPx = 2.0
	radiusPx := sun.Face.Semidiameter.Arcseconds() * (1 + 4.35/coords.SolarRadiusMm) / arcsecPerPx
	var frames []catalog.FrameID
	for i := range 3 {
		at := start.Add(time.Duration(i) * time.Minute)
		f, _, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: at}, []catalog.Mark{{Kind: catalog.Other,
			Geometry: catalog.Geometry{Shape: catalog.Point, Polar: []catalog.PolarPoint{{R: 0.1}}}}})
		require.NoError(t, err)
		driftPx := at.Sub(start).Seconds() * 15 * sun.Dec.Cos() / arcsecPerPx
		_, err = k.SetCircle(ctx, f.ID, coords.Limb{Centre: coords.Pixel{X: 600 + 0.8*driftPx, Y: 500 - 0.6*driftPx}, RadiusPx: radiusPx,
			Cov: coords.LimbCovariance{XX: 0.0025, YY: 0.0025, RR: 0.0025}}, nil, 0)
		require.NoError(t, err)
		frames = append(frames, f.ID)
	}
	setup, layer, err := k.MeasureLimb(ctx, frames)
	require.NoError(t, err)
	assert.InDelta(t, 4.35, layer.HeightMm, 0.05, "Mm above the photosphere")
	assert.InDelta(t, 0.2, layer.SigmaMm, 0.15, "Mm: 0.07 px over 900 px, and the Sun's own motion")
	require.NotNil(t, setup.Surface)
	assert.Equal(t, layer, *setup.Surface)

	_, _, err = k.MeasureLimb(ctx, frames[:1])
	assert.ErrorContains(t, err, "at least 2")
}
