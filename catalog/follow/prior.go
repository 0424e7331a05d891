package follow

import (
	"math"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

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

// form is what was marked of a feature: how far its centre moves of itself hangs on it.
type form int

// The forms. A passage that is marked now in this form, now in that, moves as a loose
// one does from the one to the other.
const (
	loose  form = iota // a point that stands for a whole whose parts come and go, or for nobody knows what
	single             // one spot
	drawn              // a spine or an outline, whose size tells how far its middle can go
	forms
)

// formOf is how a sighting was marked.
func formOf(s *Sighting) form {
	switch {
	case s.Kind == catalog.Sunspot && s.Extent == catalog.SingleSpot:
		return single
	case len(s.Shape) >= 2:
		return drawn
	}
	return loose
}

// with is the form of a step between two marks.
func (f form) with(o form) form {
	if f == o {
		return f
	}
	return loose
}

// tracers are the words by which rotation.PriorOf knows the natures.
var tracers = [natures]string{spot: "sunspot", plage: "plage", cloud: "filament", other: "other"}

// prior is what is known of a nature of feature before any of them is followed.
// Angles are degrees on the Sun, one standard deviation where they are errors.
//
//	law           mean rotation
//	rateSigma     single features about the law, degrees a day
//	driftSigma    single features' motion in latitude, degrees a day
//	centre        how far two people put the middle of a small mark apart; a mark
//	              with a shape adds a part of its length
//	motion        how the centre moves beside that
//	lifetime      how it dies
//	limbDeg       central meridian distance at which half of them are still seen
type prior struct {
	law                   rotation.Law
	rateSigma, driftSigma float64
	centre, perLength     float64
	motion                motion
	lifetime
	limbDeg float64
	company company
}

// motion is how the centre of a feature moves of itself, as it grows, decays and
// is seen in parts.
//
//	wander  random walk, degrees in one day: longitude, latitude
//	jump    a part of the feature died, or was seen for the first time; its chance
//	        is that of one day
//	slip    it was measured or drawn quite differently
//	bySize  of what was drawn: jumps, and shifts at the limb, go no farther than this
//	        part of its extent, and half a degree; 0: they go as far as they go
//	limb    near the limb the far part of a feature goes out of sight (or comes up
//	        behind the near one): at either limb the centre of what is seen moves
//	        east, by limbEast ± limb.lon; and in latitude, for groups are tilted
type motion struct {
	wanderLon, wanderLat float64
	jump, slip, limb     leap
	limbEast             float64
	bySize               float64
}

// leap is a sudden move of a centre between two sightings: with what chance, and
// how far, degrees.
type leap struct{ chance, lon, lat float64 }

// assumed is the prior of each nature. Law, scatter of rates and centre are those
// of rotation.PriorOf, which gives their sources.
//
// Of spots, motion and company were fitted to the links of one number in the daily
// tables of groups, Greenwich 1905, 1937, 1957 and 1964 and NOAA 1981, 2000 and 2014,
// by the likelihood of the odds and by wrong and missed links. Chosen on six years and
// judged on the seventh, they leave 5 in 100 fewer wrong and missed links than those
// they replaced: all that can be had of them, for around the best everything is flat.
// Lifetimes were counted there (a third of the groups seen for the first time
// well inside the disc are not seen again on the next day; half live under two days,
// Nagovitsyn 2019). Plage and clouds have no such tables: their figures are those of
// spots, widened because their middles are defined less well, and that new ones keep
// some 5° off their likes is assumed (common practice, no source); lifetimes after van
// Driel-Gesztelyi & Green 2015 (plage: weeks to rotations) and Diercke 2018
// (filaments: days to weeks). What a record shows of its own goes before all of this
// (learn.go).
//
// How single spots move was read off the groups of one spot of the Kislovodsk station
// (438 pairs a day apart, 55° from the meridian and less): from the law they lie 0.27°
// apart in longitude (1.48 times the median), 0.95° in nine of ten, 1.6° in 95 and 3.7° in 99
// of a hundred; groups of five and more 0.72°, 1.4°, 1.8° and 2.7°. The far ones among
// these pairs are other spots of the region: one and the same spot does not move to
// another place and stay there, so that leap is as good as forbidden. New spots come up
// near old ones as well as elsewhere. What was drawn cannot move farther than its size
// lets it; the part is common practice, no source.
func assumed(law *rotation.Law) (all [natures][forms]prior) {
	for t, p := range assumedLoose(law) {
		one, line := p, p
		if nature(t) == spot {
			one.centre, one.perLength = 0.15, 0.05
			one.motion.wanderLon, one.motion.wanderLat = 0.15, 0.1
			one.motion.jump, one.motion.slip = leap{0.08, 1, 0.5}, leap{0.0001, 3.5, 2.3}
			one.motion.limb, one.motion.limbEast = leap{0.17, 1.5, 0.8}, 0
			one.company = company{far: 0.3, near: 0, deg: 4}
		}
		line.motion.bySize = 0.3
		all[t] = [forms]prior{loose: p, single: one, drawn: line}
	}
	return all
}

func assumedLoose(law *rotation.Law) [natures]prior {
	apart := company{far: 1.5, near: 0.9, deg: 5}
	out := [natures]prior{
		spot: {
			motion: motion{
				wanderLon: 0.36, wanderLat: 0.22,
				jump: leap{0.38, 2.3, 0.55}, slip: leap{0.013, 3.2, 2.9},
				limb: leap{0.17, 4, 2.1}, limbEast: 1.5,
			},
			lifetime: lifetime{diesYoung: 0.3, diesOld: 0.08, youth: 2.6}, limbDeg: 80,
			company: company{far: 0.27, near: 0.76, deg: 8.3},
		},
		plage: {
			motion: motion{
				wanderLon: 0.5, wanderLat: 0.35,
				jump: leap{0.2, 2.5, 1.5}, slip: leap{0.01, 7, 4},
				limb: leap{0.15, 3, 1}, limbEast: 3,
			},
			lifetime: lifetime{diesYoung: 0.15, diesOld: 0.03, youth: 3}, limbDeg: 82,
			company: apart,
		},
		cloud: {
			motion: motion{
				wanderLon: 0.6, wanderLat: 0.5,
				jump: leap{0.2, 3.5, 2.5}, slip: leap{0.01, 7, 4},
				limb: leap{0.15, 3, 1.5}, limbEast: 3,
			},
			lifetime: lifetime{diesYoung: 0.25, diesOld: 0.08, youth: 3}, limbDeg: 86,
			company: apart,
		},
		other: {
			motion: motion{
				wanderLon: 0.7, wanderLat: 0.5,
				jump: leap{0.2, 3.5, 2.5}, slip: leap{0.01, 7, 4},
				limb: leap{0.15, 3, 1.5}, limbEast: 3,
			},
			lifetime: lifetime{diesYoung: 0.3, diesOld: 0.1, youth: 3}, limbDeg: 84,
			company: apart,
		},
	}
	for t := range out {
		p, known := &out[t], rotation.PriorOf(tracers[t])
		p.law, p.rateSigma, p.driftSigma = known.Law, known.RateSigmaDegPerDay, known.DriftSigmaDegPerDay
		p.centre, p.perLength = known.CentreSigmaDeg, known.CentrePerLength
		if nature(t) == spot { // groups: their two ends, at two latitudes, decay unevenly; same tables
			p.driftSigma, p.centre = 0.12, 0.4
		}
		if law != nil {
			p.law = *law
		}
	}
	return out
}

// drift is the drift in Carrington longitude at a latitude, degrees a day.
func (p *prior) drift(latDeg float64) float64 { return driftDegPerDay(p.law, latDeg) }

func driftDegPerDay(l rotation.Law, latDeg float64) float64 {
	return l.CarringtonDriftDegPerDay(degrees(latDeg))
}

// varLon is the variance in longitude of a sighting's centre, square degrees:
// the measurement's and what comes with the thing itself. Near the limb the
// hidden side of a feature stands behind the seen one, and its centre is that of
// the part in view: the error grows with the foreshortening.
func (p *prior) varLon(n *node) float64 {
	return n.varLon + coords.Square(p.perLength*n.size.lon) + coords.Square(p.centre*n.stretch)
}

// varLat is the same in latitude.
func (p *prior) varLat(n *node) float64 {
	return n.varLat + coords.Square(p.perLength*n.size.lat) + coords.Square(p.centre)
}

// way is one way in which the centre may have moved, beside wandering, between two
// sightings: its chance, the shift in longitude, its variances.
type way struct{ chance, shift, varLon, varLat float64 }

const (
	ways   = 4
	widest = 2
)

// extent is the size of what was marked in latitude and longitude, degrees; 0 for a point.
type extent struct{ lat, lon float64 }

// or is the larger in both.
func (e extent) or(o extent) extent { return extent{max(e.lat, o.lat), max(e.lon, o.lon)} }

// ways lists the ways from a sighting at one central meridian distance to one some
// days later at another, the larger of which has an extent: none, jumps, a slip, a
// shift at the limb. Jumps come with the changes of the feature: the more days, the more
// likely one or several.
func (p *prior) ways(earlyCMD, lateCMD, days float64, size extent) [ways]way {
	const limbDeg, softDeg = 68, 4
	m := p.motion.within(size)
	limb := 0.0
	if nearer := max(-earlyCMD, lateCMD); nearer > limbDeg-10*softDeg {
		limb = m.limb.chance / (1 + math.Exp((limbDeg-nearer)/softDeg))
	}
	jumps := m.jump.chance * days // expected
	jump := 1 - math.Exp(-jumps)
	several := jumps / max(jump, 1e-9)
	calm := 1 - m.slip.chance - limb
	return [ways]way{
		{calm * (1 - jump), 0, 0, 0},
		{calm * jump, 0, several * coords.Square(m.jump.lon), several * coords.Square(m.jump.lat)},
		{m.slip.chance, 0, coords.Square(m.slip.lon), coords.Square(m.slip.lat)},
		{limb, -m.limbEast, coords.Square(m.limb.lon), coords.Square(m.limb.lat)},
	}
}

// within is the motion of a thing of that size.
func (m motion) within(size extent) motion {
	const least = 0.5
	if m.bySize == 0 {
		return m
	}
	for _, l := range []*leap{&m.jump, &m.limb} {
		l.lat = min(l.lat, least+m.bySize*size.lat)
		l.lon = min(l.lon, least+m.bySize*size.lon)
	}
	return m
}

// leapLon is the mean variance that leaps add in longitude in some days, away from
// the limb.
func (m *motion) leapLon(days float64) float64 {
	return m.jump.chance*days*coords.Square(m.jump.lon) + m.slip.chance*coords.Square(m.slip.lon)
}

// leapLat is the same in latitude.
func (m *motion) leapLat(days float64) float64 {
	return m.jump.chance*days*coords.Square(m.jump.lat) + m.slip.chance*coords.Square(m.slip.lat)
}

// inView is the chance that a living feature at this central meridian distance
// can be seen at all. Somewhat beyond the limb a small chance is left, as far as a
// clock or a table may be off: published records give places there.
func (p *prior) inView(cmdDeg float64) float64 {
	const softDeg, beyondDeg, beyond = 4, 105, 0.075
	c := math.Abs(cmdDeg)
	view := 1 / (1 + math.Exp((c-p.limbDeg)/softDeg))
	if c < beyondDeg {
		view += beyond * (1 - view)
	}
	return view
}

// stir multiplies how far a centre moves of itself by rough, and how often it
// leaps by jumpy.
func (m *motion) stir(rough, jumpy float64) {
	m.wanderLon *= rough
	m.wanderLat *= rough
	m.limbEast *= rough
	for _, l := range []*leap{&m.jump, &m.slip, &m.limb} {
		l.chance *= jumpy
		l.lon *= rough
		l.lat *= rough
	}
}
