package chart

import (
	"math"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
)

// rowStep is the distance of the lines of two days.
const rowStep = 4.2

// lookRow is a day on which somebody looked, or one of a gap.
type lookRow struct {
	day   time.Time
	looks []lookAt
}

// lookAt is one look: centre is the x of its meridian.
type lookAt struct {
	Look
	centre float64
}

// lookRows are the days from the first look to the last that show some of the
// rotation, the days between without a look included: a gap is a gap.
func (m *strip) lookRows() []lookRow {
	var rows []lookRow
	for _, l := range m.looks {
		centre := m.meridianX(l.UTC)
		if centre < -seenTo || centre > 360+seenTo {
			continue
		}
		day := catalog.DayOf(l.UTC)
		for len(rows) > 0 && rows[len(rows)-1].day.Before(day) && len(rows) < 60 {
			rows = append(rows, lookRow{day: rows[len(rows)-1].day.AddDate(0, 0, 1)})
		}
		if len(rows) == 0 {
			rows = append(rows, lookRow{day: day})
		}
		last := &rows[len(rows)-1]
		last.looks = append(last.looks, lookAt{l, centre})
	}
	return rows
}

// drawRows draws what was in view on each day, the days from top to bottom: the
// middle half of the disc stronger than the rest.
func (m *strip) drawRows(top float64) {
	if len(m.rows) == 0 {
		return
	}
	area := canvas.Rect{X: m.area.X, Y: top, Width: m.area.Width, Height: 12 + float64(len(m.rows))*rowStep}
	m.Text(area.X, top+2, "in view", canvas.Type{Size: sizeSmall, Colour: m.Theme.Muted})
	lastLabel := math.Inf(-1)
	m.Within(canvas.Group{Clip: &canvas.Rect{X: area.X, Y: area.Y - 4, Width: area.Width, Height: area.Height + 8}}, func() {
		for i, r := range m.rows {
			y := top + 10 + float64(i)*rowStep
			for _, l := range r.looks {
				c := l.centre
				m.onDay(l.UTC, l.Frame, "in view on "+dateOf(l.UTC)+l.UTC.UTC().Format(", 15:04 UT"), func() {
					m.Segment(m.x(c-seenTo), y, m.x(c+seenTo), y, canvas.Style{Line: canvas.Faded(m.Theme.Accent, 0.32), Width: 1.4, Butt: true})
					m.Segment(m.x(c-30), y, m.x(c+30), y, canvas.Style{Line: canvas.Faded(m.Theme.Accent, 0.75), Width: 1.8, Butt: true})
				})
			}
		}
	})
	for i, r := range m.rows {
		y := top + 10 + float64(i)*rowStep
		if y-lastLabel >= 12.5 && len(r.looks) > 0 {
			m.Text(area.X-7, y+3.3, shortDay(r.day), canvas.Type{Size: 9, Colour: m.Theme.Muted, Anchor: canvas.End})
			lastLabel = y
		}
	}
}
