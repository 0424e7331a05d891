package observe

import (
	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// shaper lays drawn lines and outlines on the Sun for the follower, which compares
// them as shapes and not only by their middle.
type shaper struct {
	view   *store.View
	frames map[catalog.FrameID]catalog.Bearings
}

func newShaper(v *store.View) *shaper {
	return &shaper{view: v, frames: map[catalog.FrameID]catalog.Bearings{}}
}

// draw gives a sighting the shape of its mark, at its height: the vertices that lie
// on the disc. A point has none, and nor has what stands at the edge.
func (s *shaper) draw(e catalog.Entry, to *follow.Sighting) error {
	if e.Mark.Geometry.Shape == catalog.Point || e.Mark.Kind == catalog.Prominence {
		return nil
	}
	b, known := s.frames[e.Mark.Frame]
	if !known {
		var err error
		if b, err = s.view.Bearings(e.Mark.Frame); err != nil {
			return err
		}
		s.frames[e.Mark.Frame] = b
	}
	places, err := Vertices(b, e.Mark)
	if err != nil {
		return nil //nolint:nilerr // its middle has a place, so the frame has a view; a shape is a help, no need
	}
	var shape []coords.Heliographic
	for _, p := range places {
		switch {
		case p.Corrected.Known:
			shape = append(shape, p.Corrected.Heliographic)
		case p.Photosphere.Known:
			shape = append(shape, p.Photosphere.Heliographic)
		}
	}
	if len(shape) >= 2 {
		to.Shape, to.Closed = shape, e.Mark.Geometry.Shape == catalog.Outline && len(shape) >= 3
	}
	return nil
}
