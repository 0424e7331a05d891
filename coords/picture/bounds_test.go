package picture

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

// pngClaiming is a PNG whose header claims a size, with next to nothing behind it.
func pngClaiming(width, height uint32, depth, colourType byte) []byte {
	b := []byte("\x89PNG\r\n\x1a\n")
	chunk := func(name string, data []byte) {
		b = binary.BigEndian.AppendUint32(b, uint32(len(data)))
		b = append(append(b, name...), data...)
		b = binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[len(b)-len(data)-4:]))
	}
	ihdr := binary.BigEndian.AppendUint32(nil, width)
	ihdr = binary.BigEndian.AppendUint32(ihdr, height)
	chunk("IHDR", append(ihdr, depth, colourType, 0, 0, 0))
	chunk("IDAT", []byte{0x78, 0x9c, 0x63, 0, 0, 0, 0xff, 0xff})
	return b
}

// tiffClaiming is a TIFF with a directory of the fields and little else.
func tiffClaiming(fields ...[2]uint32) []byte {
	b := []byte("II*\x00\x08\x00\x00\x00")
	b = binary.LittleEndian.AppendUint16(b, uint16(len(fields)))
	for _, f := range fields {
		b = binary.LittleEndian.AppendUint16(b, uint16(f[0]))
		b = binary.LittleEndian.AppendUint16(b, 4) // long
		b = binary.LittleEndian.AppendUint32(b, 1)
		b = binary.LittleEndian.AppendUint32(b, f[1])
	}
	return binary.LittleEndian.AppendUint32(b, 0)
}

func tiffGrey(width, height, bits, compression, offset, count uint32) []byte {
	return tiffClaiming([2]uint32{256, width}, [2]uint32{257, height}, [2]uint32{258, bits}, [2]uint32{259, compression},
		[2]uint32{262, 1}, [2]uint32{273, offset}, [2]uint32{277, 1}, [2]uint32{278, height}, [2]uint32{279, count})
}

// jpegClaiming changes the size in the frame header of a small picture.
func jpegClaiming(t *testing.T, width, height uint16) []byte {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 16, 16)), nil))
	data := b.Bytes()
	at := bytes.Index(data, []byte{0xff, 0xc0})
	require.Positive(t, at)
	binary.BigEndian.PutUint16(data[at+5:], height)
	binary.BigEndian.PutUint16(data[at+7:], width)
	return data
}

func fitsClaiming(width, height int) []byte {
	var b strings.Builder
	for _, card := range []string{"SIMPLE  =                    T", "BITPIX  = 16", "NAXIS   = 2", fmt.Sprintf("NAXIS1  = %d", width), fmt.Sprintf("NAXIS2  = %d", height), "END"} {
		fmt.Fprintf(&b, "%-80s", card)
	}
	return []byte(fmt.Sprintf("%-2880s", b.String()))
}

func TestBombsAreRefusedBeforeTheyCostMemory(t *testing.T) {
	for _, c := range []struct {
		name string
		data []byte
		says string
	}{
		{"PNG of 200 megapixels", pngClaiming(20000, 10000, 16, 0), "more than the 100000000 pixels allowed"},
		{"PNG of 90 megapixels in colour", pngClaiming(10000, 9000, 16, 6), "can't be in a file"},
		{"PNG of 2^31 pixels a side", pngClaiming(1<<31-1, 1<<31-1, 8, 0), ""},
		{"JPEG of 200 megapixels", jpegClaiming(t, 20000, 10000), "can't be in a file"},
		{"JPEG of 60 megapixels", jpegClaiming(t, 10000, 6000), "can't be in a file"},
		{"TIFF of 200 megapixels", tiffGrey(20000, 10000, 16, 1, 8, 100), "more than the 100000000 pixels allowed"},
		{"TIFF of 2^32 pixels a side", tiffGrey(1<<32-1, 1<<32-1, 16, 1, 8, 100), ""},
		{"TIFF of 90 megapixels, uncompressed", tiffGrey(10000, 9000, 16, 1, 8, 180e6), "can't be in a file"},
		{"TIFF of 90 megapixels, LZW", tiffGrey(10000, 9000, 16, 5, 8, 100), "can't be in a file"},
		{"FITS of 200 megapixels", fitsClaiming(20000, 10000), "more than the 100000000 allowed"},
		{"FITS of 90 megapixels", fitsClaiming(10000, 9000), "cut short"},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		pic, _, err := decodeBytes(c.data, Options{})
		runtime.ReadMemStats(&after)
		assert.Nil(t, pic, c.name)
		assert.ErrorContains(t, err, c.says, c.name)
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(4<<20), "%s: bytes allocated before it was refused", c.name)
	}
}

// A TIFF whose head is broken is refused by what is wrong with it, not by the size that
// was then not read.
func TestABrokenHeadIsRefusedByItsOwnReason(t *testing.T) {
	grey := tiffGrey(10, 10, 16, 1, 8, 100)
	unsorted := bytes.Clone(grey)
	copy(unsorted[10:22], grey[22:34])
	copy(unsorted[22:34], grey[10:22])
	for _, c := range []struct {
		name string
		data []byte
		says string
	}{
		{"an unknown colour model", bytes.Replace(grey, []byte{6, 1, 4, 0, 1, 0, 0, 0, 1}, []byte{6, 1, 4, 0, 1, 0, 0, 0, 99}, 1), "color model"},
		{"no bits", tiffGrey(10, 10, 0, 1, 8, 100), "BitsPerSample must not be 0"},
		{"no height", tiffGrey(10, 0, 16, 1, 8, 100), "zero-size"},
		{"fields out of order", unsorted, "not sorted"},
	} {
		_, _, err := decodeBytes(append(bytes.Clone(c.data), make([]byte, 200)...), Options{}) // room for its pixels
		require.Error(t, err, c.name)
		assert.ErrorContains(t, err, "TIFF", c.name)
		assert.ErrorContains(t, err, c.says, c.name)
		assert.NotContains(t, err.Error(), "0 x 0", c.name)
	}
}

// What a picture in colour needs is held against the memory, not only against the
// number of pixels.
func TestMemoryIsBoundedBesidePixels(t *testing.T) {
	data := append(pngClaiming(10000, 9900, 16, 2), make([]byte, 1<<20)...)
	_, _, err := decodeBytes(data, Options{})
	var tooLarge *TooLargeError
	require.ErrorAs(t, err, &tooLarge, "%v", err)
	assert.ErrorContains(t, err, "bytes in memory")
}

func TestLimitsCanBeSet(t *testing.T) {
	for _, name := range []string{"g16.png", "smooth.jpg", "g16_lzw.tif", "u16.fits"} {
		_, _, err := Open(images(name), Options{MaxPixels: 100})
		var tooLarge *TooLargeError
		assert.ErrorAs(t, err, &tooLarge, name)
		_, _, err = Open(images(name), Options{MaxBytes: 100})
		assert.ErrorAs(t, err, &tooLarge, name)
		_, _, err = Open(images(name), Options{MaxPixels: patternWidth * patternHeight})
		assert.NoError(t, err, name)
	}
}

// Every file cut at every length is refused, unless only padding or trailing
// records are missing; then the picture must be whole.
func TestCutFilesAreRefused(t *testing.T) {
	for _, name := range []string{"g16.png", "rgb16.png", "g16_interlaced.png", "smooth.jpg", "exif.jpg", "g16_none.tif", "g16_lzw.tif", "g16_zip.tif", "rgb16_lzw.tif", "u16.fits", "f64.fits"} {
		data, err := os.ReadFile(images(name))
		require.NoError(t, err)
		whole, _, err := decodeBytes(data, Options{})
		require.NoError(t, err)
		accepted := 0
		for n := range len(data) {
			pic, _, err := decodeBytes(data[:n], Options{})
			if err != nil {
				continue
			}
			accepted++
			assert.Equal(t, whole.Grey, pic.Grey, "%s cut to %d of %d bytes", name, n, len(data))
		}
		t.Logf("%s: %d of %d cuts accepted", name, accepted, len(data))
	}
}

func TestWrongSignaturesAreRefused(t *testing.T) {
	for name, data := range map[string][]byte{
		"empty": nil, "text": []byte("time,x,y\n1,2,3\n"), "gzip": {0x1f, 0x8b, 8, 0}, "BigTIFF": []byte("II+\x00\x08\x00\x00\x00"),
		"GIF": []byte("GIF89a"), "PNG signature alone": []byte("\x89PNG\r\n\x1a\n"), "TIFF signature alone": []byte("II*\x00"),
		"JPEG signature alone": []byte("\xff\xd8\xff"), "FITS card alone": []byte("SIMPLE  =                    T"),
	} {
		pic, _, err := decodeBytes(data, Options{})
		assert.Nil(t, pic, name)
		assert.Error(t, err, name)
	}
}

// pattern16 is a 16-bit picture of 3072 x 2048, 6.3 megapixels, as compressible as
// a solar disc with noise in its lowest bits.
func pattern16() *image.Gray16 {
	img := image.NewGray16(image.Rect(0, 0, 3072, 2048))
	seed := uint32(1)
	for y := range 2048 {
		for x := range 3072 {
			dx, dy := x-1536, y-1024
			v := uint32(800)
			if r2 := dx*dx + dy*dy; r2 < 900*900 {
				v = 60000 - uint32(r2/20)
			}
			seed = seed*1664525 + 1013904223
			v += seed >> 25
			i := img.PixOffset(x, y)
			img.Pix[i], img.Pix[i+1] = byte(v>>8), byte(v)
		}
	}
	return img
}

func BenchmarkDecode6Megapixels(b *testing.B) {
	img := pattern16()
	var asPNG, asTIFF bytes.Buffer
	require.NoError(b, png.Encode(&asPNG, img))
	require.NoError(b, tiff.Encode(&asTIFF, img, nil))
	for name, data := range map[string][]byte{"PNG": asPNG.Bytes(), "TIFF": asTIFF.Bytes()} {
		file := filepath.Join(b.TempDir(), "sun."+name)
		require.NoError(b, os.WriteFile(file, data, 0o600))
		b.Run(name, func(b *testing.B) {
			b.SetBytes(3072 * 2048 * 2)
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Open(file, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// The whole of Open on 4096 x 4096 pixels of 16 bit: checksum, pixels, range.
func BenchmarkOpenFITSOf4096(b *testing.B) {
	const side = 4096
	data := append(fitsClaiming(side, side), make([]byte, side*side*2)...)
	for i := 2880; i < len(data); i += 2 {
		binary.BigEndian.PutUint16(data[i:], uint16(i/2%30000))
	}
	file := filepath.Join(b.TempDir(), "sun.fits")
	require.NoError(b, os.WriteFile(file, data, 0o600))
	b.SetBytes(side * side * 2)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Open(file, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// decodeBytes reads a picture that is in memory.
func decodeBytes(data []byte, opts Options) (*Picture, *Header, error) {
	return Decode(bytes.NewReader(data), int64(len(data)), opts)
}
