package observe

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/north"
	"limbwatch/coords/rotation"
)

// TurningRequest is what SolveTurning is asked.
//
//	Frames    of two days or more, in any order, each with its disc
//	SameRoll  the camera was not touched between them
//	AltAz     the mount is an alt-azimuth one: then the zenith stays put, in the frames of a
//	          sitting, or with SameRoll in all; without it the mount is polar-aligned
//	Same      marks of one feature on several of the frames, one list a feature
//	Drift     frames taken with the tracking off, the camera as it was in one of Frames
//	Known     marks on the frames whose places are known
//	Listed    places of which nobody says the marks: the frames' other marks are held against
//	          them; of those with one Name the one nearest in time counts
//	Sides     marks of which it is known that they lie north of the equator (true) or south
//	Said      a north of a frame that counts instead of what it has; nil takes what it has
//	Progress  is called with the pairs done and of all; may be nil
type TurningRequest struct {
	Frames   []catalog.FrameID
	SameRoll bool
	AltAz    bool
	Same     [][]catalog.MarkID
	Drift    []catalog.FrameID
	Known    []KnownFeature
	Listed   []ListedPlace
	Sides    map[catalog.MarkID]bool
	Said     *catalog.North
	Progress func(done, all int)
}

// ListedPlace is a place of a list, whose Name may be empty.
type ListedPlace struct {
	Name string
	KnownFeature
}

// turningWork is what is gathered for SolveTurning: the frames with their bearings, and
// which of them is which.
type turningWork struct {
	v        *store.View
	index    map[catalog.FrameID]int
	frames   []north.TurningFrame
	bearings []catalog.Bearings
}

// SolveTurning finds the north of several frames from the Sun's own turning, without
// keeping it: KeepTurning does. A north that a frame has of another way stands, and the
// others are held to it. What is known of a set-up's parity counts, and so do marks of
// the same label and kind. The error is a *north.TurningIndecisiveError where the
// pictures do not decide.
func (k Keeper) SolveTurning(ctx context.Context, r TurningRequest) (north.Turning, error) {
	w := &turningWork{v: k.Store.Read(ctx), index: map[catalog.FrameID]int{}, frames: make([]north.TurningFrame, len(r.Frames))}
	for i, id := range r.Frames {
		if other, twice := w.index[id]; twice {
			return north.Turning{}, &store.InvalidError{Err: fmt.Errorf("frame %s is named twice, as number %d and %d", id, other+1, i+1)}
		}
		w.index[id] = i
		now, b, err := k.unoriented(ctx, id)
		if err != nil {
			return north.Turning{}, err
		}
		if r.Said != nil && r.Said.Frame == id {
			b.North = r.Said
		}
		w.bearings = append(w.bearings, b)
		w.frames[i].Unoriented = now
		if w.frames[i].Held, err = r.held(b, now); err != nil {
			return north.Turning{}, err
		}
		if err := w.orient(i); err != nil {
			return north.Turning{}, err
		}
	}
	if err := w.parities(r.Said); err != nil {
		return north.Turning{}, err
	}
	if err := k.turningClues(ctx, w, r); err != nil {
		return north.Turning{}, err
	}
	opts := north.TurningOptions{Progress: r.Progress}
	var err error
	if opts.Same, err = sameFeatures(w.v, w.bearings, w.index, r.Same); err != nil {
		return north.Turning{}, err
	}
	return north.FromTurning(ctx, w.frames, opts)
}

// held is with which other frames the camera was not touched.
func (r TurningRequest) held(b catalog.Bearings, now north.Unoriented) (north.Held, error) {
	var h north.Held
	switch {
	case r.SameRoll:
		h.Group = 1
	case r.AltAz:
		h.Group = int(b.Frame.Sitting)
	}
	h.Sigma = north.UntouchedSigma
	if r.AltAz {
		if b.Site == nil {
			return h, &store.InvalidError{Err: fmt.Errorf("frame %s: where the zenith stands follows from the site, and its sitting has none", b.Frame.ID)}
		}
		h.Sigma = north.UprightSigma
		h.PositionAngle = ephemeris.FromSite(now.UTC, degrees(b.Site.LatDeg), degrees(b.Site.LonDeg)).Parallactic
	}
	return h, nil
}

// byTurning says whether a north is of the Sun's turning, and so no witness for it.
func byTurning(n *catalog.North) bool { return n == nil || n.Method == north.MethodTurning }

// orient takes the north that a frame has of another way.
func (w *turningWork) orient(i int) error {
	b := w.bearings[i]
	if byTurning(b.North) {
		return nil
	}
	celestial, err := instantOf(b).celestial(b)
	if err != nil {
		return fmt.Errorf("the north of %s cannot be used: %w", b.Frame.ID, err)
	}
	w.frames[i].Said = &celestial
	w.frames[i].Parity, w.frames[i].ParityOdds = saidParity(*b.North)
	return nil
}

// saidParity is what a north says of the parity.
func saidParity(n catalog.North) (north.Parity, float64) {
	odds := typedParity
	if n.Parity > 0 {
		odds = min(n.Parity, mostSaid)
	}
	if n.Mirrored {
		return north.MirrorImage, odds
	}
	return north.Upright, odds
}

// parities tells each frame its set-up and what is known of that one's parity: by the norths
// of its frames, but for those that come of the turning of these very ones.
func (w *turningWork) parities(said *catalog.North) error {
	var except []catalog.FrameID
	for _, b := range w.bearings {
		if byTurning(b.North) || said != nil && said.Frame == b.Frame.ID {
			except = append(except, b.Frame.ID)
		}
	}
	for i, b := range w.bearings {
		setup, err := setupOf(w.v, b.Frame)
		if err != nil {
			return err
		}
		w.frames[i].SetUp = int(setup)
		p, err := parityOfSetup(w.v, setup, except...)
		if err != nil {
			return err
		}
		if p.Known && setup != 0 {
			w.frames[i].Parity, w.frames[i].ParityOdds = p.prior()
		}
	}
	if said == nil {
		return nil
	}
	// The observer's word holds for this frame and all of its set-up.
	i := w.index[said.Frame]
	for k := range w.frames {
		if k == i || w.frames[i].SetUp != 0 && w.frames[k].SetUp == w.frames[i].SetUp {
			w.frames[k].Parity, w.frames[k].ParityOdds = saidParity(*said)
			w.frames[k].ParityOdds = 0
		}
	}
	return nil
}

// turningClues adds what else was said that tells the twins apart.
func (k Keeper) turningClues(ctx context.Context, w *turningWork, r TurningRequest) error {
	if len(r.Drift) > 0 {
		at := slices.IndexFunc(r.Drift, func(id catalog.FrameID) bool { _, ok := w.index[id]; return ok })
		if at < 0 {
			return &store.InvalidError{Err: fmt.Errorf("none of the frames of the drift is one whose north is asked for: its line holds for how the camera lay then")}
		}
		run, err := k.driftRun(ctx, r.Drift)
		if err != nil {
			return err
		}
		line, err := north.Drift(run)
		if err != nil {
			return err
		}
		w.frames[w.index[r.Drift[at]]].Drift = &line
	}
	for _, f := range r.Known {
		i, m, err := w.markOn(f.Mark)
		if err != nil {
			return err
		}
		known, err := instantOf(w.bearings[i]).feature(w.v, m.Frame, f)
		if err != nil {
			return err
		}
		w.frames[i].Known = append(w.frames[i].Known, known)
	}
	if err := w.listed(r); err != nil {
		return err
	}
	for id, isNorth := range r.Sides {
		i, m, err := w.markOn(id)
		if err != nil {
			return err
		}
		at := markedAt(i, m, w.bearings[i])
		w.frames[i].Sides = append(w.frames[i].Sides, north.SidedMark{Pixel: at.Pixel, SigmaPx: at.SigmaPx, North: isNorth})
	}
	return nil
}

// listed gives each frame the places that are of no mark yet, and the marks without one.
func (w *turningWork) listed(r TurningRequest) error {
	if len(r.Listed) == 0 {
		return nil
	}
	taken := map[catalog.MarkID]bool{}
	for _, f := range r.Known {
		taken[f.Mark] = true
	}
	for i, b := range w.bearings {
		all, err := w.v.MarksOn(b.Frame.ID)
		if err != nil {
			return err
		}
		var free []catalog.MarkID
		for _, m := range all {
			if len(m.Geometry.Pixels) > 0 && !taken[m.ID] {
				free = append(free, m.ID)
			}
		}
		if len(free) == 0 {
			continue
		}
		if w.frames[i].Marks, err = unknownMarks(w.v, b, free); err != nil {
			return err
		}
		at := instantOf(b)
		for _, p := range nearestInTime(r.Listed, at.utc) {
			place, err := at.feature(w.v, b.Frame.ID, p)
			if err != nil {
				return err
			}
			w.frames[i].Listed = append(w.frames[i].Listed, north.Foretold{Place: place.Place})
		}
	}
	if len(r.Known) == 0 && !slices.ContainsFunc(w.frames, func(f north.TurningFrame) bool { return len(f.Marks) > 0 }) {
		return &store.InvalidError{Err: errors.New("the frames have no marks to hold the list of places against")}
	}
	return nil
}

// nearestInTime are the places as features, of those with one name the nearest.
func nearestInTime(list []ListedPlace, at time.Time) (places []KnownFeature) {
	index := map[string]int{}
	for _, p := range list {
		k, again := index[p.Name]
		switch {
		case p.Name == "" || !again:
			index[p.Name] = len(places)
			places = append(places, p.KnownFeature)
		case p.Epoch.Sub(at).Abs() < places[k].Epoch.Sub(at).Abs():
			places[k] = p.KnownFeature
		}
	}
	return places
}

// markOn is a mark in pixels on one of the frames.
func (w *turningWork) markOn(id catalog.MarkID) (int, catalog.Mark, error) {
	m, err := w.v.Mark(id)
	if err != nil {
		return 0, m, err
	}
	i, ok := w.index[m.Frame]
	if !ok || len(m.Geometry.Pixels) == 0 {
		return 0, m, &store.InvalidError{Err: fmt.Errorf("mark %s is not one in pixels of the frames named", id)}
	}
	return i, m, nil
}

// sameFeatures are the features that were named as the same, and those marked with
// one label and kind on several of the frames.
func sameFeatures(v *store.View, bearings []catalog.Bearings, index map[catalog.FrameID]int, named [][]catalog.MarkID) ([]north.SameFeature, error) {
	var out []north.SameFeature
	used := map[catalog.MarkID]bool{}
	for _, ids := range named {
		var same north.SameFeature
		for _, id := range ids {
			m, err := v.Mark(id)
			if err != nil {
				return nil, err
			}
			i, ok := index[m.Frame]
			if !ok || len(m.Geometry.Pixels) == 0 {
				return nil, &store.InvalidError{Err: fmt.Errorf("mark %s is not one in pixels of the frames named", id)}
			}
			used[id] = true
			same = append(same, markedAt(i, m, bearings[i]))
		}
		if len(same) < 2 {
			return nil, &store.InvalidError{Err: fmt.Errorf("one mark alone (%s) is the same as none: name the marks of one feature, as M1,M7", ids[0])}
		}
		out = append(out, same)
	}
	byLabel := map[string]north.SameFeature{}
	var order []string
	for i, b := range bearings {
		marks, err := v.MarksOn(b.Frame.ID)
		if err != nil {
			return nil, err
		}
		for _, m := range marks {
			if m.Label == "" || used[m.ID] || len(m.Geometry.Pixels) == 0 || m.Kind == catalog.Prominence {
				continue
			}
			name := m.Kind.String() + " " + m.Label
			if byLabel[name] == nil {
				order = append(order, name)
			}
			byLabel[name] = append(byLabel[name], markedAt(i, m, b))
		}
	}
	for _, name := range order {
		if len(byLabel[name]) > 1 {
			out = append(out, byLabel[name])
		}
	}
	return out, nil
}

// markedAt is a mark by its middle, with the error of what is called the middle.
func markedAt(frame int, m catalog.Mark, b catalog.Bearings) north.MarkedAt {
	pixel := meanOf(m.Geometry.Pixels)
	if m.Geometry.Shape == catalog.Line {
		pixel = halfway(m.Geometry.Pixels)
	}
	centre := rotation.PriorOf(m.Kind.String()).CentreSigma(0).Radians() * b.Disc.Limb.RadiusPx
	return north.MarkedAt{Frame: frame, Pixel: pixel, SigmaPx: math.Hypot(m.Geometry.SigmaClickPx, centre)}
}
