package limb

import (
	"math"
	"slices"
)

// rival is one of several round edges that may be the limb, and what it bounds. Levels
// are medians, textures the scatter of second differences along the edge.
//
//	cut            where it meets the rows, NaN where it does not
//	in, out        level just inside and just outside, up to the next rival
//	texIn, texOut  texture there
//	grainIn, ...   noise there: the scatter from one sample to the next
//	rim, peak      height of a bright ring along it over what lies on both sides, and
//	               its level
//	stands         share of the rows where something bright stands on it
//	cellsOut       samples that out and texOut rest on
//	spread         how far pieces of a soft edge disagree with it, px
//	chosen         taken for the limb by the search in the shrunk picture
type rival struct {
	ring
	cut                              []float64
	in, out                          float64
	texIn, texOut, grainIn, grainOut float64
	rim, peak, stands                float64
	cellsOut                         int
	spread                           float64
	chosen                           bool
}

// span is a stretch of a row, as distances from the outline.
type span struct{ from, to float64 }

// cutsOf gives where a circle meets each row.
func (s *surround) cutsOf(c circle) []float64 {
	cut := make([]float64, s.n)
	for i := range cut {
		cut[i] = math.NaN()
		if rho, ok := s.cut(c, i); ok && s.valid[i] {
			cut[i] = rho
		}
	}
	return cut
}

// columns of a span that lie in the picture.
func (s *surround) columns(i int, w span) (first, last int) {
	first = max(0, int(math.Ceil((w.from-s.from)/s.step)))
	last = min(s.cols-1, int(math.Floor((w.to-s.from)/s.step)))
	for ; last >= first; last-- {
		if x, y := s.at(s.sin[i], s.cos[i], s.rho(float64(last))); s.p.inside(x, y, marginPx) {
			break
		}
	}
	return first, last
}

// level is the median of what lies in the spans, and how many samples that is.
func (s *surround) level(of func(i int) (span, bool)) (float64, int) {
	var v []float64
	for i := range s.n {
		w, ok := of(i)
		if !ok {
			continue
		}
		first, last := s.columns(i, w)
		for k := first; k <= last; k++ {
			v = append(v, float64(s.v[i*s.cols+k]))
		}
	}
	n := len(v)
	return medianOf(v), n
}

// texture is the scatter of what lies in the spans, with what varies slowly taken out:
// of second differences between neighbouring rows at one distance from the edge, and
// between samples of a row.
func (s *surround) texture(edge []float64, of func(i int) (span, bool)) (along, grain float64) {
	var across, within []float64
	for i := range s.n {
		w, ok := of(i)
		if !ok {
			continue
		}
		a, b := (i+s.n-1)%s.n, (i+1)%s.n
		shiftA, shiftB := (edge[a]-edge[i])/s.step, (edge[b]-edge[i])/s.step
		first, last := s.columns(i, w)
		for k := first; k <= last; k++ {
			row := s.row(i)
			if k > first && k < last {
				within = append(within, math.Abs(float64(row[k-1]-2*row[k]+row[k+1])))
			}
			ka, kb := float64(k)+shiftA, float64(k)+shiftB
			if ka != ka || kb != kb || !s.valid[a] || !s.valid[b] || ka < 0 || kb < 0 || ka >= float64(s.cols-1) || kb >= float64(s.cols-1) {
				continue
			}
			across = append(across, math.Abs(float64(s.row(a)[int(ka+0.5)])-2*float64(row[k])+float64(s.row(b)[int(kb+0.5)])))
		}
	}
	const normal = 1.4826 / 2.449 // of a second difference's median absolute value
	return normal * medianOf(across), normal * medianOf(within)
}

// describe fills in what the rivals bound. Each is looked at as far as the next one.
func (s *surround) describe(rivals []rival) {
	margin := max(0.008*s.r, 2*s.step)
	for a := range rivals {
		q := &rivals[a]
		others := slices.Delete(slices.Clone(rivals), a, a+1)
		inside := func(i int) (span, bool) {
			w := span{q.cut[i] - 0.1*s.r, q.cut[i] - max(0.025*s.r, margin)}
			for _, o := range others {
				if o.cut[i] < q.cut[i]-margin {
					// The next one within: only what lies between; one that cuts the disc off
					// leaves nothing.
					if o.r < q.r {
						w.from = max(w.from, o.cut[i]+margin)
					} else {
						w.to = min(w.to, o.cut[i]-margin)
					}
				} else {
					w.to = min(w.to, o.cut[i]-margin)
				}
			}
			return w, w.from < w.to
		}
		outside := func(i int) (span, bool) {
			w := span{q.cut[i] + margin, q.cut[i] + 0.12*s.r}
			for _, o := range others {
				if o.cut[i] > q.cut[i] {
					w.to = min(w.to, o.cut[i]-margin)
				} else if o.r > q.r {
					return w, false // beyond what cuts the disc off
				}
			}
			return w, w.from < w.to
		}
		q.in, _ = s.level(inside)
		q.out, q.cellsOut = s.level(outside)
		q.texIn, q.grainIn = s.texture(q.cut, inside)
		q.texOut, q.grainOut = s.texture(q.cut, outside)
		if rim, _ := s.rimOf(q, others); rim > 0 {
			q.rim = rim
		}
		q.stands = s.standing(q, outside)
	}
}

// rimOf is how far the brightest just within an edge stands above both sides of it, and
// its level, by the medians of the directions; not where another rival is near. Along a
// rise it is how far it rises.
func (s *surround) rimOf(q *rival, others []rival) (rim, peak float64) {
	level := func(from, to float64) (v []float64) {
		for k := int(math.Floor(from * s.r / s.step)); k <= int(math.Ceil(to*s.r/s.step)); k++ {
			v = append(v, s.levelAlong(q, others, k))
		}
		return v
	}
	if q.polarity == 1 {
		peak = slices.Max(level(0, 0.015))
		return max(0, peak-median(level(-0.012, -0.004))), peak
	}
	within, ring, beyond := level(-0.03, -0.02), level(-0.015, 0), level(0.015, 0.025)
	peak = slices.Max(ring)
	return max(0, peak-max(median(within), median(beyond))), peak
}

// levelAlong is the median level at a number of steps from an edge.
func (s *surround) levelAlong(q *rival, others []rival, steps int) float64 {
	var v []float64
	for i := range s.n {
		k := int((q.cut[i]-s.from)/s.step+0.5) + steps
		if !s.valid[i] || q.cut[i] != q.cut[i] || k < 0 || k >= s.cols {
			continue
		}
		if slices.ContainsFunc(others, func(o rival) bool { return math.Abs(o.cut[i]-q.cut[i]) < 0.025*s.r }) {
			continue
		}
		v = append(v, float64(s.row(i)[k]))
	}
	if len(v) < 20 {
		return 0
	}
	return medianOf(v)
}

// standing is the share of the rows in which something much brighter than the light
// around stands on an edge, as a prominence does.
func (s *surround) standing(q *rival, outside func(i int) (span, bool)) float64 {
	var foot []float64
	for i := range s.n {
		w, ok := outside(i)
		if !ok || w.to-w.from < 2*s.step {
			continue
		}
		w.to = min(w.to, w.from+0.02*s.r)
		first, last := s.columns(i, w)
		if last < first {
			continue
		}
		sum := 0.0
		for k := first; k <= last; k++ {
			sum += float64(s.row(i)[k])
		}
		foot = append(foot, sum/float64(last-first+1))
	}
	if len(foot) < 40 {
		return 0
	}
	// Against its neighbourhood, since the light about the disc is uneven.
	var rest []float64
	const wide = 20
	for i := range foot {
		var near []float64
		for j := -wide; j <= wide; j++ {
			near = append(near, foot[(i+j+len(foot))%len(foot)])
		}
		rest = append(rest, foot[i]-medianOf(near))
	}
	size := make([]float64, len(rest))
	for i, v := range rest {
		size[i] = math.Abs(v)
	}
	limit := max(8*1.4826*medianOf(size), 0.03*math.Abs(q.in-q.out))
	n := 0
	for _, v := range rest {
		if v > limit {
			n++
		}
	}
	return float64(n) / float64(len(rest))
}
