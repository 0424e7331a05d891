package paint

import (
	"math"

	"limbwatch/coords"
)

// Spot is one sunspot.
//
//	UmbraMm, PenumbraMm  radii; a pore has PenumbraMm = UmbraMm
//	Umbra, Penumbra      brightness in units of the disc around; 0 = 0.25 and 0.7
//	Ragged               irregularity of the outline, 0 (round) to about 0.5
//	Label                names what it belongs to; the spots of a group share one
type Spot struct {
	Label               string
	At                  coords.Heliographic
	UmbraMm, PenumbraMm float64
	Umbra, Penumbra     float64
	Ragged              float64
	Seed                uint64
}

// Plage is a bright patch.
//
//	LengthMm, WidthMm  full axes at half brightness; TiltDeg turns the long one from west toward north
//	Brightness         above the disc around (0.5: half as bright again)
//	HeightMm           above the photosphere
//	Patchy             0 (a smooth cloud) to 1 (broken into grains)
type Plage struct {
	Label             string
	At                coords.Heliographic
	LengthMm, WidthMm float64
	TiltDeg           float64
	HeightMm          float64
	Brightness        float64
	Patchy            float64
	Seed              uint64
}

// Filament is a sheet of gas standing on its spine, seen dark on the disc and
// bright beyond the limb.
//
//	Spine       feet of the sheet, two points or more, from end to end
//	HeightMm    top of the sheet above the photosphere
//	BaseMm      its lower edge, between the feet
//	WidthMm     thickness of the sheet
//	Depth       optical depth looking down on it
//	Brightness  of its own light, disc centre = 1; 0 = 0.18
//	Barbs       side branches
type Filament struct {
	Label            string
	Spine            []coords.Heliographic
	HeightMm, BaseMm float64
	WidthMm          float64
	Depth            float64
	Brightness       float64
	Barbs            int
	Seed             uint64
}

// Form of a prominence.
type Form int

// Forms of prominences: a curtain of threads, an arch of loops, a straight jet, a
// cloud without feet.
const (
	Hedgerow Form = iota
	Loop
	Surge
	Cloudlet
)

// Prominence is gas above the limb. It is the same stuff as a filament, only
// shaped otherwise, and shows on the disc as well: dark if it is dimmer than the
// disc, bright if brighter.
//
//	At          its foot, the middle of its base
//	AlongDeg    direction of its base, from west toward north
//	LengthMm    of the base; HeightMm of the top; WidthMm of the sheet (0 = 6)
//	Depth       optical depth seen from the side (0 = 0.8)
//	Brightness  of its own light, disc centre = 1; 0 = 0.2
type Prominence struct {
	Label      string
	Form       Form
	At         coords.Heliographic
	AlongDeg   float64
	LengthMm   float64
	HeightMm   float64
	WidthMm    float64
	Depth      float64
	Brightness float64
	Seed       uint64
}

// local is a frame on the surface at a place: unit vectors (Carrington frame)
// up, west and north.
type local struct {
	up, west, north [3]float64
}

func localAt(h coords.Heliographic) local {
	sinB, cosB := h.B.Sincos()
	sinL, cosL := h.L.Sincos()
	return local{
		up:    [3]float64{cosB * cosL, cosB * sinL, sinB},
		west:  [3]float64{-sinL, cosL, 0},
		north: [3]float64{-sinB * cosL, -sinB * sinL, cosB},
	}
}

// at is the direction of the point that lies a to the west and b to the north of
// the frame's origin, as angles on a great circle.
func (f local) at(a, b float64) [3]float64 {
	d := math.Hypot(a, b)
	if d == 0 {
		return f.up
	}
	sin, cos := math.Sincos(d)
	a, b = a*sin/d, b*sin/d
	var p [3]float64
	for i := range p {
		p[i] = cos*f.up[i] + a*f.west[i] + b*f.north[i]
	}
	return p
}

// offset is the inverse of at, for points of the near hemisphere.
func (f local) offset(p [3]float64) (a, b float64) {
	a, b = dot(p, f.west), dot(p, f.north)
	d := math.Hypot(a, b)
	if d == 0 {
		return 0, 0
	}
	k := math.Atan2(d, dot(p, f.up)) / d
	return a * k, b * k
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// toMm turns an angle at the Sun's centre into Mm on the photosphere.
const toMm = coords.SolarRadiusMm

// patch is a stretch of surface whose brightness is multiplied by factor, which
// takes Mm west and north of the patch's place.
type patch struct {
	at       coords.Heliographic
	reachMm  float64
	heightMm float64
	factor   func(aMm, bMm float64) float64
}

func (s Spot) patch() patch {
	umbra, penumbra := orDefault(s.Umbra, 0.25), orDefault(s.Penumbra, 0.7)
	outer := math.Max(s.PenumbraMm, s.UmbraMm)
	return patch{
		at:      s.At,
		reachMm: outer*(1.2+s.Ragged) + 0.5,
		factor: func(a, b float64) float64 {
			d := math.Hypot(a, b)
			if s.Ragged > 0 {
				k := 3 / outer
				d *= 1 + s.Ragged*fractal(a*k, b*k, 0.5, 2, s.Seed)
			}
			// Edges a tenth of the radius wide, symmetric about it.
			in := 1 - smoothstep(0.85, 1.15, d/s.UmbraMm)
			around := 1 - smoothstep(0.92, 1.08, d/outer)
			level := 1 - around*(1-penumbra)
			return level + in*(umbra-penumbra)*around
		},
	}
}

func (p Plage) patch(strength float64) patch {
	sin, cos := degreesOf(p.TiltDeg).Sincos()
	return patch{
		at:       p.At,
		reachMm:  0.9 * math.Hypot(p.LengthMm, p.WidthMm),
		heightMm: p.HeightMm,
		factor: func(a, b float64) float64 {
			x, y := (a*cos+b*sin)/(p.LengthMm/2), (b*cos-a*sin)/(p.WidthMm/2)
			// The outline wanders by large swirls, grains lie inside of it.
			swirl := fractal(a/25, b/25, 0, 2, p.Seed)
			d := math.Hypot(x, y) * (1 + 0.5*p.Patchy*swirl)
			cover := math.Exp(-math.Ln2 * d * d)
			if cover < 0.02 {
				return 1
			}
			grain := fractal(a/7, b/7, 0, 3, p.Seed+9)
			ridge := 1 - 2.2*math.Abs(fractal(a/14+swirl, b/14, 3, 2, p.Seed+5))
			texture := smoothstep(-0.45, 0.75, 0.8*grain+0.7*ridge-0.35+0.5*(cover-0.5))
			return 1 + strength*p.Brightness*cover*(1-p.Patchy+p.Patchy*1.4*texture)
		},
	}
}
