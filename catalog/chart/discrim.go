package chart

import (
	"fmt"
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
)

// rim draws the ring of position angles round the sky, with the four directions,
// and the ends of the Sun's axis.
func (d *drawnDisc) rim() {
	t, outer := d.Theme, d.reach
	d.Circle(d.dial.x, d.dial.y, d.dial.radius*outer, canvas.Stroke(t.Hairline, 0.8))
	unit := 1 / d.dial.radius // of the sheet, in radii
	cardinal := map[int]string{0: "N", 90: "E", 180: "S", 270: "W"}
	for deg := 0; deg < 360; deg += 10 {
		pa := coords.Angle(deg) * coords.Degree
		long := 5.0
		if deg%30 == 0 {
			long = 9
		}
		a, b := d.dial.at(pa, outer), d.dial.at(pa, outer+long*unit)
		d.Segment(a.X, a.Y, b.X, b.Y, canvas.Style{Line: t.Hairline, Width: 0.9, Butt: true})
		at := d.dial.at(pa, outer+20*unit)
		if name, ok := cardinal[deg]; ok {
			d.Text(at.X, at.Y+6, name, canvas.Type{Size: 16, Bold: true, Colour: t.Ink, Anchor: canvas.Middle})
		} else if deg%30 == 0 {
			d.Text(at.X, at.Y+3.5, fmt.Sprintf("%d°", deg), canvas.Type{Size: 9.5, Colour: t.Muted, Anchor: canvas.Middle})
		}
	}
	d.pole(d.in.View.Face.P, "N pole")
	d.pole(d.in.View.Face.P+180*coords.Degree, "S pole")
}

// pole draws where the Sun's axis meets the rim.
func (d *drawnDisc) pole(pa coords.Angle, name string) {
	unit := 1 / d.dial.radius
	half := coords.Angle(4 / (d.dial.radius * d.reach))
	tip := d.dial.at(pa, d.reach-11*unit)
	d.Polygon([]canvas.Point{tip, d.dial.at(pa-half, d.reach-0.5*unit), d.dial.at(pa+half, d.reach-0.5*unit)},
		canvas.Fill(canvas.Faded(d.Theme.Light, 0.9)))
	side := 8 / (d.dial.radius * d.reach) // beside the arrow, on the side of the smaller x
	set := canvas.Type{Size: 9, Colour: canvas.Faded(d.Theme.Light, 0.85)}
	width := canvas.TextWidth(name, 9, false)
	at := d.dial.at(pa+coords.Angle(side), d.reach-6*unit)
	x := at.X
	if x < tip.X {
		x -= width
	}
	d.Text(x, at.Y+3, name, set)
	d.taken = append(d.taken, canvas.TextBox(x, at.Y+3, name, set).Grown(1), canvas.Rect{X: tip.X - 6, Y: tip.Y - 8, Width: 12, Height: 16})
}

// legendItem is a kind in the legend.
type legendItem struct {
	kind catalog.Kind
	text string
}

// width that an item takes in its row.
func (l legendItem) width() float64 { return 32 + canvas.TextWidth(l.text, 11.5, false) + 20 }

func (in DiscInput) legendItems() (items []legendItem) {
	counts := map[catalog.Kind]int{}
	for _, e := range in.Entries {
		counts[e.Mark.Kind]++
	}
	for _, k := range catalog.Kinds {
		if counts[k] > 0 {
			items = append(items, legendItem{k, plural(counts[k], k.String(), kindPlural(k))})
		}
	}
	return items
}

// note says how the disc lies and what its grid counts.
func (in DiscInput) note() string {
	note := in.orientation()
	if sigma := in.View.North.Sigma.Degrees(); sigma > 0 {
		note += fmt.Sprintf(" · north ±%.*f°", decimalsOf(sigma), sigma)
	}
	if in.Carrington && !in.NoGrid {
		note += " · grid: Carrington longitude"
	}
	return note
}

// legendRows is how many rows the legend takes, the note in the last one or below.
func (in DiscInput) legendRows(width float64) int {
	rows, x := 1, 16.0
	for _, item := range in.legendItems() {
		if x > 16 && x+item.width()-20 > width-16 {
			rows, x = rows+1, 16
		}
		x += item.width()
	}
	if x > 16 && x+canvas.TextWidth(in.note(), 10.5, false) > width-16 {
		rows++
	}
	return rows
}

// legend explains the shapes of the kinds that are drawn, and how the disc lies.
func (d *drawnDisc) legend(bottom float64) {
	t := d.Theme
	x, y := 16.0, bottom-16-20*float64(d.in.legendRows(d.Width)-1)
	for _, item := range d.in.legendItems() {
		if x > 16 && x+item.width()-20 > d.Width-16 {
			x, y = 16, y+20
		}
		// On a patch of sky, since the colours are those for dark ground.
		d.Rectangle(canvas.Rect{X: x - 3, Y: y - 13, Width: 28, Height: 18}, canvas.Fill(t.Sky))
		d.symbol(item.kind, x+11, y-4, d.onDark(item.kind), canvas.Faded(t.Dark, 0.5))
		d.Text(x+32, y, item.text, canvas.Type{Size: 11.5, Colour: t.Ink})
		x += item.width()
	}
	d.Text(d.Width-16, bottom-16, d.in.note(), canvas.Type{Size: 10.5, Colour: t.Muted, Anchor: canvas.End})
}

// decimalsOf is how many decimals an error deserves: two figures of it.
func decimalsOf(sigma float64) int {
	if !(sigma > 0) {
		return 1
	}
	return max(0, min(4, 1-int(math.Floor(math.Log10(sigma)+1e-9))))
}

// symbol draws a kind's shape as it stands in a legend, on the page.
func (s sheet) symbol(k catalog.Kind, x, y float64, c, rim canvas.Colour) {
	line := canvas.Stroke(c, 1.8)
	under := canvas.Stroke(rim, 4)
	switch k {
	case catalog.Sunspot:
		s.Circle(x, y, 4.2, under)
		s.Circle(x, y, 4.2, line)
	case catalog.Plage:
		shape := ellipse(x, y, 9, 5)
		s.Polygon(shape, under)
		s.Polygon(shape, canvas.Dashed(c, 1.6, 3.4, 2.4))
	case catalog.Filament:
		shape := []canvas.Point{{X: x - 10, Y: y + 3}, {X: x - 5, Y: y - 1.5}, {X: x, Y: y - 2.5}, {X: x + 5, Y: y - 1}, {X: x + 10, Y: y - 3.5}}
		if rim.A == 0 {
			rim = canvas.Faded(c, 0.28)
		}
		s.Path(shape, canvas.Stroke(rim, 5))
		s.Path(shape, canvas.Stroke(c, 1.8))
	case catalog.Prominence:
		s.Path([]canvas.Point{{X: x - 8, Y: y + 5}, {X: x - 6.5, Y: y - 3.5}, {X: x, Y: y - 5}, {X: x + 6.5, Y: y - 3.5}, {X: x + 8, Y: y + 5}}, under)
		s.Path([]canvas.Point{{X: x - 8, Y: y + 5}, {X: x - 6.5, Y: y - 3.5}, {X: x, Y: y - 5}, {X: x + 6.5, Y: y - 3.5}, {X: x + 8, Y: y + 5}}, line)
	default:
		s.Polygon(diamond(x, y, 5), under)
		s.Polygon(diamond(x, y, 5), line)
	}
}

// onDark is a kind's colour where it lies on something dark.
func (s sheet) onDark(k catalog.Kind) canvas.Colour { return s.Theme.OnPicture[k] }

func ellipse(x, y, rx, ry float64) []canvas.Point {
	out := make([]canvas.Point, 28)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(out)))
		out[i] = canvas.Point{X: x + rx*cos, Y: y + ry*sin}
	}
	return out
}

func diamond(x, y, r float64) []canvas.Point {
	return []canvas.Point{{X: x, Y: y - r}, {X: x + r, Y: y}, {X: x, Y: y + r}, {X: x - r, Y: y}}
}
