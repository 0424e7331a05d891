package observe

import (
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// bearingsReader reads the bearings of frames once each.
type bearingsReader struct {
	view  *store.View
	known map[catalog.FrameID]catalog.Bearings
}

func newBearingsReader(v *store.View) *bearingsReader {
	return &bearingsReader{view: v, known: map[catalog.FrameID]catalog.Bearings{}}
}

// of gives those of a frame.
func (r *bearingsReader) of(id catalog.FrameID) (catalog.Bearings, error) {
	if b, known := r.known[id]; known {
		return b, nil
	}
	b, err := r.view.Bearings(id)
	if err == nil {
		r.known[id] = b
	}
	return b, err
}

// ahead reads those of many frames together.
func (r *bearingsReader) ahead(ids []catalog.FrameID) error {
	found, err := r.view.BearingsOf(ids)
	for _, b := range found {
		r.known[b.Frame.ID] = b
	}
	return err
}

// drawShapes lays drawn lines and outlines on the Sun for the follower, which
// compares them as shapes and not only by their middle: it gives each sighting the
// shape of its entry, at its height, from the vertices that lie on the disc. A point
// has none, and nor has what stands at the edge.
func drawShapes(bearings *bearingsReader, entries []catalog.Entry, sightings []follow.Sighting) error {
	drawn := func(m *catalog.Mark) bool { return m.Geometry.Shape != catalog.Point && m.Kind != catalog.Prominence }
	var frames []catalog.FrameID
	for i := range entries {
		if m := &entries[i].Mark; drawn(m) && (len(frames) == 0 || frames[len(frames)-1] != m.Frame) {
			frames = append(frames, m.Frame)
		}
	}
	if err := bearings.ahead(frames); err != nil {
		return err
	}
	for i := range entries {
		if !drawn(&entries[i].Mark) {
			continue
		}
		b, err := bearings.of(entries[i].Mark.Frame)
		if err != nil {
			return err
		}
		drawShape(b, entries[i].Mark, &sightings[i])
	}
	return nil
}

// drawSighted does the same for what was read for following alone: of marks that were
// drawn all is read now.
func drawSighted(v *store.View, sighted []store.Sighted, sightings []follow.Sighting) error {
	at := map[catalog.MarkID]int{}
	var ids []catalog.MarkID
	for i, s := range sighted {
		if s.Shape != catalog.Point && s.Kind != catalog.Prominence {
			at[s.Mark] = i
			ids = append(ids, s.Mark)
		}
	}
	bearings := newBearingsReader(v)
	for some := range slices.Chunk(ids, 500) { // in one query
		entries, err := v.Entries(store.Query{Marks: some, References: true})
		if err != nil {
			return err
		}
		drawn := make([]follow.Sighting, len(entries))
		if err := drawShapes(bearings, entries, drawn); err != nil {
			return err
		}
		for i, e := range entries {
			to := &sightings[at[e.Mark.ID]]
			to.Shape, to.Closed = drawn[i].Shape, drawn[i].Closed
		}
		clear(bearings.known)
	}
	return nil
}

// drawShape gives a sighting the shape of its mark. Its middle has a place, so the
// frame has a view; where it has none all the same there is no shape, which is a help
// and no need.
func drawShape(b catalog.Bearings, m catalog.Mark, to *follow.Sighting) {
	places, err := Vertices(b, m)
	if err != nil {
		return
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
		to.Shape, to.Closed = shape, m.Geometry.Shape == catalog.Outline && len(shape) >= 3
	}
}
