package follow

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
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
//	Extent   of a sunspot: whether a whole group was marked or a single spot
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
	Extent catalog.Extent
	Pinned string
}

// Validate says what is wrong with a sighting, or nil.
func (s Sighting) Validate() error {
	switch {
	case s.Kind < catalog.Sunspot || s.Kind > catalog.Other:
		return &UnfitError{IDs: []string{s.ID}, Why: "has no kind"}
	case s.UTC.IsZero():
		return &UnfitError{IDs: []string{s.ID}, Why: "has no time"}
	case !onSun(s.Place.Heliographic):
		return &UnfitError{IDs: []string{s.ID}, Why: "lies at " + placeText(s.Place.Heliographic) + ": not a place on the Sun"}
	case !(s.Place.Cov.BB > 0) || !(s.Place.Cov.LL > 0):
		return &UnfitError{IDs: []string{s.ID}, Why: "has no error of its place"}
	}
	for _, h := range s.Shape {
		if !onSun(h) {
			return &UnfitError{IDs: []string{s.ID}, Why: "has a shape with a point at " + placeText(h) + ": not a place on the Sun"}
		}
	}
	return nil
}

func onSun(h coords.Heliographic) bool {
	return h.B.Abs() <= 90*coords.Degree && !math.IsNaN(float64(h.L)) && !math.IsInf(float64(h.L), 0)
}

func placeText(h coords.Heliographic) string {
	return fmt.Sprintf("latitude %g°, longitude %g°", h.B.Degrees(), h.L.Degrees())
}

// UnfitError names the sightings, by their ids, with which following comes to no
// sensible end, and says why.
//
//	Noun  what the ids are of; empty: sightings
type UnfitError struct {
	Noun string
	IDs  []string
	Why  string
}

func (e *UnfitError) Error() string {
	return fmt.Sprintf("%s %s %s", cmp.Or(e.Noun, "sighting"), strings.Join(e.IDs, ", "), e.Why)
}

// daysOf counts days, with fraction, from the year 2000.
func daysOf(t time.Time) float64 {
	return float64(t.Unix()-946684800)/86400 + float64(t.Nanosecond())/86400e9
}

// canonical orders sightings by what they are, never by how they are called, so
// that the result cannot depend on ids or on the order of arrival. Only among those
// that are alike in all that the follower looks at do names say which comes first.
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
		compareBool(a.Closed, b.Closed),
		cmp.Compare(a.Extent, b.Extent),
		cmp.Compare(a.Frame, b.Frame),
		cmp.Compare(a.Pinned, b.Pinned),
		cmp.Compare(a.ID, b.ID),
	)
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}
