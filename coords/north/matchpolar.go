package north

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/rotation"
)

// A turn of the picture is a shift along rings about the disc's centre.
const (
	rolls      = 720 // steps of 0.5°
	rings      = 90
	outermost  = 0.906 // sin 65°
	oldOutmost = 0.95  // sin 72°, of the earlier picture
)

func rollOf(k int) coords.Angle { return coords.Angle(k) * 2 * math.Pi / rolls }

func ringRadius(i int) float64 { return (float64(i) + 0.5) * outermost / rings }

// polarPattern is a pattern along rings.
type polarPattern [rings]struct{ value, known [rolls]float64 }

// polar samples the pattern along rings, by direction counter-clockwise from up.
func (p *pattern) polar() *polarPattern {
	out := new(polarPattern)
	for i := range out {
		r := ringRadius(i)
		for k := range rolls {
			sin, cos := rollOf(k).Sincos()
			if v, ok := p.at(-r*sin, -r*cos); ok {
				out[i].value[k], out[i].known[k] = v, 1
			}
		}
	}
	return out
}

// carriedDisc is the earlier picture's pattern, carried to the new time and seen
// as it would stand then with north up.
type carriedDisc struct {
	old     *pattern
	oldView disc.View
	newView disc.View
	law     rotation.Law
	days    float64
}

func newCarriedDisc(old Oriented, now Unoriented, law rotation.Law) *carriedDisc {
	// The places are read without errors, which are found otherwise.
	view := now.viewOf(coords.North{})
	view.SigmaTime, view.Layer.SigmaMm = 0, 0
	return &carriedDisc{
		old:     flatten(old.Picture, old.View.Limb),
		oldView: old.View,
		newView: view,
		law:     law,
		days:    rotation.Days(old.UTC, now.UTC),
	}
}

// at is the pattern that should be seen at a position angle and r radii.
func (c *carriedDisc) at(positionAngle coords.Angle, r float64) (float64, bool) {
	place := c.newView.PlacePolar(positionAngle, r, 0, disc.Height{})
	if place.Where != disc.OnDisc {
		return 0, false
	}
	return c.then(place.Photosphere.Heliographic)
}

// then is the pattern that was seen, at the earlier time, at what has turned to
// the place h since.
func (c *carriedDisc) then(h coords.Heliographic) (float64, bool) { return c.was(c.stood(h)) }

// stood is where in the earlier picture that was which has turned to the place h since.
func (c *carriedDisc) stood(h coords.Heliographic) knot {
	px, visible := c.oldView.Project(c.law.Carry(h, -c.days), 0)
	if !visible {
		return knot{}
	}
	u, v := c.oldView.Limb.Unit(px)
	return knot{u, v, true}
}

// was is the earlier picture's pattern at a point, where it was seen far enough from the edge.
func (c *carriedDisc) was(at knot) (float64, bool) {
	if !at.seen || math.Hypot(at.u, at.v) > oldOutmost {
		return 0, false
	}
	return c.old.at(at.u, at.v)
}

// polar samples the carried disc along rings, by position angle.
func (c *carriedDisc) polar() *polarPattern {
	out := new(polarPattern)
	for i := range out {
		for k := range rolls {
			if v, ok := c.at(rollOf(k), ringRadius(i)); ok {
				out[i].value[k], out[i].known[k] = v, 1
			}
		}
	}
	return out
}

// correlations holds the correlation at every roll, by parity.
type correlations [2][rolls]float64

func (c *correlations) of(mirrored bool) []float64 {
	if mirrored {
		return c[1][:]
	}
	return c[0][:]
}

// correlate compares a disc, by position angle, with another by direction in the
// picture, at all rolls and in both parities: the normalised correlation over
// what is known in both (masked, as in Padfield 2012, IEEE Trans. Image Process.
// 21, 2706), each ring with the area that it has in the picture.
//
// An upright picture shows position angle a in direction a + north; a mirrored
// one in direction north − a, which is the same with the disc read backwards.
func correlate(seen, now *polarPattern) correlations {
	var c correlations
	fft := fourier.NewFFT(rolls)
	nowT := make([][3][]complex128, rings)
	for i := range nowT {
		nowT[i] = moments(fft, &now[i].value, &now[i].known)
	}
	for parity := range c {
		var sums [6][]complex128 // of w, a, b, a², b², ab
		for s := range sums {
			sums[s] = make([]complex128, rolls/2+1)
		}
		for i := range seen {
			value, known := seen[i].value, seen[i].known
			if parity == 1 {
				value, known = backwards(value), backwards(known)
			}
			a, b := moments(fft, &value, &known), nowT[i]
			weight := complex(ringRadius(i), 0)
			for s, pair := range [6][2]int{{0, 0}, {1, 0}, {0, 1}, {2, 0}, {0, 2}, {1, 1}} {
				x, y := a[pair[0]], b[pair[1]]
				for f := range sums[s] {
					sums[s][f] += weight * cmplx.Conj(x[f]) * y[f]
				}
			}
		}
		var t [6][]float64
		for s := range sums {
			t[s] = fft.Sequence(nil, sums[s])
		}
		enough := 0.15 * slices.Max(t[0])
		for k := range rolls {
			w, a, b := t[0][k], t[1][k], t[2][k]
			aa, bb, ab := t[3][k]-a*a/w, t[4][k]-b*b/w, t[5][k]-a*b/w
			if w > enough && aa > 0 && bb > 0 {
				c[parity][k] = ab / math.Sqrt(aa*bb)
			}
		}
	}
	return c
}

// moments are the transforms of what is known, of the values and of their
// squares along a ring.
func moments(fft *fourier.FFT, value, known *[rolls]float64) [3][]complex128 {
	square := make([]float64, rolls)
	for k, v := range value {
		square[k] = v * v
	}
	return [3][]complex128{
		fft.Coefficients(nil, known[:]), fft.Coefficients(nil, value[:]), fft.Coefficients(nil, square),
	}
}

func backwards(ring [rolls]float64) (out [rolls]float64) {
	for k, v := range ring {
		out[(rolls-k)%rolls] = v
	}
	return out
}
