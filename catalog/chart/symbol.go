package chart

import (
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
)

// legendItem is a kind in a legend.
type legendItem struct {
	kind catalog.Kind
	text string
}

// legendStep is the distance of the rows of a legend.
const legendStep = 20

// width that an item takes in its row, the gap behind it included.
func (l legendItem) width() float64 { return 32 + canvas.TextWidth(l.text, sizeText, false) + 20 }

// legendOf are the kinds among entries, with how many there are of each when counted.
func legendOf(entries []catalog.Entry, counted bool) (items []legendItem) {
	counts := map[catalog.Kind]int{}
	for _, e := range entries {
		counts[e.Mark.Kind]++
	}
	for _, k := range catalog.Kinds {
		switch n := counts[k]; {
		case n > 0 && counted:
			items = append(items, legendItem{k, plural(n, k.String(), kindPlural(k))})
		case n > 0:
			items = append(items, legendItem{k, k.String()})
		}
	}
	return items
}

// arranged puts items into rows that are no wider than the room.
func arranged(items []legendItem, room float64) (rows [][]legendItem) {
	for _, item := range items {
		last := len(rows) - 1
		if last >= 0 && rowWidth(rows[last])+item.width()-20 <= room {
			rows[last] = append(rows[last], item)
		} else {
			rows = append(rows, []legendItem{item})
		}
	}
	return rows
}

func rowWidth(row []legendItem) float64 {
	width := 0.0
	for _, item := range row {
		width += item.width()
	}
	return width
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
