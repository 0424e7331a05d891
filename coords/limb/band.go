package limb

import "math"

// band is the picture around an outline, unrolled: one row a direction, one column
// a step of the distance from it.
//
//	outline       that the distances count from
//	sin, cos      of the rows' directions (0 right, growing toward down)
//	from, step    distance of column 0 and between columns, px
//	v             levels, turned over when brightness rises outward, so that the
//	              limb always falls; row-major, cols to a row
//	valid         the row lies in the frame as far as it must
type band struct {
	outline
	sin, cos   []float64
	from, step float64
	cols       int
	v          []float32
	valid      []bool
}

func (b *band) row(i int) []float32   { return b.v[i*b.cols : (i+1)*b.cols] }
func (b *band) rho(k float64) float64 { return b.from + k*b.step }

// reach says how far a band goes inward and outward of its outline, how far
// outward it must lie in the frame (beyond, the last level is continued), and how
// fine it is sampled; in px.
type reach struct {
	in, out, must, step float64
}

// marginPx is kept to the edge of the frame, where interpolation, sharpening and
// stacking leave false edges.
const marginPx = 1

// unroll samples n directions. Each row is the mean over neighbouring rays some
// pixel apart, up to maxRays, so that no light in the band is wasted and texture
// is averaged out.
func (p *plane) unroll(o outline, sign float64, n, maxRays int, by reach) *band {
	b := &band{outline: o, from: -by.in, step: by.step, cols: int((by.in+by.out)/by.step) + 1}
	b.sin, b.cos = lookAround(n)
	b.v = make([]float32, n*b.cols)
	b.valid = make([]bool, n)
	width := 2 * math.Pi / float64(n)
	rays := max(1, min(maxRays, int(math.Round(width*o.r))))
	sign32 := float32(sign)
	sure := int((by.in + by.must) / by.step)
	for i := range n {
		centre := width * float64(i)
		b.valid[i] = true
		row := b.row(i)
		for ray := range rays {
			sinθ, cosθ := b.sin[i], b.cos[i]
			if rays > 1 {
				sinθ, cosθ = math.Sincos(centre + width*((float64(ray)+0.5)/float64(rays)-0.5))
			}
			x0, y0 := o.at(sinθ, cosθ, -by.in)
			x1, y1 := o.at(sinθ, cosθ, by.must)
			if !p.inside(x0, y0, marginPx) || !p.inside(x1, y1, marginPx) {
				b.valid[i] = false
				break
			}
			dx, dy := by.step*cosθ, by.step*sinθ
			var v float32
			for k := range row {
				if k <= sure || p.inside(x0, y0, marginPx) {
					v = p.at(x0, y0)
				}
				row[k] += v
				x0 += dx
				y0 += dy
			}
		}
		scale := sign32 / float32(rays)
		for k := range row {
			row[k] *= scale
		}
	}
	return b
}

// steepest looks in each row for the place where brightness falls most steeply,
// after smoothing by a Gaussian of the given sigma (the derivative-of-Gaussian
// edge detector, Canny 1986, IEEE PAMI 8, 679). Rows whose steepest place falls
// at the end of the band, or is much fainter than the median, give none.
func (b *band) steepest(sigmaPx float64) (points []departure, rows []int) {
	half := int(math.Ceil(3 * sigmaPx / b.step))
	kernel := make([]float64, 2*half+1)
	for k := range kernel {
		t := float64(k-half) * b.step / sigmaPx
		kernel[k] = t * math.Exp(-t*t/2)
	}
	slope := make([]float64, b.cols)
	heights := []float64{}
	for i, valid := range b.valid {
		if !valid {
			continue
		}
		row := b.row(i)
		for k := half; k < b.cols-half; k++ {
			s := 0.0
			for j, w := range kernel {
				s -= w * float64(row[k+j-half])
			}
			slope[k] = s
		}
		best := -1
		for k := half + 1; k < b.cols-half-1; k++ {
			if slope[k] > 0 && slope[k] >= slope[k-1] && slope[k] > slope[k+1] && (best < 0 || slope[k] > slope[best]) {
				best = k
			}
		}
		if best < 0 {
			continue
		}
		bend := 2*slope[best] - slope[best-1] - slope[best+1]
		off := 0.5 * (slope[best+1] - slope[best-1]) / bend
		points = append(points, departure{b.sin[i], b.cos[i], b.rho(float64(best) + off), 1})
		rows = append(rows, i)
		heights = append(heights, slope[best])
	}
	least := 0.1 * median(heights)
	kept := 0
	for i := range points {
		if heights[i] > least {
			points[kept], rows[kept] = points[i], rows[i]
			kept++
		}
	}
	return points[:kept], rows[:kept]
}
