package observe

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords/north"
)

// KeepTurning keeps one answer of SolveTurning for its frames, as one operation; a frame
// that has a north of another way keeps that one. The frames hold one axis together: all
// name the first, and follow when one of them gets a better north. Where the answer was
// not decided its parity is the observer's word.
func (k Keeper) KeepTurning(ctx context.Context, frames []catalog.FrameID, t north.Turning, answer int) error {
	if answer < 0 || answer >= len(t.Answers) {
		return &store.InvalidError{Err: fmt.Errorf("there is no answer %d, there are %d", answer+1, len(t.Answers))}
	}
	title := fmt.Sprintf("north by %s, %s", north.MethodTurning, framesInWords(frames))
	return k.update(ctx, title, func(tx *store.Tx) error {
		var present []*catalog.North
		for _, id := range frames {
			n, err := tx.North(id)
			if err != nil && !missing(err) {
				return err
			}
			present = append(present, &n)
		}
		norths := turningNorths(frames, t, answer)
		// One that is known of another way leads, where there is one.
		first := catalog.FrameID(0)
		for i, n := range norths {
			if n != nil && (first == 0 || present[i].ID != 0 && !byTurning(present[i])) {
				first = n.Frame
			}
		}
		for i, n := range norths {
			if n == nil || present[i].ID != 0 && !byTurning(present[i]) {
				continue
			}
			if n.Frame != first {
				n.From = first
			}
			n.ID, n.UUID, n.Revision = present[i].ID, present[i].UUID, store.Newest
			if _, err := tx.SetNorth(*n); err != nil {
				return err
			}
		}
		return nil
	})
}

// turningNorths are the norths of an answer, nil of frames that it has none for.
func turningNorths(frames []catalog.FrameID, t north.Turning, answer int) []*catalog.North {
	chosen := t.Answers[answer]
	parity := 0.0
	if t.Decided {
		parity = chosen.Odds
	}
	out := make([]*catalog.North, len(frames))
	for i, n := range chosen.Norths {
		if n != nil {
			out[i] = &catalog.North{Frame: frames[i], Angle: n.Angle.Wrap180(), Mirrored: n.Mirrored, Sigma: n.Sigma,
				Method: north.MethodTurning, Parity: parity, Note: TurningWhy(t, answer, i)}
		}
	}
	return out
}

// following are the norths of the frames that hold one axis together with the frame of a
// north which is better than what it has, or says the other parity: as the pictures have
// them lie to each other, with that one's error. None where nothing hangs together with it
// or the pictures do not tell any more; then they keep what they have, and what contradicts
// it is told.
func (k Keeper) following(ctx context.Context, n catalog.North) ([]catalog.North, error) {
	v := k.Store.Read(ctx)
	if n.Method == north.MethodTurning {
		return nil, nil
	}
	run, err := turnedWith(v, n.Frame)
	if err != nil || len(run) == 0 {
		return nil, err
	}
	present, err := v.North(n.Frame)
	if err != nil {
		return nil, err
	}
	if n.Mirrored == present.Mirrored && n.Sigma >= present.Sigma {
		return nil, nil
	}
	found, err := k.SolveTurning(ctx, TurningRequest{Frames: append([]catalog.FrameID{n.Frame}, run...), Said: &n})
	_, refused := errors.AsType[*north.TurningIndecisiveError](err)
	_, changed := errors.AsType[*ChangedFileError](err)
	if refused || changed || missing(err) {
		return nil, nil
	}
	if err != nil || !found.Decided {
		return nil, err
	}
	var out []catalog.North
	for i, f := range turningNorths(append([]catalog.FrameID{n.Frame}, run...), found, 0) {
		if i > 0 && f != nil {
			f.From, f.Parity = n.Frame, n.Parity
			f.Note += fmt.Sprintf("; held to the north of %s", n.Frame)
			out = append(out, *f)
		}
	}
	return out, nil
}

// Hanging are the norths of the other frames that hold one axis together with a frame's.
func (k Keeper) Hanging(ctx context.Context, id catalog.FrameID) (norths []catalog.North, err error) {
	v := k.Store.Read(ctx)
	run, err := turnedWith(v, id)
	for _, other := range run {
		n, err := v.North(other)
		if err != nil {
			return nil, err
		}
		norths = append(norths, n)
	}
	return norths, err
}

// Followed says which of some norths have changed since, in words; nothing when none has.
func (k Keeper) Followed(ctx context.Context, since []catalog.North) (string, error) {
	var words []string
	for _, was := range since {
		n, err := k.Store.Read(ctx).North(was.Frame)
		if missing(err) {
			continue
		}
		if err != nil {
			return "", err
		}
		if n.Angle != was.Angle || n.Mirrored != was.Mirrored {
			words = append(words, fmt.Sprintf("%s follows, to %.1f° ± %.1f°, %s", n.Frame, n.Angle.Degrees(), n.Sigma.Degrees(), north.Handed(n.Mirrored)))
		}
	}
	return strings.Join(words, "; "), nil
}

// turnedWith are the other frames whose norths hold one axis together with a frame's.
func turnedWith(v *store.View, id catalog.FrameID) (run []catalog.FrameID, err error) {
	n, err := v.North(id)
	if missing(err) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	first := id
	if n.Method == north.MethodTurning && n.From != 0 {
		first = n.From
		lead, err := v.North(first)
		if err != nil && !missing(err) {
			return nil, err
		}
		if err == nil && lead.Method == north.MethodTurning {
			run = append(run, first)
		}
	}
	others, err := v.NorthsFrom(first)
	if err != nil {
		return nil, err
	}
	for _, o := range others {
		if o.Method == north.MethodTurning && o.Frame != id {
			run = append(run, o.Frame)
		}
	}
	return run, nil
}

// TurningWhy says where an answer's north of a frame comes from, in words.
func TurningWhy(t north.Turning, answer, frame int) string {
	used, from, to, features := 0, math.Inf(1), 0.0, 0.0
	for _, p := range t.Pairs {
		if p.Refused == "" {
			used++
			from, to, features = min(from, p.Days), max(to, p.Days), max(features, p.Features)
		}
	}
	days := fmt.Sprintf("%.1f", from)
	if to-from > 0.05 {
		days += fmt.Sprintf(" to %.1f", to)
	}
	pairs := "1 pair of frames"
	if used != 1 {
		pairs = fmt.Sprintf("%d pairs of frames", used)
	}
	n := t.Answers[answer].Norths[frame]
	why := fmt.Sprintf("from the Sun's turning in %s, %s days apart, by about %.0f features: north at %.1f° ± %.1f°, %s",
		pairs, days, features, n.Angle.Wrap180().Degrees(), n.Sigma.Degrees(), north.Handed(n.Mirrored))
	if t.Decided {
		return why + fmt.Sprintf(" (probability %.3f)", math.Floor(t.Answers[answer].Odds*1000)/1000)
	}
	return why + " by the observer's word"
}

// HourThatFits is a frame whose time does not go with the others', and the one that would.
type HourThatFits struct {
	Frame      catalog.FrameID
	Says, Fits time.Time
	Sigma      time.Duration
}

// Words says it for people.
func (h HourThatFits) Words() string {
	off, way := h.Fits.Sub(h.Says), "later"
	if off < 0 {
		off, way = -off, "earlier"
	}
	const toMinutes = "2006-01-02 15:04Z"
	return fmt.Sprintf("the time of %s does not fit the others': it says %s, and its pattern stands where it stood %.1f hours %s, at %s ± %.1f h",
		h.Frame, h.Says.UTC().Format(toMinutes), off.Hours(), way, h.Fits.UTC().Format(toMinutes), h.Sigma.Hours())
}

// HoursThatFit are the hours that a turning found odd.
func (k Keeper) HoursThatFit(ctx context.Context, frames []catalog.FrameID, t north.Turning) ([]HourThatFits, error) {
	out := []HourThatFits{}
	for _, o := range t.Hours {
		b, err := k.Store.Read(ctx).Bearings(frames[o.Frame])
		if err != nil {
			return nil, err
		}
		says := instantOf(b).utc
		out = append(out, HourThatFits{Frame: b.Frame.ID, Says: says, Fits: says.Add(o.Off), Sigma: o.Sigma})
	}
	return out, nil
}
