package chart

import (
	"math"
	"time"

	"limbwatch/catalog/chart/canvas"
)

// plot is a rectangle of the sheet with a scale along each side.
type plot struct {
	sheet
	area           canvas.Rect
	x0, x1, y0, y1 float64 // at left, right, bottom, top
}

func (p plot) x(v float64) float64 { return p.area.X + (v-p.x0)/(p.x1-p.x0)*p.area.Width }

func (p plot) y(v float64) float64 { return p.area.Bottom() - (v-p.y0)/(p.y1-p.y0)*p.area.Height }

func (p plot) at(x, y float64) canvas.Point { return canvas.Point{X: p.x(x), Y: p.y(y)} }

// within draws what fn draws, cut at the plot's sides.
func (p plot) within(fn func()) { p.Within(canvas.Group{Clip: &p.area}, fn) }

// Sizes of letters.
const (
	sizeTitle  = 18
	sizeText   = 11.5
	sizeFigure = 10.5
	sizeSmall  = 9.5
)

func (s sheet) figure(x, y float64, text string, a canvas.Anchor) {
	s.Text(x, y, text, canvas.Type{Size: sizeFigure, Colour: s.Theme.Muted, Anchor: a})
}

// title sets the heading of a chart: its name, and a line below.
func (s sheet) title(title, below string) {
	s.Text(16, 28, shorten(title, s.Width-32, sizeTitle), canvas.Type{Size: sizeTitle, Bold: true, Colour: s.Theme.Ink})
	s.Text(16, 47, shorten(below, s.Width-32, sizeText), canvas.Type{Size: sizeText, Colour: s.Theme.Muted})
}

// noteStep is the distance of the lines of a note.
const noteStep = 13

// note sets small print that ends at the foot of the sheet.
func (s sheet) note(x float64, lines []string) {
	for i, line := range lines {
		s.Text(x, s.Height-12-noteStep*float64(len(lines)-1-i), line, canvas.Type{Size: sizeSmall, Colour: s.Theme.Muted})
	}
}

// wrap breaks small print between its parts, so that it is no wider than width.
func wrap(parts []string, width float64) (lines []string) {
	for _, part := range parts {
		if n := len(lines); n > 0 {
			if longer := lines[n-1] + " · " + part; canvas.TextWidth(longer, sizeSmall, false) <= width {
				lines[n-1] = longer
				continue
			}
		}
		lines = append(lines, part)
	}
	return lines
}

// extra is the height that the lines of a note after its first take.
func extra(lines []string) float64 { return noteStep * float64(max(0, len(lines)-1)) }

// frame draws the plot's ground.
func (p plot) frame() {
	p.Rectangle(p.area, canvas.Fill(p.Theme.Panel))
}

// nothing says in the middle of the plot that there is nothing to draw in it.
func (p plot) nothing(text string) {
	p.Text(p.area.X+p.area.Width/2, p.area.Y+p.area.Height/2+4, text, canvas.Type{Size: sizeText, Colour: p.Theme.Muted, Anchor: canvas.Middle, Halo: p.Theme.Panel})
}

// sides draws a hairline to the left and below.
func (p plot) sides() {
	line := canvas.Style{Line: p.Theme.Hairline, Width: 0.9, Butt: true}
	p.Path([]canvas.Point{{X: p.area.X, Y: p.area.Y}, {X: p.area.X, Y: p.area.Bottom()}, {X: p.area.Right(), Y: p.area.Bottom()}}, line)
}

// rows draws level lines at values of y with their figures at the left.
func (p plot) rows(values []float64, figure func(float64) string) {
	for _, v := range values {
		y := p.y(v)
		p.Segment(p.area.X, y, p.area.Right(), y, canvas.Style{Line: p.Theme.Faint, Width: 0.8, Butt: true})
		p.figure(p.area.X-6, y+3.6, figure(v), canvas.End)
	}
}

// aside sets the name of the vertical scale along its side.
func (p plot) aside(text string) {
	p.Text(p.area.X-40, p.area.Y+p.area.Height/2, text, canvas.Type{Size: sizeFigure, Colour: p.Theme.Muted, Anchor: canvas.Middle, TurnDeg: 90})
}

// hatch marks a part of the plot that nobody looked at: from x0 to x1 over all of
// its height.
func (p plot) hatch(x0, x1 float64) {
	r := canvas.Rect{X: max(p.area.X, p.x(x0)), Y: p.area.Y, Height: p.area.Height}
	r.Width = min(p.area.Right(), p.x(x1)) - r.X
	if r.Width <= 0.2 {
		return
	}
	hatched(p.sheet, r)
}

func hatched(s sheet, r canvas.Rect) {
	const step = 7.0
	var lines [][]canvas.Point
	// Lines on one raster over the whole sheet, so that neighbours join.
	for c := math.Floor((r.X+r.Y)/step) * step; c < r.Right()+r.Bottom()+step; c += step {
		lines = append(lines, []canvas.Point{{X: c - r.Y, Y: r.Y}, {X: c - r.Bottom(), Y: r.Bottom()}})
	}
	s.Within(canvas.Group{Clip: &r}, func() {
		s.Paths(lines, canvas.Style{Line: s.Theme.Faint, Width: 1, Butt: true})
	})
}

// steps are round values from lo to hi, at most about so many.
func steps(lo, hi float64, most int) []float64 {
	if !(hi > lo) {
		return []float64{lo}
	}
	raw := (hi - lo) / float64(max(1, most))
	unit := math.Pow(10, math.Floor(math.Log10(raw)))
	step := unit * 10
	for _, k := range []float64{1, 2, 5} {
		if k*unit >= raw*(1-1e-9) {
			step = k * unit
			break
		}
	}
	var out []float64
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+step*1e-9; i++ {
		out = append(out, i*step+0) // a zero without a sign
	}
	return out
}

// atLeastTwo are round values like steps, of a finer step where there would be fewer
// than two: one figure alone gives no scale.
func atLeastTwo(lo, hi float64, most int) []float64 {
	values := steps(lo, hi, most)
	for finer := most + 1; len(values) < 2 && finer < most+20; finer++ {
		values = steps(lo, hi, finer)
	}
	return values
}

// every are the multiples of step from lo to hi.
func every(step, lo, hi float64) []float64 {
	var out []float64
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+1e-9; i++ {
		out = append(out, i*step+0) // a zero without a sign
	}
	return out
}

// days of time on an axis count from the year 2000.
func daysOf(t time.Time) float64 {
	return float64(t.Unix()-946684800)/86400 + float64(t.Nanosecond())/86400e9
}

func timeOf(days float64) time.Time {
	return time.Unix(946684800, 0).UTC().Add(time.Duration(days * 24 * float64(time.Hour)))
}

// dates draws a scale of time below the plot: days, weeks, months or years, as there
// is room, with a name of the larger unit where it begins.
func (p plot) dates() {
	perDay := p.area.Width / (p.x1 - p.x0)
	first := timeOf(p.x0)
	switch {
	case perDay >= 9:
		p.dayScale(perDay, first)
	case perDay*30.4 >= 26:
		p.monthScale(first, 1)
	case perDay*91 >= 30:
		p.monthScale(first, 3)
	default:
		p.yearScale(first, max(1, int(math.Ceil(36/(perDay*365.25)))))
	}
}

func (p plot) tick(x, long float64) {
	p.Segment(x, p.area.Bottom(), x, p.area.Bottom()+long, canvas.Style{Line: p.Theme.Hairline, Width: 0.9, Butt: true})
}

func (p plot) dayScale(perDay float64, first time.Time) {
	step := 1
	for _, s := range []int{1, 2, 5, 10} {
		step = s
		if perDay*float64(s) >= 17 {
			break
		}
	}
	lastMonth := -1
	for d := math.Ceil(p.x0 - 1e-9); d <= p.x1+1e-9; d++ {
		t := timeOf(d)
		x := p.x(d)
		p.tick(x, 4)
		if d+0.5 > p.x1 { // figures stand under the middle of their day
			break
		}
		if n := t.Day(); step == 1 || step == 2 && n%2 == 1 && n < 31 || step > 2 && n%step == 0 && n < 30 || n == 1 {
			p.figure(p.x(d+0.5), p.area.Bottom()+16, t.Format("2"), canvas.Middle)
		}
		if int(t.Month()) != lastMonth {
			if end := p.x(min(p.x1, daysOf(time.Date(t.Year(), t.Month()+1, 1, 0, 0, 0, 0, time.UTC)))); end-x > 62 || lastMonth < 0 && end-x > 30 {
				text := t.Format("January 2006")
				if end-x < 90 {
					text = t.Format("Jan")
				}
				p.Text(x+2, p.area.Bottom()+31, text, canvas.Type{Size: sizeFigure, Bold: true, Colour: p.Theme.Muted})
			}
			if lastMonth >= 0 {
				p.tick(x, 22)
			}
			lastMonth = int(t.Month())
		}
	}
}

func (p plot) monthScale(first time.Time, step int) {
	for m := time.Date(first.Year(), time.January, 1, 0, 0, 0, 0, time.UTC); daysOf(m) <= p.x1; m = m.AddDate(0, step, 0) {
		next := m.AddDate(0, step, 0)
		if daysOf(next) <= p.x0 {
			continue
		}
		from, to := max(p.x0, daysOf(m)), min(p.x1, daysOf(next))
		if daysOf(m) >= p.x0 {
			p.tick(p.x(daysOf(m)), 4)
		}
		if w := p.x(to) - p.x(from); w > 22 {
			p.figure((p.x(from)+p.x(to))/2, p.area.Bottom()+16, m.Format("Jan"), canvas.Middle)
		}
	}
	p.yearNames(first, 31, 20)
}

func (p plot) yearScale(first time.Time, step int) {
	for y := first.Year(); ; y++ {
		d := daysOf(time.Date(y, 1, 1, 0, 0, 0, 0, time.UTC))
		if d > p.x1 {
			break
		}
		if d >= p.x0 {
			p.tick(p.x(d), 4)
			if y%step == 0 {
				p.figure(p.x(d), p.area.Bottom()+16, time.Date(y, 1, 1, 0, 0, 0, 0, time.UTC).Format("2006"), canvas.Middle)
			}
		}
	}
}

// yearNames sets each year's number below the months.
func (p plot) yearNames(first time.Time, down, long float64) {
	for y := first.Year(); ; y++ {
		d := daysOf(time.Date(y, 1, 1, 0, 0, 0, 0, time.UTC))
		if d > p.x1 {
			return
		}
		if d >= p.x0 {
			p.tick(p.x(d), long)
		}
		if from := p.x(max(d, p.x0)); p.area.Right()-from > 30 {
			p.Text(from+3, p.area.Bottom()+down, timeOf(d+10).Format("2006"), canvas.Type{Size: sizeFigure, Bold: true, Colour: p.Theme.Muted})
		}
	}
}
