package chart

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/figure"
	"limbwatch/coords/rotation"
)

// RatesInput is what the rotation curve shows.
//
//	Points    one feature's rate each
//	Fit       the observer's own law; nil: none. Its standard errors make the band,
//	          or FitSigma (degrees a day at a latitude) where that is given
//	Laws      published laws to lie beside it
//	Heading   a line under the title
type RatesInput struct {
	Points   []Rate
	Fit      *rotation.Law
	FitSigma func(lat coords.Angle) float64
	Laws     []rotation.Law
	Heading  string
}

// Rate is how fast one feature turned, sidereal.
type Rate struct {
	Name             string
	Kind             catalog.Kind
	Lat              coords.Angle
	DegPerDay, Sigma float64
	Mark             catalog.MarkID // where a touch leads
	Passage          catalog.PassageID
}

// Rates draws the observer's rotation curve: each feature's sidereal rate with its
// error against latitude, both hemispheres folded together, the law that was fitted
// to them, and published laws beside it.
func Rates(in RatesInput, o Options) (*canvas.Canvas, error) {
	o, err := o.ready(760)
	if err != nil {
		return nil, err
	}
	if len(in.Points) == 0 && in.Fit == nil && len(in.Laws) == 0 {
		return nil, fmt.Errorf("rotation curve: no rate and no law to draw")
	}
	const left, right, head, foot, height = 62, 172, 66, 64, 380
	room := o.Width - left - 16
	keyHeight := legendStep * float64(max(0, len(arranged(in.keyItems(), room))-1))
	s := newSheet(o, head+height+foot+keyHeight)
	s.Title = "Rotation against latitude"
	s.title("Rotation against latitude", in.Heading)
	c := curve{in: in, plot: plot{sheet: s, area: canvas.Rect{X: left, Y: head, Width: o.Width - left - right, Height: height}}}
	c.scale()
	c.frame()
	c.rows(steps(c.y0, c.y1, 8), func(v float64) string { return fmt.Sprintf("%.1f", v) })
	c.carrington()
	c.latitudes()
	c.sides()
	c.aside("sidereal rate, degrees a day")
	c.within(func() {
		c.laws()
		c.fit()
		c.points()
	})
	if len(in.Points) == 0 {
		c.Text(c.area.X+12, c.area.Bottom()-14, "none of your own yet", canvas.Type{Size: sizeText, Colour: c.Theme.Muted, Halo: c.Theme.Panel})
	}
	c.names()
	c.key(room)
	s.Description = c.words()
	return s.Canvas, nil
}

// curve is a rotation curve being drawn.
type curve struct {
	plot
	in RatesInput
}

// scale chooses what of latitude and rate is shown: all laws, and the points that are
// good enough to say something.
func (c *curve) scale() {
	c.x1 = 50
	for _, p := range c.in.Points {
		c.x1 = max(c.x1, math.Ceil((math.Abs(p.Lat.Degrees())+2)/10)*10)
	}
	c.x1 = min(c.x1, 90)
	c.y0, c.y1 = math.Inf(1), math.Inf(-1)
	include := func(v float64) { c.y0, c.y1 = min(c.y0, v), max(c.y1, v) }
	laws := c.in.Laws
	if c.in.Fit != nil {
		laws = append(slices.Clone(laws), *c.in.Fit)
	}
	for _, l := range laws {
		for lat := 0.0; lat <= c.x1; lat += 5 {
			include(l.SiderealDegPerDay(coords.Angle(lat) * coords.Degree))
		}
	}
	for _, p := range c.in.Points {
		if p.Sigma <= 0.6 || len(laws) == 0 {
			include(p.DegPerDay - p.Sigma)
			include(p.DegPerDay + p.Sigma)
		}
	}
	c.y0, c.y1 = max(c.y0, 9)-0.15, min(c.y1, 17.5)+0.15
}

func (c *curve) latitudes() {
	for _, lat := range every(10, 0, c.x1) {
		c.tick(c.x(lat), 4)
		c.figure(c.x(lat), c.area.Bottom()+17, fmt.Sprintf("%g°", lat), canvas.Middle)
	}
	c.figure(c.area.X+c.area.Width/2, c.area.Bottom()+34, "latitude, north and south together", canvas.Middle)
}

// carrington draws the rate of Carrington's longitudes, at which nothing drifts in them.
func (c *curve) carrington() {
	zero := ephemeris.CarringtonDegPerDay
	if y := c.y(zero); y > c.area.Y && y < c.area.Bottom() && c.area.Width > 300 {
		c.Segment(c.area.X, y, c.area.Right(), y, canvas.Dashed(c.Theme.Hairline, 0.8, 2, 3))
		c.Text(c.area.Right()-4, y-4, fmt.Sprintf("Carrington's frame, %.2f", zero), canvas.Type{Size: sizeSmall, Colour: c.Theme.Muted, Anchor: canvas.End, Halo: c.Theme.Panel})
	}
}

// styleOf is how a published law is drawn: by what was traced.
func (c *curve) styleOf(l rotation.Law) canvas.Style {
	switch l.Tracer {
	case "sunspot":
		return canvas.Stroke(canvas.Faded(c.Theme.Kinds[catalog.Sunspot], 0.8), 1.1)
	case "plage":
		return canvas.Dashed(c.Theme.Kinds[catalog.Plage], 1.2, 7, 3)
	case "filament":
		return canvas.Stroke(canvas.Faded(c.Theme.Kinds[catalog.Filament], 0.85), 1.2)
	case "magnetic":
		return canvas.Dashed(c.Theme.Kinds[catalog.Other], 1.1, 2, 2.5)
	}
	return canvas.Dashed(c.Theme.Muted, 1.1, 9, 3, 2, 3)
}

func (c *curve) path(rate func(coords.Angle) float64) []canvas.Point {
	var out []canvas.Point
	for lat := 0.0; lat <= c.x1+1e-9; lat++ {
		out = append(out, c.at(lat, rate(coords.Angle(lat)*coords.Degree)))
	}
	return out
}

func (c *curve) laws() {
	for _, l := range c.in.Laws {
		if l.Tracer != "frame" {
			c.Path(c.path(l.SiderealDegPerDay), c.styleOf(l))
		}
	}
}

func (c *curve) fit() {
	if c.in.Fit == nil {
		return
	}
	sigma := c.in.FitSigma
	if sigma == nil {
		sigma = c.in.Fit.SigmaDegPerDay
	}
	top := c.path(func(b coords.Angle) float64 { return c.in.Fit.SiderealDegPerDay(b) + sigma(b) })
	low := c.path(func(b coords.Angle) float64 { return c.in.Fit.SiderealDegPerDay(b) - sigma(b) })
	slices.Reverse(low)
	c.Polygon(append(top, low...), canvas.Fill(canvas.Faded(c.Theme.Ink, 0.13)))
	c.Path(c.path(c.in.Fit.SiderealDegPerDay), canvas.Stroke(c.Theme.Ink, 2.4))
}

// points draws each feature's rate. The worse it is known, the fainter; what lies
// off the scale is an arrow at its edge.
func (c *curve) points() {
	for _, p := range c.in.Points {
		x := c.x(math.Abs(p.Lat.Degrees()))
		ink := canvas.Faded(c.Theme.Kinds[p.Kind], max(0.25, min(1, 0.25/max(p.Sigma, 1e-9))))
		label := minus("%s, %s°: %.2f ± %.2f° a day", p.Name, latitude(p.Lat, 1), p.DegPerDay, p.Sigma)
		c.linked(subject{mark: p.Mark, passage: p.Passage}, label, func() {
			switch {
			case p.DegPerDay > c.y1:
				c.Polygon([]canvas.Point{{X: x, Y: c.area.Y + 2}, {X: x + 4, Y: c.area.Y + 9}, {X: x - 4, Y: c.area.Y + 9}}, canvas.Stroke(ink, 1))
			case p.DegPerDay < c.y0:
				c.Polygon([]canvas.Point{{X: x, Y: c.area.Bottom() - 2}, {X: x + 4, Y: c.area.Bottom() - 9}, {X: x - 4, Y: c.area.Bottom() - 9}}, canvas.Stroke(ink, 1))
			default:
				c.errorBar(x, c.y(p.DegPerDay-p.Sigma), c.y(p.DegPerDay+p.Sigma), ink)
				c.point(p.Kind, x, c.y(p.DegPerDay), ink)
			}
		})
	}
}

// point draws a kind's shape small enough for many of them.
func (c *curve) point(k catalog.Kind, x, y float64, ink canvas.Colour) {
	style := canvas.Style{Fill: c.Theme.Panel, Line: ink, Width: 1.4}
	switch k {
	case catalog.Sunspot:
		c.Circle(x, y, 3, style)
	case catalog.Plage:
		c.Polygon(ellipse(x, y, 4.4, 2.8), canvas.Style{Fill: c.Theme.Panel, Line: ink, Width: 1.3, Dash: []float64{2.2, 1.6}, Butt: true})
	case catalog.Filament:
		c.Segment(x-4.5, y, x+4.5, y, canvas.Stroke(ink, 2.6))
	case catalog.Prominence:
		c.Path([]canvas.Point{{X: x - 4, Y: y + 3}, {X: x - 3, Y: y - 3}, {X: x + 3, Y: y - 3}, {X: x + 4, Y: y + 3}}, canvas.Stroke(ink, 1.4))
	default:
		c.Polygon(diamond(x, y, 3.6), style)
	}
}

// names sets at the right end of each law whose it is, pushed apart where they lie
// close.
func (c *curve) names() {
	type name struct {
		text string
		y    float64 // where the law ends
		at   float64 // where the text goes
		ink  canvas.Colour
		bold bool
	}
	var all []name
	for _, l := range c.in.Laws {
		if l.Tracer == "frame" {
			continue
		}
		all = append(all, name{text: authorsOf(l), ink: c.styleOf(l).Line, y: c.y(l.SiderealDegPerDay(coords.Angle(c.x1) * coords.Degree))})
	}
	if c.in.Fit != nil {
		all = append(all, name{text: "fitted here", ink: c.Theme.Ink, bold: true, y: c.y(c.in.Fit.SiderealDegPerDay(coords.Angle(c.x1) * coords.Degree))})
	}
	slices.SortStableFunc(all, func(a, b name) int { return cmp.Compare(a.y, b.y) })
	const step = 13
	for i := range all {
		all[i].at = max(c.area.Y+4, min(c.area.Bottom(), all[i].y))
		if i > 0 {
			all[i].at = max(all[i].at, all[i-1].at+step)
		}
	}
	for i := len(all) - 1; i >= 0; i-- { // back up where they ran out below
		limit := c.area.Bottom() - float64(len(all)-1-i)*step + 4
		all[i].at = min(all[i].at, limit)
	}
	x := c.area.Right()
	for _, n := range all {
		c.Path([]canvas.Point{{X: x + 2, Y: n.y}, {X: x + 9, Y: n.y}, {X: x + 15, Y: n.at}, {X: x + 18, Y: n.at}}, canvas.Style{Line: canvas.Faded(n.ink, 0.7), Width: 0.8, Butt: true})
		c.Text(x+21, n.at+3.4, n.text, canvas.Type{Size: sizeSmall + 0.5, Bold: n.bold, Colour: n.ink})
	}
}

// authorsOf is who a law is by: the source up to what they measured. Where no source is
// known the law's name does not stand there alone, as if it were one.
func authorsOf(l rotation.Law) string {
	if l.Source == "" {
		return l.Name + ", no source"
	}
	text, _, _ := strings.Cut(l.Source, ":")
	text, _, _ = strings.Cut(text, " (")
	if canvas.TextWidth(text, sizeSmall, false) > 140 {
		text = l.Name
	}
	return text
}

// keyItems are the kinds among the points.
func (in RatesInput) keyItems() []legendItem {
	entries := make([]catalog.Entry, len(in.Points))
	for i, p := range in.Points {
		entries[i].Mark.Kind = p.Kind
	}
	return legendOf(entries, true)
}

// key explains the points' shapes and writes the fitted law.
func (c *curve) key(room float64) {
	rows := arranged(c.in.keyItems(), room)
	end := c.area.X
	for i, row := range rows {
		x, y := c.area.X, c.Height-10-legendStep*float64(len(rows)-1-i)
		for _, item := range row {
			c.point(item.kind, x+6, y-4, c.Theme.Kinds[item.kind])
			c.Text(x+17, y, item.text, canvas.Type{Size: sizeFigure, Colour: c.Theme.Muted})
			x += item.width()
		}
		end = x
	}
	if c.in.Fit == nil {
		return
	}
	text := lawWords(*c.in.Fit)
	if end+canvas.TextWidth(text, sizeFigure, false) > c.Width-16 {
		return
	}
	c.Text(c.Width-16, c.Height-10, text, canvas.Type{Size: sizeFigure, Colour: c.Theme.Ink, Anchor: canvas.End})
}

// lawWords writes a law with its errors.
func lawWords(l rotation.Law) string {
	term := func(v, sigma float64) string {
		if sigma > 0 {
			d := max(1, figure.Decimals(sigma, 4))
			return fmt.Sprintf("%.*f ± %.*f", d, math.Abs(v), d, sigma)
		}
		return fmt.Sprintf("%.3g", math.Abs(v))
	}
	text := "ω = " + term(l.A, l.SigmaA)
	for _, t := range []struct {
		v, sigma float64
		name     string
	}{{l.B, l.SigmaB, "sin²b"}, {l.C, l.SigmaC, "sin⁴b"}} {
		if t.v == 0 && t.sigma == 0 {
			continue
		}
		sign := " − "
		if t.v > 0 {
			sign = " + "
		}
		text += sign + "(" + term(t.v, t.sigma) + ") " + t.name
	}
	return text
}

func (c *curve) words() string {
	text := fmt.Sprintf("Sidereal rotation in degrees a day against latitude: %s", plural(len(c.in.Points), "feature", "features"))
	if c.in.Fit != nil {
		text += fmt.Sprintf(", fitted %.3f %+.2f sin² b %+.2f sin⁴ b", c.in.Fit.A, c.in.Fit.B, c.in.Fit.C)
	}
	return text + fmt.Sprintf(", beside %s.", plural(len(c.in.Laws), "published law", "published laws"))
}
