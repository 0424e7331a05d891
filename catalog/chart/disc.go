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
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
)

// DiscInput is what an annotated disc shows.
//
//	Frame         the one that is drawn; may be 0
//	Picture       nil for a bare disc; a reduced one (a preview) will do
//	FrameWidthPx  width of the frame in whose pixels View and marks count, where
//	              Picture is a reduced one; 0: the picture's own
//	View          how the frame lies
//	UTC           its instant
//	Entries       the marks to draw, all of this frame's instant
//	Heading       a line under the date: site, instrument
//	Up            what lies at the top
//	NoGrid        leaves out the grid of latitude and longitude
//	Carrington    numbers the grid by Carrington longitude, not by distance from the
//	              central meridian
//	NoLabels      leaves out the names
type DiscInput struct {
	Frame        catalog.FrameID
	Picture      *picture.Picture
	FrameWidthPx int
	View         disc.View
	UTC          time.Time
	Entries      []catalog.Entry
	Heading      string
	Up           Up
	NoGrid       bool
	Carrington   bool
	NoLabels     bool
}

// discWidth is the width of a disc's sheet; below narrowDisc date and figures have no
// room side by side.
const (
	discWidth  = 760
	narrowDisc = 600
)

// Disc draws an annotated disc: the picture with limb and grid, the marks with their
// names, the directions round the rim, and what holds at the instant.
func Disc(in DiscInput, o Options) (*canvas.Canvas, error) {
	o, err := o.ready(discWidth)
	if err != nil {
		return nil, err
	}
	if !(in.View.Face.Semidiameter > 0) {
		return nil, fmt.Errorf("disc of %s: no semidiameter of the Sun", in.UTC.UTC().Format(time.RFC3339))
	}
	if in.View.Limb.RadiusPx <= 0 {
		if in.Picture != nil {
			return nil, fmt.Errorf("disc of %s: a picture, but no limb in it", in.UTC.UTC().Format(time.RFC3339))
		}
		in.View.Limb.RadiusPx = 1
	}
	const rim = 34
	foot := 44 + legendStep*float64(in.legendRows(o.Width)-1)
	head := 66.0
	if o.Width < narrowDisc && in.Heading != "" {
		head = 84
	}
	reach := in.reach()
	s := newSheet(o, head+o.Width+foot-8)
	radius := (o.Width/2 - rim) / reach
	d := drawnDisc{sheet: s, in: in, dial: newDial(in.View, in.Up, o.Width/2, head+o.Width/2-4, radius), reach: reach}
	d.header()
	d.linked(subject{frame: in.Frame, at: in.UTC}, "", d.picture)
	if !in.NoGrid {
		d.grid()
	}
	d.limb()
	d.rim()
	d.marks()
	d.legend(head + o.Width + foot - 8)
	s.Title, s.Description = d.words()
	return s.Canvas, nil
}

// drawnDisc is a disc being drawn. Taken and shy are where labels should not lie.
type drawnDisc struct {
	sheet
	in    DiscInput
	dial  dial
	reach float64 // radius of the round window on the sky, in radii of the limb
	taken []canvas.Rect
	shy   []canvas.Point
}

// reach is how much of the sky to show: a little, and all prominences.
func (in DiscInput) reach() float64 {
	reach := 1.12
	d := newDial(in.View, in.Up, 0, 0, 1)
	for _, e := range in.Entries {
		for _, p := range d.trace(e.Mark) {
			reach = max(reach, math.Hypot(p.X, p.Y)+0.06)
		}
	}
	return min(reach, 1.6)
}

func (d *drawnDisc) header() {
	t, at := d.Theme, d.in.UTC.UTC()
	title := canvas.Type{Size: 18, Bold: true, Colour: t.Ink}
	d.Text(16, 28, dateOf(at), title)
	x := 16 + canvas.TextWidth(dateOf(at), 18, true) + 14
	d.Text(x, 28, at.Format("15:04:05")+" UT", canvas.Type{Size: 18, Colour: t.Ink})
	d.Text(16, 47, shorten(d.in.Heading, d.headingRoom(), 11.5), canvas.Type{Size: 11.5, Colour: t.Muted})

	face := d.in.View.Face
	rotation := "–"
	if ephemeris.Check(at) == nil {
		rotation = fmt.Sprintf("%d", int(math.Floor(ephemeris.Rotation(at))))
	}
	figures := [][2]string{
		{"L0", face.L0.TurnText(2) + "°"},
		{"B0", minus("%+.2f°", face.B0.Degrees())},
		{"P", minus("%+.2f°", face.P.Degrees())},
		{"CR", rotation},
	}
	if d.Width < narrowDisc { // on a line of their own
		x, y := 16.0, 47.0
		if d.in.Heading != "" {
			y = 66
		}
		for _, f := range slices.Backward(figures) {
			d.Text(x, y, f[0], canvas.Type{Size: 10.5, Colour: t.Muted})
			x += canvas.TextWidth(f[0], 10.5, false) + 5
			d.Text(x, y, f[1], canvas.Type{Size: 12, Colour: t.Ink})
			x += canvas.TextWidth(f[1], 12, false) + 14
		}
		return
	}
	right := d.Width - 16
	for _, f := range figures {
		width := max(44, canvas.TextWidth(f[1], 14, false))
		d.Text(right-width, 20, f[0], canvas.Type{Size: 10.5, Colour: t.Muted})
		d.Text(right-width, 38, f[1], canvas.Type{Size: 14, Colour: t.Ink})
		right -= width + 18
	}
}

// headingRoom is how wide the line under the date may be.
func (d *drawnDisc) headingRoom() float64 {
	if d.Width < narrowDisc {
		return d.Width - 32
	}
	return d.Width - 32 - 262
}

func (d *drawnDisc) picture() {
	r := d.dial.radius * d.reach
	d.Circle(d.dial.x, d.dial.y, r, canvas.Fill(d.Theme.Sky))
	if d.in.Picture == nil {
		d.Circle(d.dial.x, d.dial.y, d.dial.radius, canvas.Fill(d.bare()))
		return
	}
	limb := d.in.View.Limb
	s := newShown(d.in.Picture, d.in.FrameWidthPx, limb.RadiusPx, d.dial.radius*d.Density)
	m := s.onDial(d.dial, d.reach, d.Density, d.Theme)
	d.Picture(canvas.Rect{X: d.dial.x - r, Y: d.dial.y - r, Width: 2 * r, Height: 2 * r}, m, true)
}

// bare is the colour of a disc without a picture.
func (d *drawnDisc) bare() canvas.Colour {
	tint := d.Theme.Tint
	level := func(k int) uint8 { return uint8(86 * tint[k]) }
	return canvas.Colour{R: level(0), G: level(1), B: level(2), A: 255}
}

// grid draws latitudes and longitudes every 10°, the equator and the central
// meridian stronger, with figures where the lines cross those two.
func (d *drawnDisc) grid() {
	var faint, clear [][]canvas.Point
	draw := func(runs [][]canvas.Point, strong bool) {
		if strong {
			clear = append(clear, runs...)
		} else {
			faint = append(faint, runs...)
		}
	}
	for lat := -80; lat <= 80; lat += 10 {
		draw(d.dial.parallel(coords.Angle(lat)*coords.Degree), lat == 0)
	}
	face := d.in.View.Face
	if d.in.Carrington {
		draw(d.dial.meridian(face.L0), true)
		for lon := 0; lon < 360; lon += 10 {
			draw(d.dial.meridian(coords.Angle(lon)*coords.Degree), false)
		}
	} else {
		for cmd := -180; cmd < 180; cmd += 10 {
			draw(d.dial.meridian(face.L0+coords.Angle(cmd)*coords.Degree), cmd == 0)
		}
	}
	d.Paths(faint, canvas.Stroke(canvas.Faded(d.Theme.Light, 0.2), 0.6))
	d.Paths(clear, canvas.Stroke(canvas.Faded(d.Theme.Light, 0.42), 0.8))
	d.gridFigures()
}

func (d *drawnDisc) gridFigures() {
	face := d.in.View.Face
	figure := func(h coords.Heliographic, text string, dx, dy float64) {
		p, visible := d.dial.place(h)
		if !visible || math.Hypot(p.X-d.dial.x, p.Y-d.dial.y) > 0.965*d.dial.radius {
			return
		}
		set := canvas.Type{Size: 9, Colour: canvas.Faded(d.Theme.Light, 0.72), Halo: canvas.Faded(d.Theme.Dark, 0.35)}
		d.Text(p.X+dx, p.Y+dy, text, set)
		d.taken = append(d.taken, canvas.TextBox(p.X+dx, p.Y+dy, text, set))
	}
	for lat := -60; lat <= 60; lat += 30 {
		if lat != 0 {
			b := coords.Angle(lat) * coords.Degree
			figure(coords.Heliographic{B: b, L: face.L0}, latitude(b, 0), 3, -3)
		}
	}
	for cmd := -60; cmd <= 60; cmd += 30 {
		if cmd != 0 && !d.in.Carrington {
			c := coords.Angle(cmd) * coords.Degree
			figure(coords.Heliographic{L: face.L0 + c}, meridianDistance(c, 0), 3, -3)
		}
	}
	if d.in.Carrington {
		for lon := 0; lon < 360; lon += 30 {
			l := coords.Angle(lon) * coords.Degree
			if (l - face.L0).Wrap180().Abs() > 4*coords.Degree {
				figure(coords.Heliographic{L: l}, fmt.Sprintf("%d", lon), 3, -3)
			}
		}
	}
}

func (d *drawnDisc) limb() {
	d.Circle(d.dial.x, d.dial.y, d.dial.radius, canvas.Stroke(canvas.Faded(d.Theme.Light, 0.5), 0.8))
}

// words are the title and description for those who cannot see the chart.
func (d *drawnDisc) words() (title, description string) {
	counts := map[catalog.Kind]int{}
	for _, e := range d.in.Entries {
		counts[e.Mark.Kind]++
	}
	description = fmt.Sprintf("%s. P %.2f°, B0 %.2f°, L0 %s°.", d.in.orientation(), d.in.View.Face.P.Degrees(), d.in.View.Face.B0.Degrees(), d.in.View.Face.L0.TurnText(2))
	for _, k := range catalog.Kinds {
		if n := counts[k]; n > 0 {
			description += " " + plural(n, k.String(), kindPlural(k)) + "."
		}
	}
	return "The Sun on " + dateOf(d.in.UTC) + ", " + d.in.UTC.UTC().Format("15:04:05") + " UT", description
}

// orientation says how the disc lies.
func (in DiscInput) orientation() string {
	switch in.Up {
	case CelestialNorthUp:
		return "Celestial north up, east left"
	case AsTaken:
		if in.View.North.Mirrored {
			return "As taken, mirrored"
		}
		return "As taken"
	}
	return "Solar north up, east left"
}
