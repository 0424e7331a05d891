package fits

import (
	"math"
	"os"
	"path/filepath"
	"testing"
)

func FuzzRead(f *testing.F) {
	for _, name := range []string{"u8", "u16", "i32", "f32", "f64", "rgb16", "scaled", "cube5"} {
		data, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "images", name+".fits"))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add(file(header(8, 0, 5), nil))
	f.Add(append(file(header(8), nil), file(append([]string{"XTENSION= 'IMAGE   '"}, header(8, 1, 1)[1:]...), []byte{7})...))
	f.Add(file(header(-64, 1, 1), []byte{0x7f, 0xf0, 0, 0, 0, 0, 0, 0}))
	f.Fuzz(func(t *testing.T, data []byte) {
		img, err := read(data, Limits{Pixels: 1 << 22, Bytes: 1 << 25})
		if (img == nil) == (err == nil) {
			t.Fatalf("image %v with error %v", img, err)
		}
		if err != nil {
			return
		}
		blank := 0
		for _, plane := range img.Planes {
			if len(plane) != img.Width*img.Height {
				t.Fatalf("%d values for %d x %d", len(plane), img.Width, img.Height)
			}
			for _, v := range plane {
				if math.IsInf(float64(v), 0) {
					t.Fatal("an infinity")
				}
				if v != v {
					blank++
				}
			}
		}
		if blank != img.Blank {
			t.Fatalf("%d blanks, %d counted", blank, img.Blank)
		}
	})
}
