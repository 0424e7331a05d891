package chart

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
)

// luminance and contrast are those of WCAG 2.1.
func luminance(c canvas.Colour) float64 {
	l := linear(c)
	return 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2]
}

func linear(c canvas.Colour) (l [3]float64) {
	for i, v := range []uint8{c.R, c.G, c.B} {
		if s := float64(v) / 255; s <= 0.04045 {
			l[i] = s / 12.92
		} else {
			l[i] = math.Pow((s+0.055)/1.055, 2.4)
		}
	}
	return l
}

func contrast(a, b canvas.Colour) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// WCAG 2.1, level AA: 4.5 to 1 for text, 3 to 1 for what must be seen (1.4.3, 1.4.11).
// Plage on paper is the one exception, a yellow: its dashes carry it.
func TestThemesAreLegible(t *testing.T) {
	for _, theme := range []Theme{Paper, Day, Night} {
		for _, ground := range []canvas.Colour{theme.Page, theme.Panel} {
			assert.Greater(t, contrast(theme.Ink, ground), 7.0, theme.Name)
			assert.Greater(t, contrast(theme.Muted, ground), 4.5, theme.Name)
			assert.Greater(t, contrast(theme.Accent, ground), 4.5, theme.Name)
			for k, c := range theme.Kinds {
				least := 3.0
				if k == catalog.Plage {
					least = 2.6
				}
				assert.Greater(t, contrast(c, ground), least, "%s: %s", theme.Name, k)
			}
		}
		for k, c := range theme.OnPicture {
			assert.Greater(t, contrast(c, theme.Dark), 7.0, "%s: %s on a picture's dark rim", theme.Name, k)
		}
	}
}

// colourBlind is what eyes without one of the three kinds of cones see: the matrices
// of Viénot, Brettel & Mollon 1999 (Color Res. Appl. 24, 243) for linear RGB, from
// memory as they stand in common image tools.
func colourBlind(c canvas.Colour, m [3][3]float64) [3]float64 {
	l := linear(c)
	var out [3]float64
	for i := range out {
		for k := range l {
			out[i] += m[i][k] * l[k]
		}
		out[i] = max(0, out[i])
	}
	return out
}

// lab is CIE L*a*b* (D65) of a linear RGB colour.
func lab(l [3]float64) (v [3]float64) {
	f := func(t float64) float64 {
		if t > 0.008856 {
			return math.Cbrt(t)
		}
		return 7.787*t + 16.0/116
	}
	x := f((0.4124*l[0] + 0.3576*l[1] + 0.1805*l[2]) / 0.9505)
	y := f(0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2])
	z := f((0.0193*l[0] + 0.1192*l[1] + 0.9505*l[2]) / 1.089)
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

func TestKindsDifferForAllEyes(t *testing.T) {
	eyes := map[string][3][3]float64{
		"usual":       {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		"protanope":   {{0.11238, 0.88762, 0}, {0.11238, 0.88762, 0}, {0.00401, -0.00401, 1}},
		"deuteranope": {{0.29275, 0.70725, 0}, {0.29275, 0.70725, 0}, {-0.02234, 0.02234, 1}},
	}
	for _, theme := range []Theme{Paper, Day, Night} {
		for _, set := range []map[catalog.Kind]canvas.Colour{theme.Kinds, theme.OnPicture} {
			for name, m := range eyes {
				for i, a := range catalog.Kinds {
					for _, b := range catalog.Kinds[:i] {
						p, q := lab(colourBlind(set[a], m)), lab(colourBlind(set[b], m))
						d := math.Sqrt((p[0]-q[0])*(p[0]-q[0]) + (p[1]-q[1])*(p[1]-q[1]) + (p[2]-q[2])*(p[2]-q[2]))
						// 2.3 is a just noticeable difference (Mahy et al. 1994); five of
						// them tell thin lines apart (common practice, no source).
						assert.Greater(t, d, 11.5, "%s, %s eyes: %s and %s", theme.Name, name, a, b)
					}
				}
			}
		}
	}
}

func TestParseTheme(t *testing.T) {
	for _, want := range []Theme{Paper, Day, Night} {
		got, err := ParseTheme(want.Name)
		require.NoError(t, err)
		assert.Equal(t, want.Name, got.Name)
	}
	got, err := ParseTheme("")
	require.NoError(t, err)
	assert.Equal(t, "paper", got.Name)
	_, err = ParseTheme("neon")
	assert.ErrorContains(t, err, `theme "neon": want paper, day or night`)
}
