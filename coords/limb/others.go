package limb

import "math"

// clearPx is how far beyond a limb another edge begins to be seen before its middle.
const clearPx = 2

// beyond is how far beyond the outline another circle lies in a direction; far within it
// where the direction does not meet it.
func (t *tracker) beyond(o circle, sinθ, cosθ float64) float64 {
	dx, dy := o.x-t.x, o.y-t.y
	along := dx*cosθ + dy*sinθ
	across2 := dx*dx + dy*dy - along*along
	if across2 >= o.r*o.r {
		return math.Inf(-1)
	}
	return along + math.Sqrt(o.r*o.r-across2) - t.radius(sinθ, cosθ)
}

// unroll takes the band about the outline. Where another round edge runs through it, the
// level before it is continued; rows in which one comes too near, or which a larger circle
// has cut off, are left out.
func (t *tracker) unroll(n, maxRays int, by reach) *band {
	b := t.p.unroll(t.outline, t.sign, n, maxRays, by)
	for _, o := range t.others {
		for i := range b.valid {
			gap := t.beyond(o, b.sin[i], b.cos[i])
			row := b.row(i)
			switch {
			case !b.valid[i]:
			case o.r >= t.r && gap < by.must+clearPx, o.r < t.r && gap > -by.must-clearPx:
				b.valid[i] = false
			case gap > 0:
				last := min(len(row)-1, int((gap-clearPx-b.from)/b.step))
				for k := last + 1; k < len(row); k++ {
					row[k] = row[last]
				}
			default:
				first := max(0, int((gap+clearPx-b.from)/b.step)+1)
				for k := range min(first, len(row)) {
					row[k] = row[min(first, len(row)-1)]
				}
			}
		}
	}
	return b
}
