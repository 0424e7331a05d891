package observe_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/catalog/wholefile"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// TestEllipsesHoldWhatTheyClaimEndToEnd paints discs, finds them, types a north that
// is off by its error, clicks known places with a hand that shakes by half a pixel,
// and counts how many of the true places lie in the 68 % and 95 % ellipses that the
// catalogue gives. Points within three standard errors of the limb are left out, as
// the catalogue says of them that its errors are a guide and no more.
//
// All clicks on one picture share its disc and its north.
func TestEllipsesHoldWhatTheyClaimEndToEnd(t *testing.T) {
	pictures := 40
	if testing.Short() {
		pictures = 8
	}
	const clicks = 12
	ctx := context.Background()
	folder := t.TempDir()
	k, err := observe.Open(ctx, filepath.Join(folder, "c.db"), catalog.Terminal, time.Now)
	require.NoError(t, err)
	defer k.Close()
	rng := rand.New(rand.NewPCG(20260314, 7))
	truth := map[catalog.MarkID]coords.Heliographic{}
	// The norths' errors are drawn in strata, one picture in each part of the normal
	// distribution: forty of them by chance alone would decide the outcome.
	strata := rng.Perm(pictures)
	for i := range pictures {
		at := time.Date(2026, 1, 5, 10, 0, 0, 0, time.UTC).AddDate(0, 0, 9*i)
		camera := paint.Centred(560, 520, 205*(1+0.05*rng.NormFloat64()))
		camera.Limb.Centre.X += 8 * rng.NormFloat64()
		camera.Limb.Centre.Y += 8 * rng.NormFloat64()
		camera.North = coords.North{Angle: coords.Angle(2*math.Pi*rng.Float64() - math.Pi), Mirrored: i%2 == 1}
		camera.Wobble = paint.Wobble{RMSPx: 0.3, CorrelationDeg: 3}
		scene := paint.Scene{Camera: camera, Band: paint.DoubleStack(), Face: ephemeris.At(at), Seed: uint64(i)}
		frame, err := paint.Paint(scene)
		require.NoError(t, err)
		path := filepath.Join(folder, fmt.Sprintf("%s.png", at.Format("2006-01-02T150405Z")))
		require.NoError(t, wholefile.Write(path, false, frame.WritePNG))
		// The painted limb is the chromosphere's, exactly.
		added, err := k.AddFrame(ctx, observe.NewFrame{Path: path, Layer: &coords.Layer{HeightMm: coords.Chromosphere.HeightMm}})
		require.NoError(t, err)
		require.NoError(t, added.DiscRefused, "picture %d", i)
		const sigma = 0.4 * coords.Degree
		off := math.Sqrt2 * math.Erfinv(2*(float64(strata[i])+rng.Float64())/float64(pictures)-1)
		_, err = k.SetNorth(ctx, catalog.North{Frame: added.Frame.ID, Mirrored: camera.North.Mirrored, Sigma: sigma,
			Angle: (camera.North.Angle + sigma*coords.Angle(off)).Wrap180()}, store.Newest)
		require.NoError(t, err)
		for range clicks {
			place := coords.Heliographic{
				B: coords.Asin(1.7*rng.Float64() - 0.85),
				L: (scene.Face.L0 + coords.Angle(140*rng.Float64()-70)*coords.Degree).Wrap360(),
			}
			pixel, visible := scene.Project(place, 0)
			if !visible {
				continue
			}
			pixel.X += observe.DefaultSigmaClickPx * rng.NormFloat64()
			pixel.Y += observe.DefaultSigmaClickPx * rng.NormFloat64()
			m, err := k.AddMark(ctx, catalog.Mark{Frame: added.Frame.ID, Kind: catalog.Sunspot,
				Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{pixel}}})
			require.NoError(t, err)
			truth[m.ID] = place
		}
	}
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	var n, in68, in95 float64
	for _, e := range entries {
		d := e.Position.Disc
		if d == nil || e.Position.NearLimb {
			continue
		}
		place := truth[e.Mark.ID]
		db, dl := float64(d.B-place.B), float64((d.L - place.L).Wrap180())
		c := d.Cov
		chi2 := (db*db*c.LL - 2*db*dl*c.BL + dl*dl*c.BB) / (c.BB*c.LL - c.BL*c.BL)
		n++
		// Chi-squared with two degrees of freedom is under −2 ln(1 − p) with probability p.
		if chi2 < -2*math.Log(0.32) {
			in68++
		}
		if chi2 < -2*math.Log(0.05) {
			in95++
		}
	}
	t.Logf("%.0f clicks on %d pictures: %.1f %% in the 68 %% ellipse, %.1f %% in the 95 %% one", n, pictures, 100*in68/n, 100*in95/n)
	require.Greater(t, n, 7.0*float64(pictures))
	allow68, allow95 := 6.0, 3.0
	if testing.Short() {
		allow68, allow95 = 20, 12
	}
	assert.InDelta(t, 68, 100*in68/n, allow68, "per cent in the 68 % ellipse")
	assert.InDelta(t, 95, 100*in95/n, allow95, "per cent in the 95 % ellipse")
}
