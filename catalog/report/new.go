package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/measure"
)

// composer puts a report together.
//
//	looks      the looks by their frame
//	contrasts  of the marks on the frames whose pictures are drawn
type composer struct {
	Input
	days      []Day
	looks     map[catalog.FrameID]*chart.Look
	contrasts map[catalog.MarkID]*measure.Contrast
}

// newComposer begins a report.
func newComposer(in Input) composer {
	c := composer{Input: in, days: in.Days(), looks: map[catalog.FrameID]*chart.Look{}, contrasts: map[catalog.MarkID]*measure.Contrast{}}
	for i, l := range in.Looks {
		c.looks[l.Frame] = &in.Looks[i]
	}
	return c
}

// New puts a report together. Errors: those of charts that cannot be drawn.
func New(in Input) (Document, error) {
	if in.K == 0 {
		in.K = 1
	}
	if !in.Period.From.Before(in.Period.To) {
		return Document{}, fmt.Errorf("report from %s to %s: no day lies between", in.Period.From.Format(time.DateOnly), in.Period.To.Format(time.DateOnly))
	}
	c := newComposer(in)
	doc := Document{
		Title: c.title(), Subtitle: c.subtitle(), Facts: c.facts(), Program: in.Program, Made: in.Made,
	}
	if words := strings.TrimSpace(in.Words); words != "" {
		section := Section{Title: "In the observer’s words"}
		for _, part := range strings.Split(strings.ReplaceAll(words, "\r\n", "\n"), "\n\n") {
			if part = strings.TrimSpace(part); part != "" {
				section.Blocks = append(section.Blocks, Block{Words: part})
			}
		}
		doc.Sections = append(doc.Sections, section)
	}
	maps, err := c.maps()
	if err != nil {
		return doc, err
	}
	discs, err := c.discs()
	if err != nil {
		return doc, err
	}
	numbers, err := c.numbers()
	if err != nil {
		return doc, err
	}
	doc.Sections = append(doc.Sections, c.summary(numbers...), c.daily(), c.observed())
	for _, s := range []*Section{maps, c.regions(), c.filaments(), c.prominences(), discs, c.unsettled(), c.exactness(), c.cautions()} {
		if s != nil {
			doc.Sections = append(doc.Sections, *s)
		}
	}
	return doc, nil
}

func (c composer) title() string {
	return "The Sun, " + c.Period.String()
}

func (c composer) subtitle() string {
	last := c.Period.To.AddDate(0, 0, -1)
	return fmt.Sprintf("%s to %s UT · observed on %s of %d", c.Period.From.Format("2 January 2006"),
		last.Format("2 January 2006"), count(c.observedDays(), "day", "days"), c.Period.Days())
}

func (c composer) observedDays() (n int) {
	for _, d := range c.days {
		if d.Observed() {
			n++
		}
	}
	return n
}

// facts are who, where and with what, each once.
func (c composer) facts() []Fact {
	var observers, sites, instruments []string
	add := func(to *[]string, text string) {
		if text != "" && !slices.Contains(*to, text) {
			*to = append(*to, text)
		}
	}
	for _, s := range c.Sittings {
		add(&observers, observerText(s.Observer))
		add(&sites, siteText(s.Site))
		add(&instruments, instrumentText(s.Instrument, s.Setup))
	}
	var facts []Fact
	for _, f := range []struct {
		one, many string
		texts     []string
	}{{"Observer", "Observers", observers}, {"Site", "Sites", sites}, {"Instrument", "Instruments", instruments}} {
		label := f.one
		if len(f.texts) > 1 {
			label = f.many
		}
		if len(f.texts) > 0 {
			facts = append(facts, Fact{label, strings.Join(f.texts, "\n")})
		}
	}
	return facts
}

func observerText(o *catalog.Observer) string {
	switch {
	case o == nil:
		return ""
	case o.Code != "":
		return o.Name + " (" + o.Code + ")"
	}
	return o.Name
}

func siteText(s *catalog.Site) string {
	if s == nil {
		return ""
	}
	ns, ew := "N", "E"
	lat, lon := s.LatDeg, s.LonDeg
	if lat < 0 {
		ns, lat = "S", -lat
	}
	if lon < 0 {
		ew, lon = "W", -lon
	}
	text := fmt.Sprintf("%s, %.2f° %s, %.2f° %s", s.Name, lat, ns, lon, ew)
	if s.ElevationM != 0 {
		text += fmt.Sprintf(", %.0f m", s.ElevationM)
	}
	return text
}

// instrumentText names telescope and set-up with what matters of them.
func instrumentText(i *catalog.Instrument, s *catalog.Setup) string {
	if s == nil {
		return ""
	}
	var parts []string
	if i != nil {
		text := i.Name
		if i.ApertureMm > 0 && i.FocalMm > 0 {
			text += fmt.Sprintf(" (%g/%g mm)", i.ApertureMm, i.FocalMm)
		} else if i.ApertureMm > 0 {
			text += fmt.Sprintf(" (%g mm)", i.ApertureMm)
		}
		parts = append(parts, text)
	}
	parts = append(parts, s.Name)
	return strings.Join(append(parts, bandTexts(*s)...), ", ")
}

// bandTexts say which light a set-up lets through.
func bandTexts(s catalog.Setup) (parts []string) {
	if s.WavelengthA > 0 {
		line := ""
		if s.InHAlpha() {
			line = "Hα "
		}
		parts = append(parts, fmt.Sprintf("%s%g Å", line, s.WavelengthA))
	}
	if s.PassbandA > 0 {
		parts = append(parts, fmt.Sprintf("passband %g Å", s.PassbandA))
	}
	switch {
	case s.Stacked == 2:
		parts = append(parts, "double stack")
	case s.Stacked > 2:
		parts = append(parts, fmt.Sprintf("%d filters stacked", s.Stacked))
	}
	return parts
}

// summary is the season at a glance: mean daily frequencies.
func (c composer) summary(more ...Block) Section {
	t := &Table{Columns: []Column{
		{Head: "", Weight: 3.2}, {Head: "days looked for", Weight: 1.5, Figures: true}, {Head: "sum", Weight: 1, Figures: true},
		{Head: "mean a day", Weight: 1.3, Figures: true}, {Head: "north", Weight: 1, Figures: true}, {Head: "south", Weight: 1, Figures: true},
	}}
	for _, f := range Frequencies(c.days, c.K) {
		if f.Days == 0 {
			t.Rows = append(t.Rows, Row{Cells: []string{f.Name, "0", "", "", "", ""}, Faint: true})
			continue
		}
		t.Rows = append(t.Rows, Row{Cells: []string{f.Name, fmt.Sprint(f.Days), sumText(f.Sum),
			fmt.Sprintf("%.2f", f.Mean), optionalMean(f.North), optionalMean(f.South)}})
	}
	return Section{Title: "Mean daily frequencies", Blocks: append([]Block{{Table: t},
		small("The sum of a kind’s daily counts over the days on which it was looked for, divided by those days. Hemispheres by the days on which they could be told apart.")}, more...)}
}

func (c composer) cautions() *Section {
	if len(c.Cautions) == 0 {
		return nil
	}
	return &Section{Title: "For eyes and equipment", Blocks: []Block{{Items: c.Cautions}}}
}

// chartOptions are those of print.
func chartOptions(width float64) chart.Options {
	return chart.Options{Theme: chart.Paper, Width: width, Density: chartDensity}
}

// chartDensity is the pixels to a unit of pictures in charts: some 250 to the inch at
// the size that they have on paper.
const chartDensity = 2
