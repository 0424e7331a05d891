package observe

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
)

// FollowOptions choose what is followed. With a zero range that is what needs it:
// the time from the first to the last mark without a passage, or of a passage whose
// positions have changed, and what lies near enough to be the same feature.
//
//	All     everything, from the beginning
//	DryRun  say what would change, keep nothing
type FollowOptions struct {
	From, To time.Time
	All      bool
	DryRun   bool
}

// Followed tells what following changed.
//
//	Marks     how many were looked at
//	New       passages that were begun
//	Joined    marks that found a passage, new or old
//	Moved     marks that went from one passage to another
//	Ended     passages that lost all their marks
//	Proposed  joins too doubtful to make
//	Passages  those touched, by what became of them
type Followed struct {
	Marks, Joined, Moved int
	Proposed             int
	New, Ended           int
	Passages             []PassageChange
	Operation            catalog.Operation
}

// PassageChange is what following did to one passage.
type PassageChange struct {
	Passage       catalog.Passage
	New, Ended    bool
	Gained, Lost  []catalog.MarkID
	First, Latest time.Time
}

// TrackFollow joins marks to passages by following them from day to day, as one
// operation that can be undone. The observer's own joins stay, and so do the names
// of passages; passages that a change in the range cannot touch are left alone.
func (k Keeper) TrackFollow(ctx context.Context, opts FollowOptions) (Followed, error) {
	var done Followed
	op, err := k.Store.Update(ctx, k.change("track follow"), func(tx *store.Tx) error {
		t := tracker{tx: tx}
		ok, err := t.choose(opts)
		if err != nil || !ok {
			return err
		}
		for _, step := range []func() error{t.read, t.follow, t.keep, t.propose} {
			if err := step(); err != nil {
				return err
			}
		}
		done = t.done
		if opts.DryRun {
			return errDryRun
		}
		return nil
	})
	if errors.Is(err, errDryRun) {
		return done, nil
	}
	done.Operation = op
	return done, err
}

// tracker follows the marks of one range, or all of them when whole.
type tracker struct {
	tx       *store.Tx
	whole    bool
	from, to time.Time
	habits   *follow.Habits // of the whole record, when a part is followed

	entries  []catalog.Entry
	at       map[string]int // index of an entry by its mark's id
	unmade   map[joinKey]catalog.Join
	result   follow.Result
	passages []catalog.PassageID // of the result's passages; 0: left alone
	changes  map[catalog.PassageID]*PassageChange
	done     Followed
}

// joinKey is a mark and a passage of which something was said.
type joinKey struct {
	mark    catalog.MarkID
	passage catalog.PassageID
}

// choose finds what is to be followed, and whether there is anything. A part is
// followed only when the habits of the whole record are known.
func (t *tracker) choose(opts FollowOptions) (ok bool, err error) {
	if t.habits, err = habitsOf(&t.tx.View); err != nil {
		return false, err
	}
	switch {
	case opts.All || t.habits == nil:
		t.whole, t.habits = true, nil
		return true, nil
	case !opts.From.IsZero() || !opts.To.IsZero():
		t.from, t.to = opts.From, opts.To
		return true, nil
	}
	t.from, t.to, ok, err = t.tx.UnfollowedSpan()
	return ok, err
}

// habitsOf are the habits of the whole record; nil when it was never followed.
func habitsOf(v *store.View) (*follow.Habits, error) {
	learnt, known, err := v.Habits()
	if err != nil || !known {
		return nil, err
	}
	habits := new(follow.Habits)
	if err := json.Unmarshal([]byte(learnt), habits); err != nil {
		return nil, fmt.Errorf("habits of the record: %w", err)
	}
	return habits, nil
}

// read gets the marks that can be followed, with all that matter to them.
func (t *tracker) read() error {
	var q store.Query
	if !t.from.IsZero() {
		q.From, _ = follow.Window(t.from)
	}
	if !t.to.IsZero() {
		_, q.To = follow.Window(t.to)
	}
	t.at = map[string]int{}
	err := t.tx.EachEntry(q, func(e catalog.Entry) error {
		if _, ok := sightingOf(e); ok {
			t.at[e.Mark.ID.String()] = len(t.entries)
			t.entries = append(t.entries, e)
		}
		return nil
	})
	if err != nil {
		return err
	}
	unmade, err := t.tx.UnmadeJoins()
	if err != nil {
		return err
	}
	t.unmade = make(map[joinKey]catalog.Join, len(unmade))
	for _, j := range unmade {
		t.unmade[joinKey{j.Mark, j.Passage}] = j
	}
	return nil
}

// follow runs the follower over the marks.
func (t *tracker) follow() error {
	sightings, err := sightingsOf(&t.tx.View, t.entries)
	if err != nil {
		return err
	}
	result, err := follow.Follow(sightings, follow.Options{Habits: t.habits})
	if err != nil {
		return fmt.Errorf("following %d marks: %w", len(t.entries), err)
	}
	t.result, t.done.Marks = result, len(t.entries)
	if !t.whole {
		return nil
	}
	learnt, err := json.Marshal(result.Habits)
	if err != nil {
		return err
	}
	return t.tx.SetHabits(string(learnt))
}

// sightingsOf makes marks ready for the follower, those with a place. A passage
// into which the observer put a mark is his: what is in it stays together, or his
// mark would follow a passage that is no more.
func sightingsOf(v *store.View, entries []catalog.Entry) ([]follow.Sighting, error) {
	his := map[catalog.PassageID]bool{}
	for _, e := range entries {
		if e.Join != nil && e.Join.By == catalog.ByObserver {
			his[e.Join.Passage] = true
		}
	}
	var sightings []follow.Sighting
	var placed []catalog.Entry
	for _, e := range entries {
		s, ok := sightingOf(e)
		if !ok {
			continue
		}
		s.ID = e.Mark.ID.String()
		if e.Join != nil && his[e.Join.Passage] {
			s.Pinned = e.Join.Passage.String()
		}
		sightings, placed = append(sightings, s), append(placed, e)
	}
	return sightings, drawShapes(newBearingsReader(v), placed, sightings)
}

// touched tells whether a passage is one that a change in the range may have
// altered.
func (t *tracker) touched(p *follow.Passage) bool {
	if t.whole {
		return true
	}
	first, last := p.Sightings[0].UTC, p.Sightings[len(p.Sightings)-1].UTC
	from, to := t.from, t.to
	if from.IsZero() || from.Before(first) {
		from = first
	}
	if to.IsZero() || to.After(last) {
		to = last
	}
	return p.Touches(from) || p.Touches(to)
}
