package report

import (
	"fmt"
	"io"
	"math"
	"sort"
	"strings"
	"unicode"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"codeberg.org/go-pdf/fpdf"
)

// Paper is a size of paper. Its zero is A4.
type Paper uint8

// The papers of a PDF.
const (
	A4 Paper = iota
	Letter
)

// ParsePaper reads a paper's name.
func ParsePaper(text string) (Paper, error) {
	switch strings.ToLower(text) {
	case "a4":
		return A4, nil
	case "letter":
		return Letter, nil
	}
	return 0, fmt.Errorf("paper %q: want A4 or Letter", text)
}

// String is the paper's name.
func (p Paper) String() string { return [...]string{"A4", "Letter"}[p] }

// Margins of a page and sizes of letters, millimetres and points.
const (
	marginSide, marginTop, marginFoot = 13.0, 14.0, 17.0

	titlePt, headingPt, textPt, smallPt, tablePt = 24.0, 13.5, 9.0, 7.6, 7.6
	lineMm                                       = 0.3528 * 1.38 // of text, a point of its size
)

// The colours of the page, as in page.css.
var (
	ink    = [3]int{0x1c, 0x1a, 0x17}
	dim    = [3]int{0x66, 0x5f, 0x56}
	faint  = [3]int{0xb9, 0xb1, 0xa4}
	line   = [3]int{0xcf, 0xc8, 0xbc}
	pale   = [3]int{0xec, 0xe7, 0xdf}
	accent = [3]int{0x9a, 0x3a, 0x0c}
	kinds  = map[string][3]int{
		"sunspot": {0x00, 0x72, 0xb2}, "plage": {0x8f, 0x63, 0x00}, "filament": {0x00, 0x70, 0x4f}, "prominence": {0xb3, 0x47, 0x00},
	}
)

// WritePDF writes a document as PDF on a paper.
func WritePDF(w io.Writer, d Document, paper Paper) error {
	p := newPrinter(d, paper)
	p.head()
	for i, s := range d.Sections {
		p.section(s, i == 0)
		for _, b := range s.Blocks {
			p.block(b)
		}
	}
	if p.err != nil {
		return p.err
	}
	return p.Output(w)
}

// printer lays a document out on pages.
type printer struct {
	*fpdf.Fpdf
	doc           Document
	width, height float64 // of the text's area
	left, bottom  float64
	pictures      int          // so far
	taken         map[int]bool // widths of pictures, in pixels
	err           error
}

const family = "DejaVu"

func newPrinter(d Document, paper Paper) *printer {
	pdf := fpdf.New("P", "mm", paper.String(), "")
	pdf.AddUTF8FontFromBytes(family, "", dejavusanscondensed.TTF)
	pdf.AddUTF8FontFromBytes(family, "B", dejavusanscondensedbold.TTF)
	addChartFonts(pdf)
	pdf.SetTitle(d.Title, true)
	pdf.SetCreator(d.Program, true)
	pdf.SetProducer(d.Program, true)
	pdf.SetCreationDate(d.Made.UTC())
	pdf.SetModificationDate(d.Made.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetLang("en")
	pdf.SetMargins(marginSide, marginTop, marginSide)
	pdf.SetAutoPageBreak(false, marginFoot)
	pdf.SetCompression(true)
	pageWidth, pageHeight := pdf.GetPageSize()
	p := &printer{Fpdf: pdf, doc: d, taken: map[int]bool{}, left: marginSide, width: pageWidth - 2*marginSide,
		height: pageHeight - marginTop - marginFoot, bottom: pageHeight - marginFoot}
	pdf.SetCellMargin(0)
	pdf.AliasNbPages("{pages}")
	pdf.SetFooterFunc(p.foot)
	pdf.AddPage()
	return p
}

// foot closes a page.
func (p *printer) foot() {
	p.SetXY(p.left, p.bottom+6)
	p.font("", smallPt, dim)
	p.CellFormat(p.width, 4, fmt.Sprintf("%s  ·  %d / {pages}", p.doc.Title, p.PageNo()), "", 0, "L", false, 0, "")
}

// printable is a text as the library can set it: it fails on signs beyond the first
// 65536, as most emoji are. A sign of substitution stands for each.
func printable(text string) string {
	return strings.Map(func(sign rune) rune {
		switch {
		case unicode.Is(unicode.Variation_Selector, sign), sign == zeroWidthJoiner:
			return -1 // these only say how the sign before is drawn
		case sign > 0xffff:
			return unicode.ReplacementChar
		}
		return sign
	}, text)
}

const zeroWidthJoiner = '\u200d'

// CellFormat, Text and GetStringWidth are the library's, of what it can set.
func (p *printer) CellFormat(w, h float64, text, border string, next int, align string, fill bool, link int, to string) {
	p.Fpdf.CellFormat(w, h, printable(text), border, next, align, fill, link, to)
}

func (p *printer) Text(x, y float64, text string) { p.Fpdf.Text(x, y, printable(text)) }

func (p *printer) GetStringWidth(text string) float64 { return p.Fpdf.GetStringWidth(printable(text)) }

func (p *printer) font(style string, points float64, colour [3]int) {
	p.SetFont(family, style, points)
	p.SetTextColor(colour[0], colour[1], colour[2])
}

func (p *printer) rule(x0, x1, y, width float64, colour [3]int) {
	p.SetDrawColor(colour[0], colour[1], colour[2])
	p.SetLineWidth(width)
	p.Line(x0, y, x1, y)
}

// room begins a new page when less than so much of this one is left.
func (p *printer) room(mm float64) bool {
	if p.GetY()+mm <= p.bottom {
		return false
	}
	p.AddPage()
	p.SetY(marginTop)
	return true
}

// write sets a paragraph in an area of the page.
func (p *printer) write(x, width, points float64, text string) {
	height := points * lineMm
	for _, part := range strings.Split(text, "\n") {
		for _, l := range p.lines(part, width) {
			p.room(height)
			p.SetX(x)
			p.CellFormat(width, height, strings.TrimRight(l, " "), "", 1, "L", false, 0, "")
		}
	}
}

// lines breaks a text into lines that fit a width, at blanks, but not at those that
// hold words together; a word that is too long is cut.
func (p *printer) lines(text string, width float64) []string {
	var out []string
	current := ""
	for _, word := range strings.Split(text, " ") {
		longer := word
		if current != "" {
			longer = current + " " + word
		}
		if p.GetStringWidth(longer) <= width {
			current = longer
			continue
		}
		if current != "" {
			out = append(out, current)
		}
		for p.GetStringWidth(word) > width && len([]rune(word)) > 1 {
			cut := []rune(word)
			n := max(1, sort.Search(len(cut), func(i int) bool { return p.GetStringWidth(string(cut[:i+1])) > width }))
			out, word = append(out, string(cut[:n])), string(cut[n:])
		}
		current = word
	}
	return append(out, current)
}

// head is the report's title with who, where and with what.
func (p *printer) head() {
	const sun = 15.0
	p.disc(p.left+sun/2, marginTop+sun/2, sun/2)
	x := p.left + sun + 5
	p.SetXY(x, marginTop+1)
	p.font("B", titlePt, ink)
	p.CellFormat(p.width-sun-5, 9, p.doc.Title, "", 2, "L", false, 0, "")
	p.font("", textPt, dim)
	p.CellFormat(p.width-sun-5, 5, p.doc.Subtitle, "", 1, "L", false, 0, "")
	p.SetY(marginTop + sun + 5)
	for _, f := range p.doc.Facts {
		p.SetX(p.left)
		p.font("", textPt, dim)
		p.CellFormat(23, textPt*lineMm, f.Label, "", 0, "L", false, 0, "")
		p.font("", textPt, ink)
		p.write(p.left+23, p.width-23, textPt, f.Text)
		p.SetY(p.GetY() + 0.8)
	}
	p.SetY(p.GetY() + 3)
	p.rule(p.left, p.left+p.width, p.GetY(), 0.2, line)
}

// disc is the small Sun of the head, darker toward its limb.
func (p *printer) disc(x, y, radius float64) {
	const rings = 40
	for i := range rings {
		part := float64(i) / (rings - 1)
		mix := func(from, to float64) int { return int(to + (from-to)*(1-part)) }
		p.SetFillColor(mix(0x9a, 0xf6), mix(0x3a, 0xb2), mix(0x0c, 0x6b))
		p.Circle(x, y, radius*(1-0.75*part*part), "F")
	}
}

func (p *printer) section(s Section, first bool) {
	if s.NewPage && !first {
		p.AddPage()
		p.SetY(marginTop)
	} else {
		p.SetY(p.GetY() + 8)
		p.room(p.beginning(s))
	}
	p.Bookmark(s.Title, 0, -1)
	p.SetX(p.left)
	p.font("B", headingPt, ink)
	p.CellFormat(p.width, 7, s.Title, "", 1, "L", false, 0, "")
	p.SetY(p.GetY() + 1)
}

// beginning is how much of a page a section needs so that its heading does not stand
// alone at the foot.
func (p *printer) beginning(s Section) float64 {
	const heading, some = 8, 26
	if len(s.Blocks) == 1 && len(s.Blocks[0].Items) > 0 { // a list stays together
		p.SetFont(family, "", textPt)
		need := float64(heading)
		for _, item := range s.Blocks[0].Items {
			need += float64(len(p.lines(item, p.width-5)))*textPt*lineMm + 1
		}
		return need
	}
	if len(s.Blocks) > 0 && s.Blocks[0].Figures != nil {
		f := s.Blocks[0].Figures
		first := f.Items[0].Chart
		return heading + 0.8*p.figureWidth(*f)*first.Height/first.Width + 8
	}
	return heading + some
}

func (p *printer) figureWidth(f Figures) float64 {
	return (p.width - figureGapMm*float64(f.PerRow-1)) / float64(f.PerRow)
}

// figureGapMm is between figures side by side.
const figureGapMm = 6.0

func (p *printer) block(b Block) {
	switch {
	case b.Text != "":
		p.font("", textPt, ink)
		p.write(p.left, p.width, textPt, b.Text)
		p.SetY(p.GetY() + 2)
	case b.Words != "":
		p.words(b.Words)
	case b.Small != "":
		p.SetY(p.GetY() + 1.5)
		p.font("", smallPt, dim)
		p.write(p.left, p.width, smallPt, b.Small)
	case len(b.Items) > 0:
		for _, item := range b.Items {
			p.room(textPt * lineMm)
			p.SetX(p.left)
			p.font("", textPt, accent)
			p.CellFormat(5, textPt*lineMm, "•", "", 0, "L", false, 0, "")
			p.font("", textPt, ink)
			p.write(p.left+5, p.width-5, textPt, item)
			p.SetY(p.GetY() + 1)
		}
	case b.Table != nil:
		p.table(*b.Table)
	case b.Figures != nil:
		p.figures(*b.Figures)
	}
}

// words sets what the observer says, with a bar beside it.
func (p *printer) words(text string) {
	const points = textPt + 1
	p.font("", points, ink)
	for _, part := range strings.Split(text, "\n") {
		for _, l := range p.lines(part, p.width-6) {
			p.room(points * lineMm)
			p.SetFillColor(accent[0], accent[1], accent[2])
			p.Rect(p.left, p.GetY(), 0.8, points*lineMm, "F")
			p.SetX(p.left + 5)
			p.CellFormat(p.width-6, points*lineMm, strings.TrimRight(l, " "), "", 1, "L", false, 0, "")
		}
	}
	p.SetY(p.GetY() + 3)
}

// Below a chart is a little room before its caption, and more below that.
const (
	captionGapMm = 1.0
	rowGapMm     = 6.0
)

// figures lays charts out beside and below one another.
func (p *printer) figures(f Figures) {
	p.SetY(p.GetY() + 2)
	scale := p.evenly(f)
	for first := 0; first < len(f.Items); first += f.PerRow {
		row := f.Items[first:min(len(f.Items), first+f.PerRow)]
		tallest, captions := p.rowHeights(f, row)
		if f.PerRow == 1 {
			scale = p.shrink(tallest, captions+captionGapMm)
		}
		p.room(scale*tallest + captions + captionGapMm)
		top := p.GetY()
		for i, item := range row {
			x := p.left + float64(i)*(p.figureWidth(f)+figureGapMm)
			width := scale * p.figureWidth(f)
			if err := p.chart(item.Chart, x, top, width); err != nil && p.err == nil {
				p.err = err
			}
			p.SetXY(x, top+width*item.Chart.Height/item.Chart.Width+captionGapMm)
			p.font("", smallPt, dim)
			p.write(x, p.figureWidth(f), smallPt, item.Caption)
		}
		p.SetY(top + scale*tallest + captions + captionGapMm + rowGapMm)
	}
}

// rowHeights are how high the charts of a row are at full width, and their captions.
func (p *printer) rowHeights(f Figures, row []Figure) (tallest, captions float64) {
	width := p.figureWidth(f)
	p.SetFont(family, "", smallPt)
	for _, item := range row {
		tallest = max(tallest, width*item.Chart.Height/item.Chart.Width)
		captions = max(captions, float64(len(p.lines(item.Caption, width)))*smallPt*lineMm)
	}
	return tallest, captions
}

// shrink is by how much a chart is made smaller so that it ends on the page it begins
// on: not at all where that would be more than a fifth.
func (p *printer) shrink(tallest, rest float64) float64 {
	left := p.bottom - p.GetY() - rest
	if left < tallest && left > 0.8*tallest {
		return left / tallest
	}
	return 1
}

// evenly is by how much charts that stand side by side are all made smaller, a fifth
// at most, so that one more row of them goes on a page below its heading.
func (p *printer) evenly(f Figures) float64 {
	if f.PerRow == 1 {
		return 1
	}
	const heading = 11.0
	tallest, rest := 0.0, 0.0
	for first := 0; first < len(f.Items); first += f.PerRow {
		t, captions := p.rowHeights(f, f.Items[first:min(len(f.Items), first+f.PerRow)])
		tallest, rest = max(tallest, t), max(rest, captions+captionGapMm+rowGapMm)
	}
	rows := math.Floor((p.height - heading + rowGapMm) / (0.8*tallest + rest))
	return min(1, ((p.height-heading+rowGapMm)/max(1, rows)-rest)/tallest)
}
