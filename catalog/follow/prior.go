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
		Law:         Law{14.47, -2.66, 0},
		RateScatter: 0.25, DriftScatter: 0.08,
		WanderLon: 0.7, WanderLat: 0.3,
		CentreLon: 0.35, CentreLat: 0.25,
		Jumps: 0.08, JumpLon: 3, JumpLat: 1.3,
		DiesYoung: 0.33, DiesOld: 0.06, Youth: 3,
		LimbDeg: 80,
	},
	plage: {
		Law:         Law{14.61, -2.18, -1.10},
		RateScatter: 0.2, DriftScatter: 0.08,
		WanderLon: 0.7, WanderLat: 0.4,
		CentreLon: 1.0, CentreLat: 0.6,
		Jumps: 0.05, JumpLon: 4, JumpLat: 2,
		DiesYoung: 0.15, DiesOld: 0.03, Youth: 3,
		LimbDeg: 82,
	},
	cloud: {
		Law:         Law{14.42, -1.40, -1.33},
		RateScatter: 0.25, DriftScatter: 0.1,
		WanderLon: 0.6, WanderLat: 0.5,
		CentreLon: 1.0, CentreLat: 0.8,
		Jumps: 0.1, JumpLon: 5, JumpLat: 3,
		DiesYoung: 0.25, DiesOld: 0.08, Youth: 3,
		LimbDeg: 86,
	},
	other: {
		Law:         Law{14.38, -2.77, 0},
		RateScatter: 0.3, DriftScatter: 0.15,
		WanderLon: 0.7, WanderLat: 0.5,
		CentreLon: 1.0, CentreLat: 0.8,
		Jumps: 0.1, JumpLon: 4, JumpLat: 3,
		DiesYoung: 0.3, DiesOld: 0.1, Youth: 3,
		LimbDeg: 84,
	},
}

// centreVar is the variance of a sighting's centre that comes with the thing
// itself, square degrees, in longitude or in latitude. Near the limb the hidden
// side of a feature stands behind the seen one, and its centre is that of the
// part in view: the error grows with the foreshortening.
func (p *Prior) centreVar(n *node, lon bool) float64 {
	if lon {
		c := p.CentreLon * n.stretch
		return c*c + n.shapeLon
	}
	return p.CentreLat*p.CentreLat + n.shapeLat
}

// hazard is the chance a day to die after having been seen for so long.
func (p *Prior) hazard(lasted float64) float64 {
	return p.DiesOld + (p.DiesYoung-p.DiesOld)*math.Exp(-lasted/p.Youth)
}

// inView is the chance that a living feature at this central meridian distance
// can be seen at all.
func (p *Prior) inView(cmdDeg float64) float64 {
	const softDeg = 4
	return 1 / (1 + math.Exp((math.Abs(cmdDeg)-p.LimbDeg)/softDeg))
}

// Habits are the ways of an observer, or of a whole record.
//
//	Misses       chance that a feature seen last time is missed in the next frame
//	MissesAgain  chance that one missed last time is missed once more
//	Mistakes     chance that a mark is of the wrong kind
//	Company      how much denser new features stand near old ones than elsewhere
type Habits struct {
	Misses, MissesAgain, Mistakes, Company float64
}
