package chart

import (
	"fmt"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/figure"
)

// ComingInput is what a calendar of what is coming shows.
//
//	From, To  the span, From ≤ t < To
//	Now       the instant at which a line is drawn; zero: none
//	Items     what is expected
//	Heading   a line under the title
type ComingInput struct {
	From, To time.Time
	Now      time.Time
	Items    []Coming
	Heading  string
}

// Coming is one feature's expected crossing of the disc.
//
//	East, Meridian, West  over the east limb, on the meridian, over the west limb
//	Odds                  that it is alive: now, or, of what is not in view yet, when it
//	                      comes round the east limb; 0 to 1; nil: nobody weighed it
//	Note                  a few words
//	Mark, Frame           where it was seen last, and where a touch leads
type Coming struct {
	Name                 string
	Kind                 catalog.Kind
	Lat                  coords.Angle
	East, Meridian, West Moment
	Odds                 *float64
	Note                 string
	Passage              catalog.PassageID
	Mark                 catalog.MarkID
	Frame                catalog.FrameID
}

// Moment is an expected instant with its standard error; a zero UTC is none.
type Moment struct {
	UTC   time.Time
	Sigma time.Duration
}

// comingRow is the height of one feature's line.
const comingRow = 25

// Calendar draws what is coming: a line for each expected feature from the east limb over
// the meridian to the west limb, its ends as soft as they are uncertain, with the
// start of rotations and the course of L0 above.
func Calendar(in ComingInput, o Options) (*canvas.Canvas, error) {
	o, err := o.ready(seriesWidth)
	if err != nil {
		return nil, err
	}
	if err := checkSpan(in.From, in.To); err != nil {
		return nil, fmt.Errorf("what is coming: %w", err)
	}
	items := in.within()
	const head, foot, right = 92, 68, 24
	left := 150.0
	if o.Width < 600 {
		left = 106
	}
	height := max(1, float64(len(items)))*comingRow + 8
	note := wrap([]string{
		"bar: from east limb to west limb", "upright line: on the meridian, with its error", "soft ends: one and two standard errors",
	}, o.Width-left-16)
	s := newSheet(o, head+height+foot+extra(note))
	s.Title = "What is coming, " + spanWords(in.From, in.To)
	below := spanWords(in.From, in.To)
	if in.Heading != "" {
		below += " · " + in.Heading
	}
	s.title("What is coming", below)
	c := calendar{in: in, plot: plot{sheet: s, area: canvas.Rect{X: left, Y: head, Width: o.Width - left - right, Height: height}, x0: daysOf(in.From), x1: daysOf(in.To), y0: 0, y1: 1}}
	c.frame()
	c.days()
	c.rotations()
	for i, item := range items {
		c.item(item, head+4+(float64(i)+0.5)*comingRow)
		s.Description += c.tell(item) + ". "
	}
	if len(items) == 0 {
		c.nothing("nothing is expected in these days")
		s.Description = "Nothing is expected in these days."
	}
	c.now()
	c.sides()
	c.dates()
	s.note(left, note)
	return s.Canvas, nil
}

// within are the items of which something falls into the span, by when they come.
func (in ComingInput) within() []Coming {
	var out []Coming
	for _, item := range in.Items {
		for _, m := range []Moment{item.East, item.Meridian, item.West} {
			if !m.UTC.IsZero() && !m.UTC.Before(in.From) && m.UTC.Before(in.To) {
				out = append(out, item)
				break
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Coming) int { return a.first().Compare(b.first()) })
	return out
}

// first is when the item comes into view, or the earliest instant that is known.
func (c Coming) first() time.Time {
	for _, m := range []Moment{c.East, c.Meridian, c.West} {
		if !m.UTC.IsZero() {
			return m.UTC
		}
	}
	return time.Time{}
}

type calendar struct {
	plot
	in ComingInput
}

// days draws a faint line at each 0h UT, stronger where a month begins.
func (c *calendar) days() {
	if c.area.Width/(c.x1-c.x0) < 4 {
		return
	}
	for d := math.Ceil(c.x0); d <= c.x1; d++ {
		line := canvas.Style{Line: canvas.Faded(c.Theme.Faint, 0.6), Width: 0.7, Butt: true}
		if timeOf(d).Day() == 1 {
			line.Line = c.Theme.Hairline
		}
		c.Segment(c.x(d), c.area.Y, c.x(d), c.area.Bottom(), line)
	}
}

// rotations draws above the days the longitude of the meridian, and where a rotation
// of Carrington's begins.
func (c *calendar) rotations() {
	y := c.area.Y - 8
	c.Text(c.area.X-8, y, "L0 at 0h UT", canvas.Type{Size: sizeSmall, Colour: c.Theme.Muted, Anchor: canvas.End})
	step := max(1, math.Ceil(34*(c.x1-c.x0)/c.area.Width))
	for d := math.Ceil(c.x0); d < c.x1; d += step {
		if c.x(d) < c.area.X+16 {
			continue
		}
		if t := timeOf(d); ephemeris.Check(t) == nil {
			c.Text(c.x(d), y, fmt.Sprintf("%.0f°", math.Mod(math.Round(ephemeris.At(t).L0.Degrees()), 360)), canvas.Type{Size: sizeSmall, Colour: c.Theme.Muted, Anchor: canvas.Middle})
		}
	}
	if ephemeris.Check(c.in.From) != nil || ephemeris.Check(c.in.To) != nil {
		return
	}
	before := 0.0
	for n := int(ephemeris.Rotation(c.in.From)) + 1; n <= int(ephemeris.Rotation(c.in.To)); n++ {
		start := ephemeris.RotationStart(n)
		x := c.x(daysOf(start))
		c.Segment(x, c.area.Y-22, x, c.area.Bottom(), canvas.Dashed(c.Theme.Hairline, 0.9, 5, 3))
		text, set := fmt.Sprintf("rotation %d from %s UT", n, start.Format("2 Jan 15:04")), canvas.Type{Size: sizeSmall, Colour: c.Theme.Muted}
		if x+4+canvas.TextWidth(text, sizeSmall, false) > c.Width-8 {
			x, set.Anchor = x-8, canvas.End
		}
		box := canvas.TextBox(x+4, c.area.Y-22, text, set)
		if box.X < before+8 {
			continue
		}
		before = box.Right()
		c.Text(x+4, c.area.Y-22, text, set)
	}
}

func (c *calendar) item(item Coming, y float64) {
	ink := c.Theme.Kinds[item.Kind]
	strength := 1.0
	if item.Odds != nil {
		strength = 0.3 + 0.7*max(0, min(1, *item.Odds))
	}
	ink = canvas.Faded(ink, strength)
	c.symbol(item.Kind, 24, y, c.Theme.Kinds[item.Kind], canvas.Colour{})
	c.Text(42, y, shorten(item.Name, c.area.X-50, sizeText), canvas.Type{Size: sizeText, Bold: true, Colour: c.Theme.Ink})
	small := latitude(item.Lat, 0) + "°"
	if item.Odds != nil {
		small += " · alive " + figure.Percent(*item.Odds)
		if canvas.TextWidth(small, 9, true) > c.area.X-50 {
			small = latitude(item.Lat, 0) + "° · " + figure.Percent(*item.Odds)
		}
	}
	if item.Note != "" {
		small += " · " + item.Note
	}
	c.Text(42, y+10.5, shorten(small, c.area.X-50, 9), canvas.Type{Size: 9, Colour: c.Theme.Muted})
	c.linked(subject{mark: item.Mark, frame: item.Frame, passage: item.Passage}, c.tell(item), func() {
		c.within(func() { c.bar(item, y, ink) })
	})
	for _, e := range []struct {
		m      Moment
		dx     float64
		anchor canvas.Anchor
	}{{item.East, -4, canvas.End}, {item.West, 4, canvas.Start}} {
		c.endFigure(e.m, e.dx, y, e.anchor)
	}
}

// bar draws the crossing. Its ends fade over two standard errors either way.
func (c *calendar) bar(item Coming, y float64, ink canvas.Colour) {
	const thick = 7.0
	end := func(m Moment, edge float64) (x, soft float64) {
		if m.UTC.IsZero() {
			return edge, 0
		}
		return c.x(daysOf(m.UTC)), m.Sigma.Hours() / 24 / (c.x1 - c.x0) * c.area.Width
	}
	x0, soft0 := end(item.East, c.area.X)
	x1, soft1 := end(item.West, c.area.Right())
	// From outside to inside: what is two standard errors away is hardly there.
	for i := range 6 {
		f := 2 - 4*float64(i)/5 // standard errors outside
		left, right := x0-f*soft0, x1+f*soft1
		if right > left {
			c.Rectangle(canvas.Rect{X: left, Y: y - thick/2, Width: right - left, Height: thick}, canvas.Fill(canvas.Faded(ink, 0.13)))
		}
	}
	if !item.Meridian.UTC.IsZero() {
		x := c.x(daysOf(item.Meridian.UTC))
		half := item.Meridian.Sigma.Hours() / 24 / (c.x1 - c.x0) * c.area.Width
		c.Segment(x-half, y, x+half, y, canvas.Style{Line: ink, Width: 1.2, Butt: true})
		c.Segment(x, y-7, x, y+7, canvas.Style{Line: ink, Width: 2, Butt: true})
	}
	for _, x := range []float64{x0, x1} {
		c.Segment(x, y-thick/2, x, y+thick/2, canvas.Style{Line: ink, Width: 1.2, Butt: true})
	}
}

// endFigure sets date and hour of a limb passage beside the bar's end, where there
// is room.
func (c *calendar) endFigure(m Moment, dx, y float64, a canvas.Anchor) {
	if m.UTC.IsZero() || m.UTC.Before(c.in.From) || !m.UTC.Before(c.in.To) {
		return
	}
	text := momentWords(m)
	x := c.x(daysOf(m.UTC)) + dx
	soft := 1.5 * m.Sigma.Hours() / 24 / (c.x1 - c.x0) * c.area.Width
	if a == canvas.End {
		x -= soft
	} else {
		x += soft
	}
	set := canvas.Type{Size: 9, Colour: c.Theme.Muted, Anchor: a, Halo: c.Theme.Panel}
	if box := canvas.TextBox(x, y, text, set); box.X < c.area.X+2 || box.Right() > c.area.Right()-2 {
		return
	}
	c.Text(x, y+3.2, text, set)
}

// momentWords is an instant to the digits its error deserves: 14 Mar 06h ±5 h. An hour
// is the nearest one, as it is wherever such an instant is printed.
func momentWords(m Moment) string {
	if m.Sigma >= 24*time.Hour {
		return fmt.Sprintf("%s ±%.1f d", m.UTC.UTC().Format("2 Jan"), m.Sigma.Hours()/24)
	}
	return fmt.Sprintf("%s ±%.0f h", m.UTC.UTC().Round(time.Hour).Format("2 Jan 15h"), math.Max(1, m.Sigma.Hours()))
}

func (c *calendar) tell(item Coming) string {
	text := fmt.Sprintf("%s, %s at %s°", item.Name, item.Kind, latitude(item.Lat, 0))
	for _, e := range []struct {
		name string
		m    Moment
	}{{"east limb", item.East}, {"meridian", item.Meridian}, {"west limb", item.West}} {
		if !e.m.UTC.IsZero() {
			text += ", " + e.name + " " + momentWords(e.m)
		}
	}
	return text
}

// now draws the instant at which the calendar was made.
func (c *calendar) now() {
	if c.in.Now.IsZero() || c.in.Now.Before(c.in.From) || !c.in.Now.Before(c.in.To) {
		return
	}
	x := c.x(daysOf(c.in.Now))
	c.Segment(x, c.area.Y-4, x, c.area.Bottom(), canvas.Style{Line: c.Theme.Ink, Width: 1.4, Butt: true})
	c.Text(x+4, c.area.Bottom()-5, "now", canvas.Type{Size: sizeSmall, Bold: true, Colour: c.Theme.Ink, Halo: c.Theme.Panel})
}

// shorten cuts a text to a width.
func shorten(text string, width, size float64) string {
	if canvas.TextWidth(text, size, true) <= width {
		return text
	}
	signs := []rune(text)
	for len(signs) > 1 && canvas.TextWidth(string(signs)+"…", size, true) > width {
		signs = signs[:len(signs)-1]
	}
	return string(signs) + "…"
}
