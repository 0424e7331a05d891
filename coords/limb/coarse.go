package limb

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// coarsePx is the size, along the longer side, of the shrunk picture in which
// candidates are looked for.
const coarsePx = 320

// slopes is the brightness gradient of a shrunk picture.
type slopes struct {
	w, h   int
	gx, gy []float32
	noise  float64 // a typical gradient of the picture's own texture
	edges  []edgel
	taken  []bool  // pixels that support a circle already
	lit    *circle // where light is, when that is known: elsewhere no edge is expected
}

// edgel is one point where the gradient is steepest along its own direction.
type edgel struct {
	x, y   float64
	nx, ny float64 // unit vector down the slope, from bright to dark
	m      float64 // steepness
}

// slopesOf takes gradients by Scharr's kernel (Scharr 2000, thesis, Heidelberg)
// of the smoothed picture, and thins them to ridges.
func slopesOf(p *plane) *slopes {
	s := &slopes{w: p.w, h: p.h, gx: make([]float32, len(p.v)), gy: make([]float32, len(p.v))}
	for y := 1; y < p.h-1; y++ {
		u, m, d := p.v[(y-1)*p.w:y*p.w], p.v[y*p.w:(y+1)*p.w], p.v[(y+1)*p.w:(y+2)*p.w]
		for x := 1; x < p.w-1; x++ {
			s.gx[y*p.w+x] = (3*(u[x+1]-u[x-1]+d[x+1]-d[x-1]) + 10*(m[x+1]-m[x-1])) / 32
			s.gy[y*p.w+x] = (3*(d[x-1]-u[x-1]+d[x+1]-u[x+1]) + 10*(d[x]-u[x])) / 32
		}
	}
	s.thin()
	return s
}

// thin keeps the points steeper than both neighbours along the gradient.
func (s *slopes) thin() {
	const border = 2
	steep := func(x, y float64) float64 {
		gx, gy := s.at(x, y)
		return math.Sqrt(gx*gx + gy*gy)
	}
	var steepest float64
	for k := range s.gx {
		steepest = max(steepest, float64(s.gx[k]*s.gx[k]+s.gy[k]*s.gy[k]))
	}
	steepest = math.Sqrt(steepest)
	// Rounding noise of a flat sky makes ridges too: they say nothing.
	faintest := 2e-3 * steepest
	for y := border; y < s.h-border; y++ {
		for x := border; x < s.w-border; x++ {
			k := y*s.w + x
			gx, gy := float64(s.gx[k]), float64(s.gy[k])
			m := math.Sqrt(gx*gx + gy*gy)
			if m <= faintest {
				continue
			}
			nx, ny := -gx/m, -gy/m
			fore := steep(float64(x)+nx, float64(y)+ny)
			if fore > m {
				continue
			}
			back := steep(float64(x)-nx, float64(y)-ny)
			if back >= m {
				continue
			}
			// Vertex of the parabola through the three.
			off := 0.5 * (fore - back) / (2*m - fore - back)
			s.edges = append(s.edges, edgel{float64(x) + off*nx, float64(y) + off*ny, nx, ny, m})
		}
	}
	m := make([]float64, len(s.edges))
	for i, e := range s.edges {
		m[i] = e.m
	}
	s.noise = max(median(m), 0.02*steepest)
}

// at is the gradient at (x, y), bilinear; the point must lie inside.
func (s *slopes) at(x, y float64) (gx, gy float64) {
	i, j := min(int(x), s.w-2), min(int(y), s.h-2)
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	k := j*s.w + i
	mix := func(g []float32) float64 {
		top := g[k] + fx*(g[k+1]-g[k])
		bottom := g[k+s.w] + fx*(g[k+s.w+1]-g[k+s.w])
		return float64(top + fy*(bottom-top))
	}
	return mix(s.gx), mix(s.gy)
}

// inside says whether a point is where edges can be looked for.
func (s *slopes) inside(x, y float64) bool {
	return x >= 2 && y >= 2 && x < float64(s.w-2) && y < float64(s.h-2) &&
		(s.lit == nil || math.Hypot(x-s.lit.x, y-s.lit.y) < s.lit.r-beside)
}

// candidate is a circle that many edge points lie on, with their slopes along
// its radii.
//
//	falling   brightness falls outward (a positive picture), or else rises
//	evidence  supported length of limb less a share of the unsupported, shrunk px
//	support   mean support per direction within the frame, 0 to 1
//	arc       share of a full turn that is within the frame and supported
type candidate struct {
	circle
	falling  bool
	evidence float64
	support  float64
	arc      float64
}

func (c candidate) sign() float64 {
	if c.falling {
		return 1
	}
	return -1
}

// lookAround holds sines and cosines of n directions over a turn.
func lookAround(n int) (sin, cos []float64) {
	sin, cos = make([]float64, n), make([]float64, n)
	for i := range sin {
		sin[i], cos[i] = math.Sincos(2 * math.Pi * float64(i) / float64(n))
	}
	return sin, cos
}

// unsupportedCost is what a direction without an edge takes off the evidence,
// against 1 for full support. A circle through random texture is supported at
// some 0.15 of its length.
const unsupportedCost = 0.3

// glanceSupport is the mean support that a quarter of the directions must show for
// the rest to be looked at: less than unsupportedCost, since a few may miss.
const glanceSupport = 0.2

// draw proposes circles from pairs of edge points: two points and the slopes at
// them determine a circle, and say whether they agree on it.
func (s *slopes) draw() []candidate {
	if len(s.edges) < 8 {
		return nil
	}
	rng := rand.New(rand.NewPCG(656, 28))
	pick := weightedPick(s.edges, rng)
	rmin := max(5, 0.04*float64(min(s.w, s.h)))
	rmax := 2 * float64(max(s.w, s.h))
	sin, cos := lookAround(96)
	glanceSin, glanceCos := lookAround(24)
	var found []candidate
	for n := range 20000 {
		if n > 6000 && len(found) > 100 {
			break
		}
		a, b := pick(), pick()
		dnx, dny := a.nx-b.nx, a.ny-b.ny
		apart := dnx*dnx + dny*dny
		if apart < 0.08 { // less than 16° apart: no grip on the radius
			continue
		}
		px, py := a.x-b.x, a.y-b.y
		r := (px*dnx + py*dny) / apart // least squares of a − r·n_a = b − r·n_b
		if math.Abs(r) < rmin || math.Abs(r) > rmax {
			continue
		}
		if math.Hypot(px-r*dnx, py-r*dny) > 0.04*math.Abs(r)+1.5 {
			continue
		}
		c := candidate{falling: r > 0}
		c.circle = circle{(a.x + b.x - r*(a.nx+b.nx)) / 2, (a.y + b.y - r*(a.ny+b.ny)) / 2, math.Abs(r)}
		// Most proposals are nothing: a glance at a few directions tells.
		if s.weigh(&c, glanceSin, glanceCos, true); c.support < glanceSupport {
			continue
		}
		if s.weigh(&c, sin, cos, true); c.evidence > 0 {
			found = append(found, c)
		}
	}
	slices.SortFunc(found, func(a, b candidate) int { return cmp.Compare(b.evidence, a.evidence) })
	return found
}

// weightedPick draws edge points: every second one in proportion to its
// steepness, the others evenly, so that neither a dim limb beside a bright
// prominence nor a bright one in a rough picture is missed.
func weightedPick(edges []edgel, rng *rand.Rand) func() edgel {
	sum := make([]float64, len(edges))
	total := 0.0
	for i, e := range edges {
		total += e.m
		sum[i] = total
	}
	even := false
	return func() edgel {
		even = !even
		if even {
			return edges[rng.IntN(len(edges))]
		}
		i, _ := slices.BinarySearch(sum, rng.Float64()*total)
		return edges[min(i, len(edges)-1)]
	}
}

// beside is how far inside and outside of an edge, in shrunk pixels, the slope must
// have fallen off for it to be an edge and no mere shading.
const beside = 4

// weigh fills in evidence, support and arc. A quick look samples the nearest
// pixel, and counts no pixel that supports another circle.
func (s *slopes) weigh(c *candidate, sin, cos []float64, quick bool) {
	sign := c.sign()
	var sum float64
	within, held := 0, 0
	for i := range sin {
		x, y := c.x+c.r*cos[i], c.y+c.r*sin[i]
		if !s.inside(x, y) {
			continue
		}
		within++
		var gx, gy float64
		if quick {
			k := int(y+0.5)*s.w + int(x+0.5)
			if s.taken != nil && s.taken[k] {
				continue
			}
			gx, gy = float64(s.gx[k]), float64(s.gy[k])
		} else {
			gx, gy = s.at(x, y)
		}
		along := -sign * (gx*cos[i] + gy*sin[i])
		if along <= 0 {
			continue
		}
		around := max(s.along(c.circle, sign, sin[i], cos[i], -beside), s.along(c.circle, sign, sin[i], cos[i], beside))
		if around >= along {
			continue
		}
		v := along * along / (gx*gx + gy*gy) * along / (along + s.noise) * (1 - around/along)
		sum += v
		if v > 0.3 {
			held++
		}
	}
	length := 2 * math.Pi * c.r / float64(len(sin))
	if within > 0 {
		c.support = sum / float64(within)
	}
	c.arc = float64(held) / float64(len(sin))
	c.evidence = length * (sum - unsupportedCost*float64(within))
}

// along is how steeply brightness falls outward at a distance rho from a circle, by
// the nearest pixel; 0 where it rises or outside the picture.
func (s *slopes) along(c circle, sign, sinθ, cosθ, rho float64) float64 {
	x, y := c.at(sinθ, cosθ, rho)
	if !s.inside(x, y) {
		return 0
	}
	k := int(y+0.5)*s.w + int(x+0.5)
	return max(0, -sign*(float64(s.gx[k])*cosθ+float64(s.gy[k])*sinθ))
}

// settle moves a candidate to where the slopes along its radii are steepest.
func (s *slopes) settle(c *candidate) bool {
	n := int(max(64, min(200, 2*math.Pi*c.r)))
	sin, cos := lookAround(n)
	sign := c.sign()
	points := make([]departure, 0, n)
	for _, reach := range []float64{0.02*c.r + 2.5, 2.5, 2.5} {
		points = points[:0]
		step := max(0.5, reach/8)
		for i := range sin {
			x, y := c.at(sin[i], cos[i], -reach)
			dx, dy := step*cos[i], step*sin[i]
			best, at, before, after, last := 0.0, math.NaN(), 0.0, 0.0, 0.0
			for rho := -reach; rho <= reach; rho += step {
				along := 0.0
				if s.inside(x, y) {
					gx, gy := s.at(x, y)
					along = -sign * (gx*cos[i] + gy*sin[i])
				}
				if along > best {
					best, at, before, after = along, rho, last, 0
				} else if rho-at < 1.5*step {
					after = along
				}
				last = along
				x += dx
				y += dy
			}
			if best < 0.5*s.noise || math.Abs(at) > reach-step {
				continue
			}
			if bend := 2*best - before - after; bend > 0 {
				at += step * max(-0.5, min(0.5, 0.5*(after-before)/bend))
			}
			points = append(points, departure{sin[i], cos[i], at, min(best, 4*s.noise)})
		}
		d, _, ok := correct(points, circleTerms, 0.2)
		if !ok {
			return false
		}
		c.x, c.y, c.r = c.x+d[0], c.y+d[1], c.r+d[2]
		if c.r < 4 {
			return false
		}
	}
	s.weigh(c, sin, cos, false)
	return c.evidence > 0
}

// propose gives the distinct circles of the picture that have an edge along most
// of their length, best supported first. An edge point supports one of them only.
func (s *slopes) propose() []candidate {
	const mostTried, most = 24, 6
	sin, cos := lookAround(96)
	var settled []candidate
	tried := 0
	for _, c := range s.draw() {
		if tried >= mostTried || len(settled) >= most {
			break
		}
		s.weigh(&c, sin, cos, true)
		if c.evidence <= 0 || len(settled) > 0 && c.evidence < 0.15*settled[0].evidence {
			continue
		}
		tried++
		if !s.settle(&c) || slices.ContainsFunc(settled, func(o candidate) bool { return c.near(o.circle) && c.falling == o.falling }) {
			continue
		}
		settled = append(settled, c)
		s.claim(c.circle)
	}
	slices.SortFunc(settled, func(a, b candidate) int { return cmp.Compare(b.evidence, a.evidence) })
	return settled
}

// claim marks the pixels along a circle as taken.
func (s *slopes) claim(c circle) {
	if s.taken == nil {
		s.taken = make([]bool, s.w*s.h)
	}
	const reach = 3
	n := int(2*math.Pi*c.r) + 1
	sin, cos := lookAround(n)
	for i := range sin {
		for rho := -reach; rho <= reach; rho++ {
			x, y := c.at(sin[i], cos[i], float64(rho))
			if s.inside(x, y) {
				s.taken[int(y+0.5)*s.w+int(x+0.5)] = true
			}
		}
	}
}

// near says whether two circles are one, to the coarse search.
func (c circle) near(o circle) bool {
	const tolerance = 3
	return math.Abs(c.r-o.r) < tolerance && math.Hypot(c.x-o.x, c.y-o.y) < tolerance
}
