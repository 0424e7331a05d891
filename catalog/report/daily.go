package report

import (
	"cmp"
	"slices"
	"time"

	"limbwatch/catalog"
)

// Day is what is known of a UT day.
//
//	Sittings   on that day; none: nobody observed, and the day is blank
//	Sightings  the things seen, each once however often it was marked
//	Counts     by tally; one that is missing was not looked for, and is blank
type Day struct {
	Date      time.Time
	Sittings  []Sitting
	Sightings []catalog.Sighting
	Counts    map[catalog.Tally]Number
}

// Number is a day's count.
//
//	Total         nil: it was looked for, but cannot be said (groups whose spots were
//	              not counted)
//	North, South  nil where the hemispheres cannot be told apart
//	OnPaper       typed from paper, not counted from marks
type Number struct {
	Total, North, South *int
	OnPaper             bool
}

// Observed says whether anything is known of the day.
func (d Day) Observed() bool { return len(d.Sittings) > 0 || len(d.Sightings) > 0 }

// Looked says whether a kind was looked for on the day: a sitting says so, or
// something of it was marked or counted.
func (d Day) Looked(kind catalog.Kind) bool {
	for _, s := range d.Sittings {
		if s.Looked[kind] != catalog.NotLooked {
			return true
		}
	}
	return len(d.Of(kind)) > 0
}

// Of lists the sightings of a kind: of each only what was marked as that kind. What
// was marked as a filament before the disc and as a prominence beyond the limb is one
// sighting, and one of either kind.
func (d Day) Of(kind catalog.Kind) (of []catalog.Sighting) {
	for _, s := range d.Sightings {
		part := catalog.Sighting{Sitting: s.Sitting}
		for i, e := range s.Entries {
			if e.Mark.Kind != kind {
				continue
			}
			part.Entries = append(part.Entries, e)
			if last := len(part.Entries) - 1; i == s.Best || s.Entries[s.Best].Mark.Kind != kind && surer(e, part.Entries[part.Best]) {
				part.Best = last
			}
		}
		if len(part.Entries) > 0 {
			of = append(of, part)
		}
	}
	return of
}

// surer says whether a mark's place is known better than another's.
func surer(a, b catalog.Entry) bool {
	x, inA := a.Position.Reading()
	y, inB := b.Position.Reading()
	if inA && inB {
		return x.Cov.BB+x.Cov.LL < y.Cov.BB+y.Cov.LL
	}
	return inA && !inB
}

// RelativeNumber is R = k (10 g + f), with g groups and f spots; false when one of
// them is not known.
func (d Day) RelativeNumber(k float64) (float64, bool) {
	g, f := d.Counts[catalog.TallyGroups].Total, d.Counts[catalog.TallySpots].Total
	if g == nil || f == nil {
		return 0, false
	}
	return k * float64(10**g+*f), true
}

// Days puts sittings, marks and counts together by UT day, one a day of the period.
// A sitting that runs over 0h UT counts for the day on which it began. Sittings of
// one day are one look at the Sun: what was seen at two of them counts once.
func (in Input) Days() []Day {
	days := make([]Day, in.Period.Days())
	for i := range days {
		days[i] = Day{Date: in.Period.From.AddDate(0, 0, i), Counts: map[catalog.Tally]Number{}}
	}
	within := func(t time.Time) (int, bool) {
		i := int(catalog.DayOf(t).Sub(in.Period.From).Hours() / 24)
		return i, !t.Before(in.Period.From) && i < len(days)
	}
	dayOf := map[catalog.SittingID]time.Time{}
	for _, s := range in.Sittings {
		dayOf[s.ID] = s.Day
		if i, ok := within(s.Day); ok {
			days[i].Sittings = append(days[i].Sittings, s)
		}
	}
	entries := make([][]catalog.Entry, len(days))
	for _, e := range in.Entries {
		date, ok := dayOf[e.Frame.Sitting]
		if !ok {
			date = e.Position.UTC
		}
		if i, ok := within(date); ok {
			entries[i] = append(entries[i], e)
		}
	}
	for i := range days {
		days[i].Sightings = sightingsOfDay(entries[i])
		days[i].count(in.Counts)
	}
	return days
}

// sightingsOfDay groups the marks of a day as if they were of one sitting.
func sightingsOfDay(entries []catalog.Entry) []catalog.Sighting {
	alike := slices.Clone(entries)
	for i := range alike {
		alike[i].Frame.Sitting = 1
	}
	sightings := catalog.GroupSightings(alike)
	byMark := make(map[catalog.MarkID]catalog.Entry, len(entries))
	for _, e := range entries {
		byMark[e.Mark.ID] = e
	}
	for i := range sightings {
		for j, e := range sightings[i].Entries {
			sightings[i].Entries[j] = byMark[e.Mark.ID]
		}
		sightings[i].Sitting = sightings[i].Entries[0].Frame.Sitting
	}
	return sightings
}

// count counts the day: from its marks, and in place of that what was counted on
// paper. Where several sittings counted, the largest count stands: the better look.
func (d *Day) count(onPaper []catalog.Count) {
	if d.Looked(catalog.Sunspot) {
		d.Counts[catalog.TallyGroups], d.Counts[catalog.TallySpots] = spotNumbers(d.Of(catalog.Sunspot))
	}
	if d.Looked(catalog.Plage) {
		d.Counts[catalog.TallyPlages] = numberOf(d.Of(catalog.Plage))
	}
	if d.Looked(catalog.Filament) {
		d.Counts[catalog.TallyFilaments] = numberOf(d.Of(catalog.Filament))
	}
	if d.Looked(catalog.Prominence) {
		elements := d.Of(catalog.Prominence)
		d.Counts[catalog.TallyElements] = numberOf(elements)
		d.Counts[catalog.TallyProminences] = placesNumber(elements)
	}
	for _, s := range d.Sittings {
		for _, c := range onPaper {
			if c.Sitting != s.ID {
				continue
			}
			stood, known := d.Counts[c.Tally]
			if known && stood.OnPaper && *stood.Total >= c.Total {
				continue
			}
			d.Counts[c.Tally] = paperNumber(c)
		}
	}
}

func paperNumber(c catalog.Count) Number {
	n := Number{Total: &c.Total, OnPaper: true}
	if c.Split || c.Total == 0 { // none at all is none on either side
		n.North, n.South = &c.North, &c.South
	}
	return n
}

// side is the hemisphere of a sighting: +1 north, −1 south, 0 when it has no
// position. Something on the equator counts for the side of its middle.
func side(s catalog.Sighting) int {
	p := s.Entries[s.Best].Position
	if p.Edge != nil && p.Disc == nil {
		return sign(float64(p.Edge.Lat))
	}
	if m, ok := p.Reading(); ok {
		return sign(float64(m.B))
	}
	return 0
}

func sign(v float64) int { return cmp.Compare(v, 0) }

// tally adds up hemispheres: they are blank as soon as one thing cannot be told.
type tally struct{ total, north, south, untold int }

func (t *tally) add(side, n int) {
	t.total += n
	switch side {
	case 1:
		t.north += n
	case -1:
		t.south += n
	default:
		t.untold += n
	}
}

func (t tally) number() Number {
	n := Number{Total: &t.total}
	if t.untold == 0 {
		n.North, n.South = &t.north, &t.south
	}
	return n
}

func numberOf(sightings []catalog.Sighting) Number {
	var t tally
	for _, s := range sightings {
		t.add(side(s), 1)
	}
	return t.number()
}
