package paint

import (
	"image"
	"image/draw"
	"image/png"
	"os"
	"testing"
	"time"

	"limbwatch/coords"
)

func place(b, cmd float64) coords.Heliographic {
	return coords.Heliographic{B: degreesOf(b), L: (someFace.L0 + degreesOf(cmd)).Wrap360()}
}

func lookSun() Sun {
	return Sun{
		Mottling: Mottling{Strength: 0.07, Seed: 1},
		Spots: []Spot{
			{At: place(14, 20), UmbraMm: 9, PenumbraMm: 20, Ragged: 0.2, Seed: 1},
			{At: place(13, 13), UmbraMm: 5, PenumbraMm: 11, Ragged: 0.3, Seed: 2},
			{At: place(12, 10), UmbraMm: 2, PenumbraMm: 3, Ragged: 0.3, Seed: 3},
			{At: place(-18, -40), UmbraMm: 6, PenumbraMm: 14, Ragged: 0.2, Seed: 4},
		},
		Plages: []Plage{
			{At: place(14, 15), LengthMm: 130, WidthMm: 60, TiltDeg: 8, HeightMm: 2, Brightness: 0.45, Patchy: 0.8, Seed: 7},
			{At: place(-18, -44), LengthMm: 110, WidthMm: 60, TiltDeg: -8, HeightMm: 2, Brightness: 0.45, Patchy: 0.8, Seed: 8},
			{At: place(-12, 55), LengthMm: 160, WidthMm: 90, TiltDeg: -8, HeightMm: 2, Brightness: 0.35, Patchy: 0.9, Seed: 9},
		},
		Filaments: []Filament{
			{Spine: []coords.Heliographic{place(35, -40), place(32, -30), place(27, -20), place(25, -12)}, HeightMm: 35, BaseMm: 4, WidthMm: 8, Depth: 1.2, Barbs: 7, Seed: 11},
			{Spine: []coords.Heliographic{place(-45, -15), place(-42, 0), place(-38, 14), place(-40, 30)}, HeightMm: 40, BaseMm: 4, WidthMm: 8, Depth: 1.2, Barbs: 9, Seed: 12},
			{Spine: []coords.Heliographic{place(5, -5), place(2, 0), place(-3, 3)}, HeightMm: 12, BaseMm: 2, WidthMm: 4, Depth: 1.4, Barbs: 2, Seed: 13},
			{Spine: []coords.Heliographic{place(28, 70), place(25, 80), place(20, 90), place(18, 96)}, HeightMm: 45, BaseMm: 3, WidthMm: 8, Depth: 1.2, Barbs: 5, Seed: 14},
		},
		Prominences: []Prominence{
			{At: place(-30, 91), AlongDeg: 80, LengthMm: 110, HeightMm: 60, Form: Hedgerow, Seed: 21},
			{At: place(40, -90), AlongDeg: 90, LengthMm: 60, HeightMm: 50, Form: Loop, Seed: 22},
			{At: place(-10, -91), AlongDeg: 90, LengthMm: 16, HeightMm: 90, Form: Surge, Seed: 23},
			{At: place(-55, -90), AlongDeg: 70, LengthMm: 70, HeightMm: 70, Form: Cloudlet, Seed: 24},
		},
	}
}

// TestLook writes pictures to look at.
func TestLook(t *testing.T) {
	dir := os.Getenv("PAINT_LOOK")
	if dir == "" {
		t.Skip("PAINT_LOOK names no folder")
	}
	for name, band := range map[string]Band{"single": SingleStack(), "double": DoubleStack(), "white": WhiteLight()} {
		c := Centred(1100, 1100, 470)
		f, err := Paint(Scene{Sun: lookSun(), Face: someFace, Band: band, Camera: c, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		f.Bits = 8
		if err := f.SavePNG(dir + "/" + name + ".png"); err != nil {
			t.Fatal(err)
		}
	}
	c := Centred(1100, 1100, 470)
	c.Exposure = 4
	f, err := Paint(Scene{Sun: lookSun(), Face: someFace, Band: SingleStack(), Camera: c, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	f.Bits = 8
	if err := f.SavePNG(dir + "/proms.png"); err != nil {
		t.Fatal(err)
	}
	c = Centred(900, 900, 1300)
	c.Limb.Centre = coords.Pixel{X: -860, Y: 450}
	c.Exposure = 3
	sun := lookSun()
	sun.Prominences = append(sun.Prominences,
		Prominence{At: place(-8, 92), AlongDeg: 85, LengthMm: 140, HeightMm: 65, Form: Hedgerow, Seed: 31},
		Prominence{At: place(4, 90), AlongDeg: 95, LengthMm: 50, HeightMm: 45, Form: Loop, Seed: 32},
		Prominence{At: place(14, 88), AlongDeg: 70, LengthMm: 18, HeightMm: 110, Form: Surge, Seed: 33},
		Prominence{At: place(10, 94), AlongDeg: 90, LengthMm: 60, HeightMm: 80, Form: Cloudlet, Seed: 34})
	c.North.Angle = someFace.P * -1
	f, err = Paint(Scene{Sun: sun, Face: someFace, Band: SingleStack(), Camera: c, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	f.Bits = 8
	if err := f.SavePNG(dir + "/edge.png"); err != nil {
		t.Fatal(err)
	}
}

// TestLookDays writes a contact sheet of a population's days.
func TestLookDays(t *testing.T) {
	dir := os.Getenv("PAINT_LOOK")
	if dir == "" {
		t.Skip("PAINT_LOOK names no folder")
	}
	start := time.Date(2027, 5, 3, 9, 0, 0, 0, time.UTC)
	law := func(lat coords.Angle) float64 { return 0.2 - 2.4*sq(lat.Sin()) }
	p := Generate(3, start, 16, Laws{law, law, law, law})
	const n, size = 4, 480
	sheet := image.NewGray(image.Rect(0, 0, n*size, n*size))
	for k := range n * n {
		at := start.Add(time.Duration(k) * 24 * time.Hour)
		face := someFace
		face.L0 = (face.L0 - degreesOf(13.2*float64(k))).Wrap360()
		c := Centred(size, size, 200)
		c.Bits = 8
		c.North.Angle = -face.P
		band := DoubleStack()
		if k%2 == 1 {
			band = SingleStack()
			c.Gamma = 0.6
		}
		f, err := Paint(Scene{Sun: p.At(at), Face: face, Band: band, Camera: c, Seed: uint64(k)})
		if err != nil {
			t.Fatal(err)
		}
		draw.Draw(sheet, image.Rect(k%n*size, k/n*size, (k%n+1)*size, (k/n+1)*size), f.Image(), image.Point{}, draw.Src)
	}
	file, err := os.Create(dir + "/days.png")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if err := png.Encode(file, sheet); err != nil {
		t.Fatal(err)
	}
}
