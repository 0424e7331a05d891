package measure

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// maxForeshortening is the largest factor by which an area is corrected, 1/cos 80°.
// Nearer to the limb a pixel of outline is worth more than most spots, and what is
// seen of a spot is its near wall.
var maxForeshortening = 1 / (80 * coords.Degree).Cos()

// Area is how large an outline is.
//
//	MSH, SigmaMSH   millionths of the hemisphere
//	DiscMillionths  as seen, millionths of the photosphere's disc
//	Px              as seen, square pixels
//	Rho             of its centroid from the middle of the disc
//	AtLeast         part of it lies so near the limb, or beyond it, that MSH is a
//	                lower bound and SigmaMSH means little
type Area struct {
	MSH, SigmaMSH  float64
	DiscMillionths float64
	Px             float64
	Rho            coords.Angle
	AtLeast        bool
}

// sigmaEdgePx is how far an outline as a whole is drawn too wide or too narrow: half
// a pixel at best (common practice, no source).
const sigmaEdgePx = 0.5

// OfOutline measures an outline, closed or not by its first point again.
//
// The area is that of the spherical polygon through the outline's points, with the
// sides cut into short pieces since a straight line in a picture is no great circle.
// For a small outline that is A = px · 10⁶ / (2π R² cos ρ); for a large one the factor
// varies over it. The error has the click of every point, the outline drawn too wide
// or too narrow as a whole, and radius and centre of the limb.
func OfOutline(view disc.View, outline []coords.Pixel, sigmaClickPx float64) (Area, error) {
	if n := len(outline); n > 1 && outline[0] == outline[n-1] {
		outline = outline[:n-1]
	}
	if len(outline) < 3 {
		return Area{}, fmt.Errorf("area of an outline of %d points: need at least 3", len(outline))
	}
	centre, err := view.Centroid(outline)
	if err != nil {
		return Area{}, fmt.Errorf("area: %w", err)
	}
	middle := view.Place(centre, sigmaClickPx, disc.Height{})
	if !middle.Photosphere.Known {
		return Area{}, fmt.Errorf("area: its middle does not lie on the disc")
	}
	a := Area{Rho: middle.Photosphere.Rho}
	seen := 0.0 // in squares of the limb's radius
	for i, p := range outline {
		q := outline[(i+1)%len(outline)]
		a.Px += (p.X*q.Y - q.X*p.Y) / 2
		x0, y0 := view.Limb.Unit(p)
		x1, y1 := view.Limb.Unit(q)
		seen += (x0*y1 - x1*y0) / 2
	}
	a.Px, seen = math.Abs(a.Px), math.Abs(seen)
	// The disc of the photosphere is smaller than that of a chromospheric limb.
	limb := 1 + view.Layer.HeightMm/coords.SolarRadiusMm
	a.DiscMillionths = seen * limb * limb / math.Pi * 1e6

	sphere, beyond := sphericalArea(view, outline, middle.Photosphere.Vector())
	a.MSH = sphere / (2 * math.Pi) * 1e6
	a.AtLeast = beyond
	if most := a.DiscMillionths / 2 * maxForeshortening; a.MSH > most {
		a.MSH, a.AtLeast = most, true
	}
	a.SigmaMSH = a.sigma(view, outline, middle, sigmaClickPx)
	return a, nil
}

// sigma is the standard error of an area.
func (a Area) sigma(view disc.View, outline []coords.Pixel, middle disc.Place, sigmaClickPx float64) float64 {
	var clicks, perimeter float64 // square pixels
	n := len(outline)
	for i, p := range outline {
		before, after := outline[(i+n-1)%n], outline[(i+1)%n]
		half := math.Hypot(after.X-before.X, after.Y-before.Y) / 2 // the area that one pixel of this point moves
		clicks += half * half * sigmaClickPx * sigmaClickPx
		perimeter += math.Hypot(after.X-p.X, after.Y-p.Y)
	}
	drawn := 0.0
	if a.Px > 0 {
		drawn = math.Hypot(math.Sqrt(clicks), perimeter*sigmaEdgePx) / a.Px
	}
	scale := 2 * view.Limb.Cov.SigmaRadiusPx() / view.Limb.RadiusPx
	// d(1/cos ρ) = tan ρ dρ, and dρ = dr / cos ρ.
	foreshortening := a.Rho.Tan() * middle.SigmaR / a.Rho.Cos()
	return a.MSH * math.Sqrt(drawn*drawn+scale*scale+foreshortening*foreshortening)
}

// sphericalArea is the area of an outline on the unit sphere, and whether part of it
// lies beyond the photospheric limb, where it counts as at it.
func sphericalArea(view disc.View, outline []coords.Pixel, middle [3]float64) (area float64, beyond bool) {
	const longest = 0.02 // radii of the limb
	var before [3]float64
	sum := 0.0
	step := longest * view.Limb.RadiusPx
	sight := view.Sight()
	add := func(p coords.Pixel, first bool) {
		place := sight.Place(p, 0, disc.Height{})
		v := place.Photosphere.Vector()
		if place.Where != disc.OnDisc {
			beyond = true
			v = place.Beyond.Limb.Vector()
		}
		if !first {
			sum += triangle(middle, before, v)
		}
		before = v
	}
	add(outline[0], true)
	for i, p := range outline {
		q := outline[(i+1)%len(outline)]
		pieces := 1 + int(math.Hypot(q.X-p.X, q.Y-p.Y)/step)
		for k := 1; k <= pieces; k++ {
			f := float64(k) / float64(pieces)
			add(coords.Pixel{X: p.X + f*(q.X-p.X), Y: p.Y + f*(q.Y-p.Y)}, false)
		}
	}
	return math.Abs(sum), beyond
}

// triangle is the signed area of a spherical triangle: tan(E/2) = a·(b×c) / (1 + a·b +
// b·c + c·a), Van Oosterom & Strackee 1983 (IEEE Trans. Biomed. Eng. 30, 125).
func triangle(a, b, c [3]float64) float64 {
	triple := a[0]*(b[1]*c[2]-b[2]*c[1]) + a[1]*(b[2]*c[0]-b[0]*c[2]) + a[2]*(b[0]*c[1]-b[1]*c[0])
	return 2 * math.Atan2(triple, 1+dot(a, b)+dot(b, c)+dot(c, a))
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
