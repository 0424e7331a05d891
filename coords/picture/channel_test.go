package picture

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/testdata"
)

// colourDisc is a disc of radius 60 in 200 x 200 pixels, with limb darkening; light,
// 0 to 1, becomes colour by shade.
func colourDisc(shade func(light float64) color.NRGBA64) *image.NRGBA64 {
	img := image.NewNRGBA64(image.Rect(0, 0, 200, 200))
	for y := range 200 {
		for x := range 200 {
			light := 0.02
			if r2 := float64((x-100)*(x-100)+(y-95)*(y-95)) / (60 * 60); r2 < 1 {
				light = 0.35 + 0.65*math.Sqrt(1-r2) + 0.02*math.Sin(float64(x))*math.Sin(float64(y))
			}
			img.SetNRGBA64(x, y, shade(light))
		}
	}
	return img
}

// level is a share of full scale as a 16-bit level, clipped as a camera does.
func level(v float64) uint16 { return uint16(65535 * min(1, max(0, v))) }

// Which channel serves is common practice, no source.
func TestChannelIsChosenByWhatItHolds(t *testing.T) {
	for _, c := range []struct {
		name   string
		shade  func(light float64) color.NRGBA64
		want   Channel
		colour bool
	}{
		{"a colour camera behind an H-alpha filter", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(0.9 * v), G: level(0.07 * v), B: level(0.02 * v), A: 65535}
		}, Red, true},
		{"red false colour", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(0.97 * v), G: level(0.4 * v * v), B: level(0.1 * v * v * v), A: 65535}
		}, Red, true},
		{"over-exposed behind an H-alpha filter: green still holds the disc", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(4 * v), G: level(0.4 * v), B: level(0.1 * v), A: 65535}
		}, Green, true},
		{"false colour whose red is clipped in the middle", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(1.15 * v), G: level(0.6*v - 0.1), B: level(0.3*v - 0.1), A: 65535}
		}, Luminance, true},
		{"red clipped, nothing elsewhere", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(1.15 * v), G: level(0.01), B: level(0.01), A: 65535}
		}, Red, true},
		{"calcium light in blue", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(0.1 * v), G: level(0.15 * v), B: level(0.8 * v), A: 65535}
		}, Blue, true},
		{"white light with a tint", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(0.9 * v), G: level(0.8 * v), B: level(0.6 * v), A: 65535}
		}, Luminance, true},
		{"grey saved in colour", func(v float64) color.NRGBA64 {
			return color.NRGBA64{R: level(0.8 * v), G: level(0.8 * v), B: level(0.8 * v), A: 65535}
		}, Luminance, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, png.Encode(&b, colourDisc(c.shade)))
			pic, _, err := decodeBytes(b.Bytes(), Options{})
			require.NoError(t, err)
			assert.Equal(t, c.want.String(), pic.Channel.String(), pic.Why)
			assert.Equal(t, c.colour, pic.Colour)
			assert.NotEmpty(t, pic.Why)
			asked, _, err := decodeBytes(b.Bytes(), Options{Channel: Blue})
			require.NoError(t, err)
			assert.Equal(t, Blue, asked.Channel)
			assert.Equal(t, "as asked", asked.Why)
			assert.Equal(t, float32(c.shade(0.02).B), asked.At(1, 1))
		})
	}
}

// A grey JPEG in colour stays grey though chroma is rounded, also with a small
// caption in colour.
func TestGreyJPEGWithAColouredCaptionIsGrey(t *testing.T) {
	img := colourDisc(func(v float64) color.NRGBA64 {
		return color.NRGBA64{R: level(0.8 * v), G: level(0.8 * v), B: level(0.8 * v), A: 65535}
	})
	for x := 5; x < 25; x++ {
		for y := 190; y < 195; y++ {
			img.SetNRGBA64(x, y, color.NRGBA64{R: 65535, A: 65535})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 90}))
	pic, _, err := decodeBytes(b.Bytes(), Options{})
	require.NoError(t, err)
	assert.False(t, pic.Colour)
	assert.Equal(t, Luminance, pic.Channel)
}

// The daily white-light pictures are yellow: red is at its ceiling over the disc.
func TestRealFalseColourIsNotTakenFromItsSaturatedChannel(t *testing.T) {
	file := testdata.Shared(t, "data", "hmi-continuum-daily", "20240704_0430_hmiigr_512.jpg")
	pic, _, err := Open(file, Options{})
	require.NoError(t, err)
	red, _, err := Open(file, Options{Channel: Red})
	require.NoError(t, err)
	assert.True(t, pic.Colour)
	assert.NotEqual(t, Red, pic.Channel, pic.Why)
	assert.Less(t, pic.Saturated, len(pic.Grey)/200)
	assert.Greater(t, red.Saturated, 10*pic.Saturated)

	grey, _, err := Open(testdata.Shared(t, "data", "gong-halpha", "gong_20230620T0000_BigBear_512.jpeg"), Options{})
	require.NoError(t, err)
	assert.False(t, grey.Colour, filepath.Base(file))
}

func TestParseChannel(t *testing.T) {
	for _, c := range []Channel{Auto, Luminance, Red, Green, Blue} {
		got, err := ParseChannel(c.String())
		require.NoError(t, err)
		assert.Equal(t, c, got)
	}
	for _, name := range []string{"", "grey", "Red", "alpha"} {
		_, err := ParseChannel(name)
		assert.Error(t, err, name)
	}
}

func TestSaturationLevel(t *testing.T) {
	const n = 100
	ramp := func(top float32) []float32 { // no two levels alike, up to just below the top
		grey := make([]float32, n*n)
		for i := range grey {
			grey[i] = top * float32(i) / float32(len(grey))
		}
		return grey
	}
	plateau := func(top float32, from, count int) []float32 {
		grey := ramp(top)
		for i := range count {
			grey[from+i] = top
		}
		return grey
	}
	for _, c := range []struct {
		name  string
		grey  []float32
		depth Depth
		level float32
		count int
	}{
		{"nothing clipped", ramp(40000), Depth{Bits: 16}, 65535, 0},
		{"clipped at full scale", plateau(65535, 500, 600), Depth{Bits: 16}, 65535, 600},
		{"12 bits in 16, clipped", plateau(65520, 500, 600), Depth{Bits: 16}, 65520, 600},
		{"a hot pixel", plateau(50000, 500, 3), Depth{Bits: 16}, 65535, 0},
		{"floats, clipped at 1", plateau(1, 500, 600), Depth{Bits: 32, Float: true}, 1, 600},
		{"floats, nothing clipped", ramp(1), Depth{Bits: 32, Float: true}, 0, 0},
		{"all dark", make([]float32, n*n), Depth{Bits: 8}, 0, 0},
	} {
		pic, err := New(n, n, c.grey, c.depth)
		require.NoError(t, err, c.name)
		assert.Equal(t, c.level, pic.SaturationLevel, c.name)
		assert.Equal(t, c.count, pic.Saturated, c.name)
	}
	_, err := New(3, 4, make([]float32, 11), Depth{Bits: 8})
	assert.Error(t, err)
	_, err = New(1<<40, 1<<40, nil, Depth{Bits: 8})
	assert.Error(t, err)
}
