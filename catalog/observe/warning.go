package observe

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// Settling is a person's word about warnings of a frame.
//
//	Warnings  which of them; none: all that are open
//	By        who says so; 0: the observer of the frame's sitting, else the default one
//	Why       what was found when it was looked into
type Settling struct {
	Frame    catalog.FrameID
	Warnings []catalog.WarningID
	By       catalog.ObserverID
	Why      string
}

// NothingOpenError says that a frame has no warning that could be settled.
type NothingOpenError struct{ Frame catalog.FrameID }

func (e *NothingOpenError) Error() string {
	return fmt.Sprintf("frame %s has no warning that is not settled", e.Frame)
}

// Settle keeps a person's word that warnings of a frame are no reason to doubt it any
// more, and gives those it settled. Errors: *NothingOpenError.
func (k Keeper) Settle(ctx context.Context, s Settling) (settled []catalog.Warning, err error) {
	word := catalog.Settlement{At: k.Now().UTC(), By: s.By, Why: strings.TrimSpace(s.Why)}
	err = k.update(ctx, fmt.Sprintf("frame settle %s", s.Frame), func(tx *store.Tx) error {
		f, err := tx.Frame(s.Frame)
		if err != nil {
			return err
		}
		chosen, err := chosenWarnings(tx, s)
		if err != nil {
			return err
		}
		if word.By == 0 {
			if word.By, err = observerOf(&tx.View, f); err != nil {
				return err
			}
		}
		settled = settled[:0]
		for _, w := range chosen {
			w.Settled = &word
			if w, err = tx.SetWarning(w); err != nil {
				return err
			}
			settled = append(settled, w)
		}
		return nil
	})
	return settled, err
}

// chosenWarnings are the open ones that are meant.
func chosenWarnings(tx *store.Tx, s Settling) (chosen []catalog.Warning, err error) {
	all, err := tx.WarningsOf(s.Frame)
	if err != nil {
		return nil, err
	}
	for _, id := range s.Warnings {
		if !slices.ContainsFunc(all, func(w catalog.Warning) bool { return w.ID == id && w.Open() }) {
			return nil, &store.InvalidError{Err: fmt.Errorf("warning %s is not one of frame %s that is open", id, s.Frame)}
		}
	}
	for _, w := range all {
		if w.Open() && (len(s.Warnings) == 0 || slices.Contains(s.Warnings, w.ID)) {
			chosen = append(chosen, w)
		}
	}
	if len(chosen) == 0 {
		return nil, &NothingOpenError{Frame: s.Frame}
	}
	return chosen, nil
}

// observerOf is who observed a frame, or the default observer; 0 when nobody is known.
func observerOf(v *store.View, f catalog.Frame) (catalog.ObserverID, error) {
	if f.Sitting != 0 {
		sitting, err := v.Sitting(f.Sitting)
		if err != nil || sitting.Observer != 0 {
			return sitting.Observer, err
		}
	}
	o, err := v.DefaultObserver()
	if missing(err) {
		return 0, nil
	}
	return o.ID, err
}

// warn keeps a warning that was found now, unless the frame has the same already, open or
// settled.
func warn(tx *store.Tx, w catalog.Warning) error {
	present, err := tx.WarningsOf(w.Frame)
	if err != nil {
		return err
	}
	for _, p := range present {
		if p.Cause != w.Cause || p.Basis != w.Basis {
			continue
		}
		if !p.Open() || p.Words == w.Words {
			return nil
		}
		p.Words = w.Words
		_, err := tx.SetWarning(p)
		return err
	}
	_, err = tx.SetWarning(w)
	return err
}

// reconsider puts right the warnings that follow from what a change touched: those that
// can be worked out anew come and go with their cause. What a person settled stays.
func reconsider(tx *store.Tx) error {
	ids, instruments, err := tx.TouchedPictures()
	if err != nil || len(ids) == 0 && !instruments {
		return err
	}
	// What is odd of one frame may hang on another.
	open, err := tx.OpenWarnings()
	if err != nil {
		return err
	}
	for _, w := range open {
		if (w.Cause == catalog.CauseSize || w.Cause == catalog.CauseNorth) && !slices.Contains(ids, w.Frame) {
			ids = append(ids, w.Frame)
		}
	}
	odd, err := oneOut(&tx.View, ids)
	if err != nil {
		return err
	}
	slices.Sort(odd)
	for _, id := range slices.Compact(odd) {
		if !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	for _, id := range ids {
		if err := reconsiderFrame(tx, id); err != nil {
			return fmt.Errorf("warnings of frame %s: %w", id, err)
		}
	}
	return nil
}

// reconsiderOpen puts right the open warnings about norths, whatever was touched.
func reconsiderOpen(tx *store.Tx) error {
	open, err := tx.OpenWarnings()
	if err != nil {
		return err
	}
	for _, w := range open {
		if w.Cause == catalog.CauseNorth {
			if err := reconsiderFrame(tx, w.Frame); err != nil {
				return fmt.Errorf("warnings of frame %s: %w", w.Frame, err)
			}
		}
	}
	return nil
}

// oddSize tells when the disc of a frame has another size than is known of its set-up.
func oddSize(v *store.View, b catalog.Bearings) (*catalog.Warning, error) {
	if b.Frame.Reference || b.Frame.Sitting == 0 || b.Disc == nil {
		return nil, nil
	}
	sitting, err := v.Sitting(b.Frame.Sitting)
	if err != nil || sitting.Setup == 0 {
		return nil, err
	}
	setup, err := v.Setup(sitting.Setup)
	if err != nil {
		return nil, err
	}
	words, err := oddScale(v, b.Frame, *b.Disc, sitting.Setup)
	if err != nil || words == "" {
		return nil, err
	}
	return &catalog.Warning{Cause: catalog.CauseSize, Words: words, Basis: fmt.Sprintf("%.0f px with %s", b.Disc.Limb.RadiusPx, setup.Name)}, nil
}

// reconsiderFrame does it for one frame.
func reconsiderFrame(tx *store.Tx, id catalog.FrameID) error {
	b, err := tx.Bearings(id)
	if err != nil {
		return err
	}
	var should []catalog.Warning
	for _, odd := range []func(catalog.Bearings) (*catalog.Warning, error){belowHorizon,
		func(b catalog.Bearings) (*catalog.Warning, error) { return oddSize(&tx.View, b) },
		func(b catalog.Bearings) (*catalog.Warning, error) { return oddParityOf(&tx.View, b) },
	} {
		w, err := odd(b)
		if err != nil {
			return err
		}
		if w != nil {
			w.Frame = id
			should = append(should, *w)
		}
	}
	present, err := tx.WarningsOf(id)
	if err != nil {
		return err
	}
	for _, w := range present {
		if !w.Open() {
			continue
		}
		stands, err := stillStands(&tx.View, b, w, should)
		if err != nil {
			return err
		}
		if stands {
			continue
		}
		if err := tx.RemoveWarning(w.ID, store.Newest); err != nil {
			return err
		}
	}
	for _, w := range should {
		if err := warn(tx, w); err != nil {
			return err
		}
	}
	return nil
}

// stillStands says whether there is still a reason for an open warning.
func stillStands(v *store.View, b catalog.Bearings, w catalog.Warning, should []catalog.Warning) (bool, error) {
	if slices.ContainsFunc(should, func(s catalog.Warning) bool { return s.Cause == w.Cause && s.Basis == w.Basis }) {
		return true, nil
	}
	switch w.Cause {
	case catalog.CauseFile:
		return true, nil
	case catalog.CauseLimb:
		return b.Disc == nil, nil
	case catalog.CauseNorth:
		basis, err := northBasis(v, w.Basis)
		return basis == w.Basis, err
	}
	return false, nil
}
