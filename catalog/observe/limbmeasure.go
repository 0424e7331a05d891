package observe

import (
	"context"
	"fmt"
	"math"
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/limb"
)

// MeasureLimb finds which limb a set-up shows, from frames of one role taken with
// the tracking off: the speed of the disc across the picture gives the scale, and so
// the fitted radius the height of its limb. It keeps it with the set-up, for all
// discs of that role whose limb nobody named.
func (k Keeper) MeasureLimb(ctx context.Context, frames []catalog.FrameID) (setup catalog.Setup, layer coords.Layer, err error) {
	run, err := k.limbRun(ctx, frames)
	if err != nil {
		return setup, layer, err
	}
	if layer, err = limb.MeasuredLayer(run.fit, run.pxPerSecond, run.sigma, run.face, run.dec); err != nil {
		return setup, layer, err
	}
	err = k.update(ctx, "instrument limb", func(tx *store.Tx) error {
		sitting, err := tx.Sitting(run.sitting)
		if err != nil {
			return err
		}
		if setup, err = tx.Setup(sitting.Setup); err != nil {
			return err
		}
		if run.role == catalog.RoleLimb {
			setup.Edge = &layer
		} else {
			setup.Surface = &layer
		}
		setup, err = editSetup(tx, setup)
		tx.SetTitle("instrument limb %s", setup.ID)
		return err
	})
	return setup, layer, err
}

// limbRun is what a drift tells for measuring the limb.
type limbRun struct {
	fit                limb.Fit
	pxPerSecond, sigma float64
	face               coords.Face
	dec                coords.Angle
	sitting            catalog.SittingID
	role               catalog.Role
}

// limbRun reads the drift: a straight line of centre against time, by least squares.
func (k Keeper) limbRun(ctx context.Context, ids []catalog.FrameID) (run limbRun, err error) {
	if len(ids) < 2 {
		return run, &store.InvalidError{Err: fmt.Errorf("a drift takes at least 2 frames, named: %d", len(ids))}
	}
	v := k.Store.Read(ctx)
	var seconds, x, y []float64
	for i, id := range ids {
		b, err := v.Bearings(id)
		if err != nil {
			return run, err
		}
		if b.Disc == nil {
			return run, fmt.Errorf("frame %s: %w", id, ErrNoDisc)
		}
		at := b.Frame.Middle(b.ClockCorrectionS)
		if i == 0 {
			sun := ephemeris.SunAt(at)
			run.face, run.dec, run.sitting, run.role = sun.Face, sun.Dec, b.Frame.Sitting, b.Frame.Role
			run.fit.Limb = b.Disc.Limb
		}
		if run.sitting == 0 {
			return run, &store.InvalidError{Err: fmt.Errorf("frame %s is of no sitting: its set-up is not known", id)}
		}
		if b.Frame.Sitting != run.sitting || b.Frame.Role != run.role {
			return run, &store.InvalidError{Err: fmt.Errorf("frame %s is of sitting %s and role %q, %s of %s and %q: a drift is of one sitting and one role",
				id, b.Frame.Sitting, b.Frame.Role, ids[0], run.sitting, run.role)}
		}
		seconds = append(seconds, float64(at.UnixMilli())/1000)
		x, y = append(x, b.Disc.Limb.Centre.X), append(y, b.Disc.Limb.Centre.Y)
	}
	vx, vy := slope(seconds, x), slope(seconds, y)
	run.pxPerSecond = math.Hypot(vx, vy)
	span := slices.Max(seconds) - slices.Min(seconds)
	// Two centres at the ends of the drift; more of them in between do not hurt.
	run.sigma = math.Sqrt2 * max(run.fit.Limb.Cov.SigmaCentrePx(), 0.05) / max(span, 1)
	return run, nil
}

// slope is the least-squares slope of v against t.
func slope(t, v []float64) float64 {
	n := float64(len(t))
	var meanT, meanV float64
	for i := range t {
		meanT, meanV = meanT+t[i]/n, meanV+v[i]/n
	}
	var tt, tv float64
	for i := range t {
		tt += (t[i] - meanT) * (t[i] - meanT)
		tv += (t[i] - meanT) * (v[i] - meanV)
	}
	return tv / tt
}
