package observe

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/north"
)

// SetNorth keeps a north that was typed: where celestial north, solar north or the
// zenith points in the picture. Its Frame, Angle, Mirrored, Toward and Sigma count;
// Method may say more than "typed". revision is that of the north it replaces, as
// with discs.
func (k Keeper) SetNorth(ctx context.Context, n catalog.North, revision int64) (catalog.North, error) {
	if n.Method == "" {
		n.Method = map[catalog.Toward]string{
			catalog.TowardCelestial: north.MethodTyped,
			catalog.TowardSolar:     north.MethodSolar,
			catalog.TowardZenith:    north.MethodLevel,
		}[n.Toward]
	}
	return k.putNorth(ctx, "north set", n, revision)
}

// KeepNorth keeps a north that one of the ways of coords/north found for a frame.
func (k Keeper) KeepNorth(ctx context.Context, id catalog.FrameID, found north.Found, from catalog.FrameID, revision int64) (catalog.North, error) {
	return k.putNorth(ctx, "north "+found.Method, catalog.North{
		Frame: id, Angle: found.Angle.Wrap180(), Mirrored: found.Mirrored, Sigma: found.Sigma,
		Lasting: found.Lasting, Method: found.Method, Parity: found.Parity, From: from, Note: found.Why,
	}, revision)
}

// NorthAsLast takes over the north of the last oriented frame of the same set-up.
// Within the sitting it is as good as it was there; from another one its error
// grows, for the camera was touched (north.AsLastTime).
func (k Keeper) NorthAsLast(ctx context.Context, id catalog.FrameID, revision int64) (catalog.North, error) {
	last, age, sameSitting, err := k.lastNorth(ctx, id)
	if err != nil {
		return catalog.North{}, err
	}
	next := catalog.North{Frame: id, Angle: last.Angle, Mirrored: last.Mirrored, Sigma: last.Sigma,
		Lasting: last.Lasting, Toward: last.Toward, Method: "same sitting", Parity: last.Parity, From: last.Frame}
	if !sameSitting {
		found, err := north.AsLastTime(coords.North{Angle: last.Angle, Mirrored: last.Mirrored, Sigma: last.Sigma}, age)
		if err != nil {
			return catalog.North{}, err
		}
		next.Angle, next.Sigma, next.Method, next.Note = found.Angle, found.Sigma, found.Method, found.Why
	}
	return k.putNorth(ctx, "north as last time", next, revision)
}

// FlipNorth turns a frame's north by half a turn, as a mount does that is turned
// over after the meridian; a frame without one takes the last frame's, flipped.
func (k Keeper) FlipNorth(ctx context.Context, id catalog.FrameID, revision int64) (catalog.North, error) {
	before, err := k.Store.Read(ctx).North(id)
	if missing(err) {
		before, _, _, err = k.lastNorth(ctx, id)
	}
	if err != nil {
		return catalog.North{}, err
	}
	found, err := north.Flipped(coords.North{Angle: before.Angle, Mirrored: before.Mirrored, Sigma: before.Sigma})
	if err != nil {
		return catalog.North{}, err
	}
	next := catalog.North{Frame: id, Angle: found.Angle, Mirrored: found.Mirrored, Sigma: found.Sigma,
		Lasting: before.Lasting, Toward: before.Toward, Method: found.Method, Parity: before.Parity, Note: found.Why}
	if before.Frame != id {
		next.From = before.Frame
	}
	return k.putNorth(ctx, "north flip", next, revision)
}

// LastNorth is what NorthAsLast would take over, and from which frame, without
// keeping it: as celestial north at the frame's own time. A camera that keeps its lie
// against the horizon, or a picture that was turned to solar north, is not where it
// was when the sky has turned meanwhile.
func (k Keeper) LastNorth(ctx context.Context, id catalog.FrameID) (north.Found, catalog.FrameID, error) {
	last, age, sameSitting, err := k.lastNorth(ctx, id)
	if err != nil {
		return north.Found{}, 0, err
	}
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return north.Found{}, 0, err
	}
	at := instantOf(b)
	if at.err != nil {
		return north.Found{}, 0, at.err
	}
	b.North = &last
	celestial, err := at.celestial(b)
	if err != nil {
		return north.Found{}, 0, fmt.Errorf("the north of %s cannot be used: %w", last.Frame, err)
	}
	if sameSitting {
		return north.Found{North: celestial, Method: "same sitting", Why: "the camera was not touched between", Parity: last.Parity, Lasting: last.Lasting}, last.Frame, nil
	}
	found, err := north.AsLastTime(celestial, age)
	found.Lasting = last.Lasting
	return found, last.Frame, err
}

// lastNorth finds the north to take over: that of the nearest oriented frame of the
// sitting, before or after this one, and else the last of the same named set-up before
// it, with its age. Which camera a set-up without a name was nobody knows.
func (k Keeper) lastNorth(ctx context.Context, id catalog.FrameID) (last catalog.North, age time.Duration, sameSitting bool, err error) {
	v := k.Store.Read(ctx)
	b, err := v.Bearings(id)
	if err != nil {
		return last, 0, false, err
	}
	if b.Frame.Sitting == 0 {
		return last, 0, false, &store.InvalidError{Err: fmt.Errorf("frame %s belongs to no sitting: there is no last time of its set-up", id)}
	}
	sitting, err := v.Sitting(b.Frame.Sitting)
	if err != nil {
		return last, 0, false, err
	}
	frames, err := v.FramesOf(b.Frame.Sitting)
	if err != nil {
		return last, 0, false, err
	}
	apart := func(f catalog.Frame) time.Duration { return f.Middle(0).Sub(b.Frame.Middle(0)).Abs() }
	slices.SortStableFunc(frames, func(a, b catalog.Frame) int { return cmp.Compare(apart(a), apart(b)) })
	for _, f := range frames {
		if f.ID == id {
			continue
		}
		if last, err = v.North(f.ID); !missing(err) {
			return last, 0, err == nil, err
		}
	}
	if sitting.Setup == 0 {
		return last, 0, false, &store.InvalidError{Err: fmt.Errorf("sitting %s of frame %s names no set-up: nothing says that an earlier north was of the same camera", sitting.ID, id)}
	}
	if last, err = v.NorthBefore(sitting.Setup, b); err != nil {
		return last, 0, false, err
	}
	then, err := v.Bearings(last.Frame)
	return last, instantOf(b).utc.Sub(instantOf(then).utc), false, err
}

// RemoveNorth takes a frame's north out of sight.
func (k Keeper) RemoveNorth(ctx context.Context, id catalog.FrameID, revision int64) error {
	return k.update(ctx, fmt.Sprintf("north remove %s", id), func(tx *store.Tx) error {
		n, err := tx.North(id)
		if err != nil {
			return err
		}
		return tx.RemoveNorth(n.ID, revision)
	})
}

// DriftFrames are frames taken with the tracking off, for SolveDrift.
//
//	Frames    two or more, each with its disc
//	Mirrored  the parity, when it is known; nil: Step or Known must tell
//	Step      the disc before and after a push in declination
//	Known     features on the frame KnownOn whose places are known
type DriftFrames struct {
	Frames   []catalog.FrameID
	Mirrored *bool
	Step     *north.Step
	KnownOn  catalog.FrameID
	Known    []KnownFeature
}

// SolveDrift finds north from frames taken with the tracking off, without keeping
// it: KeepNorth does, for each frame that it holds for. Without a parity, a step
// or known features that of the set-up counts, as its other frames have it; where they
// tell none the line alone is found, and the error is a *ParityNeededError that has it.
func (k Keeper) SolveDrift(ctx context.Context, d DriftFrames) (north.Found, error) {
	run, err := k.driftRun(ctx, d.Frames)
	if err != nil {
		return north.Found{}, err
	}
	line, err := north.Drift(run)
	switch {
	case err != nil:
		return north.Found{}, err
	case d.Step != nil:
		return line.WithStep(*d.Step)
	case d.Mirrored != nil:
		return line.Known(*d.Mirrored), nil
	case len(d.Known) > 0:
		view, features, err := k.knownOn(ctx, d.KnownOn, d.Known)
		if err != nil {
			return north.Found{}, err
		}
		return line.WithFeatures(view, features)
	}
	return k.driftByParity(ctx, line, d.Frames[0])
}

// driftByParity is a drift whose parity is that of the set-up, where its frames tell it.
func (k Keeper) driftByParity(ctx context.Context, line north.DriftLine, id catalog.FrameID) (north.Found, error) {
	v := k.Store.Read(ctx)
	frame, err := v.Frame(id)
	if err != nil {
		return north.Found{}, err
	}
	setup, err := setupOf(v, frame)
	if err != nil {
		return north.Found{}, err
	}
	known, err := parityOfSetup(v, setup, id)
	if err != nil {
		return north.Found{}, err
	}
	if !known.Known || known.Odds < leastKeptParity {
		return north.Found{}, &ParityNeededError{Line: line}
	}
	found := line.Known(known.Mirrored)
	found.Parity = known.Odds
	found.Why += "; the set-up is " + known.Why
	return found, nil
}

// ParityNeededError says that a drift tells a line but no parity.
type ParityNeededError struct{ Line north.DriftLine }

func (e *ParityNeededError) Error() string {
	return fmt.Sprintf("a drift does not tell whether the picture is mirrored: north is at %.2f degrees if not, at %.2f if it is",
		e.Line.Straight.Angle.Degrees(), e.Line.Mirrored.Angle.Degrees())
}

// longestDrift is longer than the Sun needs to cross any field, at 15° an hour.
const longestDrift = time.Hour

func (k Keeper) driftRun(ctx context.Context, ids []catalog.FrameID) (run north.Run, err error) {
	v := k.Store.Read(ctx)
	for _, id := range ids {
		b, err := v.Bearings(id)
		if err != nil {
			return run, err
		}
		if b.Disc == nil {
			return run, fmt.Errorf("frame %s: %w", id, ErrNoDisc)
		}
		at := instantOf(b)
		if at.err != nil {
			return run, fmt.Errorf("frame %s: %w", id, at.err)
		}
		if len(run.Shots) > 0 && at.utc.Sub(run.Shots[0].Time).Abs() > longestDrift {
			return run, &store.InvalidError{Err: fmt.Errorf("frames %s and %s are %.1f hours apart: a drift is one run with the camera untouched", ids[0], id, at.utc.Sub(run.Shots[0].Time).Abs().Hours())}
		}
		run.Shots = append(run.Shots, north.Shot{Centre: b.Disc.Limb.Centre,
			SigmaPx: max(b.Disc.Limb.Cov.SigmaCentrePx(), 0.05), Time: at.utc})
		run.ArcsecPerPx = b.Disc.ArcsecPerPx(at.face.Semidiameter)
		if b.Site != nil {
			run.Site = &north.Site{Lat: degrees(b.Site.LatDeg), LonEast: degrees(b.Site.LonDeg)}
		}
	}
	return run, nil
}

// putNorth keeps a north, and with it those that follow it.
func (k Keeper) putNorth(ctx context.Context, title string, n catalog.North, revision int64) (catalog.North, error) {
	follow, err := k.following(ctx, n)
	if err != nil {
		return n, err
	}
	if len(follow) > 0 {
		title += fmt.Sprintf(", and of %d that follow", len(follow))
	}
	err = k.update(ctx, fmt.Sprintf("%s %s", title, n.Frame), func(tx *store.Tx) error {
		if _, err := tx.Frame(n.Frame); err != nil {
			return err
		}
		present, err := tx.North(n.Frame)
		if err != nil && !missing(err) {
			return err
		}
		n.ID, n.UUID, n.Revision = present.ID, present.UUID, revision
		if n, err = tx.SetNorth(n); err != nil {
			return err
		}
		for _, f := range follow {
			was, err := tx.North(f.Frame)
			if err != nil {
				return err
			}
			f.ID, f.UUID, f.Revision = was.ID, was.UUID, store.Newest
			if _, err := tx.SetNorth(f); err != nil {
				return err
			}
		}
		var told []Telling
		for _, t := range k.heeds {
			if t.Frame == n.Frame {
				told = append(told, t)
			}
		}
		return heed(tx, n.Frame, told)
	})
	return n, err
}
