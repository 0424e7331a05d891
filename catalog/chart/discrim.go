package chart

import (
	"fmt"

	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/figure"
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

func (in DiscInput) legendItems() []legendItem { return legendOf(in.Entries, true) }

// note says how the disc lies and what its grid counts.
func (in DiscInput) note() string {
	note := in.orientation()
	if sigma := in.View.North.Sigma.Degrees(); sigma > 0 {
		note += fmt.Sprintf(" · north ±%.*f°", figure.Decimals(sigma, 4), sigma)
	}
	if in.Carrington && !in.NoGrid {
		note += " · grid: Carrington longitude"
	}
	return note
}

// legendRows is how many rows the legend takes, the note in the last one or below.
func (in DiscInput) legendRows(width float64) int {
	rows := arranged(in.legendItems(), width-32)
	n := max(1, len(rows))
	if len(rows) > 0 && rowWidth(rows[n-1])+canvas.TextWidth(in.note(), 10.5, false) > width-32 {
		n++
	}
	return n
}

// legend explains the shapes of the kinds that are drawn, and how the disc lies.
func (d *drawnDisc) legend(bottom float64) {
	t := d.Theme
	for i, row := range arranged(d.in.legendItems(), d.Width-32) {
		x, y := 16.0, bottom-16-legendStep*float64(d.in.legendRows(d.Width)-1-i)
		for _, item := range row {
			// On a patch of sky, since the colours are those for dark ground.
			d.Rectangle(canvas.Rect{X: x - 3, Y: y - 13, Width: 28, Height: 18}, canvas.Fill(t.Sky))
			d.symbol(item.kind, x+11, y-4, d.onDark(item.kind), canvas.Faded(t.Dark, 0.5))
			d.Text(x+32, y, item.text, canvas.Type{Size: sizeText, Colour: t.Ink})
			x += item.width()
		}
	}
	d.Text(d.Width-16, bottom-16, d.in.note(), canvas.Type{Size: 10.5, Colour: t.Muted, Anchor: canvas.End})
}
