package disc

import (
	"math"

	"limbwatch/coords"
)

// Crossing tells how the limb cuts a parallel of latitude.
type Crossing int

const (
	// Crosses: the parallel is cut twice, in the east and in the west.
	Crosses Crossing = iota
	// NeverSets: all of the parallel is this side of the limb.
	NeverSets
	// NeverRises: all of it is behind the limb.
	NeverRises
)

// LimbCMD is the central meridian distance at which the photospheric limb stands
// at a latitude, west of the middle and, with the sign changed, east of it:
//
//	cos CMD = (sin S − sin B0 sin b) / (cos B0 cos b)
//
// which for a Sun infinitely far away (S = 0) is acos(−tan B0 tan b), some 0.27°
// more. A parallel about the pole that leans toward the observer never sets (CMD
// 180° is given), one about the other pole never rises (0°).
//
// With beyond it is where a place stands that angle behind the limb instead:
// what Reach gives for a height.
func LimbCMD(face coords.Face, lat, beyond coords.Angle) (coords.Angle, Crossing) {
	sinB0, cosB0 := face.B0.Sincos()
	sinB, cosB := lat.Sincos()
	over := (face.Semidiameter - beyond).Sin() - sinB0*sinB
	under := cosB0 * cosB
	switch {
	case over >= under:
		return 0, NeverRises
	case over <= -under:
		return 180 * coords.Degree, NeverSets
	}
	return coords.Acos(over / under), Crosses
}

// Reach is how far behind the limb of a layer something may stand and still show
// above it, when its top is heightMm above the photosphere: acos of the ratio of
// the two spheres. It is 0 for a height below the limb's.
func Reach(heightMm float64, layer coords.Layer) coords.Angle {
	if heightMm <= layer.HeightMm {
		return 0
	}
	return coords.Acos((coords.SolarRadiusMm + layer.HeightMm) / (coords.SolarRadiusMm + heightMm))
}

// HeightBehind is the height above the photosphere of something that is seen
// seenMm above the photospheric limb while its foot is an angle behind (or in
// front of) that limb: (R + seen)/cos(behind) − R. It is infinite for 90° or more.
func HeightBehind(seenMm float64, behind coords.Angle) float64 {
	if behind.Abs() >= 90*coords.Degree {
		return math.Inf(1)
	}
	return (coords.SolarRadiusMm+seenMm)/behind.Cos() - coords.SolarRadiusMm
}

// AtLimb is the place of the photospheric limb at a position angle.
func (v View) AtLimb(positionAngle coords.Angle) Reading {
	s := v.sightAlong()
	sin, cos := (positionAngle - v.Face.P).Sincos()
	return v.limbReading(s, aim{west: -sin, north: cos})
}

// Foot is how something with its foot at a place near the limb shows at the
// limb.
//
//	Polar     where its top stands in the sky
//	Behind    how far the foot is behind the photospheric limb; negative in front
//	Read      the place of the limb at the top's position angle: the latitude that
//	          an observer reads, which differs from the foot's when that is behind
//	SeenMm    height of the top above the photospheric limb as seen
type Foot struct {
	Polar
	Behind coords.Angle
	Read   Reading
	SeenMm float64
}

// Foot projects something that stands up to heightMm above the photosphere with
// its foot at a place before or behind the limb.
func (v View) Foot(h coords.Heliographic, heightMm float64) Foot {
	s := v.sightAlong()
	a, mu := s.lineTo(h, v.Face.L0, heightMm)
	w, n, o := s.direction(h.B, h.L-v.Face.L0)
	rho := coords.Atan2(math.Hypot(w, n), o)
	return Foot{
		Polar:  v.polar(s, a, mu),
		Behind: rho - (90*coords.Degree - v.Face.Semidiameter),
		Read:   v.limbReading(s, a),
		SeenMm: (a.q - 1) * coords.SolarRadiusMm,
	}
}
