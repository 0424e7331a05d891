package follow

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Sighting is one mark as the follower needs it.
//
//	ID       names the mark in the result; it has no influence on it
//	Kind     what the observer called it
//	UTC      instant of the frame; marks of one instant and Frame are seen together
//	Frame    tells frames of one instant apart; may be empty
//	Face     the Sun as it was turned at UTC
//	Place    where it was measured, with the error of the measurement
//	Shape    its spine, or its outline when Closed; nil for a point
//	Pinned   the passage into which the observer put it; empty: the program may choose
type Sighting struct {
	ID     string
	Kind   catalog.Kind
	UTC    time.Time
	Frame  string
	Face   coords.Face
	Place  coords.Measured
	Shape  []coords.Heliographic
	Closed bool
	Pinned string
}

// Validate says what is wrong with a sighting, or nil.
func (s Sighting) Validate() error {
	b, l := s.Place.B.Degrees(), s.Place.L.Degrees()
	switch {
	case s.Kind < catalog.Sunspot || s.Kind > catalog.Other:
		return fmt.Errorf("sighting %q has no kind", s.ID)
	case s.UTC.IsZero():
		return fmt.Errorf("sighting %q has no time", s.ID)
	case math.IsNaN(b) || math.IsInf(b, 0) || math.Abs(b) > 90 || math.IsNaN(l) || math.IsInf(l, 0):
		return fmt.Errorf("sighting %q lies at latitude %g°, longitude %g°: not a place on the Sun", s.ID, b, l)
	case !(s.Place.Cov.BB > 0) || !(s.Place.Cov.LL > 0):
		return fmt.Errorf("sighting %q has no error of its place", s.ID)
	}
	return nil
}

// daysOf counts days, with fraction, from the year 2000.
func daysOf(t time.Time) float64 {
	return float64(t.Unix()-946684800)/86400 + float64(t.Nanosecond())/86400e9
}

// canonical orders sightings by what they are, never by how they are called, so
// that the result cannot depend on ids or on the order of arrival. Two
// sightings that compare equal are alike in all that the follower looks at.
func canonical(a, b Sighting) int {
	return cmp.Or(
		a.UTC.Compare(b.UTC),
		cmp.Compare(a.Kind, b.Kind),
		cmp.Compare(a.Place.B, b.Place.B),
		cmp.Compare(a.Place.L.Wrap360(), b.Place.L.Wrap360()),
		cmp.Compare(a.Place.Cov.LL, b.Place.Cov.LL),
		cmp.Compare(a.Place.Cov.BB, b.Place.Cov.BB),
		cmp.Compare(len(a.Shape), len(b.Shape)),
		slices.CompareFunc(a.Shape, b.Shape, func(p, q coords.Heliographic) int {
			return cmp.Or(cmp.Compare(p.B, q.B), cmp.Compare(p.L, q.L))
		}),
	)
}
