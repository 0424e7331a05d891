package chart

import (
	"fmt"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// LatitudesInput is what the latitudes against time show.
//
//	From, To  the span, From ≤ t < To
//	Entries   the marks; a feature marked on several days is there on each
//	Looked    the days on which each kind was looked for; a day that is missing is a
//	          gap. nil: gaps are not known and not drawn
//	Views     of the frames, by which the extent of lines in latitude is drawn; may
//	          be nil
//	Kinds     a panel each; nil: sunspots, filaments, prominences
//	Heading   a line under the title
type LatitudesInput struct {
	From, To time.Time
	Entries  []catalog.Entry
	Looked   map[catalog.Kind][]time.Time
	Views    map[catalog.FrameID]*disc.View
	Kinds    []catalog.Kind
	Heading  string
}

const (
	seriesWidth = 960
	spanTooLong = 400 * 366 // days
)

// checkSpan says what is wrong with a span of time, or nil.
func checkSpan(from, to time.Time) error {
	if days := to.Sub(from).Hours() / 24; !(days > 0 && days < spanTooLong) {
		return fmt.Errorf("span from %s to %s: want its end after its start", isoDay(from), isoDay(to))
	}
	return nil
}

// spanWords is a span of whole days in words.
func spanWords(from, to time.Time) string {
	last := to.Add(-time.Second)
	if from.UTC().Year() == last.UTC().Year() {
		return from.UTC().Format("2 January") + " to " + dateOf(last)
	}
	return dateOf(from) + " to " + dateOf(last)
}

// Latitudes draws latitude against time, a panel for each kind, with how often each
// latitude came up beside it. A prominence is drawn as long as it is along the limb,
// a filament from its southernmost to its northernmost point where views are given.
func Latitudes(in LatitudesInput, o Options) (*canvas.Canvas, error) {
	o, err := o.ready(seriesWidth)
	if err != nil {
		return nil, err
	}
	if err := checkSpan(in.From, in.To); err != nil {
		return nil, fmt.Errorf("latitudes: %w", err)
	}
	if in.Kinds == nil {
		in.Kinds = []catalog.Kind{catalog.Sunspot, catalog.Filament, catalog.Prominence}
	}
	const left, head, gap, beside, foot = 62, 66, 20, 66, 52
	panel := 156.0
	s := newSheet(o, head+float64(len(in.Kinds))*(panel+gap)-gap+foot)
	s.Title = "Latitudes from " + spanWords(in.From, in.To)
	below := spanWords(in.From, in.To)
	if in.Heading != "" {
		below += " · " + in.Heading
	}
	s.title("Latitudes", below)
	for i, k := range in.Kinds {
		area := canvas.Rect{X: left, Y: head + float64(i)*(panel+gap), Width: o.Width - left - beside - 26, Height: panel}
		p := latitudePanel{plot: plot{sheet: s, area: area, x0: daysOf(in.From), x1: daysOf(in.To)}, in: in, kind: k}
		p.draw()
		if i == len(in.Kinds)-1 {
			p.dates()
		}
		s.Description += p.words()
	}
	return s.Canvas, nil
}

// latitudePanel is one kind's latitudes.
type latitudePanel struct {
	plot
	in   LatitudesInput
	kind catalog.Kind
	rows []latitudeRow
}

// latitudeRow is one mark: its latitude and the ends of its extent.
type latitudeRow struct {
	entry          catalog.Entry
	days           float64
	lat, low, high float64 // degrees
}

func (p *latitudePanel) draw() {
	p.gather()
	limit := 90.0
	if p.kind == catalog.Sunspot || p.kind == catalog.Plage {
		limit = 45
		for _, r := range p.rows {
			switch a := math.Abs(r.lat); {
			case a > 57:
				limit = 90
			case a > 42:
				limit = max(limit, 60)
			}
		}
	}
	p.y0, p.y1 = -limit, limit
	p.frame()
	p.gaps(p.in.Looked[p.kind], p.in.Looked != nil)
	step := limit / 3
	p.plot.rows(every(step, -limit, limit), func(v float64) string { return latitude(coords.Angle(v)*coords.Degree, 0) })
	p.Segment(p.area.X, p.y(0), p.area.Right(), p.y(0), canvas.Style{Line: p.Theme.Hairline, Width: 0.8, Butt: true})
	p.sides()
	p.heading()
	if len(p.rows) == 0 {
		p.nothing("no " + kindPlural(p.kind) + " in these days")
	}
	p.within(func() {
		const most = 1500 // beyond, nobody could touch one mark among its neighbours
		for _, r := range p.rows {
			if len(p.rows) > most {
				p.mark(r)
				continue
			}
			p.linked(subjectOf(r.entry), describe(r.entry), func() { p.mark(r) })
		}
	})
	p.histogram()
}

func (p *latitudePanel) heading() {
	p.symbol(p.kind, p.area.X+14, p.area.Y+11, p.Theme.Kinds[p.kind], canvas.Colour{})
	p.Text(p.area.X+30, p.area.Y+15, kindPlural(p.kind), canvas.Type{Size: sizeText, Bold: true, Colour: p.Theme.Ink, Halo: p.Theme.Panel})
}

// gaps hatches the days on which the kind was not looked for.
func (p plot) gaps(looked []time.Time, known bool) {
	if !known {
		return
	}
	days := map[int]bool{}
	for _, t := range looked {
		days[int(math.Floor(daysOf(t)))] = true
	}
	first, last := int(math.Floor(p.x0)), int(math.Ceil(p.x1))
	for d := first; d < last; d++ {
		from := d
		for d < last && !days[d] {
			d++
		}
		const fewest = 2.5 // units; single days of a long span would only be a haze
		if float64(d-from)*p.area.Width/(p.x1-p.x0) >= fewest {
			p.hatch(float64(from), float64(d))
		}
	}
}

// gather takes the latitudes of the panel's kind out of the entries.
func (p *latitudePanel) gather() {
	for _, e := range p.in.Entries {
		t := e.Position.UTC
		if e.Mark.Kind != p.kind || t.Before(p.in.From) || !t.Before(p.in.To) {
			continue
		}
		r := latitudeRow{entry: e, days: daysOf(t)}
		if edge := e.Position.Edge; edge != nil && e.Position.Disc == nil && e.Position.High == nil {
			r.lat = edge.Lat.Degrees()
			limb := disc.View{Face: faceAt(t)}
			a, b := limb.AtLimb(edge.From).B.Degrees(), limb.AtLimb(edge.To).B.Degrees()
			r.low, r.high = min(a, b, r.lat), max(a, b, r.lat)
		} else if m, ok := e.Position.Reading(); ok {
			r.lat = m.B.Degrees()
			r.low, r.high = r.lat, r.lat
			if view := p.in.Views[e.Frame.ID]; e.Mark.Geometry.Shape != catalog.Point && (view != nil || e.Mark.Geometry.Form() != catalog.FormPixels) {
				for _, h := range onSun(e, view, false).line {
					r.low, r.high = min(r.low, h.B.Degrees()), max(r.high, h.B.Degrees())
				}
			}
		} else {
			continue
		}
		p.rows = append(p.rows, r)
	}
}

func (p *latitudePanel) mark(r latitudeRow) {
	c := p.Theme.Kinds[p.kind]
	x, y := p.x(r.days), p.y(r.lat)
	// Many marks are drawn small and thin, so that their number shows as darkness.
	small := 1.0
	if n := float64(len(p.rows)) / p.area.Width; n > 0.4 {
		small = max(0.4, 0.4/n)
	}
	if r.high-r.low > 0.8 {
		half := max(2*small, (p.y(r.low)-p.y(r.high))/2)
		middle := (p.y(r.low) + p.y(r.high)) / 2
		p.Segment(x, middle-half, x, middle+half, canvas.Style{Line: canvas.Faded(c, 0.75), Width: 2.4 * small, Butt: true})
		return
	}
	switch p.kind {
	case catalog.Sunspot:
		p.Circle(x, y, 3.2*small, canvas.Stroke(c, 1.4*small))
	case catalog.Plage:
		p.Circle(x, y, 3.2*small, canvas.Dashed(c, 1.3*small, 2, 1.5))
	case catalog.Filament:
		p.Segment(x-4*small, y, x+4*small, y, canvas.Stroke(c, 2.4*small))
	case catalog.Prominence:
		p.Segment(x, y-3*small, x, y+3*small, canvas.Stroke(c, 2*small))
	default:
		p.Polygon(diamond(x, y, 3.5*small), canvas.Stroke(c, 1.3*small))
	}
}

// histogram draws beside the panel how many marks each 10° of latitude had.
func (p *latitudePanel) histogram() {
	const width, step = 58.0, 10.0
	counts := make([]int, int(180/step))
	for _, r := range p.rows {
		i := int((r.lat + 90) / step)
		counts[max(0, min(len(counts)-1, i))]++
	}
	most := slices.Max(counts)
	left := p.area.Right() + 10
	p.Segment(left, p.area.Y, left, p.area.Bottom(), canvas.Style{Line: p.Theme.Hairline, Width: 0.9, Butt: true})
	if most == 0 {
		return
	}
	for i, n := range counts {
		low := float64(i)*step - 90
		if n == 0 || low+step <= p.y0 || low >= p.y1 {
			continue
		}
		top, bottom := p.y(min(low+step, p.y1)), p.y(max(low, p.y0))
		p.Rectangle(canvas.Rect{X: left + 0.5, Y: top + 0.6, Width: width * float64(n) / float64(most), Height: bottom - top - 1.2}, canvas.Fill(canvas.Faded(p.Theme.Kinds[p.kind], 0.5)))
		if n == most {
			p.Text(left+width+3, (top+bottom)/2+3, fmt.Sprint(n), canvas.Type{Size: 9, Colour: p.Theme.Muted})
		}
	}
}

func (p *latitudePanel) words() string {
	if len(p.rows) == 0 {
		return fmt.Sprintf("No %s. ", kindPlural(p.kind))
	}
	low, high := p.rows[0].lat, p.rows[0].lat
	for _, r := range p.rows {
		low, high = min(low, r.lat), max(high, r.lat)
	}
	return fmt.Sprintf("%s between latitudes %.0f° and %.0f°. ", plural(len(p.rows), p.kind.String(), kindPlural(p.kind)), low, high)
}
