package exif

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func load(t testing.TB, name string) []byte {
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "images", name))
	require.NoError(t, err)
	return data
}

// What Pillow wrote: testdata/images/make_images.py.
func TestTagsAsPillowWroteThem(t *testing.T) {
	data := load(t, "exif.jpg")
	tags, err := Read(bytes.NewReader(data), int64(len(data)), "JPEG")
	require.NoError(t, err)
	assert.Equal(t, Tags{Orientation: 6, Original: "2024:05:12 11:15:03", SubSec: "25", Offset: "+02:00", ExposureS: 0.004}, tags)

	data = load(t, "exif_no_zone.png")
	tags, err = Read(bytes.NewReader(data), int64(len(data)), "PNG")
	require.NoError(t, err)
	assert.Equal(t, Tags{Original: "2024:05:12 11:15:03"}, tags)

	data = load(t, "orientation7.tif")
	tags, err = Read(bytes.NewReader(data), int64(len(data)), "TIFF")
	require.NoError(t, err)
	assert.Equal(t, Tags{Orientation: 7}, tags)
}

func TestPicturesWithoutEXIFHaveNoTags(t *testing.T) {
	for name, format := range map[string]string{"smooth.jpg": "JPEG", "g16.png": "PNG"} {
		data := load(t, name)
		tags, err := Read(bytes.NewReader(data), int64(len(data)), format)
		assert.NoError(t, err, name)
		assert.Equal(t, Tags{}, tags, name)
	}
	_, err := Read(bytes.NewReader(nil), 0, "FITS")
	assert.Error(t, err)
}

// Whatever is cut or overwritten, there's an answer and no panic.
func TestDamagedEXIF(t *testing.T) {
	data := load(t, "exif.jpg")
	for n := range len(data) {
		_, _ = Read(bytes.NewReader(data[:n]), int64(n), "JPEG")
	}
	for i := range 200 {
		damaged := bytes.Clone(data)
		damaged[i] = 0xff
		_, _ = Read(bytes.NewReader(damaged), int64(len(damaged)), "JPEG")
	}
}

func FuzzRead(f *testing.F) {
	for name, format := range map[string]string{"exif.jpg": "JPEG", "exif_no_zone.png": "PNG", "orientation7.tif": "TIFF", "g16_lzw.tif": "TIFF"} {
		f.Add(load(f, name), format)
	}
	f.Fuzz(func(t *testing.T, data []byte, format string) {
		tags, _ := Read(bytes.NewReader(data), int64(len(data)), format)
		if tags.Orientation < 0 || tags.Orientation > 8 || tags.ExposureS < 0 {
			t.Errorf("impossible tags %+v", tags)
		}
	})
}
