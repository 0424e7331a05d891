package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/figure"
	"limbwatch/coords/rotation"
)

// track is what was seen of one passage, or of something that belongs to none.
type track struct {
	name    string
	passage *catalog.Passage
	seen    []catalog.Sighting // in the order of time
}

func seenAt(s catalog.Sighting) time.Time { return s.Entries[s.Best].Position.UTC }

// tracks gathers the sightings of a kind by passage, in the order in which they were
// first seen. Those without one come one by one.
func (c composer) tracks(kind catalog.Kind) []track {
	passages := map[catalog.PassageID]*catalog.Passage{}
	for i := range c.Passages {
		passages[c.Passages[i].ID] = &c.Passages[i]
	}
	at := map[catalog.PassageID]int{}
	var out []track
	for _, d := range c.days {
		for _, s := range d.Of(kind) {
			id, name := passageOf(s)
			if i, ok := at[id]; ok && id != 0 {
				out[i].seen = append(out[i].seen, s)
				continue
			}
			at[id] = len(out)
			out = append(out, track{name: name, passage: passages[id], seen: []catalog.Sighting{s}})
		}
	}
	for i := range out {
		slices.SortStableFunc(out[i].seen, func(a, b catalog.Sighting) int { return seenAt(a).Compare(seenAt(b)) })
	}
	slices.SortStableFunc(out, func(a, b track) int { return seenAt(a.seen[0]).Compare(seenAt(b.seen[0])) })
	return out
}

// passageOf is the passage that a sighting was joined to, zero when to none.
func passageOf(s catalog.Sighting) (catalog.PassageID, string) {
	for _, e := range s.Entries {
		if e.Join != nil && e.Join.State == catalog.Made {
			return e.Join.Passage, e.PassageName
		}
	}
	return 0, ""
}

// best is the sighting nearest to the meridian that has a place: there its position
// is known best, and how high it stands matters least.
func (t track) best() (catalog.Sighting, bool) {
	var found catalog.Sighting
	nearest := math.Inf(1)
	for _, s := range t.seen {
		p := s.Entries[s.Best].Position
		if p.Disc == nil {
			continue
		}
		if cmd := p.Disc.CMD.Abs().Degrees(); cmd < nearest {
			found, nearest = s, cmd
		}
	}
	return found, !math.IsInf(nearest, 1)
}

// filaments lists the filaments, passage by passage.
func (c composer) filaments() *Section {
	tracks := c.tracks(catalog.Filament)
	t := &Table{Columns: []Column{
		{Head: "passage", Weight: 1.6}, {Head: "seen", Weight: 1.5}, {Head: "days", Weight: 0.7, Figures: true},
		{Head: "B", Weight: 0.9, Figures: true}, {Head: "L", Weight: 0.9, Figures: true}, {Head: "error B, L", Weight: 1.5, Figures: true},
		{Head: "length, Mm", Weight: 1.4, Figures: true},
		{Head: "east limb", Weight: 1.9, Figures: true}, {Head: "meridian", Weight: 1.9, Figures: true}, {Head: "west limb", Weight: 1.9, Figures: true},
	}, Empty: "No filament was marked."}
	for _, f := range tracks {
		t.Rows = append(t.Rows, c.filamentRow(f))
	}
	blocks := []Block{{Table: t.withoutEmpty()}}
	if len(tracks) > 0 {
		blocks = append(blocks, small("B, L (Carrington) and the length are those of the day nearest to the meridian, corrected for the height at which the filament stands where that is known; "+
			"below are all days: day, B, distance from the meridian (W, E), L. The length is that of the line along the filament (1 Mm = 1000 km). "+
			"The times at limbs and meridian, UT to the hour with standard errors, are reckoned from all that was seen of the filament, by its own rate held to that of its kind ("+lawText(rotation.PriorOf(catalog.Filament.String()).Law)+")."))
	}
	return &Section{Title: "Filaments", Blocks: blocks}
}

// lawText names a law by who measured it, or by its figures where no source bears them out.
func lawText(l rotation.Law) string {
	if l.Source == "" {
		return fmt.Sprintf("%.2f %s sin² B %s sin⁴ B degrees a day; %s", l.A, signed(l.B), signed(l.C), l.Cited())
	}
	authors, _, _ := strings.Cut(l.Source, ":")
	return authors
}

// signed is a coefficient with the sign that adds it on.
func signed(v float64) string {
	if v < 0 {
		return fmt.Sprintf("− %.2f", -v)
	}
	return fmt.Sprintf("+ %.2f", v)
}

func (c composer) filamentRow(f track) Row {
	row := Row{Cells: []string{f.title(), seenText(f.seen), fmt.Sprint(distinctDays(f.seen)), "", "", "", "", "", "", ""}}
	if s, ok := f.best(); ok {
		e := s.Entries[s.Best]
		m, _ := e.Position.Reading()
		sigmaB, sigmaL := m.Cov.SigmaB().Degrees(), m.Cov.SigmaL().Degrees()
		pb, pl := figure.Decimals(sigmaB, 1), figure.Decimals(sigmaL, 1)
		copy(row.Cells[3:], []string{latitude(m.B, pb), longitude(m.L, pl), errorText(sigmaB, sigmaL, pb, pl), lengthText(c.measured(e))})
	}
	if crossing, ok := c.crossingOf(f); ok {
		copy(row.Cells[7:], []string{momentText(crossing.East), momentText(crossing.Meridian), momentText(crossing.West)})
	}
	if len(f.seen) > 1 {
		row.Below = strings.Join(positionTexts(f.seen), noBreak+"· ")
	}
	return row
}

// title is what a track is called in a list.
func (t track) title() string {
	if t.name != "" {
		return t.name
	}
	if label := t.seen[0].Entries[t.seen[0].Best].Mark.Label; label != "" {
		return label
	}
	return "—"
}

// crossingOf is when what a track is of crossed the disc.
func (c composer) crossingOf(t track) (Crossing, bool) {
	for _, s := range t.seen {
		for _, e := range s.Entries {
			if crossing, ok := c.Crossings[e.Mark.ID]; ok {
				return crossing, true
			}
		}
	}
	return Crossing{}, false
}

func errorText(sigmaB, sigmaL float64, pb, pl int) string {
	if sigmaB <= 0 && sigmaL <= 0 {
		return ""
	}
	known := func(sigma float64, places int) string {
		if sigma <= 0 {
			return "not known"
		}
		return plusMinus(sigma, max(places, 1))
	}
	return fmt.Sprintf("%s, %s", known(sigmaB, pb), known(sigmaL, pl))
}

// positionTexts writes each day's place: 14 Mar N12.3 W14.2 281.4.
func positionTexts(seen []catalog.Sighting) (texts []string) {
	for _, s := range seen {
		p := s.Entries[s.Best].Position
		m, ok := p.Reading()
		if !ok {
			continue
		}
		var cmd coords.Angle
		if p.High != nil { // alone, of what lies between the two limbs
			cmd = p.High.CMD
		} else {
			cmd = p.Disc.CMD
		}
		text := fmt.Sprintf("%s %s %s %s", seenAt(s).Format(dayText), latitude(m.B, 1), meridianDistance(cmd, 1), longitude(m.L, 1))
		texts = append(texts, strings.ReplaceAll(text, " ", noBreak))
	}
	return texts
}

// seenText is from when to when something was seen: 11–19 Mar.
func seenText(seen []catalog.Sighting) string {
	first, last := seenAt(seen[0]), seenAt(seen[len(seen)-1])
	switch {
	case catalog.DayOf(first).Equal(catalog.DayOf(last)):
		return first.Format(dayText)
	case first.Month() == last.Month():
		return first.Format("2") + "–" + last.Format(dayText)
	}
	return first.Format(dayText) + " – " + last.Format(dayText)
}

func distinctDays(seen []catalog.Sighting) int {
	days := map[time.Time]bool{}
	for _, s := range seen {
		days[catalog.DayOf(seenAt(s))] = true
	}
	return len(days)
}

// byLikelihood sorts matches, the likeliest first.
func byLikelihood(a, b Match) int { return cmp.Compare(b.Odds, a.Odds) }
