package paint

import (
	"math"
	"sync"

	"limbwatch/coords"
)

// detail is all light that features add to the featureless disc or take from it,
// before and then after the blur. A row remembers between which columns it holds
// anything, and only there is work done.
type detail struct {
	width, height int
	light         []float32
	lo, hi        []int // columns in use, hi excluded
	any           bool
}

// scratch keeps picture-sized buffers for reuse.
var scratch sync.Pool

func borrow(n int) []float32 {
	if b, ok := scratch.Get().(*[]float32); ok && cap(*b) >= n {
		s := (*b)[:n]
		clear(s)
		return s
	}
	return make([]float32, n)
}

func giveBack(b []float32) { scratch.Put(&b) }

func (d *detail) release() {
	if d != nil && d.light != nil {
		giveBack(d.light)
		d.light = nil
	}
}

func (d *detail) touch(b box) {
	d.any = true
	for y := b.y0; y < b.y1; y++ {
		if d.lo[y] >= d.hi[y] {
			d.lo[y], d.hi[y] = b.x0, b.x1
			continue
		}
		d.lo[y], d.hi[y] = min(d.lo[y], b.x0), max(d.hi[y], b.x1)
	}
}

// paintDetail paints the features of the scene and blurs them. It is nil when
// there are none.
func paintDetail(s Scene, v view, light *edge, gases []gasSeen) *detail {
	sun, c := s.Sun, s.Camera
	mottled := sun.Mottling.shows(s.Band)
	if !mottled && len(sun.Spots)+len(sun.Plages)+len(sun.Filaments)+len(sun.Prominences) == 0 {
		return nil
	}
	d := &detail{
		width: c.Width, height: c.Height, light: borrow(c.Width * c.Height),
		lo: make([]int, c.Height), hi: make([]int, c.Height),
	}
	if mottled {
		sun.Mottling.paint(d, s, v, light)
	}
	if s.Band.Plage > 0 {
		for _, p := range sun.Plages {
			d.paintPatch(p.patch(s.Band.Plage), v, light)
		}
	}
	for _, spot := range sun.Spots {
		d.paintPatch(spot.patch(), v, light)
	}
	for _, g := range gases {
		d.paintGas(g, v, light)
	}
	if c.BlurPx > 0 && d.any {
		d.blur(c.BlurPx)
	}
	return d
}

// paintPatch multiplies the surface by the patch's factor.
func (d *detail) paintPatch(p patch, v view, light *edge) {
	radius := 1 + p.heightMm/coords.SolarRadiusMm
	px, visible := v.project(p.at.Vector(), radius)
	if !visible && dot(v.sky(p.at.Vector()), [3]float64{0, 0, 1}) < -p.reachMm/toMm-0.01 {
		return
	}
	frame := localAt(p.at)
	b := boxAround(px, p.reachMm*radius/v.mmPerPx*1.02+1, d.width, d.height)
	if b.empty() {
		return
	}
	d.touch(b)
	toCarrington := transpose(v.toSky)
	for y := b.y0; y < b.y1; y++ {
		row := d.light[y*d.width : (y+1)*d.width]
		for x := b.x0; x < b.x1; x++ {
			u, w := v.limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
			q, ok := v.unproject(u, w, radius)
			if !ok {
				continue
			}
			east, north := frame.offset(apply(toCarrington, q))
			a, bb := east*toMm, north*toMm
			if a*a+bb*bb > p.reachMm*p.reachMm {
				continue
			}
			disc := light.sharp.at(math.Hypot(u, w) * light.limbPx)
			surface := disc + row[x]
			row[x] = surface*float32(p.factor(a, bb)) - disc
		}
	}
}

// blur convolves the detail with a Gaussian: rows, then columns, each only where
// something is.
func (d *detail) blur(sigma float64) {
	half := int(math.Ceil(3.5 * sigma))
	weights := make([]float32, half+1)
	sum := 0.0
	for k := range weights {
		w := math.Exp(-coords.Square(float64(k)/sigma) / 2)
		weights[k] = float32(w)
		sum += w
		if k > 0 {
			sum += w
		}
	}
	for k := range weights {
		weights[k] /= float32(sum)
	}
	d.blurRows(weights)
	d.blurColumns(weights)
}

// blurRows works on a row with margins, so that the inner loop needs no bounds.
func (d *detail) blurRows(weights []float32) {
	half := len(weights) - 1
	padded := make([]float32, d.width+2*half)
	for y := range d.height {
		if d.lo[y] >= d.hi[y] {
			continue
		}
		lo, hi := max(0, d.lo[y]-half), min(d.width, d.hi[y]+half)
		row := d.light[y*d.width : (y+1)*d.width]
		clear(padded)
		copy(padded[half+d.lo[y]:], row[d.lo[y]:d.hi[y]])
		out := row[lo:hi]
		scaled(out, padded[half+lo:half+hi], weights[0])
		for k := 1; k <= half; k++ {
			addPair(out, padded[half+lo-k:], padded[half+lo+k:], weights[k])
		}
		d.lo[y], d.hi[y] = lo, hi
	}
}

func (d *detail) blurColumns(weights []float32) {
	half := len(weights) - 1
	source := d.light
	blurred := borrow(len(source))
	lo, hi := make([]int, d.height), make([]int, d.height)
	for y := range d.height {
		lo[y], hi[y] = d.width, 0
		for k := max(0, y-half); k <= min(d.height-1, y+half); k++ {
			if d.lo[k] < d.hi[k] {
				lo[y], hi[y] = min(lo[y], d.lo[k]), max(hi[y], d.hi[k])
			}
		}
		if lo[y] >= hi[y] {
			continue
		}
		out := blurred[y*d.width+lo[y] : y*d.width+hi[y]]
		scaled(out, source[y*d.width+lo[y]:y*d.width+hi[y]], weights[0])
		for k := 1; k <= half; k++ {
			above, below := y-k, y+k
			switch {
			case above >= 0 && below < d.height:
				addPair(out, source[above*d.width+lo[y]:], source[below*d.width+lo[y]:], weights[k])
			case above >= 0:
				addScaled(out, source[above*d.width+lo[y]:], weights[k])
			case below < d.height:
				addScaled(out, source[below*d.width+lo[y]:], weights[k])
			}
		}
	}
	d.light, d.lo, d.hi = blurred, lo, hi
	giveBack(source)
}

func scaled(dst, src []float32, w float32) {
	src = src[:len(dst)]
	for i := range dst {
		dst[i] = w * src[i]
	}
}

func addScaled(dst, src []float32, w float32) {
	src = src[:len(dst)]
	for i := range dst {
		dst[i] += w * src[i]
	}
}

func addPair(dst, a, b []float32, w float32) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] += w * (a[i] + b[i])
	}
}
