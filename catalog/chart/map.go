package chart

import (
	"fmt"
	"math"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// MapInput is what the strip map of a rotation shows.
//
//	Rotation  Carrington's number
//	Looks     every look at the disc within the rotation, and up to a week before and
//	          after it, since those saw some of its longitudes too
//	Entries   the marks on these looks
//	Heading   a line under the title: observer, site
//	Woven     weaves the looks' pictures together as the ground. Marks are then drawn
//	          as they are seen, as on the photosphere; else corrected for height
//	AllDays   draws the shapes of a passage on every day; else only the one nearest
//	          to the meridian, with dots for the other days
//	NoLabels  leaves out the names
type MapInput struct {
	Rotation int
	Looks    []Look
	Entries  []catalog.Entry
	Heading  string
	Woven    bool
	AllDays  bool
	NoLabels bool
}

const (
	mapWidth = 960
	// seenTo is how far from the meridian, in degrees, a longitude counts as looked
	// at: beyond it lies the rim, where little can be measured.
	seenTo = 65
)

// Map draws the strip map of a Carrington rotation: longitude against latitude, each
// longitude as it stood when it passed the meridian in this rotation. Below it is a
// line for each day with what was in view, above it the day on which each longitude
// passed the meridian.
func Map(in MapInput, o Options) (*canvas.Canvas, error) {
	o, err := o.ready(mapWidth)
	if err != nil {
		return nil, err
	}
	if in.Rotation < 1 || in.Rotation > 6000 {
		return nil, fmt.Errorf("strip map of rotation %d: want a Carrington rotation from 1 to 6000", in.Rotation)
	}
	const left, right, top = 46, 16, 96
	m := strip{in: in, looks: sortedLooks(in.Looks)}
	m.rows = m.lookRows()
	plotWidth := o.Width - left - right
	plotHeight := max(plotWidth/2, 170)
	rowsHeight := 12 + float64(len(m.rows))*rowStep
	if len(m.rows) == 0 {
		rowsHeight = 12
	}
	legendHeight := legendStep * float64(max(0, len(arranged(in.legendItems(), plotWidth))-1))
	s := newSheet(o, top+plotHeight+34+rowsHeight+46+legendHeight)
	m.plot = plot{sheet: s, area: canvas.Rect{X: left, Y: top, Width: plotWidth, Height: plotHeight}, x0: 0, x1: 360, y0: -90, y1: 90}
	m.start, m.end = ephemeris.RotationStart(in.Rotation), ephemeris.RotationStart(in.Rotation+1)
	m.title(fmt.Sprintf("Carrington rotation %d", in.Rotation), m.below())
	m.ground()
	m.axes()
	m.shore()
	m.drawRows(top + plotHeight + 34)
	m.marks()
	if len(in.Entries) == 0 {
		m.nothing("no mark in this rotation")
	}
	m.legend()
	s.Title = fmt.Sprintf("Strip map of Carrington rotation %d", in.Rotation)
	s.Description = m.words()
	return s.Canvas, nil
}

// strip is a map being drawn. The x of a place is its Carrington longitude, counted
// on beyond 0° to 360° for what belongs to the rotation before or after.
type strip struct {
	plot
	in         MapInput
	looks      []Look
	rows       []lookRow
	start, end time.Time
}

// meridianX is the x of the central meridian at an instant: L0, falling through 360°
// at the start of the rotation and through 0° at its end.
func (m *strip) meridianX(t time.Time) float64 {
	return 360 * (float64(m.in.Rotation+1) - ephemeris.Rotation(t))
}

func (m *strip) below() string {
	const layout = "2 Jan 2006 15:04"
	text := m.start.Format(layout) + " to " + m.end.Format(layout) + " UT"
	if m.in.Heading != "" {
		text += " · " + m.in.Heading
	}
	if len(m.in.Entries) == 0 {
		text += " No mark."
	}
	return text
}

// ground is the woven picture, or plain with hatching where nobody looked.
func (m *strip) ground() {
	m.frame()
	if m.in.Woven {
		if woven := m.weave(); woven != nil {
			m.Picture(m.area, woven, false)
			return
		}
	}
	for _, gap := range m.unseen() {
		m.hatch(gap[0], gap[1])
		if x0, x1 := m.x(gap[0]), m.x(gap[1]); x1-x0 > 76 {
			m.Text((x0+x1)/2, m.area.Bottom()-8, "not observed", canvas.Type{Size: sizeSmall, Colour: m.Theme.Muted, Anchor: canvas.Middle, Halo: m.Theme.Panel})
		}
	}
}

// unseen are the runs of longitude that no look had within seenTo of the meridian.
func (m *strip) unseen() (runs [][2]float64) {
	var seen [360]bool
	for _, l := range m.looks {
		centre := m.meridianX(l.UTC)
		for lon := range seen {
			if math.Abs(float64(lon)+0.5-centre) <= seenTo {
				seen[lon] = true
			}
		}
	}
	for lon := 0; lon < 360; lon++ {
		if seen[lon] {
			continue
		}
		from := lon
		for lon < 360 && !seen[lon] {
			lon++
		}
		runs = append(runs, [2]float64{float64(from), float64(lon)})
	}
	return runs
}

// onPicture says whether the ground is a woven picture, on which colours must stand.
func (m *strip) onPicture() bool {
	if !m.in.Woven {
		return false
	}
	for _, l := range m.looks {
		if l.Picture != nil && l.View != nil {
			return true
		}
	}
	return false
}

func (m *strip) colour(k catalog.Kind) canvas.Colour {
	if m.onPicture() {
		return m.onDark(k)
	}
	return m.Theme.Kinds[k]
}

func (m *strip) axes() {
	line := canvas.Style{Line: m.Theme.Faint, Width: 0.7, Butt: true}
	if m.onPicture() {
		line.Line = canvas.Faded(m.Theme.Light, 0.16)
	}
	for _, lat := range every(30, -60, 60) {
		y := m.y(lat)
		strong := line
		if lat == 0 {
			strong.Line, strong.Width = m.Theme.Hairline, 0.8
			if m.onPicture() {
				strong.Line = canvas.Faded(m.Theme.Light, 0.35)
			}
		}
		m.Segment(m.area.X, y, m.area.Right(), y, strong)
	}
	for _, lon := range every(30, 30, 330) {
		m.Segment(m.x(lon), m.area.Y, m.x(lon), m.area.Bottom(), line)
	}
	m.Rectangle(m.area, canvas.Style{Line: m.Theme.Hairline, Width: 0.9, Butt: true})
	for _, lat := range every(30, -90, 90) {
		m.Segment(m.area.X-4, m.y(lat), m.area.X, m.y(lat), canvas.Style{Line: m.Theme.Hairline, Width: 0.9, Butt: true})
		m.figure(m.area.X-7, m.y(lat)+3.6, latitude(coords.Angle(lat)*coords.Degree, 0), canvas.End)
	}
	step := 30.0
	if m.area.Width < 420 {
		step = 60
	}
	for _, lon := range every(10, 0, 360) {
		long := 3.0
		if math.Mod(lon, step) == 0 {
			long = 5
			m.figure(m.x(lon), m.area.Bottom()+17, fmt.Sprintf("%g°", lon), canvas.Middle)
		}
		m.tick(m.x(lon), long)
	}
}

// shore draws above the map the day on which each longitude passed the meridian: a
// small disc for a day with a look, nothing for one without.
func (m *strip) shore() {
	y := m.area.Y - 9
	looked := map[string]catalog.FrameID{}
	for _, l := range m.looks {
		looked[isoDay(l.UTC)] = l.Frame
	}
	perDay := m.area.Width / 27.3
	every := 1
	for perDay*float64(every) < 18 {
		every++
	}
	lastMonth := time.Month(0)
	for day := catalog.DayOf(m.start); day.Before(m.end); day = day.AddDate(0, 0, 1) {
		noon := day.Add(12 * time.Hour)
		x := m.x(m.meridianX(noon))
		if x < m.area.X || x > m.area.Right() {
			continue
		}
		ink := m.Theme.Muted
		if frame, ok := looked[isoDay(day)]; ok {
			m.onDay(day, frame, "observed on "+dateOf(day), func() { m.Circle(x, y, 3.1, canvas.Fill(m.Theme.Ink)) })
			ink = m.Theme.Ink
		} else {
			m.Segment(x-2.5, y, x+2.5, y, canvas.Style{Line: m.Theme.Hairline, Width: 0.8, Butt: true})
		}
		if day.Day()%every == 0 || every == 1 {
			m.Text(x, y-8, fmt.Sprint(day.Day()), canvas.Type{Size: sizeFigure, Colour: ink, Anchor: canvas.Middle})
		}
		if day.Month() != lastMonth {
			m.Text(x+6, y-21, day.Format("January"), canvas.Type{Size: sizeFigure, Bold: true, Colour: m.Theme.Muted, Anchor: canvas.End})
			lastMonth = day.Month()
		}
	}
}

// words describe the map for those who cannot see it.
func (m *strip) words() string {
	days := map[string]bool{}
	for _, l := range m.looks {
		days[isoDay(l.UTC)] = true
	}
	text := fmt.Sprintf("Carrington longitude against latitude, %s. Looked at on %s.", m.below(), plural(len(days), "day", "days"))
	for _, gap := range m.unseen() {
		text += fmt.Sprintf(" Longitudes %.0f° to %.0f° were not observed.", gap[0], gap[1])
	}
	if len(m.in.Entries) == 0 {
		text += " No mark."
	}
	return text
}
