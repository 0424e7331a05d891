//go:build look

package paint

import (
	"image"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// Pictures to look at, which no assertion can judge:
//
//	PAINT_LOOK=folder go test -tags look -run Look ./coords/paint

func savePNG(t *testing.T, name string, m image.Image) {
	folder := os.Getenv("PAINT_LOOK")
	require.NotEmpty(t, folder, "PAINT_LOOK names the folder for the pictures")
	file, err := os.Create(filepath.Join(folder, name))
	require.NoError(t, err)
	defer file.Close()
	require.NoError(t, png.Encode(file, m))
}

func paintTo(t *testing.T, name string, s Scene) {
	s.Camera.Bits = 8
	f, err := Paint(s)
	require.NoError(t, err)
	savePNG(t, name, f.Image())
}

func TestLookBands(t *testing.T) {
	for name, band := range map[string]Band{"single": SingleStack(), "double": DoubleStack(), "white": WhiteLight()} {
		paintTo(t, name+".png", Scene{Sun: lookSun(), Face: someFace, Band: band, Camera: Centred(1100, 1100, 470), Seed: 1})
	}
}

func TestLookProminences(t *testing.T) {
	c := Centred(900, 900, 1300)
	c.Limb.Centre = coords.Pixel{X: -860, Y: 450}
	c.Exposure, c.North.Angle = 5, -someFace.P
	sun := lookSun()
	sun.Prominences = append(sun.Prominences,
		Prominence{At: place(-8, 92), AlongDeg: 85, LengthMm: 140, HeightMm: 65, Form: Hedgerow, Seed: 31},
		Prominence{At: place(4, 90), AlongDeg: 95, LengthMm: 50, HeightMm: 45, Form: Loop, Seed: 32},
		Prominence{At: place(14, 88), AlongDeg: 70, LengthMm: 18, HeightMm: 110, Form: Surge, Seed: 33},
		Prominence{At: place(10, 94), AlongDeg: 90, LengthMm: 60, HeightMm: 80, Form: Cloudlet, Seed: 34})
	paintTo(t, "edge.png", Scene{Sun: sun, Face: someFace, Band: SingleStack(), Camera: c, Seed: 1})
}

// TestLookConditions writes a contact sheet of hard pictures.
func TestLookConditions(t *testing.T) {
	const wide, size = 7, 360
	sheet := image.NewNRGBA(image.Rect(0, 0, wide*size, (len(conditions)+wide-1)/wide*size))
	for k := range conditions {
		f, err := Paint(hardScene(k))
		require.NoError(t, err, conditions[k].name)
		draw.Draw(sheet, image.Rect(k%wide*size, k/wide*size, (k%wide+1)*size, (k/wide+1)*size), f.Image(), image.Point{}, draw.Src)
	}
	savePNG(t, "conditions.png", sheet)
}

// TestLookDays writes a contact sheet of a population's days.
func TestLookDays(t *testing.T) {
	p := Generate(3, someStart, 16, someLaws)
	const wide, size = 4, 480
	sheet := image.NewGray(image.Rect(0, 0, wide*size, wide*size))
	for k := range wide * wide {
		s := dayScene(p, float64(k), Centred(size, size, 200))
		if k%2 == 1 {
			s.Band = SingleStack()
			s.Camera.Gamma = 0.6
		}
		f, err := Paint(s)
		require.NoError(t, err)
		draw.Draw(sheet, image.Rect(k%wide*size, k/wide*size, (k%wide+1)*size, (k/wide+1)*size), f.Image(), image.Point{}, draw.Src)
	}
	savePNG(t, "days.png", sheet)
}
