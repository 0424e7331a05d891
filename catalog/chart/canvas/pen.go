package canvas

import "image"

// Pen draws what is on a sheet in a way of its own, as onto a page of a document.
// Lengths are units of the sheet; what comes later lies on top. Begin and End enclose
// a group, whose clip holds until then.
type Pen interface {
	Path(lines [][]Point, closed bool, s Style)
	Circle(at Point, radius float64, s Style)
	Text(at Point, text string, t Type)
	Picture(at Rect, m image.Image, round bool)
	Begin(g Group)
	End()
}

// Halo is the width of the line under letters of a size that makes their rim.
func Halo(size float64) float64 { return 0.28 * size }

// Draw has a pen draw the sheet.
func (c *Canvas) Draw(p Pen) {
	for _, o := range c.ops {
		switch {
		case o.path != nil:
			p.Path(o.path.lines, o.path.closed, o.path.style)
		case o.circle != nil:
			p.Circle(o.circle.at, o.circle.radius, o.circle.style)
		case o.text != nil:
			p.Text(o.text.at, o.text.text, o.text.set)
		case o.picture != nil:
			at := o.picture
			p.Picture(Rect{at.x, at.y, at.width, at.height}, at.image, at.round)
		case o.group != nil:
			p.Begin(*o.group)
		default:
			p.End()
		}
	}
}
