package report

import (
	"fmt"
	"slices"
	"strings"

	"limbwatch/catalog"
)

// prominences lists what stood at the edge, day by day.
func (c composer) prominences() *Section {
	t := &Table{Columns: []Column{
		{Head: "day, UT", Weight: 1.7}, {Head: "limb", Weight: 0.6}, {Head: "position angle", Weight: 1.5, Figures: true},
		{Head: "from – to", Weight: 1.2, Figures: true}, {Head: "latitude", Weight: 1.3, Figures: true}, {Head: "height", Weight: 1.4, Figures: true},
		{Head: "passage", Weight: 1.7}, {Head: "found to be", Weight: 3.6},
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
		blocks = append(blocks, small("Position angles run from celestial north through east. The latitude is that of the limb at the middle of the prominence, whose foot may lie before or behind it; the height is that of its top above the photosphere (1 Mm = 1000 km), and a lower bound where the foot is hidden. “Found to be” names the filaments that it may be, with the odds reckoned from rotation, latitude and height, without its own mark; one without odds is the passage to which its marks were joined; “said” is the observer’s word."))
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
		pa, lat := decimals(sigmaPA, 1), decimals(sigmaLat, 1)
		cells[1] = "E"
		if g.PA.Wrap360().Degrees() > 180 {
			cells[1] = "W"
		}
		cells[2] = strings.TrimSpace(longitude(g.PA, pa) + "° " + plusMinus(sigmaPA, pa))
		cells[3] = longitude(g.From, 0) + "–" + longitude(g.To, 0) + "°"
		cells[4] = strings.TrimSpace(latitude(g.Lat, lat) + "° " + plusMinus(sigmaLat, lat))
		places := decimals(g.SigmaMm, 0)
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

// foundToBe says which filament a prominence belongs to: by a match of its mark, by
// its own passage being a filament's, or by a link of its passage with one.
func (c composer) foundToBe(s catalog.Sighting) string {
	var texts []string
	for _, m := range c.matchesOf(s) {
		name := m.Passage.String()
		for _, p := range c.Passages {
			if p.ID == m.Passage {
				name = p.Name
			}
		}
		switch {
		case m.By == catalog.ByObserver:
			texts = append(texts, name+", said")
		case m.Odds < 0:
			texts = append(texts, name)
		default:
			texts = append(texts, name+", "+oddsText(m.Odds))
		}
		if len(texts) == 2 {
			break
		}
	}
	return strings.Join(texts, "; ")
}

// matchesOf gathers all that ties a prominence to filaments, each filament once, the
// observer's word first and then by odds; what was refused is not among them. Odds
// that nobody weighed are −1.
func (c composer) matchesOf(s catalog.Sighting) []Match {
	filament := map[catalog.PassageID]bool{}
	for _, p := range c.Passages {
		filament[p.ID] = p.Kind == catalog.Filament
	}
	own, refused := map[catalog.PassageID]bool{}, map[catalog.PassageID]bool{}
	joined := map[catalog.MarkID]bool{}
	for _, e := range s.Entries {
		joined[e.Mark.ID] = true
	}
	var joins []catalog.Join
	for _, j := range c.Joins {
		switch {
		case !joined[j.Mark]:
		case j.State == catalog.Refused:
			refused[j.Passage] = true
		default:
			own[j.Passage] = true
			joins = append(joins, j)
		}
	}
	var found []Match
	add := func(m Match) {
		if !filament[m.Passage] || refused[m.Passage] {
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
	// The check made for the edge knows better than what joins marks of all kinds.
	for _, m := range c.Matches {
		if joined[m.Mark] {
			add(m)
		}
	}
	// The odds of a join say how well marks follow one another, which is another
	// question: beside those of the edge they would be taken for the same.
	for _, j := range joins {
		add(Match{j.Mark, j.Passage, -1, j.By})
	}
	for _, l := range c.Links {
		if l.State == catalog.Refused {
			continue
		}
		if own[l.To] {
			add(Match{Passage: l.From, Odds: oddsOr(l.Odds), By: l.By})
		}
		if own[l.From] {
			add(Match{Passage: l.To, Odds: oddsOr(l.Odds), By: l.By})
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

func oddsOr(odds *float64) float64 {
	if odds == nil {
		return -1
	}
	return *odds
}
