package wcs

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/picture/fits"
	"limbwatch/testdata"
)

// cards makes a header of lines.
func cards(lines ...string) fits.Header {
	var b strings.Builder
	for _, l := range lines {
		fmt.Fprintf(&b, "%-80.80s", strings.TrimRight(l, "\r\n"))
	}
	return fits.ParseCards([]byte(b.String()))
}

// Centre and limb against Astropy's WCS with the full projection; see
// testdata/images/README.md. Our plane leaves out the projection: 0.01" at half a
// degree, here 0.02 px at most.
func TestSolarCoordinatesAgreeWithAstropy(t *testing.T) {
	rows := testdata.Table(t, "../../../testdata/images/solar_wcs.csv")
	require.Len(t, rows, 40)
	flattened, mirrored := 0, 0
	for _, cell := range rows {
		number := func(name string) float64 { return cell.Number(t, name) }
		lines := []string{"CTYPE1  = 'HPLN-TAN'", "CTYPE2  = 'HPLT-TAN'", "RSUN_OBS= 955.0",
			fmt.Sprintf("CUNIT1  = '%s'", cell["cunit"]), fmt.Sprintf("CUNIT2  = '%s'", cell["cunit"])}
		for _, key := range []string{"crpix1", "crpix2", "crval1", "crval2", "cdelt1", "cdelt2", "crota2", "pc1_1", "pc1_2", "pc2_1", "pc2_2"} {
			if cell[key] == "" {
				continue
			}
			name := strings.ToUpper(key)
			if cell["form"] == "cd" {
				name = strings.Replace(name, "PC", "CD", 1)
			}
			lines = append(lines, fmt.Sprintf("%-8s= %s", name, cell[key]))
		}
		s := Read(cards(lines...), int(number("width")), int(number("height")))
		require.NotNil(t, s)
		require.NotNil(t, s.Limb, "%v: %v", cell, s.Warnings)
		require.NotNil(t, s.North)
		assert.Empty(t, s.Warnings)
		assert.InDelta(t, number("centre_x"), s.Limb.Centre.X, 0.02, "centre x, px, Astropy, %v", cell)
		assert.InDelta(t, number("centre_y"), s.Limb.Centre.Y, 0.02, "centre y, px, Astropy, %v", cell)
		// North and west of the limb, by our limb and our north with P = 0.
		north := coords.North{Angle: s.North.Angle, Mirrored: s.North.Mirrored}
		for name, positionAngle := range map[string]coords.Angle{"north": 0, "west": 270 * coords.Degree} {
			got := s.Limb.At(north.Direction(positionAngle))
			off := math.Hypot(got.X-number(name+"_x"), got.Y-number(name+"_y"))
			assert.LessOrEqual(t, off, 0.03, "limb's %s point, px, Astropy, %v", name, cell)
		}
		if s.Limb.Flattening > 0.01 {
			flattened++
		}
		if s.North.Mirrored {
			mirrored++
		}
	}
	assert.Positive(t, flattened, "the table has pixels that are not square")
	assert.Positive(t, mirrored, "the table has mirrored pictures")
}

func sharedHeader(t *testing.T, path string) (fits.Header, int, int) {
	t.Helper()
	raw, err := os.ReadFile(testdata.Shared(t, "data", filepath.FromSlash(path)))
	require.NoError(t, err)
	h := fits.ParseCards(raw)
	if strings.Contains(string(raw), "\n") && !strings.HasSuffix(path, ".fits") {
		h = cards(strings.Split(string(raw), "\n")...)
	}
	width, ok := h.Int("NAXIS1")
	require.True(t, ok)
	height, ok := h.Int("NAXIS2")
	require.True(t, ok)
	return h, int(width), int(height)
}

// Truth: shared data, sunpy-test/truth.csv (by SunPy from the same headers) and
// fits-headers/README.md.
func TestHeadersOfObservatories(t *testing.T) {
	type disc struct{ x, y, r, north float64 } // px, degrees counter-clockwise from up
	nan := math.NaN()
	for _, c := range []struct {
		file     string
		want     disc
		tolPx    float64
		warnings string
	}{
		{"sunpy-test/resampled_hmi.fits", disc{49.620, 49.417, 46.895, -179.9298}, 0.001, ""},
		{"sunpy-test/aia_171_level1.fits", disc{63.736, 63.649, 50.658, -0.0194}, 0.001, "R_SUN"},
		// Zeros for what the header has lost: no scale, but centre and radius in pixels.
		{"bbso-halpha-2002/bbso_halpha_20020430_165555_cleaned.fits", disc{511.5, 511.5, 420, nan}, 0.001, ""},
		{"fits-headers/gong_halpha.header", disc{1023, 1024, 900, nan}, 1, ""},
		// CRPIX and CDELT are of the small picture, X0 and R_SUN of the large one.
		{"fits-headers/mdi.fd_Ic.20101015_230100_TAI.data.header", disc{63.5131, 63.5432, 61.0945, 0}, 0.001, "R_SUN"},
		{"fits-headers/SOHO_EIT_171_20070601T120013_L1.header", disc{513.030, 520.300, 363.147, 0}, 0.001, ""},
	} {
		t.Run(filepath.Base(c.file), func(t *testing.T) {
			h, width, height := sharedHeader(t, c.file)
			s := Read(h, width, height)
			require.NotNil(t, s)
			require.NotNil(t, s.Limb, "%v", s.Warnings)
			assert.InDelta(t, c.want.x, s.Limb.Centre.X, c.tolPx)
			assert.InDelta(t, c.want.y, s.Limb.Centre.Y, c.tolPx)
			assert.InDelta(t, c.want.r, s.Limb.RadiusPx, c.tolPx)
			if math.IsNaN(c.want.north) {
				assert.Nil(t, s.North, "this header doesn't say where north is")
			} else if assert.NotNil(t, s.North) {
				assert.InDelta(t, c.want.north, s.North.Angle.Degrees(), 0.001)
				assert.False(t, s.North.Mirrored)
			}
			assert.Equal(t, c.warnings != "", len(s.Warnings) > 0, "%v", s.Warnings)
			assert.Contains(t, strings.Join(s.Warnings, "; "), c.warnings)
			assert.Positive(t, s.Limb.Cov.SigmaCentrePx())
			assert.Positive(t, s.Limb.Cov.SigmaRadiusPx())
		})
	}
}

func TestObserverAsWritten(t *testing.T) {
	h, width, height := sharedHeader(t, "fits-headers/gong_halpha.header")
	s := Read(h, width, height)
	require.NotNil(t, s)
	require.NotNil(t, s.Observer.P)
	assert.InDelta(t, -17.528, s.Observer.P.Degrees(), 0.001, "SOLAR-P")
	assert.InDelta(t, -6.840, s.Observer.B0.Degrees(), 0.001, "SOLAR-B0")
	assert.InDelta(t, 341.743, s.Observer.L0.Degrees(), 0.001, "SOLAR-L0")
	assert.InDelta(t, 971.545, s.RadiusArcsec, 0.001, "SOLAR-R")
	assert.Nil(t, s.Layer, "somebody fitted this limb; the header doesn't say which")

	h, width, height = sharedHeader(t, "fits-headers/medn_halph_fl_20050501_074655.header")
	s = Read(h, width, height)
	require.NotNil(t, s)
	assert.InDelta(t, -4.130, s.Observer.B0.Degrees(), 0.001)
	assert.InDelta(t, 227.924, s.Observer.L0.Degrees(), 0.001)
	assert.Nil(t, s.Limb)

	h, width, height = sharedHeader(t, "sunpy-test/resampled_hmi.fits")
	s = Read(h, width, height)
	assert.InDelta(t, -7.2267, s.Observer.B0.Degrees(), 1e-4)
	assert.InDelta(t, 132.5601, s.Observer.L0.Degrees(), 1e-4)
	require.NotNil(t, s.Layer)
	assert.InDelta(t, 0.3, s.Layer.HeightMm, 1e-9, "RSUN_REF 696000 km against the nominal 695700")
}

// solar is a sound header; tests spoil it.
func solar(more ...string) fits.Header {
	return cards(append([]string{
		"CTYPE1  = 'HPLN-TAN'", "CTYPE2  = 'HPLT-TAN'", "CUNIT1  = 'arcsec'", "CUNIT2  = 'arcsec'",
		"CRPIX1  = 512.5", "CRPIX2  = 512.5", "RSUN_OBS= 960.0",
	}, more...)...)
}

func TestHeadersThatDoNotFitAreRefused(t *testing.T) {
	sound := []string{"CDELT1  = 2.4", "CDELT2  = 2.4", "CROTA2  = 0.0"}
	s := Read(solar(sound...), 1024, 1024)
	require.NotNil(t, s.Limb)
	assert.InDelta(t, 400, s.Limb.RadiusPx, 1e-9)

	for name, c := range map[string]struct {
		header        fits.Header
		width, height int
		says          string
	}{
		"written before the picture was shrunk to 128": {solar(sound...), 96, 96, "cropped or shrunk"},
		"no scale":                              {solar("CDELT1  = 0.0", "CDELT2  = 0.0"), 1024, 1024, "CDELT is 0"},
		"not a number":                          {solar("CDELT1  = 'nan'", "CDELT2  = 2.4"), 1024, 1024, "CDELT is 0"},
		"no radius":                             {cards("CTYPE1  = 'HPLN-TAN'", "CTYPE2  = 'HPLT-TAN'", "CUNIT1  = 'arcsec'", "CRPIX1  = 1", "CRPIX2  = 1", "CDELT1  = 2", "CDELT2  = 2", "CROTA2  = 0"), 64, 64, "apparent radius"},
		"metres":                                {cards("CTYPE1  = 'HPLN-TAN'", "CTYPE2  = 'HPLT-TAN'", "CUNIT1  = 'm'", "CRPIX1  = 1", "CRPIX2  = 1"), 64, 64, "not read"},
		"a radius in pixels of another picture": {cards("CENTER_X= 2000.0", "CENTER_Y= 2000.0", "SOLAR_R = 900.0"), 512, 512, "cropped or shrunk"},
		"a scale that makes the Sun a speck":    {solar("CDELT1  = 2400.0", "CDELT2  = 2400.0", "CROTA2  = 0"), 1024, 1024, "isn't in this picture"},
	} {
		s := Read(c.header, c.width, c.height)
		if assert.NotNil(t, s, name) {
			assert.Nil(t, s.Limb, name)
			assert.Contains(t, strings.Join(s.Warnings, "; "), c.says, name)
		}
	}
}

func TestHeadersThatAreTakenWithAWarning(t *testing.T) {
	scale := []string{"CDELT1  = 2.4", "CDELT2  = 2.4"}
	for name, c := range map[string]struct {
		header fits.Header
		says   string
	}{
		"no turn at all":     {solar(scale...), "solar north is up"},
		"two turns":          {solar(append(scale, "CROTA2  = 10.0", "PC1_1   = 1.0", "PC2_2   = 1.0", "PC1_2   = 0.0", "PC2_1   = 0.0")...), "CROTA"},
		"two radii":          {solar(append(scale, "CROTA2  = 0.0", "R_SUN   = 1600.0")...), "R_SUN"},
		"from another place": {solar(append(scale, "CROTA2  = 0.0", "HGLN_OBS= 87.5")...), "away from the Earth"},
		"centre outside":     {solar(append(scale, "CROTA2  = 0.0", "CRVAL1  = 1300.0")...), "outside"},
	} {
		s := Read(c.header, 1024, 1024)
		if assert.NotNil(t, s.Limb, name) {
			assert.Contains(t, strings.Join(s.Warnings, "; "), c.says, name)
		}
	}
}

// Centre by solar coordinates, radius in pixels.
func TestRadiusInPixelsServesWhereNoneIsInArcsec(t *testing.T) {
	s := Read(cards("CTYPE1  = 'HPLN-TAN'", "CTYPE2  = 'HPLT-TAN'", "CUNIT1  = 'arcsec'", "CRPIX1  = 33", "CRPIX2  = 33",
		"CDELT1  = 40", "CDELT2  = 40", "CROTA2  = 0", "R_SUN   = 24.0"), 64, 64)
	require.NotNil(t, s)
	require.NotNil(t, s.Limb)
	assert.Equal(t, coords.Pixel{X: 32, Y: 31}, s.Limb.Centre)
	assert.Equal(t, 24.0, s.Limb.RadiusPx)
	assert.NotNil(t, s.North)
}

func TestAHeaderWithoutTheSunSaysNothing(t *testing.T) {
	assert.Nil(t, Read(cards("OBJECT  = 'M31'", "CTYPE1  = 'RA---TAN'", "CTYPE2  = 'DEC--TAN'", "CRPIX1  = 512", "CRPIX2  = 512", "CRVAL1  = 0", "CRVAL2  = 0", "RADIUS  = 100"), 1024, 1024))
	assert.Nil(t, Read(fits.Header{}, 10, 10))
}
