package report

import (
	"limbwatch/catalog"
	"limbwatch/coords"
)

// Groups of spots are separate when they lie about 10° apart in longitude or 5° in
// latitude: a help and no law, as the counting rules of the World Data Center for
// the sunspot index have it. Single spots nearer than that are taken as one group.
const (
	groupLonDeg = 10
	groupLatDeg = 5
)

// spotNumbers counts groups and spots among a day's sunspots. A mark of a group is a
// group, and has the spots that the observer counted in it. Spots marked singly
// belong to the group of a mark, or of one another, that they lie near to; they count
// for themselves where that group's spots were not counted. The spots of the day are
// not known when nobody counted those of some group.
func spotNumbers(sightings []catalog.Sighting) (groups, spots Number) {
	var g, f tally
	known := true
	for _, members := range spotGroups(sightings) {
		counted, singles, uncounted := 0, 0, false
		for _, s := range members {
			m := countedMark(s)
			switch {
			case m.Spots > 0:
				counted += m.Spots
			case m.Extent == catalog.SingleSpot:
				singles++
			case m.Extent == catalog.ExtentUnknown:
				uncounted = true // one spot, or a group of them
			}
		}
		n := counted
		if n == 0 {
			n = singles
		}
		g.add(side(members[0]), 1)
		if n == 0 || uncounted && counted == 0 {
			known = false
		}
		f.add(side(members[0]), n)
	}
	groups, spots = g.number(), f.number()
	if !known {
		spots = Number{}
	}
	return groups, spots
}

// countedMark is the mark of a sighting in which most spots were counted.
func countedMark(s catalog.Sighting) catalog.Mark {
	best := s.Entries[s.Best].Mark
	for _, e := range s.Entries {
		if e.Mark.Spots > best.Spots {
			best = e.Mark
		}
	}
	return best
}

// spotGroups puts spots together that make a group; marks of groups come first in
// theirs, and two of them are always two groups.
func spotGroups(sightings []catalog.Sighting) [][]catalog.Sighting {
	var groups [][]catalog.Sighting
	var singles []catalog.Sighting
	for _, s := range sightings {
		if m := countedMark(s); m.Extent == catalog.SpotGroup || m.Spots > 1 {
			groups = append(groups, []catalog.Sighting{s})
		} else {
			singles = append(singles, s)
		}
	}
	marked := len(groups)
	for _, s := range singles {
		home := -1
		for i, g := range groups {
			if !nearGroup(g, s) {
				continue
			}
			if home < 0 {
				home = i
				groups[i] = append(groups[i], s)
			} else if i >= marked { // the single spot joins two clusters of single ones
				groups[home] = append(groups[home], g...)
				groups[i] = nil
			}
		}
		if home < 0 {
			groups = append(groups, []catalog.Sighting{s})
		}
	}
	var out [][]catalog.Sighting
	for _, g := range groups {
		if len(g) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// nearGroup says whether a spot lies near to one of a group.
func nearGroup(group []catalog.Sighting, s catalog.Sighting) bool {
	place, ok := s.Entries[s.Best].Position.Reading()
	if !ok {
		return false
	}
	for _, member := range group {
		other, ok := member.Entries[member.Best].Position.Reading()
		if ok && (place.B-other.B).Abs() < groupLatDeg*coords.Degree && (place.L-other.L).Wrap180().Abs() < groupLonDeg*coords.Degree {
			return true
		}
	}
	return false
}
