package paint

import (
	"math"
	"math/rand/v2"
	"sync"

	"limbwatch/coords"
)

// Mottling is the fine pattern of the quiet Sun: a network of bright lanes some
// 30 Mm wide and dark mottles of a few Mm inside of it. It turns with the Sun,
// shears with the rotation, and is replaced by another little by little.
//
//	Strength      rms brightness of the whole pattern, disc = 1; 0 leaves it out
//	Days          time since some epoch; only its changes matter
//	LifetimeDays  in which the network is replaced (0 = 2); mottles live 1/100 of it
//	DriftDegPerDay  of the pattern in Carrington longitude against latitude; nil = none
type Mottling struct {
	Strength       float64
	Seed           uint64
	Days           float64
	LifetimeDays   float64
	DriftDegPerDay Drift
}

// Drift is a rotation law as seen in the Carrington frame: degrees a day of
// longitude, westward positive, at a latitude.
type Drift func(lat coords.Angle) float64

func (m Mottling) shows(b Band) bool { return m.Strength*b.Mottling != 0 }

// weave is one pattern in force: how much of it, how it is laid on the sphere, and
// how far the rotation has sheared it since it was laid.
type weave struct {
	weight float64
	turn   [3][3]float64
	shear  [shearSteps + 1][2]float64 // cosine and sine of the drift, against sin B from −1 to 1
	which  int
}

const shearSteps = 256

// weaves gives the patterns in force: two of the network, cross-faded so that
// the rms stays, and one of mottles.
func (m Mottling) weaves() [3]weave {
	life := orDefault(m.LifetimeDays, 2)
	at := func(days, life float64, generation int64, which int) weave {
		age := days - float64(generation)*life
		rng := stream(m.Seed+uint64(generation)*2654435761+uint64(which)<<60, streamMottle)
		w := weave{turn: randomTurn(rng), which: which}
		for i := range w.shear {
			sinB := -1 + 2*float64(i)/shearSteps
			drift := 0.0
			if m.DriftDegPerDay != nil {
				drift = m.DriftDegPerDay(coords.Asin(sinB)) * age
			}
			sin, cos := degreesOf(drift).Sincos()
			w.shear[i] = [2]float64{cos, sin}
		}
		return w
	}
	generation := math.Floor(m.Days / life)
	phase := m.Days/life - generation
	a, b := at(m.Days, life, int64(generation), 0), at(m.Days, life, int64(generation)+1, 0)
	a.weight, b.weight = math.Cos(phase*math.Pi/2), math.Sin(phase*math.Pi/2)
	short := life / 100
	c := at(m.Days, short, int64(math.Floor(m.Days/short)), 1)
	c.weight = 1
	return [3]weave{a, b, c}
}

func randomTurn(rng *rand.Rand) [3][3]float64 {
	// A random unit quaternion is a random rotation.
	var q [4]float64
	n := 0.0
	for i := range q {
		q[i] = rng.NormFloat64()
		n += q[i] * q[i]
	}
	n = math.Sqrt(n)
	w, x, y, z := q[0]/n, q[1]/n, q[2]/n, q[3]/n
	return [3][3]float64{
		{1 - 2*(y*y+z*z), 2 * (x*y - z*w), 2 * (x*z + y*w)},
		{2 * (x*y + z*w), 1 - 2*(x*x+z*z), 2 * (y*z - x*w)},
		{2 * (x*z - y*w), 2 * (y*z + x*w), 1 - 2*(x*x+y*y)},
	}
}

// paint multiplies the disc by the pattern. Toward the limb, where foreshortening
// squeezes it below the pixel, it fades.
func (m Mottling) paint(d *detail, s Scene, v view, light *edge) {
	texture := sphereTexture()
	weaves := m.weaves()
	toCarrington := transpose(v.toSky)
	strength := m.Strength * s.Band.Mottling
	reach := light.photospherePx / light.limbPx * light.limbPx
	b := boxAround(s.Camera.Limb.Centre, reach, d.width, d.height)
	d.any = true
	for y := b.y0; y < b.y1; y++ {
		row := d.light[y*d.width : (y+1)*d.width]
		first, last := -1, -1
		for x := b.x0; x < b.x1; x++ {
			u, w := v.limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
			q, ok := v.unproject(u, w, 1)
			if !ok {
				continue
			}
			if first < 0 {
				first = x
			}
			last = x
			p := apply(toCarrington, q)
			k := (p[2] + 1) * (shearSteps / 2)
			i := min(int(k), shearSteps-1)
			sum := 0.0
			for j := range weaves {
				sum += weaves[j].value(texture, p, i, k-float64(i))
			}
			mu := q[2]
			disc := light.sharp.at(math.Hypot(u, w) * light.limbPx)
			row[x] += disc * float32(strength*sum*smoothstep(0, 0.5, mu))
		}
		if first >= 0 {
			d.touch(box{first, y, last + 1, y + 1})
		}
	}
}

// value looks the pattern up at p, sheared back to where it was laid.
func (w *weave) value(t *texture, p [3]float64, i int, f float64) float64 {
	cos := w.shear[i][0] + f*(w.shear[i+1][0]-w.shear[i][0])
	sin := w.shear[i][1] + f*(w.shear[i+1][1]-w.shear[i][1])
	laid := [3]float64{p[0]*cos + p[1]*sin, p[1]*cos - p[0]*sin, p[2]}
	return w.weight * t.at(apply(w.turn, laid), w.which)
}

// texture is a pattern on the sphere, kept on the six faces of a cube: network
// and mottles side by side. It is made once; seeds lay it on the Sun differently.
type texture struct {
	texels [6][textureSize * textureSize][2]int8
}

const (
	textureSize  = 640 // a texel of 0.14°, 1.7 Mm
	textureScale = 1.0 / 40
)

var sphereTexture = sync.OnceValue(func() *texture {
	t := new(texture)
	var wait sync.WaitGroup
	for face := range t.texels {
		wait.Go(func() { t.weaveFace(face) })
	}
	wait.Wait()
	return t
})

func (t *texture) weaveFace(face int) {
	for j := range textureSize {
		for i := range textureSize {
			a, b := 2*float64(i)/(textureSize-1)-1, 2*float64(j)/(textureSize-1)-1
			p := onCube(face, a, b)
			n := math.Sqrt(dot(p, p))
			network, mottle := quietSun(p[0]/n, p[1]/n, p[2]/n)
			t.texels[face][j*textureSize+i] = [2]int8{toInt8(network), toInt8(mottle)}
		}
	}
}

func toInt8(v float64) int8 {
	return int8(math.Max(-127, math.Min(127, math.Round(v/textureScale))))
}

// quietSun is the pattern at a point of the unit sphere: bright lanes along the
// borders of cells, and dark grains drawn out along them.
func quietSun(x, y, z float64) (network, mottle float64) {
	const cell = toMm / 24 // lattice steps a radius for cells of some 30 Mm
	wx, wy, wz := noise3(x*cell/2, y*cell/2, z*cell/2, 11), noise3(x*cell/2, y*cell/2, z*cell/2, 12), noise3(x*cell/2, y*cell/2, z*cell/2, 13)
	a, b, c := x*cell+wx, y*cell+wy, z*cell+wz
	lane := 1 - 3*math.Abs(noise3(a, b, c, 21))
	network = 0.8*lane + 0.5*noise3(a/3, b/3, c/3, 22)
	const grain = toMm / 5
	gx, gy, gz := x*grain+2.2*wx, y*grain+2.2*wy, z*grain+2.2*wz
	mottle = 1.3*noise3(gx, gy, gz, 31) - 0.9*math.Max(0, 1-4*math.Abs(noise3(gx/1.5, gy/1.5, gz/1.5, 32))) + 0.28
	return network, mottle
}

func onCube(face int, a, b float64) [3]float64 {
	switch face {
	case 0:
		return [3]float64{1, a, b}
	case 1:
		return [3]float64{-1, a, b}
	case 2:
		return [3]float64{a, 1, b}
	case 3:
		return [3]float64{a, -1, b}
	case 4:
		return [3]float64{a, b, 1}
	default:
		return [3]float64{a, b, -1}
	}
}

// at reads the texture in direction p.
func (t *texture) at(p [3]float64, which int) float64 {
	ax, ay, az := math.Abs(p[0]), math.Abs(p[1]), math.Abs(p[2])
	var face int
	var a, b, m float64
	switch {
	case ax >= ay && ax >= az:
		face, a, b, m = 0, p[1], p[2], p[0]
	case ay >= az:
		face, a, b, m = 2, p[0], p[2], p[1]
	default:
		face, a, b, m = 4, p[0], p[1], p[2]
	}
	if m < 0 {
		face++
		m = -m
	}
	x := (a/m + 1) * ((textureSize - 1) / 2.0)
	y := (b/m + 1) * ((textureSize - 1) / 2.0)
	i, j := min(int(x), textureSize-2), min(int(y), textureSize-2)
	fx, fy := x-float64(i), y-float64(j)
	f := &t.texels[face]
	k := j*textureSize + i
	top := float64(f[k][which])*(1-fx) + float64(f[k+1][which])*fx
	low := float64(f[k+textureSize][which])*(1-fx) + float64(f[k+textureSize+1][which])*fx
	return (top*(1-fy) + low*fy) * textureScale
}
