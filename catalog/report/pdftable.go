package report

import "strings"

const (
	cellPadMm = 0.9
	textGapMm = 2.2  // more before text that stands behind figures
	rowPadMm  = 0.75 // above and below the text of a row
)

// table lays a table out; its head is repeated on every page.
func (p *printer) table(t Table) {
	if len(t.Rows) == 0 {
		p.font("", textPt, dim)
		p.write(p.left, p.width, textPt, t.Empty)
		p.SetY(p.GetY() + 2)
		return
	}
	widths := p.widths(t)
	p.room(22)
	p.tableHead(t, widths)
	for i, r := range t.Rows {
		cells, height := p.cells(t, r, widths)
		below := p.belowLines(r, widths)
		whole := height + float64(len(below))*smallPt*lineMm
		if len(below) > 0 {
			whole += rowPadMm
		}
		if p.room(whole + 0.5) {
			p.tableHead(t, widths)
		}
		p.row(t, r, widths, cells, height)
		p.below(below, widths)
		if r.Strong || i == len(t.Rows)-1 {
			continue
		}
		p.rule(p.left, p.left+p.width, p.GetY(), 0.15, pale)
	}
	p.SetY(p.GetY() + 3)
}

// widths shares the page's width out by weight, and gives a column of figures at
// least what its longest text needs.
func (p *printer) widths(t Table) []float64 {
	p.SetFont(family, "B", tablePt)
	widths, sum := make([]float64, len(t.Columns)), 0.0
	need := make([]float64, len(t.Columns))
	for i, c := range t.Columns {
		sum += c.Weight
		if c.Figures {
			need[i] = p.GetStringWidth(c.Head) + 2*cellPadMm
			for _, r := range t.Rows {
				need[i] = max(need[i], p.GetStringWidth(r.Cells[i])+2*cellPadMm+0.4)
			}
		}
	}
	over, slack := 0.0, 0.0
	for i, c := range t.Columns {
		widths[i] = p.width * c.Weight / sum
		if widths[i] < need[i] {
			over += need[i] - widths[i]
			widths[i] = need[i]
		} else {
			slack += widths[i] - need[i]
		}
	}
	if over > 0 && slack > over {
		for i := range widths {
			if widths[i] > need[i] {
				widths[i] -= (widths[i] - need[i]) * over / slack
			}
		}
	}
	return widths
}

func align(c Column) string {
	if c.Figures {
		return "R"
	}
	return "L"
}

// gapBefore is the room between a column of figures and one of text.
func gapBefore(t Table, i int) float64 {
	if i > 0 && t.Columns[i-1].Figures && !t.Columns[i].Figures {
		return textGapMm
	}
	return 0
}

// tableHead sets the headings, those of groups above those of columns.
func (p *printer) tableHead(t Table, widths []float64) {
	height := tablePt*lineMm + 0.6
	p.SetX(p.left)
	if groups := headsOf(t); groups != nil {
		i, x := 0, p.left
		for _, g := range groups {
			width := 0.0
			for range g.Span {
				width += widths[i]
				i++
			}
			colour := dim
			if c, ok := kinds[g.Kind]; ok {
				colour = c
			}
			p.font("B", tablePt, colour)
			p.SetX(x)
			p.CellFormat(width, height, g.Text, "", 0, "C", false, 0, "")
			if g.Text != "" {
				p.rule(x+1.2, x+width-0.6, p.GetY()+height, 0.2, colour)
			}
			x += width
		}
		p.SetY(p.GetY() + height + 0.4)
		p.SetX(p.left)
	}
	p.SetCellMargin(cellPadMm)
	for i, c := range t.Columns {
		colour := dim
		if k, ok := kinds[c.Kind]; ok {
			colour = k
		}
		p.font("B", tablePt, colour)
		gap := gapBefore(t, i)
		p.SetX(p.GetX() + gap)
		p.CellFormat(widths[i]-gap, height, c.Head, "", 0, align(c), false, 0, "")
	}
	p.SetCellMargin(0)
	p.SetY(p.GetY() + height + 0.3)
	p.rule(p.left, p.left+p.width, p.GetY(), 0.35, ink)
}

// cells breaks the texts of a row into lines, and says how high it becomes.
func (p *printer) cells(t Table, r Row, widths []float64) (cells [][]string, height float64) {
	style := ""
	if r.Strong {
		style = "B"
	}
	p.SetFont(family, style, tablePt)
	most := 1
	for i, text := range r.Cells {
		lines := []string{text}
		if !t.Columns[i].Figures && text != "" {
			lines = p.lines(text, widths[i]-2*cellPadMm-gapBefore(t, i))
		}
		cells = append(cells, lines)
		most = max(most, len(lines))
	}
	return cells, float64(most)*tablePt*lineMm + 2*rowPadMm
}

func (p *printer) row(t Table, r Row, widths []float64, cells [][]string, height float64) {
	top := p.GetY()
	style, colour := "", ink
	if r.Strong {
		style = "B"
		p.rule(p.left, p.left+p.width, top, 0.35, ink)
	}
	if r.Faint {
		colour = faint
	}
	p.font(style, tablePt, colour)
	p.SetCellMargin(cellPadMm)
	x := p.left
	for i, lines := range cells {
		for n, l := range lines {
			gap := gapBefore(t, i)
			p.SetXY(x+gap, top+rowPadMm+float64(n)*tablePt*lineMm)
			p.CellFormat(widths[i]-gap, tablePt*lineMm, strings.TrimRight(l, " "), "", 0, align(t.Columns[i]), false, 0, "")
		}
		x += widths[i]
	}
	p.SetCellMargin(0)
	p.SetY(top + height)
}

// belowLines breaks the line under a row, which begins under the second column.
func (p *printer) belowLines(r Row, widths []float64) []string {
	if r.Below == "" {
		return nil
	}
	p.SetFont(family, "", smallPt-0.6)
	return p.lines(r.Below, p.width-widths[0]-cellPadMm)
}

func (p *printer) below(lines []string, widths []float64) {
	if len(lines) == 0 {
		return
	}
	p.font("", smallPt-0.6, dim)
	for _, l := range lines {
		p.SetX(p.left + widths[0] + cellPadMm)
		p.CellFormat(p.width-widths[0], smallPt*lineMm, strings.TrimRight(l, " "), "", 1, "L", false, 0, "")
	}
	p.SetY(p.GetY() + rowPadMm)
}
