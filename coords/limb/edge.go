package limb

import (
	"math"
	"slices"
)

// stack is the mean profile of the given rows, each brought to the same levels
// inside and outside first. In every column the highest and lowest fifth are left
// out, so that prominences and spots do not count.
func (b *band) stack(rows []int) profile {
	p := profile{from: b.from, step: b.step, v: make([]float64, b.cols), radiusPx: b.r}
	const most = 400 // rows, for speed
	every := max(1, len(rows)/most)
	var gain, level []float64
	var picked []int
	for n := 0; n < len(rows); n += every {
		high, low := b.ends(rows[n])
		picked = append(picked, rows[n])
		gain = append(gain, high-low)
		level = append(level, low)
	}
	typical, base := median(gain), median(level)
	// Where the light beyond is as bright as the disc, the ring along the limb is what
	// stands above it.
	var height []float64
	for n, i := range picked {
		height = append(height, float64(slices.Max(b.row(i)))-level[n])
	}
	if top := median(height); typical < 0.25*top {
		typical, gain = top, height
	}
	if !(typical > 0) {
		typical = 1
	}
	column := make([]float64, 0, len(picked))
	for k := range p.v {
		column = column[:0]
		for n, i := range picked {
			if gain[n] > 0.25*typical {
				column = append(column, base+(float64(b.row(i)[k])-level[n])/gain[n]*typical)
			}
		}
		p.v[k] = trimmedMean(column, 0.2)
	}
	return p
}

// ends gives the mean levels over the innermost and outermost fifth of a row.
func (b *band) ends(i int) (high, low float64) {
	row := b.row(i)
	n := max(2, len(row)/5)
	for k := range n {
		high += float64(row[k])
		low += float64(row[len(row)-1-k])
	}
	return high / float64(n), low / float64(n)
}

// matched is a limb point.
//
//	row       direction that it was found in
//	contrast  of the row, in units of the mean profile's
//	misfit    rms of what the mean profile leaves of the row, in the picture's units
type matched struct {
	departure
	row              int
	contrast, misfit float64
}

// match finds, for each row, how far the mean profile t must be shifted outward to
// fit, with the row's own contrast and level: a matched filter, by Gauss–Newton
// steps of fitting A·t(ρ − δ) + B. Only the columns between in and out are looked at.
func (b *band) match(t profile, rows []int, in, out float64) []matched {
	first := max(1, int(math.Ceil((in-t.from)/t.step)))
	last := min(len(t.v)-2, int(math.Floor((out-t.from)/t.step)))
	found := make([]matched, 0, len(rows))
	if last-first < 4 {
		return found
	}
	n := last - first + 1
	slope := make([]float64, len(t.v))
	for k := 1; k < len(t.v)-1; k++ {
		slope[k] = (t.v[k+1] - t.v[k-1]) / (2 * t.step)
	}
	at := func(v []float64, k float64) float64 {
		i := max(0, min(len(v)-2, int(k)))
		return v[i] + (k-float64(i))*(v[i+1]-v[i])
	}
	limit := 0.5 * (out - in)
	for _, i := range rows {
		row := b.row(i)
		shift, contrast, misfit := 0.0, 0.0, 0.0
		ok := true
		for iter := 0; iter < 4 && ok; iter++ {
			s := newNormal(3)
			off := shift / t.step
			for k := first; k <= last; k++ {
				s.add([]float64{at(t.v, float64(k)-off), -at(slope, float64(k)-off), 1}, float64(row[k]))
			}
			x, _, solved := s.solve(0)
			if !solved || x[0] <= 0 {
				ok = false
				break
			}
			move := x[1] / x[0]
			if move > limit || move < -limit {
				ok = false
				break
			}
			shift += move
			contrast = x[0]
			if math.Abs(move) < 0.02*t.step || iter == 3 {
				rss := 0.0
				off := shift / t.step
				for k := first; k <= last; k++ {
					d := float64(row[k]) - x[0]*at(t.v, float64(k)-off) - x[2]
					rss += d * d
				}
				misfit = math.Sqrt(rss / float64(n))
				break
			}
		}
		if ok && math.Abs(shift) < limit {
			found = append(found, matched{departure{b.sin[i], b.cos[i], shift, 1}, i, contrast, misfit})
		}
	}
	return found
}

// sound drops the rows that the mean profile does not describe: those of little
// contrast and those of a shape of their own (prominences, spots, captions, the
// border of the frame).
func sound(found []matched) []matched {
	contrast := make([]float64, len(found))
	misfit := make([]float64, len(found))
	for i, f := range found {
		contrast[i], misfit[i] = f.contrast, f.misfit/f.contrast
	}
	typical, rough := median(contrast), median(misfit)
	kept := found[:0]
	for i, f := range found {
		if contrast[i] > 0.2*typical && misfit[i] < max(4*rough, 0.15) {
			kept = append(kept, f)
		}
	}
	return kept
}
