package measure

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Prominence is how high something stands above the limb, and how far along it.
//
//	HeightMm, SigmaMm          of the top above the photosphere, as seen: a lower bound
//	                           when the foot is behind the limb or before it
//	HeightArcsec, SigmaArcsec  of the top above the limb of the picture
//	From, To                   position angles of the ends of its base, To
//	                           counter-clockwise on the sky of From; the same for a point
//	Extent, SigmaExtent        the angle between them at the disc's centre
//	ExtentMm                   along the photospheric limb, where 1° is 12.14 Mm
//	Top                        position angle of the highest point
type Prominence struct {
	HeightMm, SigmaMm         float64
	HeightArcsec, SigmaArcsec float64
	From, To, Top             coords.Angle
	Extent, SigmaExtent       coords.Angle
	ExtentMm                  float64
}

// BeyondLimb measures what stands beyond the limb: a point, a line, or an outline
// (repeat its first point at the end to close it).
func BeyondLimb(view disc.View, points []coords.Pixel, sigmaClickPx float64) (Prominence, error) {
	shape, err := view.Prominence(points)
	if err != nil {
		return Prominence{}, err
	}
	place := view.Place(shape.Middle, sigmaClickPx, disc.Height{})
	if !place.Stands() {
		return Prominence{}, fmt.Errorf("prominence: %w", disc.ErrNotBeyond)
	}
	p := Prominence{
		HeightMm: place.Beyond.AboveSunMm, SigmaMm: place.Beyond.SigmaAboveMm,
		HeightArcsec: place.Beyond.HeightArcsec, SigmaArcsec: place.Beyond.SigmaArcsec,
		From: shape.Base[0], To: shape.Base[1], Top: shape.Top,
		Extent: shape.Width(),
	}
	if len(points) == 1 {
		return p, nil // a point says nothing about an extent
	}
	// Each end is a click of its own; a turn of north moves both alike.
	p.SigmaExtent = coords.Angle(math.Sqrt2 * sigmaClickPx / view.Limb.RadiusPx)
	p.ExtentMm = p.Extent.Radians() * coords.SolarRadiusMm
	return p, nil
}
