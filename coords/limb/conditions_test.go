package limb

import (
	"math"
	"math/rand/v2"

	"limbwatch/coords"
	"limbwatch/coords/paint"
)

// condition is one kind of picture of the painted set.
//
//	ordinary  the whole disc or at least 120° of limb, a blur of at most 4 px,
//	          nothing burnt out
//	either    the photosphere's edge is as good an answer as the chromosphere's
//	texture   with mottles and plage (it takes long to paint)
//	alter     what makes the picture what it is
type condition struct {
	name                      string
	ordinary, either, texture bool
	alter                     func(s *paint.Scene, r *rand.Rand)
}

func between(r *rand.Rand, a, b float64) float64 { return a + (b-a)*r.Float64() }

func turn(r *rand.Rand) coords.Angle { return coords.Angle(between(r, -180, 180)) * coords.Degree }

// sceneFor is a picture to start from: a whole disc of about the given radius, a
// blur of 1 to 4 px at R 900, seeing that bends the limb, spots and prominences.
func sceneFor(seed uint64, radiusPx float64) (paint.Scene, *rand.Rand) {
	r := rand.New(rand.NewPCG(seed, 656))
	radius := radiusPx * between(r, 0.96, 1.03)
	side := int(2.2*radiusPx) &^ 1
	c := paint.Centred(side, side, radius)
	c.Limb.Centre.X += between(r, -0.04, 0.04) * radius
	c.Limb.Centre.Y += between(r, -0.04, 0.04) * radius
	c.BlurPx = between(r, 0.8, 4) * max(0.5, radiusPx/900)
	c.Exposure = between(r, 0.5, 0.8)
	c.Wobble = paint.Wobble{RMSPx: between(r, 0, 0.3), CorrelationDeg: between(r, 0.5, 4)}
	c.North = coords.North{Angle: turn(r)}
	face := coords.Face{
		P: coords.Angle(between(r, -26, 26)) * coords.Degree, B0: coords.Angle(between(r, -7, 7)) * coords.Degree,
		Semidiameter: 960 * coords.Arcsecond, DistanceAU: 1,
	}
	at := func(cmd float64) coords.Heliographic {
		return coords.Heliographic{B: coords.Angle(between(r, -50, 50)) * coords.Degree, L: (face.L0 + coords.Angle(cmd)*coords.Degree).Wrap360()}
	}
	var sun paint.Sun
	for i := range 4 {
		p := at(between(r, -80, 80))
		sun.Spots = append(sun.Spots, paint.Spot{At: p, UmbraMm: between(r, 3, 9), PenumbraMm: between(r, 10, 22), Ragged: 0.3, Seed: seed + uint64(i)})
		sun.Plages = append(sun.Plages, paint.Plage{At: p, LengthMm: between(r, 60, 160), WidthMm: 60, HeightMm: 2, Brightness: 0.8, Patchy: 0.8, Seed: seed + uint64(i)})
	}
	sun.Mottling = paint.Mottling{Strength: between(r, 0.02, 0.07), Seed: seed}
	for i := range 5 {
		sun.Prominences = append(sun.Prominences, paint.Prominence{
			At: at(90*float64(1-2*(i%2)) + between(r, -2, 2)), AlongDeg: 80, LengthMm: between(r, 20, 150), HeightMm: between(r, 15, 80),
			Form: paint.Form(i % 4), Seed: seed + uint64(i),
		})
	}
	return paint.Scene{Sun: sun, Face: face, Band: paint.DoubleStack(), Camera: c, Seed: seed}, r
}

// cut moves the disc out of the frame, sideways or down, until arcDeg of its limb
// is left.
func cut(s *paint.Scene, r *rand.Rand, arcDeg float64) {
	c := &s.Camera
	beyond := -c.Limb.RadiusPx * math.Cos(arcDeg/2*math.Pi/180)
	if r.IntN(2) == 0 {
		c.Limb.Centre.X = beyond
	} else {
		c.Limb.Centre.Y = float64(c.Height) - beyond
	}
}

var conditions = []condition{
	{name: "double stack", ordinary: true, texture: true, alter: func(s *paint.Scene, r *rand.Rand) {}},
	{name: "white light", ordinary: true, texture: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Band = paint.WhiteLight() }},
	{name: "no limb darkening", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Band = paint.Flat(coords.Chromosphere) }},
	{name: "single stack, two limbs", ordinary: true, either: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Band = paint.SingleStack() }},
	{name: "noise", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.ReadNoise, s.Camera.ShotNoise = between(r, 0.01, 0.03), 0.03
	}},
	{name: "seeing", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Wobble = paint.Wobble{RMSPx: between(r, 0.5, 1.2), CorrelationDeg: between(r, 0.5, 2)}
	}},
	{name: "slope of brightness", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Gradient.Slope, s.Camera.Gradient.Toward = between(r, 0.4, 0.9), turn(r)
	}},
	{name: "sweet spot", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Gradient = paint.Gradient{Sweet: between(r, 0.4, 0.7), SweetX: between(r, -0.5, 0.5), SweetY: between(r, -0.5, 0.5), SweetRadii: between(r, 0.6, 1)}
	}},
	{name: "banding", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Gradient = paint.Gradient{Band: between(r, 0.05, 0.2), BandPeriodPx: between(r, 60, 300), BandAlong: turn(r)}
	}},
	{name: "vignetting", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Camera.Vignetting = between(r, 0.3, 0.6) }},
	{name: "bright sky", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Camera.Sky = between(r, 0.05, 0.25) }},
	{name: "stray light", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Halo = paint.Halo{Level: between(r, 0.03, 0.12), Radii: between(r, 0.05, 0.3)}
	}},
	{name: "cut, 125° to 260° of limb", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) { cut(s, r, between(r, 126, 260)) }},
	{name: "caption and stacking border", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Border = paint.Border{LeftPx: between(r, 0, 60), TopPx: between(r, 0, 60), RightPx: between(r, 0, 30), BottomPx: between(r, 0, 60), Slant: coords.Angle(between(r, -0.02, 0.02))}
		s.Camera.Caption = paint.Caption{Text: "2026-05-14 09:12:33 UT H-alpha", Corner: paint.Corner(r.IntN(4))}
	}},
	{name: "8 bit, false colour", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Camera.Bits, s.Camera.Palette = 8, paint.Amber }},
	{name: "bright prominences", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		for i := range s.Sun.Prominences {
			s.Sun.Prominences[i].Brightness = between(r, 0.3, 1)
			s.Sun.Prominences[i].LengthMm *= 1.5
		}
	}},
	{name: "negative", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Camera.Inverted = true }},
	{name: "only the disc inverted", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) { s.Camera.DiscInverted = true }},
	{name: "reflection", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		R := s.Camera.Limb.RadiusPx
		s.Camera.Ghost = paint.Ghost{Level: between(r, 0.02, 0.15), Right: between(r, -R, R), Down: between(r, -R, R), Scale: between(r, 0.4, 1.2)}
	}},
	{name: "small, in a wide frame", ordinary: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Limb.RadiusPx = between(r, 0.22, 0.4) * float64(s.Camera.Width) / 2.2
		s.Camera.Limb.Centre = coords.Pixel{X: between(r, 0.25, 0.75) * float64(s.Camera.Width), Y: between(r, 0.25, 0.75) * float64(s.Camera.Height)}
	}},
	{name: "R 45", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Width, s.Camera.Height = 100, 100
		s.Camera.Limb.RadiusPx = between(r, 42, 47)
		s.Camera.Limb.Centre = coords.Pixel{X: 49.5 + between(r, -1, 1), Y: 49.5 + between(r, -1, 1)}
		s.Camera.BlurPx, s.Camera.Wobble.RMSPx = between(r, 0.4, 1), 0.1
	}},
	{name: "R 1900, cut", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Limb.RadiusPx, s.Camera.BlurPx = 1900, between(r, 1, 4)
		s.Camera.Width, s.Camera.Height = 2600, 900
		s.Camera.Limb.Centre = coords.Pixel{X: between(r, 1000, 1600), Y: 1990}
	}},
	{name: "cut, 60° to 120° of limb", alter: func(s *paint.Scene, r *rand.Rand) { cut(s, r, between(r, 62, 118)) }},
	{name: "blur of 0.7 to 1.5 % of R", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.BlurPx = between(r, 0.007, 0.015) * s.Camera.Limb.RadiusPx
	}},
	{name: "sharpened", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Sharpen = paint.Sharpen{Amount: between(r, 0.5, 3), RadiusPx: between(r, 1, 4)}
		s.Camera.Exposure = 0.3
	}},
	{name: "8 bit, tone curve", alter: func(s *paint.Scene, r *rand.Rand) { s.Camera.Bits, s.Camera.Gamma = 8, between(r, 0.6, 1.4) }},
	{name: "over-exposed", alter: func(s *paint.Scene, r *rand.Rand) { s.Camera.Exposure = between(r, 1.5, 6) }},
	{name: "burnt-out grey disc", either: true, alter: func(s *paint.Scene, r *rand.Rand) {
		s.Band = paint.SingleStack()
		s.Camera.Exposure, s.Camera.WhiteLevel = between(r, 5, 12), between(r, 0.4, 0.8)
	}},
	{name: "heavy stray light", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Halo = paint.Halo{Level: between(r, 0.15, 0.5), Radii: between(r, 0.02, 0.3)}
	}},
	{name: "cloud", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Cloud = paint.Cloud{Depth: between(r, 0.3, 0.9), Veil: between(r, 0.02, 0.15)}
	}},
	{name: "composite", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Composite = paint.Composite{Edge: between(r, 3, 15), StepAt: between(r, 0.985, 1.02), FeatherPx: between(r, 0.5, 6)}
	}},
	{name: "covered disc", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Exposure = between(r, 2, 6)
		s.Camera.Mask = paint.Mask{Radii: between(r, 0.97, 0.995), Level: between(r, 0, 0.5)}
	}},
	{name: "border across the disc", alter: func(s *paint.Scene, r *rand.Rand) {
		R := s.Camera.Limb.RadiusPx
		s.Camera.Border = paint.Border{LeftPx: between(r, 0.2, 0.5) * R, TopPx: between(r, 0.1, 0.35) * R, Slant: coords.Angle(between(r, -0.05, 0.05))}
	}},
	{name: "much at once", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Cloud = paint.Cloud{Depth: 0.4, Veil: 0.05}
		s.Camera.Gradient.Slope = 0.5
		s.Camera.Halo = paint.Halo{Level: 0.1}
		s.Camera.ReadNoise = 0.02
		s.Camera.Wobble = paint.Wobble{RMSPx: 1, CorrelationDeg: 2}
		cut(s, r, between(r, 100, 250))
	}},
	{name: "flattened", alter: func(s *paint.Scene, r *rand.Rand) {
		s.Camera.Limb.Flattening, s.Camera.Limb.ShortAxis = between(r, 0.003, 0.02), turn(r)
	}},
}
