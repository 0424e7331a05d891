package observe

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// DefaultSigmaClickPx is the standard error of a click, along each axis, when
// nobody says another (common practice, no source).
const DefaultSigmaClickPx = 0.5

// AddMark keeps a mark on a frame. A zero MarkedAt means now, a zero Observer the
// sitting's, a zero click error DefaultSigmaClickPx.
func (k Keeper) AddMark(ctx context.Context, m catalog.Mark) (catalog.Mark, error) {
	marks, err := k.AddMarks(ctx, []catalog.Mark{m})
	if err != nil {
		return m, err
	}
	return marks[0], nil
}

// AddMarks keeps several marks as one operation.
func (k Keeper) AddMarks(ctx context.Context, marks []catalog.Mark) ([]catalog.Mark, error) {
	err := k.update(ctx, "mark add", func(tx *store.Tx) (err error) {
		marks, err = k.addMarks(tx, marks)
		return err
	})
	return marks, err
}

func (k Keeper) addMarks(tx *store.Tx, marks []catalog.Mark) ([]catalog.Mark, error) {
	filled := make([]catalog.Mark, len(marks))
	for i, m := range marks {
		if m.MarkedAt.IsZero() {
			m.MarkedAt = k.Now().UTC().Round(time.Millisecond)
		}
		if len(m.Geometry.Pixels) > 0 && m.Geometry.SigmaClickPx == 0 {
			m.Geometry.SigmaClickPx = DefaultSigmaClickPx
		}
		f, err := tx.Frame(m.Frame)
		if err != nil {
			return nil, err
		}
		if err := onPicture(m.Geometry, f); err != nil {
			return nil, err
		}
		if m.Observer == 0 && f.Sitting != 0 {
			s, err := tx.Sitting(f.Sitting)
			if err != nil {
				return nil, err
			}
			m.Observer = s.Observer
		}
		filled[i] = m
	}
	added, err := tx.AddMarks(filled)
	if err != nil {
		return nil, err
	}
	if err := k.plausible(tx, added); err != nil {
		return nil, err
	}
	tx.SetTitle("mark add %s", namesOf(added))
	return added, nil
}

// plausible refuses marks that cannot be meant where they lie, unless they are forced.
func (k Keeper) plausible(tx *store.Tx, marks []catalog.Mark) error {
	if k.Force {
		return nil
	}
	var b catalog.Bearings
	for _, m := range marks {
		if b.Frame.ID != m.Frame {
			var err error
			if b, err = tx.Bearings(m.Frame); err != nil {
				return err
			}
		}
		if err := Plausible(m, Derive(b, []catalog.Mark{m})[0]); err != nil {
			return err
		}
	}
	return nil
}

// OffPictureError refuses a mark that lies where its frame has no picture: a slip
// of the pen.
type OffPictureError struct {
	Pixel coords.Pixel
	Frame catalog.Frame
}

func (e *OffPictureError) Error() string {
	return fmt.Sprintf("point (%g, %g) px lies outside of frame %s, which has %d × %d px",
		e.Pixel.X, e.Pixel.Y, e.Frame.ID, e.Frame.WidthPx, e.Frame.HeightPx)
}

// onPicture sees to it that what is drawn lies on the picture, or on its very edge.
func onPicture(g catalog.Geometry, f catalog.Frame) error {
	const edgePx = 2 // a hand that follows the edge of the picture slips over it
	for _, p := range g.Pixels {
		if f.HasFile() && (p.X < -edgePx || p.Y < -edgePx || p.X > float64(f.WidthPx-1)+edgePx || p.Y > float64(f.HeightPx-1)+edgePx) {
			return &OffPictureError{p, f}
		}
	}
	return nil
}

func namesOf(marks []catalog.Mark) string {
	switch len(marks) {
	case 0:
		return "none"
	case 1:
		return marks[0].ID.String()
	}
	return fmt.Sprintf("%s to %s", marks[0].ID, marks[len(marks)-1].ID)
}

// NewInstant is a time at which something was seen without a picture: a sketch, an
// old log, a glance.
type NewInstant struct {
	UTC           time.Time
	SigmaS        float64
	Source        string // where the time is from; empty: "typed"
	Circumstances Circumstances
}

// AddMarksAt keeps marks by figures that need no picture. They hang on a frame
// without a file, at that time and in its sitting; one that is there is used again.
func (k Keeper) AddMarksAt(ctx context.Context, at NewInstant, marks []catalog.Mark) (f catalog.Frame, added []catalog.Mark, err error) {
	err = k.update(ctx, "mark add", func(tx *store.Tx) error {
		for _, m := range marks {
			if m.Geometry.Form() == catalog.FormPixels {
				return &store.InvalidError{Err: errors.New("a mark in pixels needs a picture")}
			}
		}
		if f, err = frameWithoutFile(tx, at); err != nil {
			return err
		}
		onFrame := make([]catalog.Mark, len(marks))
		for i, m := range marks {
			m.Frame = f.ID
			onFrame[i] = m
		}
		added, err = k.addMarks(tx, onFrame)
		return err
	})
	return f, added, err
}

func frameWithoutFile(tx *store.Tx, at NewInstant) (catalog.Frame, error) {
	c, err := at.Circumstances.filled(&tx.View)
	if err != nil {
		return catalog.Frame{}, err
	}
	utc := at.UTC.UTC().Round(time.Millisecond)
	sitting, err := sittingFor(tx, c, utc)
	if err != nil {
		return catalog.Frame{}, err
	}
	present, err := tx.FramesOf(sitting.ID)
	if err != nil {
		return catalog.Frame{}, err
	}
	for _, f := range present {
		if !f.HasFile() && f.Taken.Equal(utc) && f.SigmaS == at.SigmaS {
			return f, nil
		}
	}
	source := at.Source
	if source == "" {
		source = "typed"
	}
	return tx.AddFrame(catalog.Frame{Sitting: sitting.ID, Taken: utc, SigmaS: at.SigmaS,
		Moment: catalog.MomentMiddle, TimeSource: source, Zone: "UTC"})
}

// EditMark keeps a changed mark. The error is a *store.StaleError, with both
// versions, when someone else has changed it meanwhile.
func (k Keeper) EditMark(ctx context.Context, m catalog.Mark) (catalog.Mark, error) {
	return save(ctx, k, "mark edit", m, k.editMark, func(m catalog.Mark) string { return m.ID.String() })
}

// EditMarks keeps several changed marks as one operation. An error says which of them it
// is about.
func (k Keeper) EditMarks(ctx context.Context, marks []catalog.Mark) error {
	return k.update(ctx, fmt.Sprintf("mark edit %d marks, %s", len(marks), namesOf(marks)), func(tx *store.Tx) error {
		for _, m := range marks {
			if _, err := k.editMark(tx, m); err != nil {
				return fmt.Errorf("%s: %w", m.ID, err)
			}
		}
		return nil
	})
}

// editMark keeps a changed mark. One that was odd before, and kept so, may stay so.
func (k Keeper) editMark(tx *store.Tx, m catalog.Mark) (catalog.Mark, error) {
	f, err := tx.Frame(m.Frame)
	if err != nil {
		return m, err
	}
	if err := onPicture(m.Geometry, f); err != nil {
		return m, err
	}
	before, err := tx.Mark(m.ID)
	if err != nil {
		return m, err
	}
	edited, err := tx.EditMark(m)
	if err != nil {
		return m, err
	}
	if edited.Kind == before.Kind && reflect.DeepEqual(edited.Geometry, before.Geometry) {
		return edited, nil
	}
	if odd := k.plausible(tx, []catalog.Mark{edited}); odd != nil && k.plausible(tx, []catalog.Mark{before}) == nil {
		return m, odd
	}
	return edited, nil
}

// RemoveMark takes a mark out of sight, with what joins it to passages and what
// says that others are the same thing.
func (k Keeper) RemoveMark(ctx context.Context, id catalog.MarkID, revision int64) error {
	return drop(ctx, k, "mark", id, revision, (*store.Tx).RemoveMark)
}

// RemoveMarks does the same with several, each of the revision that was seen, as one
// operation.
func (k Keeper) RemoveMarks(ctx context.Context, marks []catalog.Mark) error {
	title := "mark remove"
	for i, m := range marks {
		const most = 6 // that a title names
		if i == most {
			title += fmt.Sprintf(" and %d more", len(marks)-most)
			break
		}
		title += " " + m.ID.String()
	}
	return k.update(ctx, title, func(tx *store.Tx) error {
		for _, m := range marks {
			revision := m.Revision
			if now, err := tx.Mark(m.ID); err == nil && now.SameAs != m.SameAs {
				revision = store.Newest // another of them was the same thing, and went before
			}
			if err := tx.RemoveMark(m.ID, revision); err != nil {
				return err
			}
		}
		return nil
	})
}
