package report

import (
	"cmp"
	"slices"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// placeGap is how far apart along the limb two prominences stand, foot to foot, that
// still make one place (common practice, no source).
const placeGap = 3 * coords.Degree

// placesNumber counts the places along the limb at which prominences stand, each
// with one or more separate elements.
func placesNumber(elements []catalog.Sighting) Number {
	var t tally
	for _, place := range prominencePlaces(elements) {
		t.add(side(place[0]), 1)
	}
	return t.number()
}

// prominencePlaces puts prominences together that stand at one place. One without a
// position angle is a place of its own.
func prominencePlaces(elements []catalog.Sighting) [][]catalog.Sighting {
	var along, apart []catalog.Sighting
	for _, s := range elements {
		if s.Entries[s.Best].Position.Edge != nil {
			along = append(along, s)
		} else {
			apart = append(apart, s)
		}
	}
	edge := func(s catalog.Sighting) *catalog.AtEdge { return s.Entries[s.Best].Position.Edge }
	slices.SortStableFunc(along, func(a, b catalog.Sighting) int { return cmp.Compare(edge(a).From.Wrap360(), edge(b).From.Wrap360()) })
	var places [][]catalog.Sighting
	var end coords.Angle // how far, through east, the place reaches from its first foot
	for _, s := range along {
		last := len(places) - 1
		if last >= 0 {
			first := edge(places[last][0]).From
			from := (edge(s).From - first).Wrap360()
			if from <= end+placeGap {
				places[last] = append(places[last], s)
				end = max(end, from+(edge(s).To-edge(s).From).Wrap360())
				continue
			}
		}
		places = append(places, []catalog.Sighting{s})
		end = (edge(s).To - edge(s).From).Wrap360()
	}
	// Round north, where the count of position angles begins anew.
	if n := len(places); n > 1 {
		gap := (edge(places[0][0]).From - edge(places[n-1][0]).From).Wrap360() - end
		if gap <= placeGap {
			places[0] = append(places[n-1], places[0]...)
			places = places[:n-1]
		}
	}
	for _, s := range apart {
		places = append(places, []catalog.Sighting{s})
	}
	return places
}
