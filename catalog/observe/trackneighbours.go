package observe

import (
	"context"
	"slices"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// mostHeld is how many pictures one following holds against their neighbours: each takes a
// second or two.
const mostHeld = 12

// held is a frame with what its neighbours tell, and with which norths they told it.
type held struct {
	frame    catalog.FrameID
	tellings []Telling
	basis    string
}

// holdNorths finds what neighbours tell of the frames that were not held against them
// yet, or lie otherwise since; the newest first. left counts those that wait for the next
// time.
func (k Keeper) holdNorths(ctx context.Context, from, to time.Time) (found []held, left int, err error) {
	if from.IsZero() {
		from = time.Date(1600, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	if to.IsZero() {
		to = time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	v := k.Store.Read(ctx)
	all, err := v.BearingsBetween(from, to)
	if err != nil {
		return nil, 0, err
	}
	all = slices.DeleteFunc(all, func(b catalog.Bearings) bool { return b.North == nil || b.Disc == nil })
	for i := len(all) - 1; i >= 0; i-- {
		near := neighboursAmong(nearby(all, i), all[i])
		if len(near) == 0 {
			continue
		}
		basis := basisOfCheck(all[i], near)
		compared, err := v.Compared(all[i].Frame.ID)
		if err != nil {
			return nil, 0, err
		}
		if compared == basis {
			continue
		}
		if len(found) == mostHeld {
			left++
			continue
		}
		tellings, err := k.NorthTellings(ctx, all[i].Frame.ID)
		if err != nil {
			return nil, 0, err
		}
		found = append(found, held{all[i].Frame.ID, tellings, basis})
	}
	return found, left, nil
}

// nearby is the part of frames in the order of time that may hold neighbours of one.
func nearby(all []catalog.Bearings, i int) []catalog.Bearings {
	at := instantOf(all[i]).utc
	first, last := i, i
	for first > 0 && at.Sub(instantOf(all[first-1]).utc) <= neighbourReach {
		first--
	}
	for last < len(all)-1 && instantOf(all[last+1]).utc.Sub(at) <= neighbourReach {
		last++
	}
	return all[first : last+1]
}

// contradictions are what does not go together of what was found.
func contradictions(tx *store.Tx, found []held) (out []NorthContradiction, err error) {
	for _, h := range found {
		b, err := tx.Bearings(h.frame)
		if err != nil {
			return nil, err
		}
		if view, err := ViewOf(b); err == nil {
			out = append(out, HeldAgainst(b, view.North, h.tellings)...)
		}
	}
	return out, nil
}

// heedAll keeps what was found.
func heedAll(tx *store.Tx, found []held) error {
	for _, h := range found {
		if err := heed(tx, h.frame, h.tellings); err != nil {
			return err
		}
		if err := tx.SetCompared(h.frame, h.basis); err != nil {
			return err
		}
	}
	return nil
}

// basisOfCheck tells how a frame and its neighbours lie.
func basisOfCheck(b catalog.Bearings, near []catalog.Bearings) string {
	parts := []string{liesSo(b)}
	for _, n := range near {
		parts = append(parts, liesSo(n))
	}
	return strings.Join(parts, basisApart)
}
