package paint

import (
	"math"
	"math/rand/v2"

	"limbwatch/coords"
)

// path is a curve on the Sun, resampled finely.
type path struct {
	points  []local   // frame at each point: up is the point
	along   []float64 // azimuth of the curve there, from west toward north
	arcMm   []float64 // length up to each point
	totalMm float64
}

// curve is the spine as it is painted: through the points given, in a smooth
// line that wanders a little to both sides, as filaments do.
func (f Filament) curve() path {
	points := smoothSpine(f.Spine)
	var p path
	for i, h := range points {
		if i > 0 {
			p.totalMm += points[i-1].Distance(h).Radians() * toMm
		}
		p.arcMm = append(p.arcMm, p.totalMm)
	}
	wander := math.Min(9, p.totalMm/14)
	for i, h := range points {
		fr := localAt(h)
		a, b := fr.offset(points[max(0, i-1)].Vector())
		c, d := fr.offset(points[min(len(points)-1, i+1)].Vector())
		azimuth := math.Atan2(d-b, c-a)
		aside := wander * fractal(p.arcMm[i]/34, 0.5, 0, 2, f.Seed+3)
		sin, cos := math.Sincos(azimuth)
		moved := coords.HeliographicOf(fr.at(-aside*sin/toMm, aside*cos/toMm))
		p.points = append(p.points, localAt(moved))
		p.along = append(p.along, azimuth)
	}
	return p
}

// smoothSpine runs a Catmull-Rom spline through the spine, in vectors.
func smoothSpine(spine []coords.Heliographic) []coords.Heliographic {
	at := func(i int) [3]float64 { return spine[max(0, min(len(spine)-1, i))].Vector() }
	var out []coords.Heliographic
	for i := 0; i+1 < len(spine); i++ {
		p0, p1, p2, p3 := at(i-1), at(i), at(i+1), at(i+2)
		steps := max(2, int(spine[i].Distance(spine[i+1]).Radians()*toMm/1.5))
		for k := range steps {
			t := float64(k) / float64(steps)
			var p [3]float64
			for j := range p {
				p[j] = 0.5 * (2*p1[j] + (p2[j]-p0[j])*t + (2*p0[j]-5*p1[j]+4*p2[j]-p3[j])*t*t +
					(3*p1[j]-p0[j]-3*p2[j]+p3[j])*t*t*t)
			}
			out = append(out, coords.HeliographicOf(p))
		}
	}
	return append(out, spine[len(spine)-1])
}

// find gives the index of the curve's point nearest to the length s.
func (p path) find(s float64) int {
	lo, hi := 0, len(p.arcMm)-1
	for lo < hi {
		mid := (lo + hi) / 2
		if p.arcMm[mid] < s {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// gas fills the filament's sheet with blobs, and adds its barbs.
func (f Filament) gas(band Band) gas {
	rng := stream(f.Seed, streamFeature)
	g := gas{brightness: orDefault(f.Brightness, 0.18), onDisc: band.Filament, beyond: band.Prominence}
	p := f.curve()
	width := orDefault(f.WidthMm, 6)
	base := math.Min(f.BaseMm, f.HeightMm)
	sheet := f.stations(p, base, width)
	n := max(60, min(14000, int(p.totalMm*math.Max(f.HeightMm-base, width)*0.8)))
	g.blobs = make([]blob, 0, n+n/4)
	for k := range n {
		i := p.find(p.totalMm * (float64(k) + rng.Float64()) / float64(n))
		st := &sheet[i]
		h := base + (st.top-base)*math.Sqrt(rng.Float64())
		aside := st.strands[rng.IntN(len(st.strands))] + rng.NormFloat64()*st.spread
		forward := rng.NormFloat64() * 0.9
		sin, cos := math.Sincos(p.along[i])
		g.add(p.points[i], forward*cos-aside*sin, forward*sin+aside*cos, h, st.depth, 0.8+0.5*rng.Float64())
	}
	g.normalise(f.Depth, p.totalMm*width*1.3)
	f.addBarbs(&g, p, rng)
	return g
}

// station is what the sheet is like at one point of its curve: how dense, how
// high (Mm), how far its strands run to the side and how thick each is (Mm).
type station struct {
	depth, top, spread float64
	strands            [3]float64
}

// stations gives the sheet threads of uneven density in strands that wind around
// each other, thick and thin stretches with gaps between them, and thin ends.
func (f Filament) stations(p path, base, width float64) []station {
	out := make([]station, len(p.points))
	for i, s := range p.arcMm {
		taper := smoothstep(0, 0.15, s/p.totalMm) * smoothstep(0, 0.15, 1-s/p.totalMm)
		body := 0.12 + 1.2*smoothstep(-0.5, 0.35, fractal(s/24, 1.5, 0, 2, f.Seed+1))
		body *= 0.3 + 0.7*taper
		thread := math.Max(0.1, 1+0.9*fractal(s/2.6, 7.5, 0, 2, f.Seed+2))
		st := station{
			depth:  body * thread,
			top:    base + (f.HeightMm-base)*(0.8+0.35*fractal(s/15, 4.5, 0, 2, f.Seed+4))*(0.4+0.6*taper),
			spread: width / 4 * math.Sqrt(0.25+body),
		}
		for k := range st.strands {
			st.strands[k] = 0.75 * width * fractal(s/11, 10*float64(k), 0, 2, f.Seed+5)
		}
		out[i] = st
	}
	return out
}

// addBarbs adds side branches that run off at an acute angle and come down to the
// surface.
func (f Filament) addBarbs(g *gas, p path, rng *rand.Rand) {
	if len(g.blobs) == 0 {
		return
	}
	mean := 0.0
	for _, b := range g.blobs {
		mean += b.depth / float64(len(g.blobs))
	}
	n, side := len(g.blobs), 1.0
	for k := range f.Barbs {
		s := p.totalMm * (float64(k) + 0.2 + 0.6*rng.Float64()) / float64(f.Barbs)
		if rng.Float64() < 0.7 {
			side = -side
		}
		i := p.find(s)
		az := p.along[i] + side*(0.5+0.4*rng.Float64())
		length := (0.9 + 1.6*rng.Float64()) * math.Max(6, orDefault(f.WidthMm, 6)*1.4)
		perMm := float64(n) / p.totalMm * 0.5
		for range int(length * perMm) {
			t := rng.Float64()
			a := t * length
			aside := rng.NormFloat64() * 1.8 * (1.15 - t)
			sin, cos := math.Sincos(az - side*0.25*t)
			g.add(p.points[i], a*cos-aside*sin, a*sin+aside*cos, f.HeightMm*0.55*(1-t), mean*(1.25-t), 0.9)
		}
	}
}
