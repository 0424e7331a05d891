package picture

import (
	"math"
	"os"
	"path/filepath"
	"testing"
)

// fuzz reads damaged files of one kind. The bounds are small, so that the fuzzer
// spends its time on odd files rather than large ones; so are the seeds, since what is
// found in a large one is made small for as long as it takes.
func fuzz(f *testing.F, patterns ...string) {
	for _, pattern := range patterns {
		names, err := filepath.Glob(images(pattern))
		if err != nil || len(names) == 0 {
			f.Fatalf("no seeds %s: %v", pattern, err)
		}
		for _, name := range names {
			data, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			if len(data) <= 2*2880 { // a FITS file has no fewer: a block of header, one of data
				f.Add(data)
			}
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		pic, header, err := decodeBytes(data, Options{MaxPixels: 1 << 20, Name: "20240512_091503Z.png"})
		if err != nil {
			if pic != nil || header != nil || err.Error() == "" {
				t.Fatalf("picture %v, header %v with error %q", pic, header, err)
			}
			return
		}
		if len(pic.Grey) != pic.Width*pic.Height || len(pic.Grey) == 0 || len(pic.Grey) > 1<<20 {
			t.Fatalf("%d grey levels for %d x %d", len(pic.Grey), pic.Width, pic.Height)
		}
		for i, v := range pic.Grey {
			if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
				t.Fatalf("grey level %d is %v", i, v)
			}
		}
	})
}

func FuzzPNG(f *testing.F)  { fuzz(f, "*.png") }
func FuzzJPEG(f *testing.F) { fuzz(f, "*.jpg") }
func FuzzTIFF(f *testing.F) { fuzz(f, "*.tif") }
func FuzzFITS(f *testing.F) { fuzz(f, "*.fits") }
