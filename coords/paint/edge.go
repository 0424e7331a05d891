package paint

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// edge is the brightness of the featureless disc against the distance from its
// centre, in pixels along the limb's long axis. Being radial, it is blurred on
// its radius alone, exactly and once, not pixel by pixel.
type edge struct {
	band          Band
	photospherePx float64
	limbPx        float64
	v             view

	sharp   radial // as wide as a pixel itself: for what is painted before the blur
	blurred radial // after the point-spread function
	fringe  radial // spicules, blurred, at brightness 1 on the limb
	blurPx  float64
}

// pixelSigma is the standard deviation of a pixel's own square, 1/√12: light is
// gathered over it, so even a perfect picture is blurred by that much.
const pixelSigma = 0.28867513459481287

// spiculeMm is the height in which the fringe falls to 1/e; spicules reach some
// 5 to 10 Mm above the photosphere, a few above the H-alpha limb (common
// practice, no source).
const spiculeMm = 1.8

func newEdge(b Band, c Camera, v view) *edge {
	e := &edge{band: b, limbPx: c.Limb.RadiusPx, v: v}
	// The photosphere's edge: sin S against sin S_limb, by angle.
	e.photospherePx = math.Asin(1/v.distance) / v.limbAngle * e.limbPx
	e.blurPx = math.Hypot(c.BlurPx, pixelSigma)
	e.sharp = e.blur(pixelSigma, e.disc, e.limbPx)
	e.blurred = e.sharp
	if c.BlurPx > 0 {
		e.blurred = e.blur(e.blurPx, e.disc, e.limbPx)
	}
	if b.Spicules > 0 {
		e.fringe = e.blur(e.blurPx, e.spicules, e.reachPx())
	}
	return e
}

// disc is the unblurred brightness at r pixels, disc centre 1.
func (e *edge) disc(r float64) float64 {
	b := e.band
	switch {
	case r > e.limbPx:
		return 0
	case r >= e.photospherePx:
		return (1 - b.Darkening - b.Darkening2) * b.Rim
	}
	away := 1 - e.mu(r)
	return 1 - away*(b.Darkening+b.Darkening2*away)
}

// spicules is the unblurred fringe at r pixels, 1 at the limb.
func (e *edge) spicules(r float64) float64 {
	if r < e.limbPx {
		return 0
	}
	return math.Exp(-(r - e.limbPx) * e.v.mmPerPx / spiculeMm)
}

// reachPx is how far out the fringe is painted.
func (e *edge) reachPx() float64 { return e.limbPx + 8*spiculeMm/e.v.mmPerPx }

// mu is the cosine of the angle between the vertical and the line of sight on the
// photosphere.
func (e *edge) mu(r float64) float64 {
	a := e.v.distance * math.Sin(r/e.limbPx*e.v.limbAngle)
	return math.Sqrt(math.Max(0, 1-a*a))
}

// inflectionPx is where the blurred edge falls most steeply: the crest of the
// slope that is met first when coming from outside. Where blur has merged the
// photosphere's edge and the limb into one, it is that of both.
func (e *edge) inflectionPx() float64 {
	const h = 0.05
	unblurred := func(r float64) float64 { return e.disc(r) + e.band.Spicules*e.spicules(r) }
	at := func(r float64) float64 { return e.convolve(r, e.blurPx, unblurred, e.reachPx()) }
	slope := func(r float64) float64 { return at(r-h) - at(r+h) }
	step := e.blurPx / 8
	r := e.limbPx + 2*e.blurPx
	for here, next := slope(r), slope(r-step); next > here; here, next = next, slope(r-step) {
		r -= step
	}
	// Golden section around the crest.
	const g = 0.6180339887498949
	lo, hi := r-step, r+step
	for hi-lo > 1e-4 {
		a, b := hi-g*(hi-lo), lo+g*(hi-lo)
		if slope(a) > slope(b) {
			hi = b
		} else {
			lo = a
		}
	}
	return (lo + hi) / 2
}

// radial is a function of the distance from the centre in pixels, tabulated.
type radial struct {
	values []float32
}

const radialStep = 1.0 / 16

func (t radial) end() float64 { return float64(len(t.values)-2) * radialStep }

// at interpolates; beyond the table the function is 0.
func (t radial) at(r float64) float32 {
	k := r * (1 / radialStep)
	i := int(k)
	if i+1 >= len(t.values) {
		return 0
	}
	w := float32(k - float64(i))
	return t.values[i] + w*(t.values[i+1]-t.values[i])
}

// blur tabulates f, which is 0 beyond end, blurred in two dimensions by a
// Gaussian of the given sigma. Well inside, where f is smooth, it is left as it is.
func (e *edge) blur(sigma float64, f func(float64) float64, end float64) radial {
	n := int((end+6*sigma)/radialStep) + 3
	t := radial{values: make([]float32, n)}
	from := int((e.photospherePx - 6*sigma) / radialStep)
	for i := range t.values {
		r := float64(i) * radialStep
		if i < from {
			t.values[i] = float32(f(r))
		} else {
			t.values[i] = float32(e.convolve(r, sigma, f, end))
		}
	}
	t.values[n-1], t.values[n-2] = 0, 0
	return t
}

var legendreX, legendreW = legendre(24)

func legendre(n int) (x, w []float64) {
	x, w = make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}

// convolve is the two-dimensional Gaussian blur of the radial function f at r:
//
//	∫ f(s) (s/σ²) exp(−(r−s)²/2σ²) e^(−z)I₀(z) ds,  z = rs/σ²
//
// with I₀ by its asymptotic series, good to 1e-6 for r > 8σ. The integral is cut
// at the edges of f.
func (e *edge) convolve(r, sigma float64, f func(float64) float64, end float64) float64 {
	lo, hi := math.Max(0, r-6*sigma), math.Min(end, r+6*sigma)
	sum := 0.0
	for _, cut := range [...]float64{e.photospherePx, e.limbPx, hi} {
		if cut <= lo {
			continue
		}
		cut = math.Min(cut, hi)
		sum += pieces(lo, cut, sigma, func(s float64) float64 {
			z := r * s / (sigma * sigma)
			i0 := 1 + 1/(8*z)*(1+9/(16*z))
			d := (r - s) / sigma
			return f(s) * math.Sqrt(s/r) * i0 * math.Exp(-d*d/2)
		})
		lo = cut
	}
	return sum / (sigma * math.Sqrt(2*math.Pi))
}

// pieces integrates g from a to b. The last stretch before b is done in the root
// of the distance, since μ goes to zero as one at the photosphere's edge.
func pieces(a, b, sigma float64, g func(float64) float64) float64 {
	sum := 0.0
	for b-a > 3*sigma {
		sum += stretch(a, a+2*sigma, g)
		a += 2 * sigma
	}
	root := math.Sqrt(b - a)
	return sum + stretch(0, root, func(t float64) float64 { return 2 * t * g(b-t*t) })
}

func stretch(a, b float64, g func(float64) float64) float64 {
	mid, half := (a+b)/2, (b-a)/2
	sum := 0.0
	for i, x := range legendreX {
		sum += legendreW[i] * g(mid+half*x)
	}
	return sum * half
}
