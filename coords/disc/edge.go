package disc

import (
	"math"

	"limbwatch/coords"
)

// Reach is how far behind the limb of a layer something may stand and still show
// above it, when its top is heightMm above the photosphere: acos of the ratio of
// the two spheres. It is 0 for a height below the limb's.
func Reach(heightMm float64, layer coords.Layer) coords.Angle {
	if heightMm <= layer.HeightMm {
		return 0
	}
	return coords.Acos((coords.SolarRadiusMm + layer.HeightMm) / (coords.SolarRadiusMm + heightMm))
}

// AtLimb is the place of the photospheric limb at a position angle.
func (v View) AtLimb(positionAngle coords.Angle) Reading {
	s := v.sight()
	sin, cos := (positionAngle - v.Face.P).Sincos()
	return s.limbReading(&aim{west: -sin, north: cos})
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
	s := v.sight()
	a, mu := s.lineTo(h, heightMm)
	w, n, o := s.direction(h.B, h.L-v.Face.L0)
	rho := coords.Atan2(math.Hypot(w, n), o)
	return Foot{
		Polar:  s.polar(&a, mu),
		Behind: rho - (90*coords.Degree - v.Face.Semidiameter),
		Read:   s.limbReading(&a),
		SeenMm: (a.q - 1) * coords.SolarRadiusMm,
	}
}
