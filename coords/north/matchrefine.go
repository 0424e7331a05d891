package north

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// The refinement divides the disc into squares about the size of an active
// region with its plage, 17° at the middle. Each is looked for in the new picture by itself, within so many cells
// of where it should stand.
const (
	blockCells = 60
	blockReach = 14
	blockSide  = 2*blockReach + 1
)

// How far a block may lie off its place without the picture being turned: spots
// and plage wander by growth and decay (rotation.PriorOf "sunspot": 0.65° and
// 0.36° in a day, growing with the root of time), laws of rotation disagree, the
// more the farther from the equator (by 0.2° a day at 20°, 0.7° at 50° between
// those of filaments and of magnetic features), and what stands high is displaced.
func (m *Match) wander(lat coords.Angle) (lon, north float64) {
	days := math.Abs(m.Days)
	law := (0.1 + 0.8*lat.Sin()*lat.Sin()) * days
	return math.Hypot(0.65*math.Sqrt(days), law) * math.Pi / 180, 0.36 * math.Sqrt(days) * math.Pi / 180
}

// block is what one square of the disc says about where its pattern lies.
//
//	likely       likelihood of each move (right, down) in cells, about 0 in the middle
//	turn         how it moves, in cells, when the picture is turned by a radian
//	west         how it moves when the pattern moves west by a radian
//	sinLat       sine of its latitude
type block struct {
	likely     [blockSide * blockSide]float64
	turn, west [2]float64
	sinLat     float64
}

// refine sharpens the best roll and finds its error. Every block has a likelihood
// of lying off its place by so much, widened by the motion it may have of its own.
// A turn of the picture, a shift of the whole pattern in longitude and one in
// proportion to the sine of the latitude (no law is exact) are weighed against all
// of them on a grid; the roll is the mean of what is likely, whatever the shifts.
func (m *Match) refine(c *carriedDisc, now *pattern, maxSigma coords.Angle) error {
	blocks := m.look(c, now)
	if len(blocks) < 8 {
		return &IndecisiveError{"too little of the disc is seen in both pictures", *m}
	}
	days := math.Abs(m.Days)
	const (
		turns, turnStep   = 50, 0.06 // each way, degrees
		shifts, shiftStep = 5, 0.6   // each way, standard errors
	)
	sigmaShift, sigmaShear := math.Hypot(0.2*days, 0.1), math.Hypot(0.4*days, 0.1)
	var weight [2*turns + 1]float64
	var logs [2*turns + 1][]float64
	most := math.Inf(-1)
	for t := -turns; t <= turns; t++ {
		angle := float64(t) * turnStep * math.Pi / 180
		for s := -shifts; s <= shifts; s++ {
			for h := -shifts; h <= shifts; h++ {
				zs, zh := float64(s)*shiftStep, float64(h)*shiftStep
				if zs*zs+zh*zh > 9 {
					continue
				}
				shift, shear := zs*sigmaShift*math.Pi/180, zh*sigmaShear*math.Pi/180
				sum := -(zs*zs + zh*zh) / 2
				for i := range blocks {
					sum += blocks[i].log(angle, shift+shear*blocks[i].sinLat)
				}
				logs[t+turns] = append(logs[t+turns], sum)
				most = max(most, sum)
			}
		}
	}
	var total, mean, square float64
	for t := range logs {
		for _, l := range logs[t] {
			weight[t] += math.Exp(l - most)
		}
		x := float64(t-turns) * turnStep
		total += weight[t]
		mean += weight[t] * x
		square += weight[t] * x * x
	}
	mean /= total
	sigma := math.Sqrt(math.Max(0, square/total-mean*mean))
	if edge := (weight[0] + weight[2*turns]) / total; edge > 1e-4 {
		return &IndecisiveError{fmt.Sprintf("the roll hangs on too little: it may as well be %.0f° off", turns*turnStep), *m}
	}
	m.North.Angle = (m.North.Angle + coords.Angle(mean)*coords.Degree).Wrap360()
	// A picture is never better aligned than its sampling and its limb allow.
	const floor = 0.05
	m.North.Sigma = coords.Angle(math.Hypot(sigma, floor)) * coords.Degree
	if m.North.Sigma > maxSigma {
		return &IndecisiveError{fmt.Sprintf("the roll is uncertain by %.2f°, %.2f° at most is wanted", m.North.Sigma.Degrees(), maxSigma.Degrees()), *m}
	}
	return nil
}

// look finds the likelihoods of all blocks.
func (m *Match) look(c *carriedDisc, now *pattern) []block {
	expected := c.expected(m.North)
	view := c.newView
	view.North = m.North
	centre := math.Hypot(
		c.oldView.Limb.Cov.SigmaCentrePx()/c.oldView.Limb.RadiusPx,
		c.newView.Limb.Cov.SigmaCentrePx()/c.newView.Limb.RadiusPx) * cellsPerRadius
	var blocks []block
	for y := 0; y+blockCells <= patternSize; y += blockCells {
		for x := 0; x+blockCells <= patternSize; x += blockCells {
			u, v := unitOf(x+blockCells/2), unitOf(y+blockCells/2)
			if math.Hypot(u, v) > outermost-0.05 {
				continue
			}
			place := view.Place(view.Limb.At(u, v), 0, disc.Height{})
			if place.Where != disc.OnDisc {
				continue
			}
			b := block{sinLat: place.Photosphere.B.Sin()}
			if !b.search(expected, now, x, y) {
				continue
			}
			b.turn = [2]float64{v * cellsPerRadius, -u * cellsPerRadius}
			var north [2]float64
			b.west = moveWith(view, place.Photosphere.Heliographic, coords.Heliographic{L: 1})
			north = moveWith(view, place.Photosphere.Heliographic, coords.Heliographic{B: 1})
			lon, lat := m.wander(place.Photosphere.B)
			b.widen(b.west, north, lon, lat, math.Hypot(centre, 0.3))
			blocks = append(blocks, b)
		}
	}
	return blocks
}

// moveWith is by how many cells a place moves in the picture for a radian along.
func moveWith(view disc.View, at, along coords.Heliographic) [2]float64 {
	const d = 1e-4
	p, _ := view.Project(at, 0)
	q, _ := view.Project(coords.Heliographic{B: at.B + d*along.B, L: at.L + d*along.L}, 0)
	u0, v0 := view.Limb.Unit(p)
	u1, v1 := view.Limb.Unit(q)
	return [2]float64{(u1 - u0) / d * cellsPerRadius, (v1 - v0) / d * cellsPerRadius}
}

// expected is the carried pattern as a picture of the new time, lying as n says.
func (c *carriedDisc) expected(n coords.North) *pattern {
	p := &pattern{value: make([]float32, patternSize*patternSize), known: make([]float32, patternSize*patternSize)}
	for iy := range patternSize {
		for ix := range patternSize {
			u, v := unitOf(ix), unitOf(iy)
			r := math.Hypot(u, v)
			if r > outermost {
				continue
			}
			if value, ok := c.at(n.PositionAngle(u, v), r); ok {
				i := iy*patternSize + ix
				p.value[i], p.known[i] = float32(value), 1
			}
		}
	}
	return p
}

// search correlates the new picture's square at cells x, y with the expected
// pattern around its place. The likelihood of a correlation ρ over n independent
// pieces goes as (1 − ρ²)^(−n/2). It is false where too little is known.
func (b *block) search(expected, now *pattern, x, y int) bool {
	const every = 2 // cells; the blur is as wide
	sum := 0.0
	for dy := -blockReach; dy <= blockReach; dy++ {
		for dx := -blockReach; dx <= blockReach; dx++ {
			var s sums
			for cy := y; cy < y+blockCells; cy += every {
				ey := cy - dy
				if ey < 0 || ey >= patternSize {
					continue
				}
				for cx := x; cx < x+blockCells; cx += every {
					ex := cx - dx
					if ex < 0 || ex >= patternSize {
						continue
					}
					i, j := ey*patternSize+ex, cy*patternSize+cx
					if expected.known[i] == 0 || now.known[j] == 0 {
						continue
					}
					s.add(float64(expected.value[i]), float64(now.value[j]))
				}
			}
			const full = blockCells * blockCells / (every * every)
			if s.n < full/2 {
				if dx == 0 && dy == 0 {
					return false
				}
				b.set(dx, dy, 1)
				sum++
				continue
			}
			pieces := s.n * every * every / (4 * math.Pi * fineCells * fineCells)
			rho := max(0, min(0.99, s.correlation()))
			l := math.Pow(1-rho*rho, -pieces/2)
			b.set(dx, dy, l)
			sum += l
		}
	}
	mean := sum / (blockSide * blockSide)
	for i := range b.likely {
		b.likely[i] /= mean
	}
	return true
}

func (b *block) set(dx, dy int, v float64) {
	b.likely[(dy+blockReach)*blockSide+dx+blockReach] = v
}

// sums are what a correlation is made of.
type sums struct{ n, a, b, aa, bb, ab float64 }

func (s *sums) add(a, b float64) {
	s.n++
	s.a += a
	s.b += b
	s.aa += a * a
	s.bb += b * b
	s.ab += a * b
}

func (s *sums) correlation() float64 {
	va, vb := s.aa-s.a*s.a/s.n, s.bb-s.b*s.b/s.n
	if va <= 0 || vb <= 0 {
		return 0
	}
	return (s.ab - s.a*s.b/s.n) / math.Sqrt(va*vb)
}

// widen blurs the likelihood by the motion that the block may have of its own
// (a Gaussian, of so many radians along two directions and still cells any way),
// and leaves a chance that the block shows something else altogether.
func (b *block) widen(west, north [2]float64, lon, lat, still float64) {
	const astray = 0.2
	wx, wy, nx, ny := west[0]*lon, west[1]*lon, north[0]*lat, north[1]*lat
	xx, yy, xy := wx*wx+nx*nx+still*still, wy*wy+ny*ny+still*still, wx*wy+nx*ny
	det := xx*yy - xy*xy
	kernel := make([]float64, (2*blockSide-1)*(2*blockSide-1))
	at := func(dx, dy int) int { return (dy+blockSide-1)*(2*blockSide-1) + dx + blockSide - 1 }
	for dy := 1 - blockSide; dy < blockSide; dy++ {
		for dx := 1 - blockSide; dx < blockSide; dx++ {
			x, y := float64(dx), float64(dy)
			kernel[at(dx, dy)] = math.Exp(-0.5*(yy*x*x-2*xy*x*y+xx*y*y)/det) / (2 * math.Pi * math.Sqrt(det))
		}
	}
	var out [blockSide * blockSide]float64
	for fy := range blockSide {
		for fx := range blockSide {
			l := b.likely[fy*blockSide+fx]
			if l < 1e-4 {
				continue
			}
			for ty := range blockSide {
				row := kernel[at(-fx, ty-fy):]
				for tx := range blockSide {
					out[ty*blockSide+tx] += l * row[tx]
				}
			}
		}
	}
	for i := range out {
		b.likely[i] = math.Log(astray + (1-astray)*out[i])
	}
}

// log is the logarithm of the block's likelihood, when the picture is turned by
// an angle and the pattern has moved west by another (radians).
func (b *block) log(turn, west float64) float64 {
	x := turn*b.turn[0] + west*b.west[0] + blockReach
	y := turn*b.turn[1] + west*b.west[1] + blockReach
	x, y = max(0, min(x, blockSide-1.001)), max(0, min(y, blockSide-1.001))
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*blockSide + ix
	top := b.likely[i]*(1-fx) + b.likely[i+1]*fx
	low := b.likely[i+blockSide]*(1-fx) + b.likely[i+blockSide+1]*fx
	return top*(1-fy) + low*fy
}
