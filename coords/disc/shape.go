package disc

import (
	"errors"
	"fmt"
	"math"

	"limbwatch/coords"
)

// ErrOffDisc reports a shape that has no part on the disc.
var ErrOffDisc = errors.New("no part of it lies on the disc within the photospheric limb")

// ErrNotBeyond reports a prominence that has no part beyond the limb.
var ErrNotBeyond = errors.New("no part of it lies beyond the limb")

// Spine is a line on the Sun, such as a filament's, drawn as a run of pixels.
//
//	Middle   the pixel halfway along it, by length on the Sun: its
//	         representative point
//	Length   along great-circle pieces, on the photosphere; a megametre is the
//	         same at every height but a degree grows with it
//	Ends     the pixels where the part on the disc begins and ends
//	Beyond   how many of the points lie beyond the photospheric limb; that part
//	         of the line has no length on the Sun and is left out
type Spine struct {
	Middle coords.Pixel
	Length coords.Angle
	Ends   [2]coords.Pixel
	Beyond int
}

// LengthMm is the length of the spine at a height above the photosphere.
func (s Spine) LengthMm(heightMm float64) float64 {
	return s.Length.Radians() * (coords.SolarRadiusMm + heightMm)
}

// Spine measures a line of one or more points, each read as at the photosphere.
// Where it runs over the limb it is cut there.
func (v View) Spine(line []coords.Pixel) (Spine, error) {
	if len(line) == 0 {
		return Spine{}, fmt.Errorf("spine: no points")
	}
	pieces, beyond := v.onDisc(line)
	if len(pieces) == 0 {
		return Spine{}, fmt.Errorf("spine: %w", ErrOffDisc)
	}
	s := Spine{Beyond: beyond, Ends: [2]coords.Pixel{pieces[0].from, pieces[len(pieces)-1].to}}
	for _, p := range pieces {
		s.Length += p.length()
	}
	left := s.Length / 2
	for _, p := range pieces {
		length := p.length()
		if left > length {
			left -= length
			continue
		}
		middle := p.a
		if length > 0 {
			middle = between(p.a, p.b, float64(left/length))
		}
		s.Middle, _ = v.Project(middle, 0)
		break
	}
	return s, nil
}

// Centroid is the pixel at the centroid of an outline on the sphere, the
// representative point of an area: the mean direction of the surface inside the
// great-circle polygon, which by Stokes's theorem is half the sum over its sides of
// their length times their pole. Points beyond the photospheric limb count as at it.
func (v View) Centroid(outline []coords.Pixel) (coords.Pixel, error) {
	if len(outline) < 3 {
		return coords.Pixel{}, fmt.Errorf("outline: %d points, need at least 3", len(outline))
	}
	corners := make([][3]float64, len(outline))
	inside := 0
	s := v.Sight()
	for i, p := range outline {
		place := s.Place(p, 0, Height{})
		switch place.Where {
		case Nowhere:
			return coords.Pixel{}, fmt.Errorf("outline: point %d (%g, %g) px has no place", i+1, p.X, p.Y)
		case OnDisc:
			inside++
			corners[i] = place.Photosphere.Vector()
		default:
			corners[i] = place.Beyond.Limb.Vector()
		}
	}
	if inside == 0 {
		return coords.Pixel{}, fmt.Errorf("outline: %w", ErrOffDisc)
	}
	var sum, mean [3]float64
	for i, a := range corners {
		b := corners[(i+1)%len(corners)]
		pole := cross(a, b)
		sin := math.Sqrt(dot(pole, pole))
		weight := 1.0 // length over sine, for a short side
		if sin > 1e-12 {
			weight = math.Atan2(sin, dot(a, b)) / sin
		}
		for k := range sum {
			sum[k] += weight * pole[k]
			mean[k] += a[k]
		}
	}
	if dot(sum, mean) < 0 { // drawn the other way round
		sum = [3]float64{-sum[0], -sum[1], -sum[2]}
	}
	if math.Sqrt(dot(sum, sum)) < 1e-14 { // no area: all points on a line
		sum = mean
	}
	p, _ := v.Project(coords.HeliographicOf(sum), 0)
	return p, nil
}

// piece is a part of a line between two pixels of the disc.
type piece struct {
	from, to coords.Pixel
	a, b     coords.Heliographic
}

func (p piece) length() coords.Angle { return p.a.Distance(p.b) }

// onDisc cuts a line at the photospheric limb and gives what lies within, and how
// many points do not. A single point on the disc is a piece without length.
func (v View) onDisc(line []coords.Pixel) (pieces []piece, beyond int) {
	s := v.Sight()
	edge := v.Face.Semidiameter.Radians() / s.limbAngle // in radii of the view's limb
	add := func(from, to coords.Pixel) {
		a, b := s.placeInside(from), s.placeInside(to)
		pieces = append(pieces, piece{from, to, a, b})
	}
	for i, p := range line {
		if !within(v.radii(p) / edge) {
			beyond++
		}
		if i == 0 {
			continue
		}
		if from, to, ok := v.cut(line[i-1], p, edge); ok {
			add(from, to)
		}
	}
	if len(line) == 1 && beyond == 0 {
		add(line[0], line[0])
	}
	return pieces, beyond
}

// radii is how far a pixel lies from the centre, in radii of the view's limb.
func (v View) radii(p coords.Pixel) float64 { return math.Hypot(v.Limb.Unit(p)) }

// placeInside is the place of a pixel on the disc; a hair outside (after a cut)
// counts as at the limb.
func (s *Sight) placeInside(p coords.Pixel) coords.Heliographic {
	place := s.Place(p, 0, Height{})
	if place.Where != OnDisc {
		return place.Beyond.Limb.Heliographic
	}
	return place.Photosphere.Heliographic
}

// cut is the part of the straight line from a to b within a circle of so many
// radii of the view's limb.
func (v View) cut(a, b coords.Pixel, radii float64) (from, to coords.Pixel, ok bool) {
	ua, va := v.Limb.Unit(a)
	ub, vb := v.Limb.Unit(b)
	// |a + t (b − a)|² = radii², 0 ≤ t ≤ 1
	du, dv := ub-ua, vb-va
	square, half, rest := du*du+dv*dv, ua*du+va*dv, ua*ua+va*va-radii*radii
	if square == 0 {
		return a, b, rest <= 0
	}
	root := half*half - square*rest
	if root < 0 {
		return a, b, false
	}
	root = math.Sqrt(root)
	t0, t1 := max(0, (-half-root)/square), min(1, (-half+root)/square)
	if t0 >= t1 {
		return a, b, false
	}
	at := func(t float64) coords.Pixel {
		switch t {
		case 0:
			return a
		case 1:
			return b
		}
		return v.Limb.At(ua+t*du, va+t*dv)
	}
	return at(t0), at(t1), true
}

// between is the place a fraction of the way along the great circle from a to b.
func between(a, b coords.Heliographic, fraction float64) coords.Heliographic {
	va, vb := a.Vector(), b.Vector()
	whole := a.Distance(b)
	if whole < 1e-12 {
		return a
	}
	ka, kb := (whole * coords.Angle(1-fraction)).Sin(), (whole * coords.Angle(fraction)).Sin()
	var m [3]float64
	for i := range m {
		m[i] = ka*va[i] + kb*vb[i]
	}
	return coords.HeliographicOf(m)
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
