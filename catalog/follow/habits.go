package follow

import (
	"math"
	"time"
)

// Habits are the ways of a record: of its observer, or of several whose marks came
// together, each in their time.
type Habits struct {
	Eras []Era // in order of time
}

// Era is a part of a record with the habits of its observer.
//
//	From, To     first and last sighting
//	Misses       chance that a feature seen last time is missed in the next frame
//	MissesAgain  chance that one missed last time is missed once more
//	Mistakes     chance that a mark is of the wrong kind
//	Misplaced    chance that a mark stands in quite a wrong place
//	Fortunes     what differs from one nature of feature to another
type Era struct {
	From, To                                 time.Time
	Misses, MissesAgain, Mistakes, Misplaced float64
	Fortunes                                 [natures]Fortune
}

// at is the index of the era of an instant, or of the nearest.
func (h Habits) at(t time.Time) int {
	best, bestOff := 0, time.Duration(math.MaxInt64)
	for i, e := range h.Eras {
		if off := max(e.From.Sub(t), t.Sub(e.To)); off < bestOff {
			best, bestOff = i, off
		}
	}
	return best
}

// Fortune is how one nature of feature fares in a record.
//
//	Rough      factor on how far the prior lets a centre move of itself
//	Jumpy      factor on how often it jumps
//	DiesYoung  chance a day of a newly seen feature not to be seen any more
//	DiesOld    the same of one long seen
type Fortune struct {
	Rough, Jumpy, DiesYoung, DiesOld float64
}

// usual are the habits of a careful observer. Marking rules, instruments and
// persons differ, so they are only where learning begins (common practice, no
// source).
func usual(priors *[natures][forms]prior) Era {
	e := Era{Misses: 0.06, MissesAgain: 0.4, Mistakes: 0.02, Misplaced: 0.004}
	for t := range e.Fortunes {
		e.Fortunes[t] = Fortune{Rough: 1, Jumpy: 1, DiesYoung: priors[t][loose].diesYoung, DiesOld: priors[t][loose].diesOld}
	}
	return e
}

// under is the prior as an era's habits have it.
func (p prior) under(f Fortune) prior {
	p.motion.stir(f.Rough, f.Jumpy)
	p.diesYoung, p.diesOld = f.DiesYoung, f.DiesOld
	return p
}

// company is how new features stand to old ones. What appears within a few degrees of
// a feature is counted to it, by the rules for spots as for anything else (groups are
// separate when some 10° apart in longitude or 5° in latitude: a help, not a law):
// there new ones are rarer by near, fading over some degrees. Elsewhere they are as
// many as the mean density times far; less than it where a good part of the mean are
// features that come round the limb.
type company struct{ far, near, deg float64 }

// fresh is the factor on the density of new features at a distance from where an
// old one is expected.
func (c *company) fresh(lat, lon float64) float64 {
	return c.far * (1 - c.near*math.Exp(-(lat*lat+lon*lon)/(2*c.deg*c.deg)))
}

// newbornInView is the factor on the density of new features toward the west limb:
// what is new is small, and small things go out of sight before the limb. (At the
// east limb what comes in sight first is not new.) In the Greenwich tables new
// groups are three times rarer from 55° west on.
func newbornInView(cmdDeg float64) float64 {
	const halfDeg, softDeg, least = 60, 6, 0.15
	return least + (1-least)/(1+math.Exp((cmdDeg-halfDeg)/softDeg))
}
