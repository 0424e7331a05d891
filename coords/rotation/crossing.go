package rotation

import (
	"math"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// Crossing is one way of a place over the disc. East and West are zero where the
// place neither rises nor sets, near a pole.
type Crossing struct {
	East, Meridian, West time.Time
}

// Crossing finds when a place on the photosphere, seen at an instant, comes in
// at the east edge, passes the central meridian and goes out at the west edge.
// turns chooses the crossing: 0 is the one whose meridian passage is the nearest
// (CMD −180° to 180° when seen), 1 the next, −1 the one before.
func (l Law) Crossing(h coords.Heliographic, seen time.Time, turns int) Crossing {
	turn := coords.Angle(turns) * 360 * coords.Degree
	east, rises := l.edge(h, seen, turn, -1)
	west, sets := l.edge(h, seen, turn, +1)
	c := Crossing{Meridian: l.WhenCMD(h, seen, turn)}
	if rises && sets {
		c.East, c.West = east, west
	}
	return c
}

// WhenCMD is when a place, seen at an instant, reaches a central meridian
// distance. The distance counts on without wrapping from where it stood, −180°
// to 180°, when seen: 360° is the meridian a turn later.
func (l Law) WhenCMD(h coords.Heliographic, seen time.Time, cmd coords.Angle) time.Time {
	return l.when(h, seen, func(time.Time) coords.Angle { return cmd })
}

// edge is when the place reaches the east (side −1) or the west edge (+1), and
// whether it does at all.
func (l Law) edge(h coords.Heliographic, seen time.Time, turn, side coords.Angle) (time.Time, bool) {
	ok := true
	at := l.when(h, seen, func(t time.Time) coords.Angle {
		var cmd coords.Angle
		cmd, ok = EdgeCMD(h.B, ephemeris.At(t))
		return turn + side*cmd
	})
	return at, ok
}

// when solves CMD(t) = target(t).
func (l Law) when(h coords.Heliographic, seen time.Time, target func(time.Time) coords.Angle) time.Time {
	start := ephemeris.At(seen).CMD(h)
	perDay := l.SynodicDegPerDay(h.B, seen)
	at := seen
	// The rate as seen from the Earth changes by under 1 % from step to step, so
	// four leave less than a second.
	for range 4 {
		missing := target(at) - start - l.CMDMove(h.B, seen, at)
		days := missing.Degrees() / perDay
		at = at.Add(time.Duration(days * 24 * float64(time.Hour)))
	}
	return at
}

// EdgeCMD is the central meridian distance at which the photosphere at a
// latitude meets the edge of the disc: sin B0 sin B + cos B0 cos B cos CMD =
// sin S, for an observer at a finite distance (S the semidiameter). ok is false
// where the latitude is in view, or hidden, all the way round.
func EdgeCMD(lat coords.Angle, face coords.Face) (cmd coords.Angle, ok bool) {
	sinB, cosB := lat.Sincos()
	sinB0, cosB0 := face.B0.Sincos()
	cos := (face.Semidiameter.Sin() - sinB0*sinB) / (cosB0 * cosB)
	if math.Abs(cos) > 1 {
		return 0, false
	}
	return coords.Acos(cos), true
}
