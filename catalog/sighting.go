package catalog

import (
	"cmp"
	"math"
	"slices"

	"limbwatch/coords"
)

// Sighting is one thing seen at one sitting, however often it was marked there: on
// a surface and on a limb exposure, on a single- and on a double-stacked one, or on
// frames an hour apart. Counts go by sightings.
//
//	Sitting  zero for marks from elsewhere, each of which is a sighting of its own
//	Entries  the marks, in the order in which they came
//	Best     the index among them of the one whose position is best known
type Sighting struct {
	Sitting SittingID
	Entries []Entry
	Best    int
}

// GroupSightings puts marks of the same thing together.
//
// Two marks are one sighting when the observer says so (SameAs), or when they are
// joined to the same passage, in the same sitting. Otherwise they are when they are
// of one sitting, of one kind, on different frames, not joined to different
// passages, and nearer to each other than three standard errors: those of both
// positions and of what is meant by the middle of such a thing. The nearest pairs
// are joined first, and never two marks of one frame, on which the observer told
// them apart.
func GroupSightings(entries []Entry) []Sighting {
	g := grouping{entries: entries, one: Oneness{}.Apart(len(entries)), byMark: map[MarkID]int{}}
	bySitting := map[SittingID][]int{}
	for i, e := range entries {
		g.byMark[e.Mark.ID] = i
		if e.Frame.Sitting != 0 {
			bySitting[e.Frame.Sitting] = append(bySitting[e.Frame.Sitting], i)
		}
	}
	for _, members := range bySitting {
		g.joinSaid(members)
		g.joinNear(members)
	}
	return g.sightings()
}

// grouping finds which entries are one.
type grouping struct {
	entries []Entry
	one     Oneness
	byMark  map[MarkID]int
}

// joinSaid joins what the observer, or the same passage, says is one.
func (g *grouping) joinSaid(members []int) {
	ofPassage := map[PassageID]int{}
	for _, i := range members {
		e := g.entries[i]
		if j, ok := g.byMark[e.Mark.SameAs]; ok && g.entries[j].Frame.Sitting == e.Frame.Sitting {
			g.one.Join(i, j)
		}
		if e.Join == nil {
			continue
		}
		if j, seen := ofPassage[e.Join.Passage]; seen {
			g.one.Join(i, j)
		}
		ofPassage[e.Join.Passage] = i
	}
}

// joinNear joins what lies together, nearest first.
func (g *grouping) joinNear(members []int) {
	type pair struct {
		i, j   int
		sigmas float64
	}
	var pairs []pair
	for n, i := range members {
		for _, j := range members[:n] {
			a, b := &g.entries[i], &g.entries[j]
			if a.Mark.Kind != b.Mark.Kind || a.Frame.ID == b.Frame.ID {
				continue
			}
			if sigmas := apart(a, b); sigmas < 3 {
				pairs = append(pairs, pair{i, j, sigmas})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.sigmas, b.sigmas) })
	groups := map[int][]int{} // by their roots
	for _, i := range members {
		groups[g.one.Of(i)] = append(groups[g.one.Of(i)], i)
	}
	for _, p := range pairs {
		a, b := g.one.Of(p.i), g.one.Of(p.j)
		if a != b && g.compatible(groups[a], groups[b]) {
			g.one.Join(a, b)
			groups[g.one.Of(a)] = slices.Concat(groups[a], groups[b])
		}
	}
}

// compatible says whether two groups have no frame in common and no two passages.
func (g *grouping) compatible(one, other []int) bool {
	for _, m := range one {
		for _, n := range other {
			x, y := &g.entries[m], &g.entries[n]
			if x.Frame.ID == y.Frame.ID || x.Join != nil && y.Join != nil && x.Join.Passage != y.Join.Passage {
				return false
			}
		}
	}
	return true
}

// middleSigma is how far two marks of the same thing lie apart because nobody knows
// where its middle is (common practice, no source).
var middleSigma = map[Kind]coords.Angle{
	Sunspot: 0.5 * coords.Degree, Plage: 1.5 * coords.Degree, Filament: 1.5 * coords.Degree,
	Prominence: 1.5 * coords.Degree, Other: 1 * coords.Degree,
}

// apart is the distance of two marks of a kind in standard errors, along the
// direction in which they differ; infinite when it cannot be told.
func apart(a, b *Entry) float64 {
	middle := float64(middleSigma[a.Mark.Kind])
	p, q := a.Position, b.Position
	if p.Disc != nil && q.Disc != nil {
		return sigmasApart(p.Disc.Measured, q.Disc.Measured, middle)
	}
	if p.Edge != nil && q.Edge != nil {
		common, smaller := overlap(*p.Edge, *q.Edge)
		if common >= 0 {
			// The whole may be drawn on one frame and a part on the other, so the
			// middles say little; the more in common, the nearer.
			return 1 - float64(common/max(smaller, common, 1e-9))
		}
		variance := p.Edge.SigmaPA.Squared() + q.Edge.SigmaPA.Squared() + middle*middle
		return 1 + float64(-common)/math.Sqrt(variance)
	}
	m, inA := p.Reading()
	n, inB := q.Reading()
	if inA && inB {
		return sigmasApart(m, n, middle)
	}
	return math.Inf(1)
}

// overlap is by how much two stretches of the limb overlap, negative for a gap, and
// how long the smaller one is.
func overlap(a, b AtEdge) (common, smaller coords.Angle) {
	halfA, halfB := (a.To-a.From).Wrap360()/2, (b.To-b.From).Wrap360()/2
	between := (a.From + halfA - b.From - halfB).Wrap180().Abs()
	smaller = 2 * min(halfA, halfB)
	return min(smaller, halfA+halfB-between), smaller
}

// sigmasApart is the Mahalanobis distance of two places on the tangent plane.
func sigmasApart(a, b coords.Measured, middle float64) float64 {
	cosB := max(((a.B + b.B) / 2).Cos(), 0.01)
	db, dl := float64(a.B-b.B), float64((a.L-b.L).Wrap180())*cosB
	c := a.Cov.Plus(b.Cov)
	bb, ll, bl := c.BB+middle*middle, c.LL*cosB*cosB+middle*middle, c.BL*cosB
	determinant := bb*ll - bl*bl
	if determinant <= 0 {
		return math.Inf(1)
	}
	return math.Sqrt((db*db*ll - 2*db*dl*bl + dl*dl*bb) / determinant)
}

// sightings gathers the groups in the order of their first entries.
func (g *grouping) sightings() []Sighting {
	at := map[int]int{}
	var out []Sighting
	for i, e := range g.entries {
		root := g.one.Of(i)
		n, seen := at[root]
		if !seen {
			n = len(out)
			at[root] = n
			out = append(out, Sighting{Sitting: e.Frame.Sitting})
		}
		out[n].Entries = append(out[n].Entries, e)
	}
	for i := range out {
		for j, e := range out[i].Entries {
			if uncertainty(e) < uncertainty(out[i].Entries[out[i].Best]) {
				out[i].Best = j
			}
		}
	}
	return out
}

// uncertainty orders entries by how well their position is known; one without an
// error is taken as worse than any with.
func uncertainty(e Entry) float64 {
	if m, ok := e.Position.Reading(); ok {
		if m.Cov.BB > 0 && m.Cov.LL > 0 {
			return m.Cov.BB + m.Cov.LL
		}
		return 1e6
	}
	if e.Position.Edge != nil && e.Position.Edge.SigmaPA > 0 {
		return e.Position.Edge.SigmaPA.Squared()
	}
	return math.Inf(1)
}
