package follow

import (
	"cmp"
	"math"
	"slices"

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
	order := make([]int, len(passages)) // by first day
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(passages[a].first.day, passages[b].first.day)
	})
	groups := gather(passages, order, func(a, b int) (Return, float64) {
		return weighReturn(&passages[a], &passages[b], density)
	})
	var out []Return
	for _, c := range groups {
		table := c.odds(1)
		for a := range c.heads {
			for b := range c.tails {
				if table[a][b] >= likelyReturn {
					r, _ := weighReturn(&passages[c.heads[a]], &passages[c.tails[b]], density)
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
func weighReturn(early, late *Passage, density births) (Return, float64) {
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
	p := &early.prior
	carried := early.last.at(late.first.day, p)
	r := Return{
		Days:       days,
		MissLatDeg: late.first.lat.x - carried.lat.x,
		MissLonDeg: wrap180(late.first.lon.x - carried.lon.x),
	}
	r.SigmaLatDeg = math.Sqrt(carried.lat.xx + late.first.lat.xx + p.motion.leapLat(days))
	r.SigmaLonDeg = math.Sqrt(carried.lon.xx + late.first.lon.xx + p.motion.leapLon(days) +
		sq(days*p.law.SigmaDegPerDay(degrees(carried.lat.x))))
	place := normal(r.MissLatDeg, sq(r.SigmaLatDeg)) * normal(r.MissLonDeg, sq(r.SigmaLonDeg))
	// It must live on, as long as the record shows, but not much less long than is
	// known of its kind: in a short record much seems to die at the limb that only
	// went out of sight. Those that reach the limb live longer than the mean (13 %
	// of all regions are seen in two rotations or more, Mason & Kniezewski 2025, some
	// 40 % of those that cross the disc), and be seen again.
	const seenAgain, hardy = 0.9, 0.75
	dies := min(p.diesOld, mostHazard*usualPriors()[t].diesOld)
	comes := seenAgain * math.Exp(-hardy*dies*days)
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

// gather splits passages into clusters of possible returns that do not touch.
func gather(passages []Passage, order []int, weigh func(a, b int) (Return, float64)) []cluster {
	type pair struct {
		a, b int
		gain float64
	}
	var pairs []pair
	group := map[int]int{}
	var root func(int) int
	root = func(x int) int {
		if g, known := group[x]; known && g != x {
			return root(g)
		}
		return x
	}
	start := 0
	for _, b := range order {
		for start < len(order) && passages[order[start]].first.day < passages[b].first.day-2*turnDays {
			start++
		}
		for _, a := range order[start:] {
			if passages[a].first.day >= passages[b].first.day {
				break
			}
			if _, g := weigh(a, b); g > -negligible {
				pairs = append(pairs, pair{a, b, g})
				// A passage is a head and a tail: 2a and 2b+1 keep the roles apart.
				if x, y := root(2*a), root(2*b+1); x != y {
					group[max(x, y)] = min(x, y)
				}
			}
		}
	}
	at := map[int]int{}
	var out []cluster
	for _, p := range pairs {
		g := root(2 * p.a)
		if _, known := at[g]; !known {
			at[g] = len(out)
			out = append(out, cluster{})
		}
		out[at[g]].add(p.a, p.b, p.gain)
	}
	return out
}
