package paint

import "limbwatch/coords"

// Band is what the filter shows of the Sun.
//
//	Layer                whose edge the limb is; its error is not used
//	Darkening, Darkening2  brightness 1 − Darkening·(1−μ) − Darkening2·(1−μ)², μ on the photosphere
//	Rim                  brightness between the photosphere's edge and the limb, in units of
//	                     the disc just inside; 1 hides the inner edge, 0.4 shows a double limb,
//	                     above 1 a bright ring
//	Spicules             brightness of the ragged fringe at the limb, disc centre = 1
//	Filament, Plage      factors on how strongly filaments and plage stand out on the disc
//	Prominence           factor on brightness beyond the limb
//	Mottling             factor on Sun.Mottling
//
// The factors are taken literally: 0 shows none. Start from one of the presets.
type Band struct {
	Layer                                 coords.Layer
	Darkening, Darkening2                 float64
	Rim                                   float64
	Spicules                              float64
	Filament, Plage, Prominence, Mottling float64
}

// SingleStack is an H-alpha filter of some 0.7 Å: both limbs show, filaments and
// plage are pale, prominences bright. Its limb is the chromosphere's; but where blur
// is as wide as half the rim, or the rim is darker (0.3 to 0.5 in wide filters), the
// steepest point of the edge is the photosphere's. Truth.InflectionPx tells.
func SingleStack() Band {
	return Band{
		Layer: coords.Chromosphere, Darkening: 0.45, Darkening2: 0.15, Rim: 0.7, Spicules: 0.03,
		Filament: 0.65, Plage: 0.6, Prominence: 1, Mottling: 0.6,
	}
}

// DoubleStack is two filters in a row, some 0.5 Å or less: no double limb, strong
// filaments and plage, dim prominences and limb.
func DoubleStack() Band {
	return Band{
		Layer: coords.Chromosphere, Darkening: 0.55, Darkening2: 0.1, Rim: 1, Spicules: 0.03,
		Filament: 1, Plage: 1, Prominence: 0.55, Mottling: 1,
	}
}

// WhiteLight is the photosphere: its own limb, spots, no filaments.
func WhiteLight() Band {
	return Band{Layer: coords.Photosphere, Darkening: 0.6, Rim: 1, Plage: 0.1, Mottling: 0.25}
}

// Flat is an evenly bright disc with a sharp limb at the given height: nothing
// moves the point of half brightness away from the true limb.
func Flat(layer coords.Layer) Band {
	return Band{Layer: layer, Rim: 1, Filament: 1, Plage: 1, Prominence: 1, Mottling: 1}
}

// Camera is where the disc lies in the picture, and what goes wrong on the way
// from the Sun to the file, in the order in which it goes wrong. The zero value of
// each part leaves it out; Exposure 0 is taken as 0.7. Levels are fractions: of the
// disc centre's light where light is meant, of white where the file is.
type Camera struct {
	Width, Height int
	Limb          coords.Limb
	North         coords.North

	Wobble Wobble  // the limb distorted by seeing
	BlurPx float64 // sigma of the Gaussian point-spread function

	Cloud      Cloud
	Gradient   Gradient
	Vignetting float64 // light lost in the corners, 0 to 1
	Sky        float64 // even background light, before vignetting and gradient
	Halo       Halo
	Ghost      Ghost

	Exposure   float64 // level of the disc centre, 1 = white
	Composite  Composite
	WhiteLevel float64 // where saturated pixels end, 0 = 1: white; 0.6 a grey blown-out disc
	ReadNoise  float64 // sigma of the noise of a dark pixel
	ShotNoise  float64 // sigma added at white; grows with the root of the level

	Gamma        float64 // level^Gamma after the noise; 0 = 1
	Sharpen      Sharpen
	Mask         Mask
	Inverted     bool // a negative
	DiscInverted bool // only inside the limb
	Border       Border
	Caption      Caption
	Palette      Palette
	Bits         int // 8 or 16; 0 = 16
}

// Wobble bends the limb in and out: along it, in pixels rms, with a correlation
// length in degrees of position angle (0 = 2°). True seeing does no less; it is
// what makes neighbouring points of a limb agree on a wrong place.
type Wobble struct {
	RMSPx, CorrelationDeg float64
}

// Cloud is a thin, patchy cloud: Depth is the most light it takes (0 to 1), Veil
// the scattered light that it adds at its thickest, ScalePx the size of its patches
// (0 = a third of the picture).
type Cloud struct {
	Depth, Veil, ScalePx float64
}

// Gradient is uneven brightness across the picture: a slope (change across the
// disc's diameter, in the direction Toward counted as North is), a sweet spot of
// a filter (Gaussian of SweetRadii radii sigma, centred SweetX, SweetY radii from the
// disc's centre, losing Sweet of the light far from it) and bands across it.
type Gradient struct {
	Slope  float64
	Toward coords.Angle

	Sweet, SweetX, SweetY, SweetRadii float64

	Band, BandPeriodPx float64
	BandAlong          coords.Angle
}

// Halo is stray light around the disc: Level at the limb, falling to 1/e in Radii
// radii of the disc (0 = 0.15).
type Halo struct {
	Level, Radii float64
}

// Ghost is a reflection in the optics: a dim image of the disc, shifted by Right,
// Down pixels and scaled (0 = 1).
type Ghost struct {
	Level, Right, Down, Scale float64
}

// Composite joins two exposures: outside of StepAt radii of the limb (0 = 1)
// the exposure is Edge times longer. FeatherPx softens the seam.
type Composite struct {
	Edge, StepAt, FeatherPx float64
}

// Sharpen is an unsharp mask: Amount times the difference from a copy blurred by
// RadiusPx is added. Large amounts ring at the limb.
type Sharpen struct {
	Amount, RadiusPx float64
}

// Mask covers the disc inside Radii radii of the limb with an even Level, as
// prominence pictures are often finished. Radii 0 leaves it out.
type Mask struct {
	Radii, Level float64
}

// Border is the black edge that stacking leaves, in pixels, turned by Slant.
type Border struct {
	LeftPx, TopPx, RightPx, BottomPx float64
	Slant                            coords.Angle
}

// Corner of the picture.
type Corner int

// The four corners.
const (
	TopLeft Corner = iota
	TopRight
	BottomLeft
	BottomRight
)

// Caption is text burnt into a corner. Scale is in whole pixels per pixel of a 7 by
// 13 font (0 = fitting the picture), Level the brightness of the text (0 = 1).
type Caption struct {
	Text   string
	Corner Corner
	Scale  int
	Level  float64
}

// Palette is how the finished grey levels are coloured.
type Palette int

// The palettes: grey, the usual orange-red of H-alpha pictures, pure red (as a
// colour camera sees the line), and yellow.
const (
	Grey Palette = iota
	Amber
	Red
	Yellow
)

func (c Camera) bits() int {
	if c.Bits == 0 {
		return 16
	}
	return c.Bits
}

func (c Camera) exposure() float64 { return orDefault(c.Exposure, 0.7) }

func orDefault(v, otherwise float64) float64 {
	if v == 0 {
		return otherwise
	}
	return v
}

// Centred is a camera with the whole disc in the middle of the picture, north up, a
// slight blur and noise.
func Centred(width, height int, radiusPx float64) Camera {
	return Camera{
		Width: width, Height: height,
		Limb: coords.Limb{
			Centre:   coords.Pixel{X: float64(width-1) / 2, Y: float64(height-1) / 2},
			RadiusPx: radiusPx,
		},
		BlurPx: 1.5, Sky: 0.01, ReadNoise: 0.002, ShotNoise: 0.006,
	}
}
