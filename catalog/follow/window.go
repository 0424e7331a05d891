package follow

import (
	"slices"
	"time"
)

// windowDays is how far around a changed sighting the others matter: a passage
// lasts half a rotation, its rivals overlap with it, and the density of features is
// read off one rotation to either side.
const windowDays = 30

// Window is the stretch of time whose sightings have to be followed anew when those
// at an instant were added, moved or taken away. Give Follow the habits of the whole
// record; of what it finds, the passages that have a sighting within half the
// window of the instant replace those that were there.
func Window(t time.Time) (from, to time.Time) {
	return t.AddDate(0, 0, -windowDays), t.AddDate(0, 0, windowDays)
}

// Touches tells whether a passage is one that a change at an instant may have
// altered.
func (p *Passage) Touches(t time.Time) bool {
	const half = windowDays / 2 * 24 * time.Hour
	first, last := p.Sightings[0].UTC, p.Sightings[len(p.Sightings)-1].UTC
	return !first.After(t.Add(half)) && !last.Before(t.Add(-half))
}

// Keep gives each passage the name, among those that its sightings had before,
// which lets most sightings keep theirs; each name goes to one passage, and a new
// passage gets the empty name. Names are whatever the caller tells passages by;
// before has them by sighting id.
func Keep(passages []Passage, before map[string]string) []string {
	at := map[string]int{}
	var names []string
	c := cluster{}
	for i := range passages {
		shared := map[string]int{}
		var own []string
		for _, s := range passages[i].Sightings {
			if name, known := before[s.ID]; known {
				if shared[name]++; shared[name] == 1 {
					own = append(own, name)
				}
			}
		}
		slices.Sort(own)
		for _, name := range own {
			if _, known := at[name]; !known {
				at[name] = len(names)
				names = append(names, name)
			}
			c.add(i, at[name], float64(shared[name]))
		}
	}
	out := make([]string, len(passages))
	for a, b := range c.best() {
		if b != none {
			out[c.heads[a]] = names[c.tails[b]]
		}
	}
	return out
}
