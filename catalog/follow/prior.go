package follow

import (
	"math"

	"limbwatch/catalog"
)

// Law is differential rotation, sidereal: A + B sin²b + C sin⁴b degrees a day.
type Law struct{ A, B, C float64 }

// carringtonDegPerDay is the sidereal rate of Carrington's system, 360°/25.38 d.
const carringtonDegPerDay = 360 / 25.38

// driftDegPerDay is the drift in Carrington longitude at a latitude in degrees.
func (l Law) driftDegPerDay(latDeg float64) float64 {
	sin := math.Sin(latDeg * math.Pi / 180)
	s2 := sin * sin
	return l.A + s2*(l.B+s2*l.C) - carringtonDegPerDay
}

// Prior is what is known of a kind of feature before any of them is followed.
// Angles are degrees on the Sun, one standard deviation where they are errors.
//
//	Law           mean rotation
//	RateScatter   single features about the law, degrees a day
//	DriftScatter  single features' motion in latitude, degrees a day
//	WanderLon     random walk of the centre in one day, as a feature grows and
//	WanderLat     decays unevenly
//	CentreLon     how far two people differ in where the centre of a point-like
//	CentreLat     mark lies; marks with a shape add a part of its size
//	Jumps         chance that the centre jumps between two sightings, a part of the
//	JumpLon       feature having died or been seen for the first time, and how far
//	JumpLat
//	LimbJumps     the same near the limb, where the far part of a feature goes out
//	LimbShift     of sight (or comes up behind the near one): at either limb the
//	LimbSpread    centre of what is seen moves east by LimbShift ± LimbSpread
//	DiesYoung     chance a day of a newly seen feature to die
//	DiesOld       the same once it has lasted much longer than Youth days
//	Youth
//	LimbDeg       central meridian distance at which half of them are still seen
type Prior struct {
	Law                       Law
	RateScatter, DriftScatter float64
	WanderLon, WanderLat      float64
	CentreLon, CentreLat      float64
	Jumps, JumpLon, JumpLat   float64

	LimbJumps, LimbShift, LimbSpread float64
	Slips, SlipLon, SlipLat          float64

	DiesYoung, DiesOld, Youth float64
	LimbDeg                   float64
}

// nature is what a feature truly is; filament and prominence are one cloud.
type nature int

const (
	spot nature = iota
	plage
	cloud
	other
	natures
)

var natureOf = map[catalog.Kind]nature{
	catalog.Sunspot: spot, catalog.Plage: plage, catalog.Filament: cloud,
	catalog.Prominence: cloud, catalog.Other: other,
}

var priors = [natures]Prior{
	spot: {
		Law:         Law{14.5, -2.66, 0},
		RateScatter: 0.25, DriftScatter: 0.08,
		WanderLon: 0.45, WanderLat: 0.22,
		CentreLon: 0.1, CentreLat: 0.1,
		Jumps: 0.33, JumpLon: 1.55, JumpLat: 0.82,
		LimbJumps: 0.18, LimbShift: 2.3, LimbSpread: 2.5,
		Slips: 0.013, SlipLon: 4.2, SlipLat: 2.2,
		DiesYoung: 0.3, DiesOld: 0.08, Youth: 3,
		LimbDeg: 80,
	},
	plage: {
		Law:         Law{14.61, -2.18, -1.10},
		RateScatter: 0.2, DriftScatter: 0.08,
		WanderLon: 0.7, WanderLat: 0.4,
		CentreLon: 1.0, CentreLat: 0.6,
		Jumps: 0.05, JumpLon: 4, JumpLat: 2,
		LimbJumps: 0.15, LimbShift: 4, LimbSpread: 3,
		Slips: 0.01, SlipLon: 7, SlipLat: 4,
		DiesYoung: 0.15, DiesOld: 0.03, Youth: 3,
		LimbDeg: 82,
	},
	cloud: {
		Law:         Law{14.42, -1.40, -1.33},
		RateScatter: 0.25, DriftScatter: 0.1,
		WanderLon: 0.6, WanderLat: 0.5,
		CentreLon: 1.0, CentreLat: 0.8,
		Jumps: 0.1, JumpLon: 5, JumpLat: 3,
		LimbJumps: 0.15, LimbShift: 4, LimbSpread: 3,
		Slips: 0.01, SlipLon: 7, SlipLat: 4,
		DiesYoung: 0.25, DiesOld: 0.08, Youth: 3,
		LimbDeg: 86,
	},
	other: {
		Law:         Law{14.38, -2.77, 0},
		RateScatter: 0.3, DriftScatter: 0.15,
		WanderLon: 0.7, WanderLat: 0.5,
		CentreLon: 1.0, CentreLat: 0.8,
		Jumps: 0.1, JumpLon: 4, JumpLat: 3,
		LimbJumps: 0.15, LimbShift: 4, LimbSpread: 3,
		Slips: 0.01, SlipLon: 7, SlipLat: 4,
		DiesYoung: 0.3, DiesOld: 0.1, Youth: 3,
		LimbDeg: 84,
	},
}

// varLon is the variance in longitude of a sighting's centre, square degrees:
// the measurement's and what comes with the thing itself. Near the limb the
// hidden side of a feature stands behind the seen one, and its centre is that of
// the part in view: the error grows with the foreshortening.
func (p *Prior) varLon(n *node) float64 { return n.varLon + n.shapeLon + sq(p.CentreLon*n.stretch) }

// varLat is the same in latitude.
func (p *Prior) varLat(n *node) float64 { return n.varLat + n.shapeLat + sq(p.CentreLat) }

// leap is one way in which the centre may have moved, apart from wandering,
// between two sightings: with what chance, how far in longitude, how variably.
type leap struct{ logChance, shift, varLon, varLat float64 }

const leaps = 4

// leaps lists the ways from a sighting at one central meridian distance to a
// later one at another: none, a jump, a shift at the limb.
func (p *Prior) leaps(earlyCMD, lateCMD float64) [leaps]leap {
	const limbDeg, softDeg = 68, 4
	limb := p.LimbJumps / (1 + math.Exp((limbDeg-max(-earlyCMD, lateCMD))/softDeg))
	return [leaps]leap{
		{math.Log(1 - p.Jumps - limb - p.Slips), 0, 0, 0},
		{math.Log(p.Jumps), 0, p.JumpLon * p.JumpLon, p.JumpLat * p.JumpLat},
		{math.Log(limb), -p.LimbShift, p.LimbSpread * p.LimbSpread, p.JumpLat * p.JumpLat / 4},
		{math.Log(p.Slips), 0, p.SlipLon * p.SlipLon, p.SlipLat * p.SlipLat},
	}
}

// hazard is the chance a day to die after having been seen for so long.
func (p *Prior) hazard(lasted float64) float64 {
	return p.DiesOld + (p.DiesYoung-p.DiesOld)*math.Exp(-lasted/p.Youth)
}

// inView is the chance that a living feature at this central meridian distance
// can be seen at all. Beyond the limb a small chance is left as far as a clock or
// a table may be off (records give places beyond it).
func (p *Prior) inView(cmdDeg float64) float64 {
	const softDeg = 4
	c := math.Abs(cmdDeg)
	view := 1 / (1 + math.Exp((c-p.LimbDeg)/softDeg))
	if c < 105 {
		view = Floor + (1-Floor)*view
	}
	return view
}

var Floor = 0.075
var Apart, ApartDeg = 0.85, 5.0

// Habits are the ways of an observer, or of a whole record.
//
//	Misses       chance that a feature seen last time is missed in the next frame
//	MissesAgain  chance that one missed last time is missed once more
//	Mistakes     chance that a mark is of the wrong kind
//	Misplaced    chance that a mark stands in quite a wrong place
//	Company      how much denser new features stand near old ones than elsewhere
//	Ways         what differs from one nature to another
type Habits struct {
	Misses, MissesAgain, Mistakes, Misplaced, Company float64
	Ways                                              [natures]Ways
}

// Ways are the habits of marking, and the fortunes, of one nature of feature.
//
//	Rough      factor on how far the prior lets a centre wander and jump
//	Jumpy      factor on how often it jumps
//	DiesYoung  in place of the prior's
//	DiesOld
type Ways struct {
	Rough, Jumpy, DiesYoung, DiesOld float64
}

// stir multiplies all by which a centre moves of itself, and how often it jumps.
func (p *Prior) stir(rough, jumpy float64) {
	p.Jumps *= jumpy
	p.LimbJumps *= jumpy
	p.Slips *= jumpy
	for _, v := range []*float64{
		&p.WanderLon, &p.WanderLat, &p.JumpLon, &p.JumpLat, &p.SlipLon, &p.SlipLat, &p.LimbShift, &p.LimbSpread,
	} {
		*v *= rough
	}
}

// with is the prior under some ways.
func (p Prior) with(w Ways) Prior {
	p.stir(w.Rough, w.Jumpy)
	p.DiesYoung, p.DiesOld = w.DiesYoung, w.DiesOld
	return p
}
