package follow

import (
	"math"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// Coming is where and when a passage's feature is to be looked for.
//
//	At        the instant that was asked for
//	Place     there, with its error
//	CMD       its central meridian distance, west positive
//	InView    it stands on the near side
//	Alive     chance that it still is
//	Meridian, WestEdge, EastEdge  when it next crosses the central meridian, goes
//	          round the west edge, and comes round the east one
//	BackMeridian, BackWestEdge    the same after it came round the east edge
type Coming struct {
	At                           time.Time
	Place                        coords.Measured
	CMD                          coords.Angle
	InView                       bool
	Alive                        float64
	Meridian, WestEdge, EastEdge Event
	BackMeridian, BackWestEdge   Event
}

// Event is an instant with its standard error, that of the prediction, and the
// chance that the feature still is then. It is not Known where the latitude is in
// view, or hidden, all the way round.
type Event struct {
	Known bool
	UTC   time.Time
	Sigma time.Duration
	Alive float64
}

// Coming tells where the passage's feature is at an instant after its first
// sighting, and what comes next. The edges are those of the photosphere; what
// stands high is seen beyond them, earlier in the east and longer in the west.
func (p *Passage) Coming(at time.Time) Coming {
	here := p.Predict(at)
	face := ephemeris.At(at)
	c := Coming{At: at, Place: here.Place, CMD: face.CMD(here.Place.Heliographic), Alive: here.Alive}
	edge, goesRound := rotation.EdgeCMD(here.Place.B, face)
	c.InView = goesRound && c.CMD.Abs() < edge || !goesRound && here.Place.B*face.B0 > 0
	meridian := func(coords.Angle, coords.Face) (coords.Angle, bool) { return 0, true }
	c.Meridian = p.next(at, meridian)
	c.WestEdge = p.next(at, rotation.EdgeCMD)
	c.EastEdge = p.next(at, func(lat coords.Angle, face coords.Face) (coords.Angle, bool) {
		edge, ok := rotation.EdgeCMD(lat, face)
		return -edge, ok
	})
	if back := c.EastEdge; back.Known {
		c.BackMeridian, c.BackWestEdge = p.next(back.UTC, meridian), p.next(back.UTC, rotation.EdgeCMD)
	}
	return c
}

// course is where the passage's feature was at an instant between its sightings, as
// all of them have it: what they say from before and from after, each weighted by
// how well it knows.
func (p *Passage) course(t time.Time) coords.Measured {
	day := daysOf(t)
	if day <= p.first.day || day >= p.last.day {
		return p.Predict(t).Place
	}
	before, after := p.first.at(day), p.last.at(day)
	near := wrap180(after.lon.x - before.lon.x)
	wb, wa := 1/before.lon.xx, 1/after.lon.xx
	before.lon.x += near * wa / (wa + wb)
	before.lon.xx = min(before.lon.xx, after.lon.xx)
	wb, wa = 1/before.lat.xx, 1/after.lat.xx
	before.lat.x += (after.lat.x - before.lat.x) * wa / (wa + wb)
	before.lat.xx = min(before.lat.xx, after.lat.xx)
	return before.measured()
}

// next is when the feature is at a distance from the central meridian for the first
// time after an instant.
func (p *Passage) next(after time.Time, target func(coords.Angle, coords.Face) (coords.Angle, bool)) Event {
	const turnDegPerDay = 13.2 // mean synodic motion of L0, 13.17 to 13.24
	rate, _ := p.Rate()
	speed := turnDegPerDay + rate
	const enoughDays = 1e-7 // events are told to the minute
	days := 0.0
	var here Prediction
	// The way that is left, taken over and over: L0 moves almost evenly.
	for step := range 6 {
		at := after.Add(time.Duration(days * 24 * float64(time.Hour)))
		here = p.Predict(at)
		face := ephemeris.At(at)
		goal, ok := target(here.Place.B, face)
		if !ok {
			return Event{}
		}
		left := wrap180((goal - face.CMD(here.Place.Heliographic)).Degrees())
		if step == 0 && left < 0 {
			left += 360
		}
		days += left / speed
		if math.Abs(left/speed) < enoughDays {
			break
		}
	}
	sigmaDays := here.Place.Cov.SigmaL().Degrees() / speed
	return Event{
		Known: true,
		UTC:   after.Add(time.Duration(days * 24 * float64(time.Hour))).Round(time.Minute),
		Sigma: time.Duration(sigmaDays * 24 * float64(time.Hour)).Round(time.Minute),
		Alive: here.Alive,
	}
}
