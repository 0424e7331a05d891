package chart

import (
	"fmt"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
)

// PassageInput is what the chart of one feature's passage shows.
//
//	Passage, Name, Kind  of the passage
//	Observed    where it was marked
//	Predicted   where it was expected, at instants close enough to be joined by
//	            straight lines; may be empty
//	By          what the prediction rests on, in words: a law, a fit
//	East, Meridian, West  when it came over the east limb, passed the meridian and
//	            left over the west limb, computed, with errors; zero: left out
//	Heading     a line under the title
type PassageInput struct {
	Passage              catalog.PassageID
	Name                 string
	Kind                 catalog.Kind
	Observed             []Sight
	Predicted            []Sight
	By                   string
	East, Meridian, West Moment
	Heading              string
}

// Sight is a place at an instant, with its error; Mark and Frame are zero for a
// prediction.
type Sight struct {
	UTC   time.Time
	Place coords.Measured
	Mark  catalog.MarkID
	Frame catalog.FrameID
}

// Passage draws a feature's Carrington longitude and latitude against time, observed
// with their errors over the predicted course with its own, and the misses.
func Passage(in PassageInput, o Options) (*canvas.Canvas, error) {
	o, err := o.ready(760)
	if err != nil {
		return nil, err
	}
	if len(in.Observed) == 0 {
		return nil, fmt.Errorf("passage %s: no observed place to draw", in.Name)
	}
	in.Observed, in.Predicted = sortedSights(in.Observed), sortedSights(in.Predicted)
	const left, head, foot = 62, 96, 64
	heights := []float64{210, 110, 92}
	names := []string{"Carrington longitude", "latitude", "longitude, observed − predicted"}
	if len(in.Predicted) < 2 {
		heights, names = heights[:2], names[:2]
	}
	total := float64(head)
	for _, h := range heights {
		total += h + 28
	}
	by := "predicted, ±1 and ±2 σ"
	if in.By != "" {
		by += ": " + in.By
	}
	below := left+14+22+28+canvas.TextWidth("observed, ±1 σ"+by, sizeSmall, false) > o.Width-16
	if below && len(in.Predicted) > 1 {
		total += noteStep
	}
	s := newSheet(o, total-28+foot)
	s.Title = fmt.Sprintf("Passage %s, %s", in.Name, in.Kind)
	s.title(in.Name, fmt.Sprintf("%s · %s to %s", in.Kind, dateOf(in.Observed[0].UTC), dateOf(in.Observed[len(in.Observed)-1].UTC)))
	if in.Heading != "" {
		s.Text(o.Width-16, 28, in.Heading, canvas.Type{Size: sizeText, Colour: s.Theme.Muted, Anchor: canvas.End})
	}
	from, to := in.span()
	d := passageDrawing{in: in, origin: in.Observed[0].Place.L}
	top := float64(head)
	for i, h := range heights {
		p := plot{sheet: s, area: canvas.Rect{X: left, Y: top, Width: o.Width - left - 24, Height: h}, x0: daysOf(from), x1: daysOf(to)}
		p.y0, p.y1 = d.scale(i)
		d.panel(p, i, names[i])
		d.events(p, i == 0)
		if i == len(heights)-1 {
			p.dates()
		}
		top += h + 28
	}
	d.key(s, by, below)
	s.Description = d.words()
	return s.Canvas, nil
}

func sortedSights(all []Sight) []Sight {
	out := slices.Clone(all)
	slices.SortStableFunc(out, func(a, b Sight) int { return a.UTC.Compare(b.UTC) })
	return out
}

// span is the time that the chart covers, with some air.
func (in PassageInput) span() (from, to time.Time) {
	from, to = in.Observed[0].UTC, in.Observed[len(in.Observed)-1].UTC
	for _, m := range []Moment{in.East, in.Meridian, in.West} {
		if t := m.UTC; !t.IsZero() && t.Sub(to) < 16*24*time.Hour && from.Sub(t) < 16*24*time.Hour {
			from, to = earlier(from, t), later(to, t)
		}
	}
	return from.Add(-18 * time.Hour), to.Add(18 * time.Hour)
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// passageDrawing is a passage being drawn. Longitudes count on from the first one's.
type passageDrawing struct {
	in     PassageInput
	origin coords.Angle
}

// The panels.
const (
	longitudePanel = iota
	latitudePanelNo
	missPanel
)

// value is what a panel shows of a place, with its error, in degrees.
func (d passageDrawing) value(panel int, s Sight) (value, sigma float64) {
	switch panel {
	case longitudePanel:
		return d.origin.Degrees() + (s.Place.L - d.origin).Wrap180().Degrees(), s.Place.Cov.SigmaL().Degrees()
	case latitudePanelNo:
		return s.Place.B.Degrees(), s.Place.Cov.SigmaB().Degrees()
	}
	predicted, ok := d.predictedAt(s.UTC)
	if !ok {
		return math.NaN(), 0
	}
	return (s.Place.L - predicted.L).Wrap180().Degrees(), s.Place.Cov.SigmaL().Degrees()
}

// predictedAt is the predicted place at an instant within the prediction's span.
func (d passageDrawing) predictedAt(t time.Time) (coords.Measured, bool) {
	all := d.in.Predicted
	for i := 1; i < len(all); i++ {
		a, b := all[i-1], all[i]
		if t.Before(a.UTC) || t.After(b.UTC) {
			continue
		}
		f := coords.Angle(0)
		if span := b.UTC.Sub(a.UTC); span > 0 {
			f = coords.Angle(float64(t.Sub(a.UTC)) / float64(span))
		}
		m := a.Place
		m.B += f * (b.Place.B - a.Place.B)
		m.L += f * (b.Place.L - a.Place.L).Wrap180()
		m.Cov.LL += float64(f) * (b.Place.Cov.LL - a.Place.Cov.LL)
		m.Cov.BB += float64(f) * (b.Place.Cov.BB - a.Place.Cov.BB)
		return m, true
	}
	return coords.Measured{}, false
}

// scale is what a panel's scale must hold.
func (d passageDrawing) scale(panel int) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range d.in.Observed {
		if v, sigma := d.value(panel, s); !math.IsNaN(v) {
			low, high = min(low, v-sigma), max(high, v+sigma)
		}
	}
	if panel == missPanel {
		reach := max(1, -low, high)
		return -1.1 * reach, 1.1 * reach
	}
	from, to := d.in.span()
	for _, s := range d.in.Predicted {
		if !s.UTC.Before(from) && !s.UTC.After(to) {
			v, sigma := d.value(panel, s)
			sigma = min(sigma, 6) // a hopeless prediction must not flatten the rest
			low, high = min(low, v-sigma), max(high, v+sigma)
		}
	}
	if low > high { // nothing to show
		return 0, 1
	}
	air := max(0.6, 0.08*(high-low))
	return low - air, high + air
}

func (d passageDrawing) panel(p plot, panel int, name string) {
	p.frame()
	p.rows(atLeastTwo(p.y0, p.y1, int(p.area.Height/25)), func(v float64) string { return d.figure(panel, v) })
	if panel == missPanel {
		p.Segment(p.area.X, p.y(0), p.area.Right(), p.y(0), canvas.Style{Line: p.Theme.Accent, Width: 1.2, Butt: true})
	}
	p.sides()
	p.Text(p.area.X, p.area.Y-7, name, canvas.Type{Size: sizeText, Bold: true, Colour: p.Theme.Ink})
	c := p.Theme.Kinds[d.in.Kind]
	p.within(func() {
		if len(d.in.Predicted) > 1 {
			d.course(p, panel)
		}
		for _, s := range d.in.Observed {
			v, sigma := d.value(panel, s)
			if math.IsNaN(v) {
				continue
			}
			x := p.x(daysOf(s.UTC))
			p.linked(subject{s.Mark, s.Frame, d.in.Passage, s.UTC}, d.tell(s), func() {
				p.errorBar(x, p.y(v-sigma), p.y(v+sigma), c)
				p.Circle(x, p.y(v), 3.6, canvas.Style{Fill: p.Theme.Panel, Line: c, Width: 1.8})
			})
		}
	})
}

// errorBar draws one standard error either way.
func (p plot) errorBar(x, low, high float64, c canvas.Colour) {
	line := canvas.Style{Line: c, Width: 1.1, Butt: true}
	p.Segment(x, low, x, high, line)
	for _, y := range []float64{low, high} {
		p.Segment(x-3, y, x+3, y, line)
	}
}

func (d passageDrawing) figure(panel int, v float64) string {
	switch panel {
	case longitudePanel:
		turn := math.Mod(math.Mod(v, 360)+360, 360)
		return fmt.Sprintf("%g°", math.Mod(math.Round(turn*100)/100, 360)) // rounded last, and 360° is 0°
	case latitudePanelNo:
		return latitude(coords.Angle(v)*coords.Degree, 1) + "°"
	}
	if v == 0 {
		return "0°"
	}
	return minus("%+g°", math.Round(v*100)/100)
}

func (d passageDrawing) tell(s Sight) string {
	return fmt.Sprintf("%s: L %s° ± %.1f°, %s° ± %.1f°", s.UTC.UTC().Format("2006-01-02 15:04 UT"),
		s.Place.L.TurnText(1), s.Place.Cov.SigmaL().Degrees(), latitude(s.Place.B, 1), s.Place.Cov.SigmaB().Degrees())
}

// course draws the prediction: a line in bands of one and two standard errors.
func (d passageDrawing) course(p plot, panel int) {
	var line []canvas.Point
	bands := [2][2][]canvas.Point{}
	for _, s := range d.in.Predicted {
		v, sigma := d.value(panel, s)
		if panel == missPanel {
			v, sigma = 0, s.Place.Cov.SigmaL().Degrees()
		}
		x := daysOf(s.UTC)
		line = append(line, p.at(x, v))
		for k := range bands {
			reach := float64(k+1) * sigma
			bands[k][0] = append(bands[k][0], p.at(x, v+reach))
			bands[k][1] = append(bands[k][1], p.at(x, v-reach))
		}
	}
	for k := len(bands) - 1; k >= 0; k-- {
		low := slices.Clone(bands[k][1])
		slices.Reverse(low)
		p.Polygon(append(slices.Clone(bands[k][0]), low...), canvas.Fill(canvas.Faded(p.Theme.Accent, 0.1)))
	}
	if panel != missPanel {
		p.Path(line, canvas.Stroke(p.Theme.Accent, 1.1))
	}
}

// events draws limb and meridian passages through a panel, with their names above the
// first, on two lines where the sheet is narrow.
func (d passageDrawing) events(p plot, named bool) {
	small := canvas.Type{Size: sizeSmall, Colour: p.Theme.Muted, Anchor: canvas.Middle}
	const wide = 520
	for _, e := range []struct {
		at   Moment
		name string
	}{{d.in.East, "east limb"}, {d.in.Meridian, "meridian"}, {d.in.West, "west limb"}} {
		x := p.x(daysOf(e.at.UTC))
		if e.at.UTC.IsZero() || x < p.area.X || x > p.area.Right() {
			continue
		}
		top := p.area.Y
		p.linked(subject{passage: d.in.Passage, at: e.at.UTC}, e.name+" "+momentWords(e.at), func() {
			if named {
				top -= 18
				lines := []string{e.name, momentWords(e.at)}
				if p.area.Width > wide {
					lines = []string{e.name + " " + momentWords(e.at)}
				}
				last := len(lines) - 1
				half := canvas.TextWidth(lines[last], sizeSmall, false) / 2
				at := max(p.area.X+half, min(p.area.Right()-half, x))
				for i, line := range lines {
					p.Text(at, p.area.Y-22-11*float64(last-i), line, small)
				}
			}
			p.Segment(x, top, x, p.area.Bottom(), canvas.Dashed(p.Theme.Hairline, 0.8, 3, 3))
		})
	}
}

// key explains the ring and the band; below puts the latter on a line of its own.
func (d passageDrawing) key(s sheet, by string, below bool) {
	x, y := 62.0, s.Height-12
	predicted := len(d.in.Predicted) > 1
	if below && predicted {
		y -= noteStep
	}
	s.Circle(x+4, y-4, 3.6, canvas.Style{Fill: s.Theme.Panel, Line: s.Theme.Kinds[d.in.Kind], Width: 1.8})
	text := "observed, ±1 σ"
	s.Text(x+14, y, text, canvas.Type{Size: sizeSmall, Colour: s.Theme.Muted})
	if !predicted {
		return
	}
	x += 14 + canvas.TextWidth(text, sizeSmall, false) + 22
	if below {
		x, y = 56, y+noteStep
	}
	s.Rectangle(canvas.Rect{X: x, Y: y - 9, Width: 22, Height: 10}, canvas.Fill(canvas.Faded(s.Theme.Accent, 0.2)))
	s.Segment(x, y-4, x+22, y-4, canvas.Style{Line: s.Theme.Accent, Width: 1.1, Butt: true})
	s.Text(x+28, y, shorten(by, s.Width-x-40, sizeSmall), canvas.Type{Size: sizeSmall, Colour: s.Theme.Muted})
}

func (d passageDrawing) words() string {
	first, last := d.in.Observed[0], d.in.Observed[len(d.in.Observed)-1]
	text := fmt.Sprintf("%s, from longitude %s° on %s to %s° on %s.", plural(len(d.in.Observed), "place", "places"),
		first.Place.L.TurnText(1), isoDay(first.UTC), last.Place.L.TurnText(1), isoDay(last.UTC))
	sum, n := 0.0, 0
	for _, s := range d.in.Observed {
		if v, _ := d.value(missPanel, s); !math.IsNaN(v) {
			sum += v * v
			n++
		}
	}
	if n > 0 {
		text += fmt.Sprintf(" Root mean square miss in longitude %.2f°.", math.Sqrt(sum/float64(n)))
	}
	return text
}
