package report

import (
	"fmt"
	"slices"

	"limbwatch/catalog"
	"limbwatch/coords/figure"
)

// regions lists sunspots and plages, passage by passage, with their sizes; nil when
// there were none.
func (c composer) regions() *Section {
	t := &Table{Columns: []Column{
		{Head: "passage", Weight: 1.7}, {Head: "kind", Weight: 1}, {Head: "seen", Weight: 1.6}, {Head: "days", Weight: 0.7, Figures: true},
		{Head: "B", Weight: 0.9, Figures: true}, {Head: "L", Weight: 0.9, Figures: true}, {Head: "error B, L", Weight: 1.6, Figures: true},
		{Head: "spots", Weight: 0.8, Figures: true}, {Head: "area", Weight: 1.4, Figures: true}, {Head: "contrast, %", Weight: 1.4, Figures: true},
	}}
	for _, kind := range []catalog.Kind{catalog.Sunspot, catalog.Plage} {
		for _, f := range c.tracks(kind) {
			t.Rows = append(t.Rows, c.regionRow(kind, f))
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return &Section{Title: "Sunspots and plages", Blocks: []Block{{Table: t.withoutEmpty()}, small(
		"B, L (Carrington), area and contrast are those of the day nearest to the meridian; spots the most that were counted on a day. Areas are of outlines, " +
			"corrected for foreshortening, in millionths of the visible hemisphere. The contrast is how much brighter (+) or darker (−) the inside of an outline is, on the whole, than the ring round it, in the light of the picture.")}}
}

func (c composer) regionRow(kind catalog.Kind, f track) Row {
	name := f.title()
	if f.passage != nil && f.passage.Kind != kind {
		name = "in " + name // as the spot that was joined to a plage's passage
	}
	row := Row{Cells: []string{name, kind.String(), seenText(f.seen), fmt.Sprint(distinctDays(f.seen)), "", "", "", "", "", ""}}
	if s, ok := f.best(); ok {
		e := s.Entries[s.Best]
		m, _ := e.Position.Reading()
		sigmaB, sigmaL := m.Cov.SigmaB().Degrees(), m.Cov.SigmaL().Degrees()
		pb, pl := figure.Decimals(sigmaB, 1), figure.Decimals(sigmaL, 1)
		size := c.measured(e)
		copy(row.Cells[4:], []string{latitude(m.B, pb), longitude(m.L, pl), errorText(sigmaB, sigmaL, pb, pl), "", areaText(size), contrastText(size)})
	}
	var spots []int
	for _, s := range f.seen {
		spots = append(spots, countedMark(s).Spots)
	}
	if most := slices.Max(spots); most > 0 {
		row.Cells[7] = fmt.Sprint(most)
	}
	return row
}
