package paint

import (
	"math"
	"math/rand/v2"

	"limbwatch/coords"
)

// gas builds the prominence out of blobs, in its own plane: x Mm along the base
// from its middle, h Mm up, and y across.
func (p Prominence) gas(band Band) gas {
	rng := stream(p.Seed, streamFeature)
	g := gas{brightness: orDefault(p.Brightness, 0.2), onDisc: band.Filament, beyond: band.Prominence}
	f := localAt(p.At)
	sin, cos := degreesOf(p.AlongDeg).Sincos()
	width := orDefault(p.WidthMm, 6)
	put := func(x, h, depth, sigma float64) {
		y := rng.NormFloat64() * width / 2.5
		g.add(f, x*cos-y*sin, x*sin+y*cos, math.Max(0, h), depth, sigma)
	}
	area := 0.55 * p.LengthMm * p.HeightMm
	switch p.Form {
	case Loop:
		p.loops(put, rng)
		area = 0.35 * p.LengthMm * p.HeightMm
	case Surge:
		p.surge(put, rng)
		area = p.LengthMm * p.HeightMm
	case Cloudlet:
		p.cloudlet(put, rng)
		area = 0.4 * p.LengthMm * p.HeightMm
	default:
		p.hedgerow(put, rng)
	}
	g.normalise(orDefault(p.Depth, 0.8), area)
	return g
}

type putBlob func(x, h, depth, sigma float64)

// hedgerow is a row of bushes, each a bundle of threads that rise and lean, with
// arches from one to the next.
func (p Prominence) hedgerow(put putBlob, rng *rand.Rand) {
	half := p.LengthMm / 2
	crown := func(x float64) float64 { // height of the hedge at x
		e := 1 - coords.Square(coords.Square(x/half))
		return p.HeightMm * math.Max(0.06, e) * (0.68 + 0.55*fractal(x/14, 0.5, 0, 2, p.Seed+1))
	}
	threads := max(8, int(p.LengthMm*0.8))
	for range threads {
		x0 := half * (2*rng.Float64() - 1)
		clump := 9 * fractal(x0/10, 3.5, 0, 1, p.Seed+2) // threads crowd into bushes
		x0 += clump
		if math.Abs(x0) > half {
			continue
		}
		top := math.Min(p.HeightMm, crown(x0)*(0.45+0.55*rng.Float64()))
		lean := 0.35*fractal(x0/25, 9.5, 0, 1, p.Seed+3) + 0.08*rng.NormFloat64()
		bend := 0.25 * rng.NormFloat64()
		strong := math.Exp(0.6 * rng.NormFloat64())
		steps := max(4, int(top*1.1))
		for k := range steps {
			t := (float64(k) + rng.Float64()) / float64(steps)
			x := x0 + top*(lean*t+bend*t*t*0.5) + 0.5*rng.NormFloat64()
			knot := 0.6 + 0.8*math.Max(0, fractal(t*top/4, x0, 0, 2, p.Seed+4)+0.4)
			put(x, t*top, strong*knot*(1.15-0.6*t), 0.65+0.45*rng.Float64())
		}
	}
	for range max(1, int(p.LengthMm/22)) { // arches
		a, b := half*(2*rng.Float64()-1), half*(2*rng.Float64()-1)
		span := math.Min(math.Abs(b-a), 35)
		p.arch(put, rng, a, span, math.Min(0.75*p.HeightMm, 0.5*span+6), 0.7)
	}
}

// arch is one thin semi-ellipse over x from its left foot.
func (p Prominence) arch(put putBlob, rng *rand.Rand, left, span, height, depth float64) {
	steps := max(12, int((span+2*height)*1.1))
	for k := range steps {
		t := math.Pi * (float64(k) + rng.Float64()) / float64(steps)
		x := left + span/2*(1-math.Cos(t)) + 0.4*rng.NormFloat64()
		put(x, height*math.Sin(t)+0.4*rng.NormFloat64(), depth*(0.6+0.8*rng.Float64()), 0.7+0.3*rng.Float64())
	}
}

// loops are nested arches on the same feet.
func (p Prominence) loops(put putBlob, rng *rand.Rand) {
	n := 5 + rng.IntN(4)
	for k := range n {
		size := 1 - 0.55*float64(k)/float64(n)*rng.Float64()
		span := p.LengthMm * size
		p.arch(put, rng, -span/2+2*rng.NormFloat64(), span, p.HeightMm*size, 0.5+rng.Float64())
	}
}

// surge is a jet, wider and fainter to the top.
func (p Prominence) surge(put putBlob, rng *rand.Rand) {
	lean := 0.3 * rng.NormFloat64()
	n := max(200, int(p.HeightMm*p.LengthMm*1.5))
	for range min(n, 9000) {
		t := math.Pow(rng.Float64(), 1.2)
		strand := 1.6 * fractal(t*2.5, 7*float64(rng.IntN(7)), 0.5, 2, p.Seed+6)
		x := p.HeightMm*lean*t*t + p.LengthMm/2*(0.3+0.7*t)*(strand+0.16*rng.NormFloat64())
		put(x, p.HeightMm*t, 1.2-t, 0.7+0.6*t)
	}
}

// cloudlet is a few shreds that hang without feet.
func (p Prominence) cloudlet(put putBlob, rng *rand.Rand) {
	for range 5 + rng.IntN(4) {
		x0 := p.LengthMm / 2 * (2*rng.Float64() - 1) * 0.8
		h0 := p.HeightMm * (0.5 + 0.4*rng.Float64())
		long, thick := p.LengthMm*(0.1+0.14*rng.Float64()), p.HeightMm*(0.015+0.025*rng.Float64())
		lean := 0.5 * rng.NormFloat64()
		for range 80 + int(14*long) {
			a, b := rng.NormFloat64(), rng.NormFloat64()
			curl := 2.5 * fractal(a*1.5, h0, 0.5, 2, p.Seed+7)
			h := h0 + (b+curl)*thick + lean*a*thick*2
			put(x0+a*long, math.Min(h, p.HeightMm), math.Exp(0.4*rng.NormFloat64()-0.2*a*a), 0.9+0.8*rng.Float64())
		}
	}
}
