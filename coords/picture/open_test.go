package picture

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/picture/capture"
	"limbwatch/testdata"
)

// images is a file of testdata/images.
func images(name string) string { return filepath.Join("..", "..", "testdata", "images", name) }

// The pattern of testdata/images, as its README gives it.
const patternWidth, patternHeight = 23, 14

func g8(x, y int) int      { return (11*x + 17*y + 5*((x*y)%7)) % 251 }
func g16(x, y int) int     { return 257*g8(x, y) + (x+3*y)%256 }
func green16(x, y int) int { return g16(x, y)/2 + y }
func blue16(x, y int) int  { return g16(x, y)/5 + x }

func luminance(r, g, b int) float64 {
	return 0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b) // ITU-R BT.601
}

func TestPixelsAreThoseThatOtherLibrariesWrote(t *testing.T) {
	depth8, depth16 := Depth{Bits: 8}, Depth{Bits: 16}
	grey8 := func(x, y int) float64 { return float64(g8(x, y)) }
	grey16 := func(x, y int) float64 { return float64(g16(x, y)) }
	lum16 := func(x, y int) float64 { return luminance(g16(x, y), green16(x, y), blue16(x, y)) }
	for _, c := range []struct {
		file  string
		opts  Options
		depth Depth
		want  func(x, y int) float64
		off   float64 // allowed
	}{
		{"u8.fits", Options{}, depth8, grey8, 0},
		{"i16.fits", Options{}, depth16, func(x, y int) float64 { return float64(g8(x, y)*100 - 12000) }, 0},
		{"u16.fits", Options{}, depth16, grey16, 0},
		{"i32.fits", Options{}, Depth{Bits: 32}, func(x, y int) float64 { return float64(g8(x, y)*70001 - 5) }, 1}, // 2²⁴ and more: float32 rounds
		{"u32.fits", Options{}, Depth{Bits: 32}, func(x, y int) float64 { return float64(g8(x, y)) * 17000001 }, 128},
		{"i64.fits", Options{}, Depth{Bits: 64}, func(x, y int) float64 { return float64(g8(x, y)) * 70001 }, 1},
		{"extension.fits", Options{}, depth16, grey16, 0},
		{"rgb16.fits", Options{Channel: Red}, depth16, grey16, 0},
		{"rgb16.fits", Options{Channel: Green}, depth16, func(x, y int) float64 { return float64(green16(x, y)) }, 0},
		{"rgb16.fits", Options{Channel: Blue}, depth16, func(x, y int) float64 { return float64(blue16(x, y)) }, 0},
		{"rgb16.fits", Options{Channel: Luminance}, depth16, lum16, 0.01},
		{"g8.png", Options{}, depth8, grey8, 0},
		{"g16.png", Options{}, depth16, grey16, 0},
		{"g16_interlaced.png", Options{}, depth16, grey16, 0},
		{"rgb16.png", Options{Channel: Green}, depth16, func(x, y int) float64 { return float64(green16(x, y)) }, 0},
		{"rgb16.png", Options{Channel: Luminance}, depth16, lum16, 0.01},
		{"grey_in_colour.png", Options{}, depth8, grey8, 0},
		{"palette.png", Options{}, depth8, grey8, 0},
		{"g8_alpha.png", Options{}, depth8, grey8, 0},
		{"g16_none.tif", Options{}, depth16, grey16, 0},
		{"g16_lzw.tif", Options{}, depth16, grey16, 0},
		{"g16_zip.tif", Options{}, depth16, grey16, 0},
		{"g16_lzw_predictor.tif", Options{}, depth16, grey16, 0},
		{"g16_zip_predictor.tif", Options{}, depth16, grey16, 0},
		{"g16_packbits.tif", Options{}, depth16, grey16, 0},
		{"g16_bigendian.tif", Options{}, depth16, grey16, 0},
		{"g16_tiled.tif", Options{}, depth16, grey16, 0},
		{"rgb16_lzw.tif", Options{Channel: Red}, depth16, grey16, 0},
		{"rgb16_lzw.tif", Options{Channel: Blue}, depth16, func(x, y int) float64 { return float64(blue16(x, y)) }, 0},
		{"rgb8_zip.tif", Options{Channel: Green}, depth8, func(x, y int) float64 { return float64(green16(x, y) >> 8) }, 0},
		{"orientation1.tif", Options{}, depth8, grey8, 0},
		{"orientation2.tif", Options{}, depth8, grey8, 0},
		{"orientation3.tif", Options{}, depth8, grey8, 0},
		{"orientation4.tif", Options{}, depth8, grey8, 0},
		{"orientation5.tif", Options{}, depth8, grey8, 0},
		{"orientation6.tif", Options{}, depth8, grey8, 0},
		{"orientation7.tif", Options{}, depth8, grey8, 0},
		{"orientation8.tif", Options{}, depth8, grey8, 0},
		// JPEG loses a little; quality 98.
		{"smooth.jpg", Options{}, depth8, func(x, y int) float64 { return float64(20 + 8*x + 3*y) }, 2},
		{"exif.jpg", Options{}, depth8, func(x, y int) float64 { return float64(20 + 8*x + 3*y) }, 2},
	} {
		t.Run(c.file+" "+c.opts.Channel.String(), func(t *testing.T) {
			pic, _, err := Open(images(c.file), c.opts)
			require.NoError(t, err)
			require.Equal(t, patternWidth, pic.Width)
			require.Equal(t, patternHeight, pic.Height)
			assert.Equal(t, c.depth, pic.Depth)
			for y := range patternHeight {
				for x := range patternWidth {
					require.InDelta(t, c.want(x, y), float64(pic.At(x, y)), c.off, "pixel (%d, %d), as testdata/images/make_images.py wrote it", x, y)
				}
			}
		})
	}
}

func TestBlankPixelsAreCountedAndHoldNoNaN(t *testing.T) {
	pic, _, err := Open(images("f32.fits"), Options{})
	require.NoError(t, err)
	assert.Equal(t, 1, pic.Blank)
	assert.Equal(t, Depth{Bits: 32, Float: true}, pic.Depth)
	assert.Equal(t, float32(-20), pic.At(3, 2), "the lowest value, which is negative")
	assert.InDelta(t, 0.37*float64(g8(4, 5))-20, float64(pic.At(4, 5)), 1e-5)

	pic, _, err = Open(images("f64.fits"), Options{})
	require.NoError(t, err)
	assert.Equal(t, 2, pic.Blank, "an infinity and a NaN")
	assert.Zero(t, pic.At(0, 0))
	assert.InDelta(t, 7+0.001*float64(g8(9, 9)), float64(pic.At(9, 9)), 1e-6)

	pic, header, err := Open(images("scaled.fits"), Options{})
	require.NoError(t, err)
	blank := 0
	for y := range patternHeight {
		for x := range patternWidth {
			if g8(x, y) == 250 {
				blank++
				assert.Zero(t, pic.At(x, y), "BLANK at (%d, %d)", x, y)
			} else {
				assert.Equal(t, float32(10+0.5*float64(g8(x, y))), pic.At(x, y), "BSCALE and BZERO at (%d, %d)", x, y)
			}
		}
	}
	require.Positive(t, blank)
	assert.Equal(t, blank, pic.Blank)
	c, err := header.Capture(capture.Options{})
	require.NoError(t, err)
	assert.Equal(t, time.Date(2024, 5, 12, 9, 15, 3, 250e6, time.UTC), c.UTC)
	assert.Equal(t, 500*time.Millisecond, 2*c.Mid().Sub(c.UTC))
}

func TestWhatIsNotReadSaysSo(t *testing.T) {
	for file, says := range map[string]string{
		"compressed.fits":  "tile-compressed",
		"cube5.fits":       "cube",
		"float32.tif":      "32-bit float samples",
		"int32.tif":        "signed integer samples",
		"rgb16_planar.tif": "colours in separate planes",
		"make_images.py":   "this kind of file",
	} {
		pic, _, err := Open(images(file), Options{})
		assert.Nil(t, pic, file)
		var unsupported *UnsupportedError
		if assert.ErrorAs(t, err, &unsupported, file) {
			assert.ErrorContains(t, err, says)
			assert.ErrorContains(t, err, file)
			assert.NotEmpty(t, unsupported.Advice, file)
		}
	}
	_, _, err := Open(t.TempDir(), Options{})
	assert.ErrorContains(t, err, "is a folder, no file")
}

func TestEXIFGivesTimeAndZone(t *testing.T) {
	_, header, err := Open(images("exif.jpg"), Options{})
	require.NoError(t, err)
	assert.Equal(t, Orientation(6), header.Orientation)
	c, err := header.Capture(capture.Options{})
	require.NoError(t, err)
	assert.Equal(t, time.Date(2024, 5, 12, 9, 15, 3, 250e6, time.UTC), c.UTC, "11:15:03.25 +02:00")
	assert.Equal(t, capture.EXIF, c.Source)
	assert.Equal(t, "+02:00", c.Zone)
	assert.InDelta(t, 0.004, c.ExposureS, 1e-9)

	_, header, err = Open(images("exif_no_zone.png"), Options{})
	require.NoError(t, err)
	_, err = header.Capture(capture.Options{})
	var needed *capture.ZoneNeededError
	require.True(t, errors.As(err, &needed), "%v", err)
	assert.Contains(t, err.Error(), "2024-05-12 11:15:03")
	zone, err := capture.ParseZone("America/New_York")
	require.NoError(t, err)
	c, err = header.Capture(capture.Options{Zone: zone})
	require.NoError(t, err)
	assert.Equal(t, time.Date(2024, 5, 12, 15, 15, 3, 0, time.UTC), c.UTC, "EDT is UTC-4")
	assert.Equal(t, "America/New_York (-04:00)", c.Zone)
}

func TestTextBesideThePictureIsRead(t *testing.T) {
	folder := t.TempDir()
	data, err := os.ReadFile(images("g16.png"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "sun_20240512_111500.png"), data, 0o600))
	text := "Start (UTC) = 2024-05-12 09:15:00\nEnd (UTC) = 2024-05-12 09:16:00\n"
	require.NoError(t, os.WriteFile(filepath.Join(folder, "sun_20240512_111500.txt"), []byte(text), 0o600))
	_, header, err := Open(filepath.Join(folder, "sun_20240512_111500.png"), Options{})
	require.NoError(t, err)
	c, err := header.Capture(capture.Options{})
	require.NoError(t, err)
	assert.Equal(t, "2024-05-12T09:15:30Z", c.UTC.Format("2006-01-02T15:04:05Z"))
	assert.Equal(t, "text file", c.Source.String())
	assert.Equal(t, "middle", c.Moment.String())
	assert.Empty(t, c.Warnings)
}

// The checksum is that of coreutils' sha256sum.
func TestChecksumIsTheFiles(t *testing.T) {
	_, header, err := Open(images("g8.png"), Options{})
	require.NoError(t, err)
	assert.Equal(t, "2679a39c8ab937728b87dd1d2a2241c34ef1da7b9b652c24aa3154149ff3d173", header.SHA256)
	assert.EqualValues(t, 219, header.Bytes)
	assert.Equal(t, "PNG", header.Format)
}

// The PNG beside each FITS file was made from it by another program, scaled to
// 8 bits; so the pixels must follow each other, the right way up.
func TestFITSOfObservatoriesLiesAsItsPNG(t *testing.T) {
	for _, c := range []struct{ fits, png string }{
		{"sunpy-test/resampled_hmi.fits", "sunpy-test/hmi_continuum_100.png"},
		{"sunpy-test/aia_171_level1.fits", "sunpy-test/aia171_128.png"},
	} {
		a, _, err := Open(testdata.Shared(t, "data", filepath.FromSlash(c.fits)), Options{})
		require.NoError(t, err)
		b, _, err := Open(testdata.Shared(t, "data", filepath.FromSlash(c.png)), Options{})
		require.NoError(t, err)
		require.Equal(t, b.Width, a.Width)
		require.Equal(t, b.Height, a.Height)
		r := correlation(a, b, func(x, y int) (int, int) { return x, y })
		upsideDown := correlation(a, b, func(x, y int) (int, int) { return x, b.Height - 1 - y })
		assert.Greater(t, r, 0.8, "%s against %s, which is stretched", c.fits, c.png)
		assert.Greater(t, r, upsideDown+0.003, "%s against %s, row order", c.fits, c.png)
		t.Logf("%s: correlation %.5f, upside down %.5f", c.fits, r, upsideDown)
	}
}

// The half-size JPEG of the same observation is independent of the FITS file.
func TestBBSOFITSLiesAsItsJPEG(t *testing.T) {
	full, header, err := Open(testdata.Shared(t, "data", "bbso-halpha-2002", "bbso_halpha_20020430_165555_cleaned.fits"), Options{})
	require.NoError(t, err)
	half, _, err := Open(testdata.Shared(t, "data", "bbso-halpha-2002", "bbso_halpha_20020430_165555_cleaned_512.jpg"), Options{})
	require.NoError(t, err)
	r := correlation(half, full, func(x, y int) (int, int) { return 2 * x, 2 * y })
	upsideDown := correlation(half, full, func(x, y int) (int, int) { return 2 * x, full.Height - 1 - 2*y })
	assert.Greater(t, r, 0.95)
	assert.Greater(t, r, upsideDown+0.01)
	t.Logf("correlation %.5f, upside down %.5f", r, upsideDown)
	c, err := header.Capture(capture.Options{})
	require.NoError(t, err)
	assert.Equal(t, time.Date(2002, 4, 30, 16, 55, 55, 0, time.UTC), c.UTC, "the data's README")
	assert.Equal(t, capture.Start, c.Moment, `the header: "START OF 40 MS EXPOSURE"`)
	assert.Empty(t, c.Warnings, "the file's name agrees")
}

// correlation of the grey levels of a with those of b at the place that to gives.
func correlation(a, b *Picture, to func(x, y int) (int, int)) float64 {
	var n, sa, sb, saa, sbb, sab float64
	for y := range a.Height {
		for x := range a.Width {
			bx, by := to(x, y)
			va, vb := float64(a.At(x, y)), float64(b.At(bx, by))
			n++
			sa, sb, saa, sbb, sab = sa+va, sb+vb, saa+va*va, sbb+vb*vb, sab+va*vb
		}
	}
	return (n*sab - sa*sb) / math.Sqrt((n*saa-sa*sa)*(n*sbb-sb*sb))
}
