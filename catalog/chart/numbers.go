package chart

import (
	"fmt"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
)

// NumbersInput is what daily numbers show.
//
//	From, To  the span, From ≤ t < To
//	Series    a panel each
//	MeanDays  how many days a running mean takes, 0: 7, or 27 for spans over 70 days
//	Heading   a line under the title
type NumbersInput struct {
	From, To time.Time
	Series   []Series
	MeanDays int
	Heading  string
}

// Series is a number that is counted each day. Days that are missing were not looked
// for and are blank; a day without any has the count 0.
type Series struct {
	Name string
	Kind catalog.Kind // whose colour it has
	Days []DayCount
}

// DayCount is the number of one UT day.
type DayCount struct {
	Day   time.Time
	Count float64
}

// Numbers draws daily numbers with their running means, a panel a series. A day that
// was not looked at is hatched; a day with none is a ring on the base line. The mean
// is over the days looked at alone, and breaks off where those are fewer than a
// third.
func Numbers(in NumbersInput, o Options) (*canvas.Canvas, error) {
	o, err := o.ready(seriesWidth)
	if err != nil {
		return nil, err
	}
	if err := checkSpan(in.From, in.To); err != nil {
		return nil, fmt.Errorf("numbers: %w", err)
	}
	if in.MeanDays == 0 {
		in.MeanDays = 7
		if in.To.Sub(in.From) > 70*24*time.Hour {
			in.MeanDays = 27
		}
	}
	const left, head, gap, foot = 62, 66, 26, 66
	panel := 104.0
	note := wrap([]string{
		fmt.Sprintf("line: running mean of %d days", in.MeanDays), "ring: looked for, none seen", "hatched: not looked for",
	}, o.Width-left-16)
	panels := float64(max(1, len(in.Series)))
	s := newSheet(o, head+panels*(panel+gap)-gap+foot+extra(note))
	s.Title = "Daily numbers from " + spanWords(in.From, in.To)
	below := spanWords(in.From, in.To)
	if in.Heading != "" {
		below += " · " + in.Heading
	}
	s.title("Daily numbers", below)
	for i, series := range in.Series {
		area := canvas.Rect{X: left, Y: head + 12 + float64(i)*(panel+gap), Width: o.Width - left - 26, Height: panel - 12}
		p := numberPanel{plot: plot{sheet: s, area: area, x0: daysOf(in.From), x1: daysOf(in.To)}, in: in, series: series}
		p.draw()
		if i == len(in.Series)-1 {
			p.dates()
		}
		s.Description += p.summary() + ". "
	}
	if len(in.Series) == 0 {
		p := plot{sheet: s, area: canvas.Rect{X: left, Y: head + 12, Width: o.Width - left - 26, Height: panel - 12}, x0: daysOf(in.From), x1: daysOf(in.To)}
		p.frame()
		p.sides()
		p.dates()
		p.nothing("nothing was counted in these days")
		s.Description = "Nothing was counted in these days."
		return s.Canvas, nil
	}
	s.note(left, note)
	return s.Canvas, nil
}

type numberPanel struct {
	plot
	in     NumbersInput
	series Series
}

func (p *numberPanel) draw() {
	days := p.days()
	top := 1.0
	for _, d := range days {
		top = max(top, d.Count)
	}
	levels := steps(0, top*1.08, 5)
	for len(levels) > 1 && levels[1] != math.Trunc(levels[1]) { // counts are whole
		levels = every(1, 0, math.Ceil(top))
	}
	p.y0, p.y1 = 0, top*1.12
	p.frame()
	looked := make([]time.Time, len(days))
	for i, d := range days {
		looked[i] = d.Day
	}
	p.gaps(looked, true)
	p.rows(levels, func(v float64) string { return fmt.Sprintf("%g", v) })
	p.sides()
	c := p.Theme.Kinds[p.series.Kind]
	if c.A == 0 {
		c = p.Theme.Accent
	}
	perDay := p.area.Width / (p.x1 - p.x0)
	radius := max(0.9, min(3.4, perDay*0.22))
	for _, d := range days {
		x, y := p.x(math.Floor(daysOf(d.Day))+0.5), p.y(d.Count)
		label := fmt.Sprintf("%s: %s %g", isoDay(d.Day), p.series.Name, d.Count)
		p.onDay(d.Day, 0, label, func() {
			if d.Count == 0 {
				p.Circle(x, y, radius, canvas.Style{Fill: p.Theme.Panel, Line: c, Width: max(0.7, radius*0.4)})
				return
			}
			if perDay > 4 {
				p.Segment(x, p.y(0), x, y, canvas.Style{Line: canvas.Faded(c, 0.35), Width: min(5, perDay*0.3), Butt: true})
			}
			p.Circle(x, y, radius, canvas.Fill(canvas.Faded(c, min(1, 0.45+perDay/12))))
		})
	}
	p.within(func() { p.mean(days) })
	p.Text(p.area.X, p.area.Y-6, p.series.Name, canvas.Type{Size: sizeText, Bold: true, Colour: p.Theme.Ink})
	p.Text(p.area.Right(), p.area.Y-6, p.meanWords(), canvas.Type{Size: sizeFigure, Colour: p.Theme.Muted, Anchor: canvas.End})
}

// days are the series' days within the span, in order.
func (p *numberPanel) days() []DayCount {
	var out []DayCount
	for _, d := range p.series.Days {
		if !math.IsNaN(d.Count) && !d.Day.Before(catalog.DayOf(p.in.From)) && d.Day.Before(p.in.To) {
			out = append(out, d)
		}
	}
	slices.SortStableFunc(out, func(a, b DayCount) int { return a.Day.Compare(b.Day) })
	return out
}

// mean draws the running mean, in pieces.
func (p *numberPanel) mean(days []DayCount) {
	var run []canvas.Point
	flush := func() {
		if len(run) > 1 {
			width := max(1, min(1.7, p.area.Width/(p.x1-p.x0)))
			p.Path(run, canvas.Stroke(canvas.Faded(p.Theme.Ink, 0.88), width))
		}
		run = nil
	}
	for d := math.Floor(p.x0); d < p.x1; d++ {
		mean, ok := runningMean(days, d, p.in.MeanDays)
		if !ok {
			flush()
			continue
		}
		run = append(run, p.at(d+0.5, mean))
	}
	flush()
}

// runningMean is the mean of the days looked at within a window centred on a day;
// false when they are fewer than a third of it.
func runningMean(days []DayCount, day float64, width int) (float64, bool) {
	half := float64(width-1) / 2
	sum, n := 0.0, 0
	for _, d := range days {
		if math.Abs(math.Floor(daysOf(d.Day))-day) <= half+1e-9 {
			sum += d.Count
			n++
		}
	}
	if n == 0 || 3*n < width {
		return 0, false
	}
	return sum / float64(n), true
}

// meanWords give the mean daily frequency: over the days looked at.
func (p *numberPanel) meanWords() string {
	days := p.days()
	if len(days) == 0 {
		return "not looked for"
	}
	sum := 0.0
	for _, d := range days {
		sum += d.Count
	}
	span := int(math.Ceil(p.x1) - math.Floor(p.x0))
	return fmt.Sprintf("mean daily frequency %.1f, %d of %d days", sum/float64(len(days)), len(days), span)
}

func (p *numberPanel) summary() string { return p.series.Name + ": " + p.meanWords() }
