package report

import (
	"fmt"
	"maps"
	"slices"

	"limbwatch/catalog"
	"limbwatch/coords/sample"
)

// exactness says how positions were measured, and how exact they are said to be.
func (c composer) exactness() *Section {
	how := "Each position is read off a picture of the whole disc: the limb gives scale and centre, north the turn, the instant the Sun’s P, B0 and L0 (IAU rotation elements). " +
		"The errors of limb, north, time and click go together into that of every position, those of the height into places corrected for it. "
	if len(c.Discs) == 0 {
		how = "Positions were typed or read off paper; from them and the instant follow those on the Sun (P, B0 and L0 by the IAU rotation elements). "
	}
	return &Section{Title: "How it was measured, and how exactly", Blocks: []Block{
		paragraph(how + "Errors are standard errors; below is the middle one (half of them are smaller) and the one that nine in ten stay below."),
		{Table: c.quotedErrors()},
		{Table: c.methods()},
	}}
}

// quantiles are the middle of some values and what nine in ten stay below.
func quantiles(values []float64) (middle, ninth float64) {
	return sample.Quantile(values, 0.5), sample.Quantile(values, 0.9)
}

// spread writes the quantiles of what is known; nothing when nothing is.
func spread(values []float64, format string) (middle, ninth string) {
	if len(values) == 0 {
		return "", ""
	}
	m, n := quantiles(values)
	return fmt.Sprintf(format, m), fmt.Sprintf(format, n)
}

// quotedErrors are the errors of the marks' positions, by kind.
func (c composer) quotedErrors() *Table {
	t := &Table{Columns: []Column{
		{Head: "errors of positions", Weight: 3.4}, {Head: "marks", Weight: 1, Figures: true},
		{Group: "latitude, °", Head: "middle", Weight: 1, Figures: true}, {Group: "latitude, °", Head: "9 in 10", Weight: 1, Figures: true},
		{Group: "longitude × cos B, °", Head: "middle", Weight: 1.1, Figures: true}, {Group: "longitude × cos B, °", Head: "9 in 10", Weight: 1.1, Figures: true},
		{Group: "height, Mm", Head: "middle", Weight: 1, Figures: true}, {Group: "height, Mm", Head: "9 in 10", Weight: 1, Figures: true},
	}, Empty: "Nothing was marked."}
	for _, kind := range catalog.Kinds {
		var lat, lon, height []float64
		marks, without := 0, 0
		for _, e := range c.Entries {
			if e.Mark.Kind != kind {
				continue
			}
			marks++
			if m, ok := e.Position.Reading(); ok && m.Cov.BB > 0 && m.Cov.LL > 0 {
				lat = append(lat, m.Cov.SigmaB().Degrees())
				lon = append(lon, m.Cov.SigmaL().Degrees()*m.B.Cos())
			} else if g := e.Position.Edge; g != nil && g.SigmaLat > 0 {
				lat = append(lat, g.SigmaLat.Degrees())
			} else {
				without++
			}
			if g := e.Position.Edge; g != nil && g.SigmaMm > 0 {
				height = append(height, g.SigmaMm)
			}
		}
		if marks == 0 {
			continue
		}
		name := plural(kind)
		if without > 0 {
			name += fmt.Sprintf(" (%d without a known error)", without)
		}
		row := Row{Cells: []string{name, fmt.Sprint(marks)}}
		for _, q := range []struct {
			values []float64
			format string
		}{{lat, "%.2f"}, {lon, "%.2f"}, {height, "%.1f"}} {
			m, n := spread(q.values, q.format)
			row.Cells = append(row.Cells, m, n)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// methods are the ways in which discs and norths were found, with their errors.
func (c composer) methods() *Table {
	t := &Table{Columns: []Column{
		{Head: "found how", Weight: 3.4}, {Head: "frames", Weight: 1, Figures: true}, {Head: "error of", Weight: 3.2},
		{Head: "middle", Weight: 1.2, Figures: true}, {Head: "9 in 10", Weight: 1.2, Figures: true},
	}, Empty: "No frame has a disc or a north."}
	discs := map[string][]catalog.Disc{}
	for _, d := range c.Discs {
		discs[d.Method.String()] = append(discs[d.Method.String()], d)
	}
	for _, method := range slices.Sorted(maps.Keys(discs)) {
		var centre, radius []float64
		for _, d := range discs[method] {
			centre = append(centre, d.Limb.Cov.SigmaCentrePx())
			radius = append(radius, d.Limb.Cov.SigmaRadiusPx())
		}
		for i, q := range []struct {
			what   string
			values []float64
		}{{"the centre, px", centre}, {"the radius, px", radius}} {
			m, n := spread(q.values, "%.2f")
			cells := []string{"disc, " + discWords[method], fmt.Sprint(len(discs[method])), q.what, m, n}
			if i > 0 {
				cells[0], cells[1] = "", ""
			}
			t.Rows = append(t.Rows, Row{Cells: cells})
		}
	}
	norths := map[string][]float64{}
	for _, n := range c.Norths {
		norths[n.Method] = append(norths[n.Method], n.Sigma.Degrees())
	}
	for _, method := range slices.Sorted(maps.Keys(norths)) {
		m, n := spread(norths[method], "%.2f")
		t.Rows = append(t.Rows, Row{Cells: []string{"north, " + method, fmt.Sprint(len(norths[method])), "its direction, °", m, n}})
	}
	return t
}

// discWords say how a disc was found.
var discWords = map[string]string{
	catalog.DiscFitted.String(): "fitted to the limb in the picture", catalog.DiscPoints.String(): "from points clicked on the limb",
	catalog.DiscTyped.String(): "typed", catalog.DiscHeader.String(): "written in the picture’s header",
}
