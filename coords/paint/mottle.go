package paint

import (
	"math"
	"math/rand/v2"
	"sync"

	"limbwatch/coords"
	"limbwatch/coords/sample"
)

// Mottling is the fine pattern of the quiet Sun: a network of bright lanes some
// 30 Mm wide and dark mottles of a few Mm inside of it. It turns with the Sun,
// shears with the rotation, and is replaced by another little by little.
//
//	Strength      rms brightness of the whole pattern, disc = 1; 0 leaves it out
//	Days          time since some epoch; only its changes matter
//	LifetimeDays  in which the network is replaced (0 = 2); mottles live 1/100 of it
//	DriftDegPerDay  of the pattern in Carrington longitude against latitude; nil = none
//	Patterns        how many patterns take turns, at most 5 (0 = 1). One is laid another
//	                way on the Sun each time, which looks new, and yet a search over all
//	                ways in which pictures may lie finds it again
type Mottling struct {
	Strength       float64
	Seed           uint64
	Days           float64
	LifetimeDays   float64
	DriftDegPerDay Drift
	Patterns       int
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
	of     *texture
}

const shearSteps = 256

// weaves gives the patterns in force: two of the network, cross-faded so that
// the rms stays, and one of mottles.
func (m Mottling) weaves() [3]weave {
	life := orDefault(m.LifetimeDays, 2)
	at := func(days, life float64, generation int64, which int) weave {
		age := days - float64(generation)*life
		rng := stream(m.Seed+uint64(generation)*2654435761+uint64(which)<<60, streamMottle)
		w := weave{turn: randomTurn(rng), which: which, of: m.textureOf(generation)}
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
	c.weight, c.of = 1, a.of
	return [3]weave{a, b, c}
}

// textureOf is the texture of a generation of the network.
func (m Mottling) textureOf(generation int64) *texture {
	n := int64(max(1, min(m.Patterns, mostPatterns)))
	return sphereTextures[(generation%n+n)%n]()
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
// squeezes it below the pixel, it fades. The pattern is reckoned on a grid no
// finer than its texture and the blur show, and read between the grid's points.
func (m Mottling) paint(d *detail, s Scene, v view, light *edge) {
	texelPx := math.Pi / 2 / textureSize * toMm / v.mmPerPx
	step := max(1, min(4, int(math.Round(math.Max(texelPx, 1.2*s.Camera.BlurPx)))))
	limb := s.Camera.Limb
	b := boxAround(limb.Centre, light.photospherePx, d.width, d.height)
	if b.empty() {
		return
	}
	d.any = true
	grid := m.newPattern(v, s.Band.Mottling)
	wide := (b.x1-b.x0-1)/step + 2
	above, below := make([]float32, wide), make([]float32, wide)
	grid.row(below, b.x0, b.y0, step)
	for y := b.y0; y < b.y1; y++ {
		k := (y - b.y0) % step
		if k == 0 {
			above, below = below, above
			grid.row(below, b.x0, y+step, step)
		}
		fy := float32(k) / float32(step)
		row := d.light[y*d.width : (y+1)*d.width]
		first, last := -1, -1
		for x := b.x0; x < b.x1; x++ {
			i := (x - b.x0) / step
			fx := float32((x-b.x0)%step) / float32(step)
			top, low := above[i]+fx*(above[i+1]-above[i]), below[i]+fx*(below[i+1]-below[i])
			value := top + fy*(low-top)
			if value == 0 {
				continue
			}
			if first < 0 {
				first = x
			}
			last = x
			u, w := limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
			row[x] += value * light.sharp.at(math.Sqrt(u*u+w*w)*light.limbPx)
		}
		if first >= 0 {
			d.touch(box{first, y, last + 1, y + 1})
		}
	}
}

// pattern is the mottling as seen.
type pattern struct {
	v        view
	weaves   [3]weave
	back     [3][3]float64 // sky frame to Carrington frame
	strength float64
}

func (m Mottling) newPattern(v view, strength float64) *pattern {
	return &pattern{
		v: v, weaves: m.weaves(),
		back: transpose(v.toSky), strength: m.Strength * strength,
	}
}

// row fills in the pattern at every step-th pixel of a row, 0 off the disc.
func (g *pattern) row(row []float32, x0, y, step int) {
	for i := range row {
		row[i] = 0
		u, w := g.v.limb.Unit(coords.Pixel{X: float64(x0 + i*step), Y: float64(y)})
		q, ok := g.v.unproject(u, w, 1)
		if !ok {
			continue
		}
		p := [3]float64{
			g.back[0][0]*q[0] + g.back[0][1]*q[1] + g.back[0][2]*q[2],
			g.back[1][0]*q[0] + g.back[1][1]*q[1] + g.back[1][2]*q[2],
			g.back[2][0]*q[0] + g.back[2][1]*q[1] + g.back[2][2]*q[2],
		}
		k := (p[2] + 1) * (shearSteps / 2)
		j := max(0, min(int(k), shearSteps-1))
		sum := 0.0
		for n := range g.weaves {
			sum += g.weaves[n].value(&p, j, k-float64(j))
		}
		row[i] = float32(g.strength * sum * smoothstep(0.02, 0.3, q[2]))
	}
}

// value looks the pattern up at p, sheared back to where it was laid.
func (w *weave) value(p *[3]float64, i int, f float64) float64 {
	cos := w.shear[i][0] + f*(w.shear[i+1][0]-w.shear[i][0])
	sin := w.shear[i][1] + f*(w.shear[i+1][1]-w.shear[i][1])
	x, y, z := p[0]*cos+p[1]*sin, p[1]*cos-p[0]*sin, p[2]
	m := &w.turn
	return w.weight * w.of.at(m[0][0]*x+m[0][1]*y+m[0][2]*z, m[1][0]*x+m[1][1]*y+m[1][2]*z,
		m[2][0]*x+m[2][1]*y+m[2][2]*z, w.which)
}

// texture is a pattern on the sphere, kept on the six faces of a cube: network
// and mottles side by side. Each is made once; seeds lay it on the Sun differently.
type texture struct {
	texels [6][textureSize * textureSize][2]int8
}

const (
	textureSize  = 640 // a texel of 0.14°, 1.7 Mm
	textureScale = 1.0 / 40
	mostPatterns = 5
)

var sphereTextures = func() (textures [mostPatterns]func() *texture) {
	for k := range textures {
		textures[k] = sync.OnceValue(func() *texture {
			t := new(texture)
			var wait sync.WaitGroup
			for face := range t.texels {
				wait.Go(func() { t.weaveFace(face, uint64(k)*100) })
			}
			wait.Wait()
			return t
		})
	}
	return textures
}()

func (t *texture) weaveFace(face int, seed uint64) {
	for j := range textureSize {
		for i := range textureSize {
			a, b := 2*float64(i)/(textureSize-1)-1, 2*float64(j)/(textureSize-1)-1
			p := onCube(face, a, b)
			n := math.Sqrt(dot(p, p))
			network, mottle := quietSun(p[0]/n, p[1]/n, p[2]/n, seed)
			t.texels[face][j*textureSize+i] = [2]int8{toInt8(network), toInt8(mottle)}
		}
	}
}

func toInt8(v float64) int8 {
	return int8(math.Max(-127, math.Min(127, math.Round(v/textureScale))))
}

// quietSun is the pattern at a point of the unit sphere: bright lanes along the
// borders of cells, and dark grains drawn out along them.
func quietSun(x, y, z float64, seed uint64) (network, mottle float64) {
	const cell = toMm / 24 // lattice steps a radius for cells of some 30 Mm
	wx, wy, wz := noise3(x*cell/2, y*cell/2, z*cell/2, seed+11), noise3(x*cell/2, y*cell/2, z*cell/2, seed+12), noise3(x*cell/2, y*cell/2, z*cell/2, seed+13)
	a, b, c := x*cell+wx, y*cell+wy, z*cell+wz
	lane := math.Max(0, 1-2.5*math.Abs(noise3(a, b, c, seed+21)))
	bright := noise3(a/4, b/4, c/4, seed+22) // some fields are brighter than others
	network = lane*(0.95+1.1*bright) + 0.6*bright - 0.38
	const grain = toMm / 5.5
	gx, gy, gz := x*grain+2.5*wx, y*grain+2.5*wy, z*grain+2.5*wz
	worm := math.Max(0, 1-3.2*math.Abs(noise3(gx/2, gy/2, gz/2, seed+32)))
	mottle = 1.6*noise3(gx, gy, gz, seed+31) - 2.6*worm*(0.65+0.7*noise3(gx/5, gy/5, gz/5, seed+33)) + 0.75
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

// at reads the texture in a direction.
func (t *texture) at(px, py, pz float64, which int) float64 {
	ax, ay, az := math.Abs(px), math.Abs(py), math.Abs(pz)
	var face int
	var a, b, m float64
	switch {
	case ax >= ay && ax >= az:
		face, a, b, m = 0, py, pz, px
	case ay >= az:
		face, a, b, m = 2, px, pz, py
	default:
		face, a, b, m = 4, px, py, pz
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
	at := func(i int) float64 { return float64(f[i][which]) }
	return sample.Bilinear(at(k), at(k+1), at(k+textureSize), at(k+textureSize+1), fx, fy) * textureScale
}
