package follow

import "time"

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
