package gather

import (
	"context"
	"fmt"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// DiscOptions choose a disc and its look.
//
//	Frame    which is drawn; it must have a disc and a north
//	Reduced  takes the kept preview in place of the picture itself: quick, and sharp
//	         enough for a screen
type DiscOptions struct {
	Frame                        catalog.FrameID
	Reduced                      bool
	Up                           chart.Up
	NoGrid, Carrington, NoLabels bool
}

// Disc gathers a frame's annotated disc. Errors: a frame that is not there; one without
// disc or north (a NotPlacedError); a picture that cannot be read.
func Disc(ctx context.Context, k observe.Keeper, o DiscOptions) (chart.DiscInput, error) {
	in := chart.DiscInput{Frame: o.Frame, Up: o.Up, NoGrid: o.NoGrid, Carrington: o.Carrington, NoLabels: o.NoLabels}
	v := k.Store.Read(ctx)
	b, err := v.Bearings(o.Frame)
	if err != nil {
		return in, err
	}
	if in.View, err = observe.ViewOf(b); err != nil {
		return in, &NotPlacedError{Frame: o.Frame, Reason: err}
	}
	in.UTC, in.FrameWidthPx, in.Heading = b.Frame.Middle(b.ClockCorrectionS), b.Frame.WidthPx, heading(v)
	switch {
	case !b.Frame.HasFile():
	case o.Reduced:
		in.Picture, err = k.Preview(b.Frame)
	default:
		in.Picture, _, err = k.OpenFrame(ctx, o.Frame)
	}
	if err != nil {
		return in, err
	}
	in.Entries, err = v.Entries(store.Query{Frame: o.Frame, References: true})
	return in, err
}

// NotPlacedError says that a frame cannot be drawn because it is not known how the Sun
// lies in it.
type NotPlacedError struct {
	Frame  catalog.FrameID
	Reason error
}

// Error names the frame and what is missing.
func (e *NotPlacedError) Error() string { return fmt.Sprintf("frame %s: %v", e.Frame, e.Reason) }

// Unwrap is what is missing.
func (e *NotPlacedError) Unwrap() error { return e.Reason }
