package paint

import (
	"math"
	"math/rand/v2"

	"limbwatch/coords"
)

// gas is a cloud of small blobs that hang above the surface: what filaments and
// prominences are made of. Light that passes it follows one rule wherever it
// comes from, I = I₀·e^−τ + S·(1 − e^−τ): gas dimmer than the disc is dark on
// it and bright against the sky.
type gas struct {
	blobs      []blob
	brightness float64 // S, disc centre = 1
	onDisc     float64 // factor on τ in front of the disc
	beyond     float64 // factor on S beyond the limb
}

// blob is a Gaussian puff.
type blob struct {
	at      [3]float64 // Carrington frame, photospheric radii from the Sun's centre
	depth   float64    // τ through its middle
	sigmaMm float64
}

// normalise scales the blobs so that, spread evenly over an area, they would be
// of optical depth depth.
func (g *gas) normalise(depth, areaMm2 float64) {
	sum := 0.0
	for _, b := range g.blobs {
		sum += b.depth * 2 * math.Pi * b.sigmaMm * b.sigmaMm
	}
	for i := range g.blobs {
		g.blobs[i].depth *= depth * areaMm2 / sum
	}
}

// add puts a blob a, b Mm west and north of the frame's origin at a height.
func (g *gas) add(f local, a, b, heightMm, depth, sigmaMm float64) {
	p := f.at(a/toMm, b/toMm)
	r := 1 + heightMm/toMm
	g.blobs = append(g.blobs, blob{[3]float64{p[0] * r, p[1] * r, p[2] * r}, depth, sigmaMm})
}

// seenBlob is a blob in the picture.
type seenBlob struct {
	px    coords.Pixel
	r     float64 // distance from the centre in radii of the limb
	front bool
}

func (v *view) blob(b blob) seenBlob {
	px, r, front := v.place(v.sky(b.at), 1)
	return seenBlob{px, r, front}
}

// paintGas lets the light of disc and sky through the gas.
func (d *detail) paintGas(g gas, v view, light *edge) {
	seen := make([]seenBlob, 0, len(g.blobs))
	b := box{d.width, d.height, 0, 0}
	for _, one := range g.blobs {
		s := v.blob(one)
		seen = append(seen, s)
		if !s.front && s.r < 1-4/v.limb.RadiusPx {
			continue
		}
		bb := boxAround(s.px, 3*one.sigmaMm/v.mmPerPx+2, d.width, d.height)
		if !bb.empty() {
			b = box{min(b.x0, bb.x0), min(b.y0, bb.y0), max(b.x1, bb.x1), max(b.y1, bb.y1)}
		}
	}
	if b.empty() {
		return
	}
	d.touch(b)
	w, h := b.x1-b.x0, b.y1-b.y0
	front, behind := make([]float32, w*h), make([]float32, w*h)
	for i, one := range g.blobs {
		s := seen[i]
		depths := front
		if !s.front {
			if s.r < 1-4/v.limb.RadiusPx {
				continue
			}
			depths = behind
		}
		addBlob(depths, w, h, s.px.X-float64(b.x0), s.px.Y-float64(b.y0), one, v.mmPerPx)
	}
	for y := range h {
		row := d.light[(y+b.y0)*d.width:]
		for x := range w {
			tf, tb := float64(front[y*w+x]), float64(behind[y*w+x])
			if tf+tb < 1e-4 {
				continue
			}
			u, vv := v.limb.Unit(coords.Pixel{X: float64(x + b.x0), Y: float64(y + b.y0)})
			r := math.Hypot(u, vv) * light.limbPx
			cover := math.Max(0, math.Min(1, light.limbPx-r+0.5))
			disc := light.sharp.at(r)
			through := math.Exp(-tf * g.onDisc)
			lit := float64(disc+row[x+b.x0])*through + cover*g.brightness*(1-through) +
				(1-cover)*g.brightness*g.beyond*(1-math.Exp(-tf-tb))
			row[x+b.x0] = float32(lit) - disc
		}
	}
}

// addBlob adds one blob's optical depth around (x, y). A blob smaller than a
// pixel is spread over one, its total kept.
func addBlob(depths []float32, w, h int, x, y float64, b blob, mmPerPx float64) {
	sigma := b.sigmaMm / mmPerPx
	peak := b.depth
	if sigma < 0.6 {
		peak *= sq(sigma / 0.6)
		sigma = 0.6
	}
	half := int(math.Min(12, math.Ceil(2.7*sigma)))
	cx, cy := int(math.Round(x)), int(math.Round(y))
	var across [25]float32
	k := -1 / (2 * sigma * sigma)
	for i := -half; i <= half; i++ {
		across[i+half] = float32(peak * math.Exp(k*sq(float64(cx+i)-x)))
	}
	i0, i1 := max(-half, -cx), min(half, w-1-cx)
	for j := max(-half, -cy); j <= min(half, h-1-cy); j++ {
		down := float32(math.Exp(k * sq(float64(cy+j)-y)))
		row := depths[(cy+j)*w:]
		for i := i0; i <= i1; i++ {
			row[cx+i] += across[i+half] * down
		}
	}
}

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

// gas fills the filament's sheet with blobs.
func (f Filament) gas(band Band) gas {
	rng := stream(f.Seed, streamFeature)
	g := gas{brightness: orDefault(f.Brightness, 0.18), onDisc: band.Filament, beyond: band.Prominence}
	p := f.curve()
	width := orDefault(f.WidthMm, 6)
	base := math.Min(f.BaseMm, f.HeightMm)
	n := max(60, min(14000, int(p.totalMm*math.Max(f.HeightMm-base, width)*0.8)))
	for k := range n {
		s := p.totalMm * (float64(k) + rng.Float64()) / float64(n)
		f.addSheet(&g, p, s, base, width, rng)
	}
	g.normalise(f.Depth, p.totalMm*width*1.3)
	f.addBarbs(&g, p, rng)
	return g
}

// addSheet adds one blob of the sheet at length s along the curve: threads of
// uneven density in strands that wind around each other, thick and thin stretches
// with gaps between them, thinning at the ends.
func (f Filament) addSheet(g *gas, p path, s, base, width float64, rng *rand.Rand) {
	taper := smoothstep(0, 0.15, s/p.totalMm) * smoothstep(0, 0.15, 1-s/p.totalMm)
	body := 0.12 + 1.2*smoothstep(-0.5, 0.35, fractal(s/24, 1.5, 0, 2, f.Seed+1))
	body *= 0.3 + 0.7*taper
	thread := math.Max(0.1, 1+0.9*fractal(s/2.6, 7.5, 0, 2, f.Seed+2))
	top := base + (f.HeightMm-base)*(0.8+0.35*fractal(s/15, 4.5, 0, 2, f.Seed+4))*(0.4+0.6*taper)
	h := base + (top-base)*math.Sqrt(rng.Float64())
	i := p.find(s)
	az := p.along[i]
	strand := 0.75 * width * fractal(s/11, 10*float64(rng.IntN(3)), 0, 2, f.Seed+5)
	aside := strand + rng.NormFloat64()*width/4*math.Sqrt(0.25+body)
	forward := rng.NormFloat64() * 0.8
	sin, cos := math.Sincos(az)
	g.add(p.points[i], forward*cos-aside*sin, forward*sin+aside*cos, h, body*thread, 0.8+0.5*rng.Float64())
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
