package gather

import (
	"context"

	"limbwatch/catalog"
	"limbwatch/catalog/measure"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/disc"
)

// Measurer measures marks from their points. The view of a frame is read once.
type Measurer struct {
	view  *store.View
	views map[catalog.FrameID]*disc.View
}

// NewMeasurer begins to measure marks of a catalogue.
func NewMeasurer(ctx context.Context, k observe.Keeper) *Measurer {
	return &Measurer{view: k.Store.Read(ctx), views: map[catalog.FrameID]*disc.View{}}
}

// Measure measures a mark, without its contrast.
func (m *Measurer) Measure(e catalog.Entry) (measure.Marked, error) {
	frame := e.Frame.ID
	if _, known := m.views[frame]; !known && e.Mark.Geometry.Form() == catalog.FormPixels {
		b, err := m.view.Bearings(frame)
		if err != nil {
			return measure.Marked{Entry: e}, err
		}
		if view, err := observe.ViewOf(b); err == nil {
			m.views[frame] = &view
		} else {
			m.views[frame] = nil // its marks in pixels have no size
		}
	}
	return measure.OfEntry(e, m.views[frame]), nil
}

// MeasureAll measures marks.
func MeasureAll(ctx context.Context, k observe.Keeper, entries []catalog.Entry) ([]measure.Marked, error) {
	m := NewMeasurer(ctx, k)
	marks := make([]measure.Marked, len(entries))
	for i, e := range entries {
		var err error
		if marks[i], err = m.Measure(e); err != nil {
			return nil, err
		}
	}
	return marks, nil
}

// Measured measures a mark, and its contrast in the kept preview of its picture. A
// picture that cannot be read leaves it without a contrast.
func Measured(ctx context.Context, k observe.Keeper, e catalog.Entry) (measure.Marked, error) {
	m := NewMeasurer(ctx, k)
	marked, err := m.Measure(e)
	if err != nil || marked.Size.Area == nil || !e.Frame.HasFile() || m.views[e.Frame.ID] == nil {
		return marked, err
	}
	if pic, err := k.Preview(e.Frame); err == nil {
		marked.Compare(pic, e.Frame.WidthPx, m.views[e.Frame.ID].Limb)
	}
	return marked, nil
}
