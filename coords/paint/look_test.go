package paint

import (
	"image"
	"image/draw"
	"image/png"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

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

// conditions are the ways in which pictures are hard; each bends the plain scene.
var conditions = []struct {
	name string
	bend func(*Scene)
}{
	{"plain", func(s *Scene) {}},
	{"cut by an edge", func(s *Scene) { s.Camera.Limb.Centre.X = -60 }},
	{"cut by two edges", func(s *Scene) { s.Camera.Limb.Centre = coords.Pixel{X: 20, Y: 400} }},
	{"saturated, prominences", func(s *Scene) { s.Camera.Exposure = 6; s.Camera.Halo = Halo{Level: 0.02} }},
	{"grey blown-out disc", func(s *Scene) { s.Camera.Exposure, s.Camera.WhiteLevel = 6, 0.55 }},
	{"masked disc", func(s *Scene) { s.Camera.Exposure, s.Camera.Mask = 6, Mask{Radii: 0.995, Level: 0.15} }},
	{"double stack", func(s *Scene) { s.Band = DoubleStack() }},
	{"white light", func(s *Scene) { s.Band = WhiteLight() }},
	{"slope", func(s *Scene) { s.Camera.Gradient = Gradient{Slope: 1.1, Toward: 50 * coords.Degree} }},
	{"sweet spot", func(s *Scene) { s.Camera.Gradient = Gradient{Sweet: 0.8, SweetX: 0.3, SweetY: -0.4, SweetRadii: 0.6} }},
	{"bands", func(s *Scene) { s.Camera.Gradient = Gradient{Band: 0.2, BandPeriodPx: 60, BandAlong: 0.4} }},
	{"cloud", func(s *Scene) { s.Camera.Cloud = Cloud{Depth: 0.8, Veil: 0.15} }},
	{"vignetting", func(s *Scene) { s.Camera.Vignetting = 0.9 }},
	{"bright sky", func(s *Scene) { s.Camera.Sky, s.Camera.Exposure = 0.35, 0.6 }},
	{"noise", func(s *Scene) { s.Camera.ReadNoise, s.Camera.ShotNoise = 0.05, 0.05 }},
	{"sharpened", func(s *Scene) { s.Camera.Sharpen = Sharpen{Amount: 4, RadiusPx: 3} }},
	{"blurred", func(s *Scene) { s.Camera.BlurPx = 10 }},
	{"wobbling limb", func(s *Scene) { s.Camera.Wobble = Wobble{RMSPx: 2, CorrelationDeg: 4} }},
	{"amber", func(s *Scene) { s.Camera.Palette = Amber }},
	{"red", func(s *Scene) { s.Camera.Palette = Red }},
	{"negative", func(s *Scene) { s.Camera.Inverted = true }},
	{"disc negative", func(s *Scene) { s.Camera.DiscInverted = true }},
	{"two exposures", func(s *Scene) { s.Camera.Composite = Composite{Edge: 7, StepAt: 1.005} }},
	{"caption", func(s *Scene) { s.Camera.Caption = Caption{Text: "2027-05-03 09:00 UT", Corner: BottomRight} }},
	{"border", func(s *Scene) {
		s.Camera.Sky, s.Camera.Border = 0.06, Border{LeftPx: 20, TopPx: 6, RightPx: 4, BottomPx: 24, Slant: 2 * coords.Degree}
	}},
	{"ghost", func(s *Scene) { s.Camera.Ghost = Ghost{Level: 0.15, Right: 130, Down: -90, Scale: 0.8} }},
	{"flattened", func(s *Scene) { s.Camera.Limb.Flattening, s.Camera.Limb.ShortAxis = 0.06, 20*coords.Degree }},
	{"halo", func(s *Scene) { s.Camera.Halo = Halo{Level: 0.25, Radii: 0.3} }},
}

// hardScene is the plain scene, bent by one condition.
func hardScene(k int) Scene {
	s := Scene{Sun: lookSun(), Face: someFace, Band: SingleStack(), Camera: Centred(360, 360, 140), Seed: uint64(k)}
	s.Sun.Mottling.Strength = 0.05
	conditions[k].bend(&s)
	return s
}

// TestLookConditions writes a contact sheet of hard pictures.
func TestLookConditions(t *testing.T) {
	dir := os.Getenv("PAINT_LOOK")
	if dir == "" {
		t.Skip("PAINT_LOOK names no folder")
	}
	const wide, size = 7, 360
	sheet := image.NewNRGBA(image.Rect(0, 0, wide*size, (len(conditions)+wide-1)/wide*size))
	for k := range conditions {
		f, err := Paint(hardScene(k))
		require.NoError(t, err, conditions[k].name)
		draw.Draw(sheet, image.Rect(k%wide*size, k/wide*size, (k%wide+1)*size, (k/wide+1)*size), f.Image(), image.Point{}, draw.Src)
	}
	savePNG(t, dir+"/conditions.png", sheet)
}

// TestLookDays writes a contact sheet of a population's days.
func TestLookDays(t *testing.T) {
	dir := os.Getenv("PAINT_LOOK")
	if dir == "" {
		t.Skip("PAINT_LOOK names no folder")
	}
	start := time.Date(2027, 5, 3, 9, 0, 0, 0, time.UTC)
	p := Generate(3, start, 16, someLaws)
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
	savePNG(t, dir+"/days.png", sheet)
}

func savePNG(t *testing.T, path string, m image.Image) {
	file, err := os.Create(path)
	require.NoError(t, err)
	defer file.Close()
	require.NoError(t, png.Encode(file, m))
}

// someLaws turn everything alike, faster than Carrington's frame at the equator and
// slower at high latitudes.
var someLaws = Laws{someDrift, someDrift, someDrift, someDrift}

func someDrift(lat coords.Angle) float64 { return 0.2 - 2.4*sq(lat.Sin()) }

// dayScene is the population some days after its start, solar north up.
func dayScene(p *Population, days float64, c Camera) Scene {
	face := someFace
	face.L0 = (face.L0 - degreesOf(13.2*days)).Wrap360()
	c.North.Angle = -face.P
	at := p.Start.Add(time.Duration(days * 24 * float64(time.Hour)))
	return Scene{Sun: p.At(at), Face: face, Band: DoubleStack(), Camera: c, Seed: uint64(days * 100)}
}
