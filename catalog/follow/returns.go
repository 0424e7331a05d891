package follow

import (
	"cmp"
	"math"
	"slices"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// Return links a passage to one that may be the same feature a rotation later.
//
//	Earlier, Later  indices of the passages
//	Odds            probability that they are the same feature
//	Days            between the last sighting of the one and the first of the other
//	MissLatDeg      how far the later lies from where the earlier would have turned
//	MissLonDeg      to, with its error: latitude, and longitude west positive
//	SigmaLatDeg
//	SigmaLonDeg
type Return struct {
	Earlier, Later          int
	Odds                    float64
	Days                    float64
	MissLatDeg, SigmaLatDeg float64
	MissLonDeg, SigmaLonDeg float64
}

// likelyReturn is the least odds with which a return is named.
const likelyReturn = 0.1

// Returns finds passages that may be earlier ones come back. A passage that was
// seen to go behind the west limb, or may have, is carried round by its law and its
// own rate; a passage that begins in the eastern half when it must have come back
// is weighed against what stands there by chance, and against the other passages
// that could be it. All pairs are weighed together by optimal assignment. Only
// links are given; passages stay what they are.
func Returns(passages []Passage) []Return {
	density := newBirths(passages)
	groups := gatherReturns(passages, &density)
	var out []Return
	for i := range groups {
		c := &groups[i]
		table := c.odds(1)
		for a := range c.heads {
			for b := range c.tails {
				if table[a][b] >= likelyReturn {
					r, _ := weighReturn(&passages[c.heads[a]], &passages[c.tails[b]], &density)
					r.Earlier, r.Later, r.Odds = c.heads[a], c.tails[b], table[a][b]
					out = append(out, r)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Return) int {
		return cmp.Or(cmp.Compare(a.Later, b.Later), cmp.Compare(b.Odds, a.Odds))
	})
	return out
}

// turnDays is a rotation as seen from the Earth, at Carrington's rate.
const turnDays = 360 / (ephemeris.CarringtonDegPerDay - 0.9856)

// weighReturn is the miss of a passage against an earlier one carried round, and
// the logarithm of the odds that it is its return against chance.
func weighReturn(early, late *Passage, density *births) (Return, float64) {
	impossible := math.Inf(-1)
	t := early.last.like.best()
	if late.first.like.best() != t {
		return Return{}, impossible
	}
	days := late.first.day - early.last.day
	// Unseen it must have gone from where it was last round to where it was first
	// seen again: once, and by the far side.
	turned := early.last.cmd + 360*days/turnDays
	if math.Abs(turned-360-late.first.cmd) > 40 || late.first.cmd > 60 || early.last.cmd < -60 {
		return Return{}, impossible
	}
	p := early.last.prior
	carried := early.last.at(late.first.day)
	r := Return{
		Days:       days,
		MissLatDeg: late.first.lat.x - carried.lat.x,
		MissLonDeg: wrap180(late.first.lon.x - carried.lon.x),
	}
	r.SigmaLatDeg = math.Sqrt(carried.lat.xx + late.first.lat.xx + p.motion.leapLat(days))
	r.SigmaLonDeg = math.Sqrt(carried.lon.xx + late.first.lon.xx + p.motion.leapLon(days) +
		coords.Square(days*p.law.SigmaDegPerDay(degrees(carried.lat.x))))
	place := normal(r.MissLatDeg, coords.Square(r.SigmaLatDeg)) * normal(r.MissLonDeg, coords.Square(r.SigmaLonDeg))
	// It must live on, as long as the record shows, but not much less long than is
	// known of its kind: in a short record much seems to die at the limb that only
	// went out of sight. Those that reach the limb live longer than the mean (13 %
	// of all regions are seen in two rotations or more, Mason & Kniezewski 2025, some
	// 40 % of those that cross the disc), and be seen again.
	const seenAgain, hardy = 0.9, 0.75
	dies := atMost(p.diesOld, usualPriors()[t].diesOld)
	comes := seenAgain * alive(hardy*dies, days)
	return r, math.Log(comes / (1 - comes) * place / density.at(t, late.first.lat.x))
}

// births is how many passages of a nature begin per rotation and square degree, by
// latitude: what a return is weighed against.
type births struct {
	lats  [natures][]float64 // sorted
	turns float64
}

func newBirths(passages []Passage) births {
	var b births
	from, to := math.Inf(1), math.Inf(-1)
	for i := range passages {
		t := passages[i].last.like.best()
		b.lats[t] = append(b.lats[t], passages[i].first.lat.x)
		from, to = min(from, passages[i].first.day), max(to, passages[i].last.day)
	}
	for t := range b.lats {
		slices.Sort(b.lats[t])
	}
	b.turns = max(1, (to-from)/turnDays)
	return b
}

// at counts in a band about the latitude.
func (b *births) at(t nature, lat float64) float64 {
	const halfBandDeg = 6
	first, _ := slices.BinarySearch(b.lats[t], lat-halfBandDeg)
	end, _ := slices.BinarySearch(b.lats[t], lat+halfBandDeg)
	return (float64(end-first) + 0.5) / (b.turns * 360 * 2 * halfBandDeg)
}

// gatherReturns splits passages into clusters of possible returns that do not touch. A
// passage is a head of one as what went, and a tail as what came.
func gatherReturns(passages []Passage, density *births) []cluster {
	order := make([]int, len(passages)) // by first day
	for i := range order {
		order[i] = i
	}
	all := slices.Clone(order)
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(passages[a].first.day, passages[b].first.day)
	})
	var went [natures][]int // in that order
	for _, i := range order {
		t := passages[i].last.like.best()
		went[t] = append(went[t], i)
	}
	var r room
	for _, b := range order {
		late := &passages[b]
		t := late.first.like.best()
		for len(went[t]) > 0 && passages[went[t][0]].first.day < late.first.day-2*turnDays {
			went[t] = went[t][1:]
		}
		for _, a := range went[t] {
			if passages[a].first.day >= late.first.day {
				break
			}
			if _, g := weighReturn(&passages[a], late, density); g > -negligible {
				r.pairs = append(r.pairs, pair{a, b, g})
			}
		}
	}
	return r.split(all, all)
}
