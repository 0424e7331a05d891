package paint

import (
	"math"

	"limbwatch/coords"
	"limbwatch/coords/sample"
)

// expose gathers the light on the sensor: disc, features and fringe through the
// wobbling air, then cloud, filter, optics, exposure and noise. It leaves levels
// from 0 to 1 in f.Grey.
func expose(f *Frame, s Scene, light *edge, features *detail) {
	c := s.Camera
	air := newAir(s, light)
	field := newField(s)
	noise := newNoise(s)
	for y := range c.Height {
		row := f.Grey[y*c.Width : (y+1)*c.Width]
		light.row(row, y, c.Limb, air)
		if features != nil && features.any {
			if lo, hi := features.lo[y], features.hi[y]; lo < hi {
				add := features.light[y*c.Width+lo : y*c.Width+hi]
				for i, l := range add {
					row[lo+i] += l
				}
			}
		}
		field.row(row, y, light)
		noise.row(row)
	}
}

// air is what happens along the limb: its wobble and the unevenness of its fringe.
type air struct {
	wobble   ring
	wobblePx float32
	fringe   ring
	from, to float64 // the ring of pixels in which it matters
}

func newAir(s Scene, light *edge) air {
	c := s.Camera
	reach := 5*light.blurPx + 4*c.Wobble.RMSPx + 2
	a := air{from: light.photospherePx - reach, to: light.limbPx + reach, wobblePx: float32(c.Wobble.RMSPx)}
	if c.Wobble.RMSPx > 0 {
		correlation := degreesOf(orDefault(c.Wobble.CorrelationDeg, 2)).Radians()
		a.wobble = newRing(stream(s.Seed, streamWobble), correlation)
	}
	if s.Band.Spicules > 0 {
		a.fringe = newRing(stream(s.Seed, streamFringe), 3*light.v.mmPerPx/toMm+4/toMm)
		a.to = math.Max(a.to, light.fringe.end())
	}
	return a
}

// row fills in one row of the blurred disc.
func (e *edge) row(row []float32, y int, limb coords.Limb, a air) {
	if limb.Flattening == 0 {
		dy := float64(y) - limb.Centre.Y
		for x := range row {
			dx := float64(x) - limb.Centre.X
			r := math.Sqrt(dx*dx + dy*dy)
			row[x] = e.light(r, dx, dy, a)
		}
		return
	}
	for x := range row {
		u, w := limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
		row[x] = e.light(math.Sqrt(u*u+w*w)*e.limbPx, u, w, a)
	}
}

func (e *edge) light(r, right, down float64, a air) float32 {
	if r < a.from || r > a.to || a.wobble == nil && a.fringe == nil {
		return e.blurred.at(r)
	}
	angle := math.Atan2(down, right)
	if a.wobble != nil {
		r = math.Max(0, r-float64(a.wobblePx*a.wobble.at(angle)))
	}
	l := e.blurred.at(r)
	if a.fringe != nil {
		uneven := 1 + 0.55*a.fringe.at(angle)
		if uneven > 0 {
			l += float32(e.band.Spicules) * uneven * e.fringe.at(r)
		}
	}
	return l
}

// field is everything between the Sun and the sensor that varies over the picture.
type field struct {
	c        Camera
	exposure float64
	plain    bool
	cloud    *cloud
	halo     radial // stray light
	veil     radial // how the light that a cloud scatters falls off
	sweetX   []float64
	slope    [2]float64 // change a pixel
	band     [2]float64 // phase a pixel
}

func newField(s Scene) field {
	c := s.Camera
	f := field{c: c, exposure: c.exposure()}
	g := c.Gradient
	f.plain = c.Cloud == (Cloud{}) && g == (Gradient{}) && c.Vignetting == 0 && c.Halo == (Halo{}) &&
		c.Ghost.Level == 0 && c.Composite == (Composite{})
	if c.Cloud.Depth != 0 || c.Cloud.Veil != 0 {
		f.cloud = newCloud(s)
		f.veil = c.fallOff(0.8)
	}
	if c.Halo.Level != 0 {
		f.halo = c.fallOff(orDefault(c.Halo.Radii, 0.15))
	}
	if g.Sweet != 0 {
		f.sweetX = make([]float64, c.Width)
		sigma := orDefault(g.SweetRadii, 1) * c.Limb.RadiusPx
		for x := range f.sweetX {
			f.sweetX[x] = math.Exp(-coords.Square((float64(x)-c.Limb.Centre.X-g.SweetX*c.Limb.RadiusPx)/sigma) / 2)
		}
	}
	sin, cos := g.Toward.Sincos()
	f.slope = [2]float64{-sin * g.Slope / (2 * c.Limb.RadiusPx), -cos * g.Slope / (2 * c.Limb.RadiusPx)}
	sin, cos = g.BandAlong.Sincos()
	k := 2 * math.Pi / orDefault(g.BandPeriodPx, c.Limb.RadiusPx/4)
	f.band = [2]float64{-sin * k, -cos * k}
	return f
}

// fallOff is 1 on the disc and falls to 1/e in the given radii of it.
func (c Camera) fallOff(radii float64) radial {
	limb := c.Limb
	reach := math.Hypot(
		math.Max(math.Abs(limb.Centre.X), math.Abs(float64(c.Width)-limb.Centre.X)),
		math.Max(math.Abs(limb.Centre.Y), math.Abs(float64(c.Height)-limb.Centre.Y))) / (1 - limb.Flattening)
	t := radial{values: make([]float32, int(reach/radialStep)+3)}
	for i := range t.values {
		beyond := math.Max(0, float64(i)*radialStep/limb.RadiusPx-1)
		t.values[i] = float32(math.Exp(-beyond / radii))
	}
	return t
}

// row turns light into exposure.
func (f *field) row(row []float32, y int, light *edge) {
	c := f.c
	if f.plain {
		gain, sky := float32(f.exposure), float32(c.Sky)
		for x, l := range row {
			row[x] = gain * (l + sky)
		}
		return
	}
	dy := float64(y) - c.Limb.Centre.Y
	sweetY := 0.0
	if f.sweetX != nil {
		g := c.Gradient
		sweetY = math.Exp(-coords.Square((dy-g.SweetY*c.Limb.RadiusPx)/(orDefault(g.SweetRadii, 1)*c.Limb.RadiusPx)) / 2)
	}
	corner := math.Hypot(float64(c.Width), float64(c.Height)) / 2
	for x := range row {
		dx := float64(x) - c.Limb.Centre.X
		l := float64(row[x])
		u, w := c.Limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
		r := math.Sqrt(u*u + w*w)
		if f.halo.values != nil {
			l += c.Halo.Level * float64(f.halo.at(r*c.Limb.RadiusPx))
		}
		if f.cloud != nil {
			t := f.cloud.at(x, y)
			l = l*(1-c.Cloud.Depth*t) + c.Cloud.Veil*t*float64(f.veil.at(r*c.Limb.RadiusPx))
		}
		gain := 1 + f.slope[0]*dx + f.slope[1]*dy
		if f.sweetX != nil {
			gain *= 1 - c.Gradient.Sweet*(1-f.sweetX[x]*sweetY)
		}
		if c.Gradient.Band != 0 {
			gain *= 1 + c.Gradient.Band*math.Sin(f.band[0]*float64(x)+f.band[1]*float64(y))
		}
		if c.Vignetting != 0 {
			d := math.Hypot(float64(x)-float64(c.Width)/2, float64(y)-float64(c.Height)/2) / corner
			gain *= 1 - c.Vignetting*d*d
		}
		l = (l + c.Sky) * math.Max(0, gain)
		if c.Ghost.Level != 0 {
			scale := orDefault(c.Ghost.Scale, 1)
			gr := math.Hypot(dx-c.Ghost.Right, dy-c.Ghost.Down) / scale
			l += c.Ghost.Level * float64(light.blurred.at(gr))
		}
		exposure := f.exposure
		if c.Composite.Edge != 0 {
			at := orDefault(c.Composite.StepAt, 1)
			feather := math.Max(0.5, c.Composite.FeatherPx) / c.Limb.RadiusPx
			exposure *= 1 + (c.Composite.Edge-1)*smoothstep(at-feather, at+feather, r)
		}
		row[x] = float32(l * exposure)
	}
}

// cloud is a coarse grid of noise, 0 to 1, read between its points.
type cloud struct {
	grid  []float64
	wide  int
	scale float64 // grid points a pixel
}

func newCloud(s Scene) *cloud {
	c := s.Camera
	patch := orDefault(c.Cloud.ScalePx, float64(max(c.Width, c.Height))/3)
	step := math.Max(4, patch/12)
	k := &cloud{wide: int(float64(c.Width)/step) + 3, scale: 1 / step}
	high := int(float64(c.Height)/step) + 3
	seed := stream(s.Seed, streamCloud).Uint64()
	for j := range high {
		for i := range k.wide {
			n := fractal(float64(i)*step/patch, float64(j)*step/patch, 0.5, 4, seed)
			k.grid = append(k.grid, smoothstep(-0.55, 0.55, n))
		}
	}
	return k
}

func (k *cloud) at(x, y int) float64 {
	gx, gy := float64(x)*k.scale, float64(y)*k.scale
	i, j := int(gx), int(gy)
	fx, fy := gx-float64(i), gy-float64(j)
	g := k.grid[j*k.wide+i:]
	return sample.Bilinear(g[0], g[1], g[k.wide], g[k.wide+1], fx, fy)
}

// noise of the sensor, and its end at saturation.
type noise struct {
	read, shot float32 // variances
	state      uint64
	deviates   []float32
	white      float32
}

func newNoise(s Scene) *noise {
	c := s.Camera
	return &noise{
		read: float32(coords.Square(c.ReadNoise)), shot: float32(coords.Square(c.ShotNoise)),
		state: stream(s.Seed, streamNoise).Uint64(),
		white: float32(orDefault(c.WhiteLevel, 1)),
	}
}

// row saturates first, since a full pixel has no noise left to show.
func (n *noise) row(row []float32) {
	if n.read == 0 && n.shot == 0 {
		for x, l := range row {
			row[x] = n.white * max(0, min(1, l))
		}
		return
	}
	if n.deviates == nil {
		n.deviates = make([]float32, len(row))
	}
	n.state = gaussFill(n.deviates, n.state)
	for x, l := range row {
		sigma := float32(math.Sqrt(float64(n.read + n.shot*max(0, l))))
		row[x] = n.white * max(0, min(1, l+sigma*n.deviates[x]))
	}
}
