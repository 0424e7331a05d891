package measure

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Spine is how long a line on the Sun is and how it leans.
//
//	Length, Sigma      angle at the Sun's centre, along great-circle pieces
//	Mm, SigmaMm        the same in megametres at the given height
//	East, West         its ends, as on the photosphere
//	Tilt, SigmaTilt    of the line from end to end against the parallel of latitude,
//	                   −90° to 90°: positive when the eastern end lies nearer to the
//	                   pole of its hemisphere, which is the commoner case below 50°
//	                   (Tlatov 2016)
//	Cut                it runs over the limb: the length is that of the part on the
//	                   disc, a lower bound
//	Steep              more than 75° from the middle of the disc somewhere, where a
//	                   tall sheet seen from the side hides how long it is
type Spine struct {
	Length, Sigma   coords.Angle
	Mm, SigmaMm     float64
	East, West      coords.Heliographic
	Tilt, SigmaTilt coords.Angle
	Cut, Steep      bool
}

// OfLine measures a line of two or more points at a height above the photosphere.
//
// The error has the click of every point, with the foreshortening where it lies, the
// radius of the limb and, for the tilt, north. That a hand which trembles draws a
// longer line is not in it.
func OfLine(view disc.View, line []coords.Pixel, sigmaClickPx, heightMm float64) (Spine, error) {
	if len(line) < 2 {
		return Spine{}, fmt.Errorf("length of a line of %d points: need at least 2", len(line))
	}
	drawn, err := view.Spine(line)
	if err != nil {
		return Spine{}, fmt.Errorf("length: %w", err)
	}
	s := Spine{Length: drawn.Length, Mm: drawn.LengthMm(heightMm), Cut: drawn.Beyond > 0}
	sight := view.Sight()
	for _, p := range line {
		place := sight.Place(p, 0, disc.Height{})
		s.Steep = s.Steep || !place.Photosphere.Known || place.Photosphere.Rho > 75*coords.Degree
	}
	s.Sigma = sigmaOfLength(view, line, sigmaClickPx, s.Length)
	s.SigmaMm = s.Sigma.Radians() * (coords.SolarRadiusMm + heightMm)

	a, b := placeAt(view, drawn.Ends[0]), placeAt(view, drawn.Ends[1])
	if (b.L - a.L).Wrap180() < 0 {
		a, b = b, a
	}
	s.East, s.West = a, b
	s.Tilt = Tilt(a, b)
	s.SigmaTilt = sigmaOfTilt(view, drawn.Ends, sigmaClickPx, s.Tilt)
	return s, nil
}

// placeAt is where a pixel lies as on the photosphere; a hair beyond the limb counts
// as at it.
func placeAt(view disc.View, p coords.Pixel) coords.Heliographic {
	place := view.Place(p, 0, disc.Height{})
	if !place.Photosphere.Known {
		return place.Beyond.Limb.Heliographic
	}
	return place.Photosphere.Heliographic
}

// Tilt is how the line from the eastern to the western of two places leans against
// the parallel of latitude at its middle: positive when the eastern one lies nearer
// to the pole of the hemisphere of that middle. On the equator the northern pole
// counts. It is 0 for a place and itself.
func Tilt(a, b coords.Heliographic) coords.Angle {
	if (b.L - a.L).Wrap180() < 0 {
		a, b = b, a
	}
	va, vb := a.Vector(), b.Vector()
	var mean, chord [3]float64
	for i := range mean {
		mean[i], chord[i] = va[i]+vb[i], vb[i]-va[i]
	}
	middle := coords.HeliographicOf(mean)
	sinB, cosB := middle.B.Sincos()
	sinL, cosL := middle.L.Sincos()
	west := dot(chord, [3]float64{-sinL, cosL, 0})
	north := dot(chord, [3]float64{-sinB * cosL, -sinB * sinL, cosB})
	if middle.B < 0 {
		north = -north
	}
	if west == 0 && north == 0 {
		return 0
	}
	return coords.Atan2(-north, math.Abs(west))
}

// sigmaOfLength moves every point by its error, along both axes, and adds up what
// that does to the pieces beside it.
func sigmaOfLength(view disc.View, line []coords.Pixel, sigmaClickPx float64, length coords.Angle) coords.Angle {
	pieces := func(i int, p coords.Pixel) float64 {
		sum := 0.0
		for _, j := range [2]int{i - 1, i + 1} {
			if j >= 0 && j < len(line) {
				if s, err := view.Spine([]coords.Pixel{p, line[j]}); err == nil {
					sum += s.Length.Radians()
				}
			}
		}
		return sum
	}
	variance := 0.0
	for i, p := range line {
		for _, d := range [2]coords.Pixel{{X: sigmaClickPx}, {Y: sigmaClickPx}} {
			change := pieces(i, coords.Pixel{X: p.X + d.X, Y: p.Y + d.Y}) - pieces(i, coords.Pixel{X: p.X - d.X, Y: p.Y - d.Y})
			variance += change * change / 4
		}
	}
	scale := length.Radians() * view.Limb.Cov.SigmaRadiusPx() / view.Limb.RadiusPx
	return coords.Angle(math.Sqrt(variance + scale*scale))
}

// sigmaOfTilt is what the clicks of the two ends and north do to the tilt, at most
// 90°.
func sigmaOfTilt(view disc.View, ends [2]coords.Pixel, sigmaClickPx float64, tilt coords.Angle) coords.Angle {
	variance := float64(view.North.Sigma) * float64(view.North.Sigma)
	for i := range ends {
		for _, d := range [2]coords.Pixel{{X: sigmaClickPx}, {Y: sigmaClickPx}} {
			moved := ends
			moved[i] = coords.Pixel{X: ends[i].X + d.X, Y: ends[i].Y + d.Y}
			change := Tilt(placeAt(view, moved[0]), placeAt(view, moved[1])) - tilt
			// A tilt of 89° and one of −89° are 2° apart.
			if change > 90*coords.Degree {
				change -= 180 * coords.Degree
			} else if change < -90*coords.Degree {
				change += 180 * coords.Degree
			}
			variance += float64(change) * float64(change)
		}
	}
	return min(90*coords.Degree, coords.Angle(math.Sqrt(variance)))
}
