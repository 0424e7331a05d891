package fits

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// file makes a FITS file of header lines and data, padded to blocks.
func file(lines []string, data []byte) []byte {
	var b strings.Builder
	for _, l := range append(lines, "END") {
		fmt.Fprintf(&b, "%-80.80s", l)
	}
	for b.Len()%blockLength != 0 {
		b.WriteByte(' ')
	}
	return append([]byte(b.String()), append(data, make([]byte, (blockLength-len(data)%blockLength)%blockLength)...)...)
}

func read(data []byte, limits Limits) (*Image, error) {
	return Read(bytes.NewReader(data), int64(len(data)), limits)
}

func header(bitpix int, axes ...int) []string {
	lines := []string{"SIMPLE  =                    T", fmt.Sprintf("BITPIX  = %20d", bitpix), fmt.Sprintf("NAXIS   = %20d", len(axes))}
	for i, n := range axes {
		lines = append(lines, fmt.Sprintf("NAXIS%d  = %20d", i+1, n))
	}
	return lines
}

func TestCardsAsTheStandardWritesThem(t *testing.T) {
	var text string
	for _, l := range []string{
		"SIMPLE  =                    T / conforms",
		"EXPTIME =              1.5D-02 / Fortran exponent",
		"OBJECT  = 'O''HARA / SUN '     / a quote and a slash within the text",
		"EMPTY   = ''",
		"CROTA2  =                   0. / a number without decimals",
		"QUOTED  = '12.5'",
		"NAN     = 'nan     '",
		"COMMENT = no value, but a comment",
		"HISTORY says nothing",
		"HIERARCH ESO TEL ALT = 45.25 / long keyword",
		"LONG    = 'first half &'",
		"CONTINUE  'second half' / of the text",
		"OBJECT  = 'second of its name'",
		"WAVELNTH=                 6563",
		"END",
		"AFTER   = 1",
	} {
		text += fmt.Sprintf("%-80.80s", l)
	}
	h := ParseCards([]byte(text))
	number := func(key string) float64 { v, ok := h.Float(key); require.True(t, ok, key); return v }
	word := func(key string) string { v, ok := h.Text(key); require.True(t, ok, key); return v }
	assert.Equal(t, 0.015, number("EXPTIME"))
	assert.Equal(t, 0.0, number("CROTA2"))
	assert.Equal(t, 12.5, number("QUOTED"))
	assert.Equal(t, 45.25, number("ESO TEL ALT"))
	assert.Equal(t, "O'HARA / SUN", word("OBJECT"), "the first of two")
	assert.Equal(t, "first half second half", word("LONG"))
	assert.Equal(t, "Fortran exponent", h.Comment("EXPTIME"))
	for _, key := range []string{"EMPTY", "NAN", "AFTER", "MISSING", "HISTORY"} {
		_, ok := h.Float(key)
		assert.False(t, ok, key)
	}
	simple, ok := h.Bool("SIMPLE")
	assert.True(t, simple && ok)
	n, ok := h.Int("WAVELNTH")
	assert.True(t, ok)
	assert.EqualValues(t, 6563, n)
}

func TestRowOneIsAtTheBottom(t *testing.T) {
	img, err := read(file(header(8, 3, 2), []byte{1, 2, 3, 4, 5, 6}), Limits{})
	require.NoError(t, err)
	assert.Equal(t, []float32{4, 5, 6, 1, 2, 3}, img.Planes[0])
	assert.Equal(t, 255.0, img.Ceiling)
}

func TestTrailingAxesOfOneAreAPicture(t *testing.T) {
	img, err := read(file(header(8, 3, 2, 1, 1), []byte{1, 2, 3, 4, 5, 6}), Limits{})
	require.NoError(t, err)
	assert.Len(t, img.Planes, 1)
}

func TestCeilingOfScaledIntegers(t *testing.T) {
	data := make([]byte, 4)
	binary.BigEndian.PutUint16(data, 0x7fff)
	img, err := read(file(append(header(16, 2, 1), "BZERO   = 32768", "BSCALE  = 1"), data), Limits{})
	require.NoError(t, err)
	assert.Equal(t, 65535.0, img.Ceiling)
	assert.Equal(t, []float32{65535, 32768}, img.Planes[0])
	img, err = read(file(append(header(16, 2, 1), "BSCALE  = -2"), data), Limits{})
	require.NoError(t, err)
	assert.Equal(t, 65536.0, img.Ceiling, "a negative scale turns the range over")
	img, err = read(file(header(-32, 1, 1), data), Limits{})
	require.NoError(t, err)
	assert.True(t, math.IsNaN(img.Ceiling))
}

// BLANK of another type's range, as in headers that were copied, blanks nothing.
func TestBlankOutOfRangeIsIgnored(t *testing.T) {
	data := []byte{0, 0, 0x80, 0}
	img, err := read(file(append(header(16, 2, 1), "BLANK   = -2147483648"), data), Limits{})
	require.NoError(t, err)
	assert.Equal(t, []float32{0, -32768}, img.Planes[0])
	img, err = read(file(append(header(16, 2, 1), "BLANK   = -32768"), data), Limits{})
	require.NoError(t, err)
	assert.Equal(t, 1, img.Blank)
	img, err = read(file(append(header(-32, 1, 1), "BLANK   = 0"), data), Limits{})
	require.NoError(t, err)
	assert.Zero(t, img.Blank)
}

func TestLyingHeadersEndInAnError(t *testing.T) {
	pixels := make([]byte, 64)
	with := func(bitpix int, more ...string) []byte { return file(append(header(bitpix), more...), pixels) }
	for _, c := range []struct {
		name string
		data []byte
		want error
	}{
		{"empty", nil, ErrNotFITS},
		{"another kind of file", []byte("\x89PNG\r\n\x1a\n" + strings.Repeat("x", 100)), ErrNotFITS},
		{"no END", []byte(fmt.Sprintf("%-80s", "SIMPLE  =                    T")), ErrTruncated},
		{"BITPIX 12", file(header(12, 3, 2), pixels), ErrMalformed},
		{"no BITPIX", file([]string{"SIMPLE  =                    T", "NAXIS   = 0"}, pixels), ErrMalformed},
		{"NAXIS of words", file([]string{"SIMPLE  =                    T", "BITPIX  = 8", "NAXIS   = 'two'"}, pixels), ErrMalformed},
		{"NAXIS 10^9", file([]string{"SIMPLE  =                    T", "BITPIX  = 8", "NAXIS   = 1000000000"}, pixels), ErrMalformed},
		{"an axis missing", file([]string{"SIMPLE  =                    T", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = 4"}, pixels), ErrMalformed},
		{"a negative axis", file(header(8, -3, 2), pixels), ErrMalformed},
		{"a broken axis", file([]string{"SIMPLE  =                    T", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = 4.5", "NAXIS2  = 2"}, pixels), ErrMalformed},
		{"more pixels than bytes", file(header(16, 4096, 4096), pixels), ErrTruncated},
		{"200 megapixels", file(header(8, 20000, 10000), pixels), ErrTooLarge},
		{"an endless axis", file(header(8, 1<<40, 1), pixels), ErrTooLarge},
		{"axes that overflow", file(header(64, 1<<40, 1<<40, 1<<40), pixels), ErrTooLarge},
		{"no image", with(8), ErrUnsupported},
		{"one axis", file(header(8, 9), pixels), ErrUnsupported},
		{"five planes", file(header(8, 2, 2, 5), pixels), ErrUnsupported},
		{"an empty axis", file(header(8, 0, 5), pixels), ErrUnsupported},
	} {
		img, err := read(c.data, Limits{Pixels: 100e6, Bytes: 1 << 30})
		assert.Nil(t, img, c.name)
		assert.ErrorIs(t, err, c.want, c.name)
	}
}

// A file cut anywhere is refused, or, where only padding is gone, read in full.
func TestCutFilesAreRefused(t *testing.T) {
	whole, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "images", "extension.fits"))
	require.NoError(t, err)
	const pixelsEnd = 5*blockLength - (blockLength - 23*14*2) // two headers and a table, the third header, the pixels
	for n := 0; n < len(whole); n += 97 {
		img, err := read(whole[:n], Limits{})
		if n < pixelsEnd {
			assert.Error(t, err, "%d bytes", n)
			assert.Nil(t, img)
		} else {
			assert.NoError(t, err, "%d bytes", n)
		}
	}
}

func BenchmarkRead4096Of16Bit(b *testing.B) {
	data := file(append(header(16, 4096, 4096), "BZERO   = 32768", "BSCALE  = 1"), make([]byte, 4096*4096*2))
	b.SetBytes(4096 * 4096 * 2)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := read(data, Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
