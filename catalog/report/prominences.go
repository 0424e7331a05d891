package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/figure"
)

// prominences lists what stood at the edge, day by day.
func (c composer) prominences() *Section {
	t := &Table{Columns: []Column{
		{Head: "day, UT", Weight: 1.6}, {Head: "limb", Weight: 0.6}, {Head: "position angle", Weight: 1.5, Figures: true},
		{Head: "along limb, °", Weight: 1.4, Figures: true}, {Head: "latitude", Weight: 1.3, Figures: true}, {Head: "height", Weight: 1.3, Figures: true},
		{Head: "passage", Weight: 1.6}, {Head: "filament, odds", Weight: 4},
	}, Empty: "No prominence was marked."}
	rows := 0
	for _, d := range c.days {
		for _, s := range d.Of(catalog.Prominence) {
			t.Rows = append(t.Rows, c.prominenceRow(s))
			rows++
		}
	}
	blocks := []Block{{Table: t.withoutEmpty()}}
	if rows > 0 {
		blocks = append(blocks, small("Position angles run from celestial north through east. The latitude is that of the limb at the middle of the prominence, whose foot may lie before or behind it; the height is that of its top above the photosphere (1 Mm = 1000 km), and a lower bound where the foot is hidden. "+
			"“Passage” is what its marks are kept under. The odds are those of the check at the limb, by rotation, latitude and height and without the prominence’s own mark: they say which filament it is. Where they do not bear out the passage, the list says so; “said” is the observer’s word, which stands above both."))
	}
	return &Section{Title: "Prominences", Blocks: blocks}
}

func (c composer) prominenceRow(s catalog.Sighting) Row {
	e := s.Entries[s.Best]
	p := e.Position
	_, passage := passageOf(s)
	if passage == "" {
		passage = e.Mark.Label
	}
	cells := []string{p.UTC.Format(whenText), "", "", "", "", "", passage, c.foundToBe(s)}
	switch g := p.Edge; {
	case g != nil:
		sigmaPA, sigmaLat := g.SigmaPA.Degrees(), g.SigmaLat.Degrees()
		pa, lat := figure.Decimals(sigmaPA, 1), figure.Decimals(sigmaLat, 1)
		cells[1] = limbOf(p.UTC, g.PA)
		cells[2] = strings.TrimSpace(longitude(g.PA, pa) + "° " + plusMinus(sigmaPA, pa))
		cells[3] = extentText(c.measured(e))
		cells[4] = strings.TrimSpace(latitude(g.Lat, lat) + "° " + plusMinus(sigmaLat, lat))
		places := figure.Decimals(g.SigmaMm, 0)
		cells[5] = strings.TrimSpace(fmt.Sprintf("%.*f Mm %s", places, g.HeightMm, plusMinus(g.SigmaMm, places)))
	case p.Reason != "":
		cells[2] = "—"
	default:
		if m, ok := p.Reading(); ok {
			cells[4] = latitude(m.B, 1) + "°"
			cells[3] = "on the disc"
		}
	}
	return Row{Cells: cells}
}

// limbOf is E or W, the side of the Sun's axis on which a position angle lies.
func limbOf(at time.Time, pa coords.Angle) string {
	if (pa - ephemeris.At(at).P).Wrap360() < 180*coords.Degree {
		return "E"
	}
	return "W"
}

// foundToBe says which filament a prominence is: the observer's word, or the filaments
// that the check at the limb finds with their odds, the likeliest first, and how that
// goes together with the passage to which its marks are joined.
func (c composer) foundToBe(s catalog.Sighting) string {
	found := c.matchesOf(s)
	joined, byObserver := c.joinedFilament(s)
	if joined != 0 && byObserver {
		return c.passageName(joined) + ", said"
	}
	var texts []string
	bornOut := false
	for i, m := range found {
		if m.By == catalog.ByObserver {
			return c.passageName(m.Passage) + ", said"
		}
		if i < 2 {
			texts = append(texts, c.passageName(m.Passage)+", "+figure.Percent(m.Odds))
			bornOut = bornOut || m.Passage == joined
		}
	}
	likely := len(found) > 0 && found[0].Odds >= 0.5
	switch {
	case joined == 0:
		if likely && !c.linked(s, found[0].Passage) {
			texts[0] += ", not joined to it"
		}
	case !c.weighed(s):
		texts = append(texts, c.passageName(joined)+", not weighed")
	case !bornOut:
		texts = append(texts, "not borne out: "+c.passageName(joined)+", "+c.oddsOf(s, joined))
	case found[0].Passage != joined:
		texts = append(texts, "in doubt")
	}
	return strings.Join(texts, "; ")
}

// linked says whether a prominence's own passage was linked with a filament's.
func (c composer) linked(s catalog.Sighting, filament catalog.PassageID) bool {
	own, _ := passageOf(s)
	for _, l := range c.Links {
		if own != 0 && l.State != catalog.Refused && (l.From == own && l.To == filament || l.To == own && l.From == filament) {
			return true
		}
	}
	return false
}

func (c composer) passageName(id catalog.PassageID) string {
	for _, p := range c.Passages {
		if p.ID == id {
			return p.Name
		}
	}
	return id.String()
}

// oddsOf are those of the check at the limb for a filament; less than a hundredth where
// it is not even named.
func (c composer) oddsOf(s catalog.Sighting, filament catalog.PassageID) string {
	for _, m := range c.matchesOf(s) {
		if m.Passage == filament {
			return figure.Percent(m.Odds)
		}
	}
	return figure.Percent(0)
}

// weighed says whether the check at the limb found anything for a prominence.
func (c composer) weighed(s catalog.Sighting) bool {
	for _, m := range c.Matches {
		for _, e := range s.Entries {
			if e.Mark.ID == m.Mark {
				return true
			}
		}
	}
	return false
}

// joinedFilament is the filament to whose passage a prominence's marks are joined, 0
// for none, and whether the observer says so.
func (c composer) joinedFilament(s catalog.Sighting) (filament catalog.PassageID, byObserver bool) {
	for _, e := range s.Entries {
		for _, j := range c.Joins {
			if j.Mark == e.Mark.ID && j.State == catalog.Made && c.isFilament(j.Passage) {
				filament, byObserver = j.Passage, byObserver || j.By == catalog.ByObserver
			}
		}
	}
	return filament, byObserver
}

func (c composer) isFilament(id catalog.PassageID) bool {
	for _, p := range c.Passages {
		if p.ID == id {
			return p.Kind == catalog.Filament
		}
	}
	return false
}

// matchesOf gathers what ties a prominence to filaments with odds or by the observer's
// word: the check at the limb and, for filaments that it does not name, the links of
// its passage. Each filament is there once, the observer's word first and then by odds;
// what was refused is not among them.
func (c composer) matchesOf(s catalog.Sighting) []Match {
	own, refused := map[catalog.PassageID]bool{}, map[catalog.PassageID]bool{}
	marked := map[catalog.MarkID]bool{}
	for _, e := range s.Entries {
		marked[e.Mark.ID] = true
	}
	for _, j := range c.Joins {
		switch {
		case !marked[j.Mark]:
		case j.State == catalog.Refused:
			refused[j.Passage] = true
		default:
			own[j.Passage] = true
		}
	}
	var found []Match
	add := func(m Match) {
		if !c.isFilament(m.Passage) || refused[m.Passage] {
			return
		}
		for i, f := range found {
			if f.Passage == m.Passage {
				if m.By > f.By { // the observer's word
					found[i] = m
				}
				return
			}
		}
		found = append(found, m)
	}
	for _, m := range c.Matches {
		if marked[m.Mark] {
			add(m)
		}
	}
	for _, l := range c.Links {
		if l.State == catalog.Refused || l.Odds == nil && l.By != catalog.ByObserver {
			continue
		}
		m := Match{By: l.By}
		if l.Odds != nil {
			m.Odds = *l.Odds
		}
		if own[l.To] {
			m.Passage = l.From
			add(m)
		}
		if own[l.From] {
			m.Passage = l.To
			add(m)
		}
	}
	slices.SortStableFunc(found, func(a, b Match) int {
		if a.By != b.By {
			return int(b.By) - int(a.By)
		}
		return byLikelihood(a, b)
	})
	return found
}
