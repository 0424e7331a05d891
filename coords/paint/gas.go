package paint

import (
	"math"

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

// gasSeen is the gas of one feature and where its blobs are seen.
type gasSeen struct {
	gas
	seen []seenBlob
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

// gases are the filaments and prominences of the scene, in this order. Those far
// behind the Sun are left empty.
func (s Scene) gases(v view) []gasSeen {
	var out []gasSeen
	dark := s.Band.Filament == 0 && s.Band.Prominence == 0 // no gas shows in white light
	see := func(g gas) {
		seen := make([]seenBlob, len(g.blobs))
		for i, b := range g.blobs {
			seen[i] = v.blob(b)
		}
		out = append(out, gasSeen{g, seen})
	}
	for _, f := range s.Sun.Filaments {
		behind := true
		for _, h := range f.Spine {
			behind = behind && v.farBehind(h, f.HeightMm+40)
		}
		if dark || behind {
			see(gas{})
			continue
		}
		see(f.gas(s.Band))
	}
	for _, p := range s.Sun.Prominences {
		if dark || v.farBehind(p.At, p.HeightMm+p.LengthMm/2+40) {
			see(gas{})
			continue
		}
		see(p.gas(s.Band))
	}
	return out
}

// farBehind says that nothing up to a height above a place can be seen: a height
// reaches round the limb by acos(R/(R+h)).
func (v *view) farBehind(h coords.Heliographic, heightMm float64) bool {
	return v.sky(h.Vector())[2] < -math.Sqrt(1-coords.Square(toMm/(toMm+heightMm)))
}

// paintGas lets the light of disc and sky through the gas.
func (d *detail) paintGas(g gasSeen, v view, light *edge) {
	seen := g.seen
	b := box{d.width, d.height, 0, 0}
	for i, one := range g.blobs {
		s := seen[i]
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
		peak *= coords.Square(sigma / 0.6)
		sigma = 0.6
	}
	half := int(math.Min(12, math.Ceil(2.7*sigma)))
	cx, cy := int(math.Round(x)), int(math.Round(y))
	var across [25]float32
	k := -1 / (2 * sigma * sigma)
	for i := -half; i <= half; i++ {
		across[i+half] = float32(peak * math.Exp(k*coords.Square(float64(cx+i)-x)))
	}
	i0, i1 := max(-half, -cx), min(half, w-1-cx)
	for j := max(-half, -cy); j <= min(half, h-1-cy); j++ {
		down := float32(math.Exp(k * coords.Square(float64(cy+j)-y)))
		row := depths[(cy+j)*w:]
		for i := i0; i <= i1; i++ {
			row[cx+i] += across[i+half] * down
		}
	}
}
