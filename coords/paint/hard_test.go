package paint

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// TestSteepestPointIsAsSaid: of the blurred edge of darkened discs, measured in the
// picture, which knows nothing of how the edge was reckoned.
func TestSteepestPointIsAsSaid(t *testing.T) {
	for name, band := range map[string]Band{"single": SingleStack(), "double": DoubleStack(), "white light": WhiteLight()} {
		for _, blur := range []float64{1, 2.5, 5} {
			if testing.Short() && blur > 1 {
				continue
			}
			c := Camera{Width: 1000, Height: 1000, BlurPx: blur, Exposure: 0.8,
				Limb: coords.Limb{Centre: coords.Pixel{X: 20.3, Y: 30.6}, RadiusPx: 900}}
			f, err := Paint(Scene{Face: someFace, Band: band, Camera: c})
			require.NoError(t, err)
			// The mean profile in bins of 1/20 px, over many directions.
			from := 900 - 4*blur
			profile := make([]float64, int(8*blur/0.05))
			for deg := 5.0; deg < 85; deg += 0.2 {
				sin, cos := math.Sincos(deg * math.Pi / 180)
				for i := range profile {
					r := from + 0.05*float64(i)
					profile[i] += bilinear(f, c.Limb.Centre.X+r*cos, c.Limb.Centre.Y+r*sin)
				}
			}
			want := int((f.Truth.InflectionPx - from) / 0.05)
			steepest, best := 0, 0.0
			span := 10 // half a pixel
			for i := max(span, want-30); i < min(len(profile)-span, want+30); i++ {
				if d := profile[i-span] - profile[i+span]; d > best {
					steepest, best = i, d
				}
			}
			// 0.25 px: a crest measured by differences over a pixel is flat.
			assert.InDelta(t, f.Truth.InflectionPx, from+0.05*float64(steepest), 0.25, "%s, blur %g", name, blur)
			if blur <= 1 || name == "double" && blur < 5 {
				assert.InDelta(t, 900, f.Truth.InflectionPx, 0.15, "%s, blur %g: at the limb", name, blur)
			}
			assert.Greater(t, f.Truth.InflectionPx, f.Truth.PhotospherePx-0.7*blur, "%s, blur %g", name, blur)
		}
	}
}

// TestEveryCondition: each fault shows in the picture as it is meant to, against
// the plain picture of the same Sun.
func TestEveryCondition(t *testing.T) {
	plain, err := Paint(hardScene(0))
	require.NoError(t, err)
	centre := plain.Truth.Limb.Centre
	at := func(f *Frame, x, y float64) float64 { // mean of a patch, 0 to 1
		sum := 0.0
		for j := -4; j <= 4; j++ {
			for i := -4; i <= 4; i++ {
				sum += float64(f.Grey[(int(y)+j)*f.Width+int(x)+i])
			}
		}
		return sum / 81 / White
	}
	disc := at(plain, centre.X-20, centre.Y-20)
	sky := at(plain, 30, 30)
	require.Greater(t, disc, 0.6)
	require.Less(t, sky, 0.02)
	share := func(f *Frame, ok func(float64) bool) float64 {
		n := 0
		for _, g := range f.Grey {
			if ok(float64(g) / White) {
				n++
			}
		}
		return float64(n) / float64(len(f.Grey))
	}
	discShare := math.Pi * coords.Square(140.0/360)

	checks := map[string]func(t *testing.T, f *Frame){
		"saturated, prominences": func(t *testing.T, f *Frame) {
			assert.InDelta(t, discShare, share(f, func(g float64) bool { return g == 1 }), 0.02)
		},
		"grey blown-out disc": func(t *testing.T, f *Frame) {
			top := share(f, func(g float64) bool { return math.Abs(g-0.55) < 1e-4 })
			assert.InDelta(t, discShare, top, 0.02)
			assert.Zero(t, share(f, func(g float64) bool { return g > 0.5501 }))
		},
		"masked disc": func(t *testing.T, f *Frame) { assert.InDelta(t, 0.15, at(f, centre.X, centre.Y), 1e-4) },
		"slope": func(t *testing.T, f *Frame) {
			sin, cos := (50 * coords.Degree).Sincos()
			toward := at(f, centre.X-100*sin, centre.Y-100*cos) / at(plain, centre.X-100*sin, centre.Y-100*cos)
			away := at(f, centre.X+100*sin, centre.Y+100*cos) / at(plain, centre.X+100*sin, centre.Y+100*cos)
			assert.InDelta(t, 1.1*200/280, toward-away, 0.05)
		},
		"sweet spot": func(t *testing.T, f *Frame) {
			assert.InDelta(t, disc, at(f, centre.X+42, centre.Y-56), 0.08, "at the spot")
			assert.Less(t, at(f, centre.X-80, centre.Y+80), 0.5*disc, "far from it")
		},
		"cloud": func(t *testing.T, f *Frame) {
			low, high := 1.0, 0.0
			for x := -70.0; x <= 70; x += 10 {
				g := at(f, centre.X+x, centre.Y-10) / at(plain, centre.X+x, centre.Y-10)
				low, high = math.Min(low, g), math.Max(high, g)
			}
			assert.Greater(t, high-low, 0.15)
		},
		"vignetting": func(t *testing.T, f *Frame) { assert.Less(t, at(f, 8, 8), 0.4*sky) },
		"bright sky": func(t *testing.T, f *Frame) { assert.InDelta(t, 0.35*0.6, at(f, 30, 30), 0.01) },
		"negative":   func(t *testing.T, f *Frame) { assert.InDelta(t, 1-sky, at(f, 30, 30), 0.01) },
		"disc negative": func(t *testing.T, f *Frame) {
			assert.InDelta(t, 1-disc, at(f, centre.X-20, centre.Y-20), 0.02)
			assert.InDelta(t, sky, at(f, 30, 30), 0.01)
		},
		"two exposures": func(t *testing.T, f *Frame) {
			assert.InDelta(t, disc, at(f, centre.X-20, centre.Y-20), 0.02)
			assert.InDelta(t, 7*sky, at(f, 30, 30), 0.01)
		},
		"border": func(t *testing.T, f *Frame) {
			for x := range f.Width {
				require.Zero(t, f.Grey[(f.Height-4)*f.Width+x])
			}
			assert.Greater(t, at(f, 30, 30), 0.03)
		},
		"caption": func(t *testing.T, f *Frame) {
			lit := 0
			for y := 330; y < 360; y++ {
				for x := 200; x < 360; x++ {
					if f.Grey[y*360+x] > 0.9*White {
						lit++
					}
				}
			}
			assert.Greater(t, lit, 150)
		},
		"ghost": func(t *testing.T, f *Frame) {
			assert.InDelta(t, sky+0.15*0.7, at(f, centre.X+150, centre.Y-110), 0.03)
		},
		"halo": func(t *testing.T, f *Frame) {
			assert.InDelta(t, sky+0.7*0.25*math.Exp(-(170.0/140-1)/0.3), at(f, centre.X, centre.Y-170), 0.02)
		},
		"noise": func(t *testing.T, f *Frame) {
			var sum, sum2 float64
			for y := 5; y < 30; y++ {
				for x := 100; x < 260; x++ {
					d := float64(f.Grey[y*360+x]) / White
					sum += d
					sum2 += d * d
				}
			}
			n := 25.0 * 160
			// Half of it is cut off at black: a half-normal's deviation is 0.58 sigma.
			assert.InDelta(t, 0.58*0.05, math.Sqrt(sum2/n-coords.Square(sum/n)), 0.006)
		},
		"sharpened": func(t *testing.T, f *Frame) {
			ring := bilinear(f, centre.X-136/math.Sqrt2, centre.Y+136/math.Sqrt2)
			assert.Greater(t, ring, 1.15*bilinear(plain, centre.X-136/math.Sqrt2, centre.Y+136/math.Sqrt2))
		},
		"flattened": func(t *testing.T, f *Frame) {
			// Half brightness of the edge along and across the short axis.
			for _, tc := range []struct{ turn, radius float64 }{{20, 140 * 0.94}, {110, 140}} {
				sin, cos := degreesOf(tc.turn).Sincos()
				in := bilinear(f, centre.X-(tc.radius-4)*sin, centre.Y-(tc.radius-4)*cos)
				out := bilinear(f, centre.X-(tc.radius+4)*sin, centre.Y-(tc.radius+4)*cos)
				assert.Greater(t, in, 4*out)
			}
		},
	}
	for k, c := range conditions {
		f, err := Paint(hardScene(k))
		require.NoError(t, err, c.name)
		if k > 0 && c.name != "amber" && c.name != "red" {
			assert.NotEqual(t, plain.Grey, f.Grey, c.name)
		}
		if check := checks[c.name]; check != nil {
			t.Run(c.name, func(t *testing.T) { check(t, f) })
			delete(checks, c.name)
		}
	}
	assert.Empty(t, checks, "every check found its condition")
}

// TestWobbleIsAsLargeAsSaid measures the bent limb at many position angles.
func TestWobbleIsAsLargeAsSaid(t *testing.T) {
	c := Centred(700, 700, 300)
	c.ReadNoise, c.ShotNoise, c.Wobble = 0, 0, Wobble{RMSPx: 1.5, CorrelationDeg: 3}
	sum, sum2, near, far, n := 0.0, 0.0, 0.0, 0.0, 0.0
	for seed := range uint64(4) {
		f, err := Paint(Scene{Face: someFace, Band: Flat(coords.Chromosphere), Camera: c, Seed: seed})
		require.NoError(t, err)
		var radii []float64
		for deg := range 360 {
			sin, cos := degreesOf(float64(deg)).Sincos()
			radii = append(radii, crossing(f, c.Limb.Centre, cos, sin, 300, 0.354*White)-300)
		}
		for i, r := range radii {
			n++
			sum += r
			sum2 += r * r
			near += r * radii[(i+3)%360]
			far += r * radii[(i+20)%360]
		}
	}
	rms := math.Sqrt(sum2 / n)
	// Some 100 independent stretches in a turn, four turns: the rms is known to 5 %.
	assert.InDelta(t, 1.5, rms, 0.2)
	assert.InDelta(t, 0, sum/n, 0.3)
	assert.InDelta(t, math.Exp(-0.5), near/sum2, 0.12, "correlation at one correlation length")
	assert.InDelta(t, 0, far/sum2, 0.15, "correlation far away")
}
