package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"limbwatch/catalog"
)

// daily is the table of the days, one row each.
func (c composer) daily() Section {
	n := func(group, head string, kind catalog.Kind) Column {
		return Column{Group: group, Head: head, Weight: 1, Figures: true, Kind: kind.String()}
	}
	spot, filament, prominence, plage := catalog.Sunspot, catalog.Filament, catalog.Prominence, catalog.Plage
	t := &Table{Columns: []Column{
		{Head: "day", Weight: 2.1},
		n("groups g", "N", spot), n("groups g", "S", spot), n("groups g", "all", spot),
		n("spots f", "N", spot), n("spots f", "S", spot), n("spots f", "all", spot),
		{Group: "", Head: "R", Weight: 1.2, Figures: true, Kind: spot.String()},
		n("filaments", "N", filament), n("filaments", "S", filament), n("filaments", "all", filament),
		n("prominences", "N", prominence), n("prominences", "S", prominence), n("prominences", "H", prominence), n("prominences", "E", prominence),
		n("plages", "N", plage), n("plages", "S", plage), n("plages", "all", plage),
	}}
	paper := false
	for _, d := range c.days {
		row := Row{Cells: []string{d.Date.Format(dayText)}, Faint: !d.Observed()}
		for _, tally := range []catalog.Tally{catalog.TallyGroups, catalog.TallySpots} {
			row.Cells = append(row.Cells, numberCells(d.Counts[tally])...)
		}
		row.Cells = append(row.Cells, c.relativeCell(d))
		row.Cells = append(row.Cells, numberCells(d.Counts[catalog.TallyFilaments])...)
		row.Cells = append(row.Cells, numberCells(d.Counts[catalog.TallyProminences])...)
		row.Cells = append(row.Cells, optionalInt(d.Counts[catalog.TallyElements].Total))
		row.Cells = append(row.Cells, numberCells(d.Counts[catalog.TallyPlages])...)
		for _, number := range d.Counts {
			paper = paper || number.OnPaper
		}
		t.Rows = append(t.Rows, row)
	}
	t.Rows = append(t.Rows, c.meanRow())
	return Section{Title: "Day by day", NewPage: true, Blocks: []Block{{Table: t}, small(c.dailyRemark(paper))}}
}

func numberCells(n Number) []string {
	return []string{optionalInt(n.North), optionalInt(n.South), optionalInt(n.Total)}
}

func (c composer) relativeCell(d Day) string {
	r, ok := d.RelativeNumber(c.K)
	if !ok {
		return ""
	}
	if c.K == 1 {
		return fmt.Sprintf("%.0f", r)
	}
	return fmt.Sprintf("%.1f", r)
}

// meanRow closes the table with the means.
func (c composer) meanRow() Row {
	mean := func(f Frequency) string {
		if f.Days == 0 {
			return ""
		}
		return fmt.Sprintf("%.1f", f.Mean)
	}
	part := func(v *float64) string {
		if v == nil {
			return ""
		}
		return fmt.Sprintf("%.1f", *v)
	}
	of := func(t catalog.Tally) []string {
		f := frequencyOf(c.days, t)
		return []string{part(f.North), part(f.South), mean(f)}
	}
	cells := slices.Concat([]string{"mean"}, of(catalog.TallyGroups), of(catalog.TallySpots), []string{mean(relativeNumber(c.days, c.K))},
		of(catalog.TallyFilaments), of(catalog.TallyProminences), []string{mean(frequencyOf(c.days, catalog.TallyElements))}, of(catalog.TallyPlages))
	return Row{Cells: cells, Strong: true}
}

func (c composer) dailyRemark(paper bool) string {
	parts := []string{"N and S by the solar equator; blank: not looked for, or not to be told; 0: looked for, none seen. A thing marked on two frames of a day counts once."}
	k := "1"
	if c.K != 1 {
		k = fmt.Sprintf("%g", c.K)
	}
	parts = append(parts, "R = k (10 g + f) with k = "+k+", where every group’s spots were counted. Spots marked singly within 10° of longitude and 5° of latitude of one another are taken as one group.")
	if remark := c.narrowBandRemark(); remark != "" {
		parts = append(parts, remark)
	}
	parts = append(parts, "H: places along the limb with prominences, feet within 3° of one another making one place; E: their separate elements.")
	if paper {
		parts = append(parts, "Counts typed from paper stand in place of those of marks.")
	}
	return strings.Join(parts, " ")
}

// narrowBandRemark says of spots counted in the light of a single line that they are not
// those of white light; in H-alpha also why. It is empty where all was white light, or
// nothing is known of the filters.
func (c composer) narrowBandRemark() string {
	bands, others, inHAlpha := c.narrowBands()
	if len(bands) == 0 {
		return ""
	}
	remark := "Groups, spots and R are from narrow-band pictures (" + listed(bands) + "): they are not the white-light number"
	if others {
		remark = "Groups, spots and R of the days with narrow-band pictures (" + listed(bands) + ") are not the white-light number"
	}
	if inHAlpha {
		remark += ", for small spots are hidden under the chromosphere"
	}
	return remark + "."
}

// narrowBands lists the narrow-band light that days were observed in, and says whether
// other days were not, and whether all of it is H-alpha.
func (c composer) narrowBands() (bands []string, others, inHAlpha bool) {
	inHAlpha = true
	for _, s := range c.Sittings {
		if s.Setup == nil || !s.Setup.NarrowBand() {
			others = true
			continue
		}
		inHAlpha = inHAlpha && s.Setup.InHAlpha()
		text := strings.Join(bandTexts(*s.Setup), ", ")
		if text == "" {
			text = s.Setup.Name
		}
		if !slices.Contains(bands, text) {
			bands = append(bands, text)
		}
	}
	return bands, others, inHAlpha
}

// observed lists the sittings: when, by whom, how the air was.
func (c composer) observed() Section {
	t := &Table{Columns: []Column{
		{Head: "day", Weight: 1}, {Head: "UT", Weight: 1.8}, {Head: "seeing", Weight: 3}, {Head: "transparency", Weight: 2.4},
		{Head: "looked for", Weight: 5.2}, {Head: "with", Weight: 2.4}, {Head: "note", Weight: 4},
	}, Empty: "No sitting falls into this time."}
	severalObservers := c.severalObservers()
	for _, d := range c.days {
		for _, s := range d.Sittings {
			with := ""
			if s.Setup != nil {
				with = s.Setup.Name
			}
			if s.Observer != nil && severalObservers {
				with = strings.TrimPrefix(s.Observer.Name+", "+with, ", ")
			}
			t.Rows = append(t.Rows, Row{Cells: []string{d.Date.Format(dayText), hours(s.times()), ratingText(s.Seeing),
				ratingText(s.Transparency), c.lookedText(d, s), with, noteText(s)}})
		}
		if len(d.Sittings) == 0 && d.Observed() { // marks from elsewhere, of no sitting
			t.Rows = append(t.Rows, Row{Cells: []string{d.Date.Format(dayText), hours(d.times()), "", "", c.lookedText(d, Sitting{}), "", "marks without a sitting"}})
		}
	}
	return Section{Title: "The days observed", Blocks: []Block{{Table: t.withoutEmpty()}}}
}

func (c composer) severalObservers() bool {
	seen := map[catalog.ObserverID]bool{}
	for _, s := range c.Sittings {
		seen[s.Sitting.Observer] = true
	}
	return len(seen) > 1
}

// times are those of a sitting's frames.
func (s Sitting) times() (times []time.Time) {
	for _, f := range s.Frames {
		times = append(times, f.Middle(s.ClockCorrectionS))
	}
	return times
}

// times are those of the day's marks.
func (d Day) times() (times []time.Time) {
	for _, s := range d.Sightings {
		for _, e := range s.Entries {
			times = append(times, e.Position.UTC.UTC())
		}
	}
	return times
}

// hours is the time from the first of some instants to the last.
func hours(times []time.Time) string {
	if len(times) == 0 {
		return ""
	}
	first, last := slices.MinFunc(times, time.Time.Compare), slices.MaxFunc(times, time.Time.Compare)
	from, to := first.Format("15:04"), last.Format("15:04")
	switch {
	case catalog.DayOf(last).After(catalog.DayOf(first)):
		return from + "–" + to + " (" + last.Format(dayText) + ")"
	case from != to:
		return from + "–" + to
	}
	return from
}

func ratingText(r catalog.Rating) string { return strings.TrimSpace(r.Value + " " + r.Scale) }

// lookedText says what a sitting looked for: what it says itself, and all of which
// something was marked or counted at it, since that was looked for too. It says so of
// the same kinds as the daily counts do.
func (c composer) lookedText(d Day, s Sitting) string {
	seen := map[catalog.Kind]bool{}
	for _, sighting := range d.Sightings {
		for _, e := range sighting.Entries {
			if e.Frame.Sitting == s.ID {
				seen[e.Mark.Kind] = true
			}
		}
	}
	counted := map[catalog.Kind]bool{}
	for _, n := range c.Counts {
		if n.Sitting == s.ID {
			counted[n.Tally.Kind()] = true
			seen[n.Tally.Kind()] = seen[n.Tally.Kind()] || n.Total > 0
		}
	}
	var parts []string
	for _, kind := range catalog.Kinds {
		switch {
		case seen[kind]:
			parts = append(parts, plural(kind))
		case s.Looked[kind] == catalog.NoneSeen, counted[kind]:
			parts = append(parts, plural(kind)+" (none)")
		case s.Looked[kind] == catalog.LookedFor:
			parts = append(parts, plural(kind))
		}
	}
	return strings.Join(parts, ", ")
}

func plural(k catalog.Kind) string {
	if k == catalog.Other {
		return "others"
	}
	return k.String() + "s"
}

func noteText(s Sitting) string {
	parts := []string{}
	for _, text := range []string{s.Tuning, s.Note} {
		if text = strings.Join(strings.Fields(text), " "); text != "" {
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, "; ")
}
