package chart

import (
	"math"
	"slices"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// marks draws the marks: of each passage the shape of the day on which it stood
// nearest to the meridian, and its track through the other days; whatever belongs to
// no passage as it is.
func (m *strip) marks() {
	views := map[catalog.FrameID]*disc.View{}
	for _, l := range m.looks {
		views[l.Frame] = l.View
	}
	var labels []label
	var shy []canvas.Point
	m.within(func() {
		for _, group := range byPassage(m.in.Entries) {
			best := nearestToMeridian(group)
			m.track(group, best)
			for i, e := range group {
				if e.Position.Edge != nil && e.Position.Disc == nil && e.Position.High == nil {
					m.edgeBracket(e, views[e.Frame.ID])
					continue
				}
				if i != best && !m.in.AllDays {
					continue
				}
				shape := m.shape(e, views[e.Frame.ID])
				shy = append(shy, shape...)
				if i == best && len(shape) > 0 {
					if l := m.label(e, shape); inside(m.area, l.At) {
						labels = append(labels, l)
					}
				}
			}
		}
	})
	if m.in.NoLabels {
		return
	}
	p := placer{Shy: shy, Allowed: func(r canvas.Rect) bool {
		return r.X >= m.area.X && r.Right() <= m.area.Right() && r.Y >= m.area.Y && r.Bottom() <= m.area.Bottom()
	}}
	for _, l := range p.place(labels) {
		if !l.Found {
			continue
		}
		m.named(l, canvas.Stroke(canvas.Faded(l.Type.Colour, 0.6), 0.6))
	}
}

// byPassage gathers entries that belong together, each on its own when it belongs to
// nothing, in the order in which they come.
func byPassage(entries []catalog.Entry) [][]catalog.Entry {
	var groups [][]catalog.Entry
	at := map[catalog.PassageID]int{}
	names := map[string]int{}
	for _, e := range entries {
		i, known := len(groups), false
		switch {
		case e.Join != nil && e.Join.Passage != 0:
			if i, known = at[e.Join.Passage]; !known {
				i = len(groups)
				at[e.Join.Passage] = i
			}
		case e.PassageName != "":
			if i, known = names[e.PassageName]; !known {
				i = len(groups)
				names[e.PassageName] = i
			}
		}
		if !known {
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], e)
	}
	for _, g := range groups {
		slices.SortStableFunc(g, func(a, b catalog.Entry) int { return a.Position.UTC.Compare(b.Position.UTC) })
	}
	return groups
}

// nearestToMeridian is the index of the mark that was seen best, −1 for none. Of a
// passage with marks of several kinds, as a plage with the spot in it, it is one of the
// kind that most are of: that is what the passage is named for.
func nearestToMeridian(group []catalog.Entry) int {
	counts := map[catalog.Kind]int{}
	most := 0
	for _, e := range group {
		if !math.IsInf(cmdOf(e), 0) {
			counts[e.Mark.Kind]++
			most = max(most, counts[e.Mark.Kind])
		}
	}
	best, least := -1, math.Inf(1)
	for i, e := range group {
		if cmd := math.Abs(cmdOf(e)); cmd < least && (counts[e.Mark.Kind] == most && !spotInPlage(e, counts, most)) {
			best, least = i, cmd
		}
	}
	return best
}

// spotInPlage says of a sunspot that a plage was marked as often in its passage.
func spotInPlage(e catalog.Entry, counts map[catalog.Kind]int, most int) bool {
	return e.Mark.Kind == catalog.Sunspot && counts[catalog.Plage] == most
}

// xOf is the x of a place seen at the instant of an entry: its longitude in this
// rotation's strip.
func (m *strip) xOf(e catalog.Entry, h coords.Heliographic) float64 {
	centre := m.meridianX(e.Position.UTC)
	return centre + faceAt(e.Position.UTC).CMD(h).Degrees()
}

// track joins the places of a passage from day to day, with a dot for each.
func (m *strip) track(group []catalog.Entry, best int) {
	var line []canvas.Point
	draw := func() {
		if len(line) > 1 {
			of := subject{passage: subjectOf(group[0]).passage}
			m.linked(of, nameOf(group[0])+", its track", func() {
				m.Path(line, canvas.Stroke(canvas.Faded(m.colour(group[0].Mark.Kind), 0.45), 0.8))
			})
		}
		line = nil
	}
	var before time.Time
	for i, e := range group {
		if e.Position.UTC.Sub(before) > aPassage {
			draw() // a return, which has a strip of its own
		}
		before = e.Position.UTC
		r, ok := placeOf(e, m.onPicture())
		if !ok || math.Abs(cmdOf(e)) > seenTo+10 {
			continue // at the rim a place is too poor to show a drift
		}
		p := m.at(m.xOf(e, r.Heliographic), r.B.Degrees())
		line = append(line, p)
		if i != best {
			m.linked(subjectOf(e), describe(e), func() {
				m.Circle(p.X, p.Y, 1.5, canvas.Fill(canvas.Faded(m.colour(e.Mark.Kind), 0.75)))
			})
		}
	}
	draw()
}

// aPassage is how long something can stay out of sight within one crossing of the
// disc, which takes some fourteen days.
const aPassage = 13 * 24 * time.Hour

// shape draws a mark as it was drawn and gives the points it runs through.
func (m *strip) shape(e catalog.Entry, view *disc.View) []canvas.Point {
	place := onSun(e, view, m.onPicture())
	line := make([]canvas.Point, len(place.line))
	for i, h := range place.line {
		line[i] = m.at(m.xOf(e, h), h.B.Degrees())
	}
	colour := m.colour(e.Mark.Kind)
	rim := canvas.Colour{}
	if m.onPicture() {
		rim = canvas.Faded(m.Theme.Dark, 0.55)
	}
	m.linked(subjectOf(e), describe(e), func() {
		switch {
		case len(line) == 1:
			m.symbol(e.Mark.Kind, line[0].X, line[0].Y, colour, rim)
		case e.Mark.Kind == catalog.Filament && !m.onPicture():
			m.Path(line, canvas.Stroke(canvas.Faded(colour, 0.28), 5.5))
			m.Path(line, canvas.Stroke(colour, 1.9))
		case place.closed && e.Mark.Kind == catalog.Plage && tiny(line):
			m.symbol(e.Mark.Kind, middle(line).X, middle(line).Y, colour, rim)
		case place.closed && e.Mark.Kind == catalog.Plage:
			m.Polygon(line, canvas.Stroke(rim, 3))
			m.Polygon(line, canvas.Style{Fill: canvas.Faded(colour, 0.12)})
			m.Polygon(line, canvas.Dashed(colour, 1.3, 4, 2.6))
		case place.closed:
			m.Polygon(line, canvas.Stroke(rim, 3))
			m.Polygon(line, canvas.Stroke(colour, 1.4))
		default:
			m.Path(line, canvas.Stroke(rim, 3.2))
			m.Path(line, canvas.Stroke(colour, 1.6))
		}
	})
	return line
}

// edgeBracket draws what stood at the limb where the limb was then: not its own
// longitude, which nobody knows.
func (m *strip) edgeBracket(e catalog.Entry, view *disc.View) {
	edge := e.Position.Edge
	face := faceAt(e.Position.UTC)
	limb := disc.View{Face: face}
	if view != nil {
		limb = *view
	}
	from, to := limb.AtLimb(edge.From), limb.AtLimb(edge.To)
	low, high := from.B.Degrees(), to.B.Degrees()
	if low > high {
		low, high = high, low
	}
	low, high = min(low, edge.Lat.Degrees()-0.8), max(high, edge.Lat.Degrees()+0.8)
	cmd := face.CMD(coords.Heliographic{B: edge.Lat, L: edge.Lon}).Degrees()
	x := m.x(m.meridianX(e.Position.UTC) + cmd)
	legs := 4.0 // toward the disc
	if cmd > 0 {
		legs = -4
	}
	line := []canvas.Point{{X: x + legs, Y: m.y(high)}, {X: x, Y: m.y(high)}, {X: x, Y: m.y(low)}, {X: x + legs, Y: m.y(low)}}
	m.linked(subjectOf(e), describe(e), func() {
		if m.onPicture() {
			m.Path(line, canvas.Stroke(canvas.Faded(m.Theme.Dark, 0.5), 3))
		}
		m.Path(line, canvas.Stroke(canvas.Faded(m.colour(catalog.Prominence), 0.85), 1.1))
	})
}

func (m *strip) label(e catalog.Entry, shape []canvas.Point) label {
	set := canvas.Type{Size: sizeFigure, Colour: m.colour(e.Mark.Kind), Halo: m.Theme.Panel}
	if m.onPicture() {
		set.Halo = canvas.Faded(m.Theme.Dark, 0.8)
		set.Bold = true
	}
	l := label{Of: subjectOf(e), Tell: describe(e), Text: nameOf(e), Type: set, Reach: 5}
	switch {
	case len(shape) == 1:
		l.At = shape[0]
	case e.Mark.Geometry.Shape == catalog.Outline:
		l.At, l.Reach = topOf(shape), 2
	default:
		l.At = middleOf(shape)
	}
	return l
}

// legendItems are the kinds on the map; what stands at the limb is named so, since a
// filament may do that too.
func (in MapInput) legendItems() []legendItem {
	items := legendOf(in.Entries, false)
	for i := range items {
		if items[i].kind == catalog.Prominence {
			items[i].text = "at the limb"
		}
	}
	return items
}

// legend explains what is drawn.
func (m *strip) legend() {
	rows := arranged(m.in.legendItems(), m.area.Width)
	end := m.area.X
	for i, row := range rows {
		x, y := m.area.X, m.Height-14-legendStep*float64(len(rows)-1-i)
		for _, item := range row {
			m.symbol(item.kind, x+11, y-4, m.Theme.Kinds[item.kind], canvas.Colour{})
			m.Text(x+27, y, item.text, canvas.Type{Size: sizeText, Colour: m.Theme.Ink})
			x += item.width()
		}
		end = x
	}
	var notes []string
	if len(rows) > 0 {
		notes = append(notes, "dots and thread: the same feature on other days")
	}
	if m.onPicture() {
		notes = append(notes, "ground: the pictures, mostly those nearest to the meridian")
	} else if len(rows) > 0 {
		notes = append(notes, "corrected for height")
	}
	note := strings.Join(notes, " · ")
	if end+canvas.TextWidth(note, sizeSmall, false) < m.area.Right() {
		m.Text(m.area.Right(), m.Height-14, note, canvas.Type{Size: sizeSmall, Colour: m.Theme.Muted, Anchor: canvas.End})
	}
}

// tiny says of an outline that a spot's ring would hide it: the sign of its kind then
// stands for it.
func tiny(outline []canvas.Point) bool {
	left, right := outline[0].X, outline[0].X
	for _, p := range outline {
		left, right = min(left, p.X), max(right, p.X)
	}
	return right-left < 16
}

// middle is the mean of some points.
func middle(points []canvas.Point) (mean canvas.Point) {
	for _, p := range points {
		mean.X += p.X / float64(len(points))
		mean.Y += p.Y / float64(len(points))
	}
	return mean
}
