package paint

import (
	"time"

	"limbwatch/coords"
)

// place is b degrees north, cmd degrees west of the centre of someFace.
func place(b, cmd float64) coords.Heliographic {
	return coords.Heliographic{B: degreesOf(b), L: (someFace.L0 + degreesOf(cmd)).Wrap360()}
}

// lookSun has one of everything.
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

// someLaws turn everything alike, faster than Carrington's frame at the equator and
// slower at high latitudes.
var someLaws = Laws{someDrift, someDrift, someDrift, someDrift}

func someDrift(lat coords.Angle) float64 { return 0.2 - 2.4*coords.Square(lat.Sin()) }

// dayScene is the population some days after its start, solar north up.
func dayScene(p *Population, days float64, c Camera) Scene {
	face := someFace
	face.L0 = (face.L0 - degreesOf(13.2*days)).Wrap360()
	c.North.Angle = -face.P
	at := p.Start.Add(time.Duration(days * 24 * float64(time.Hour)))
	return Scene{Sun: p.At(at), Face: face, Band: DoubleStack(), Camera: c, Seed: uint64(days * 100)}
}
