package observe

import (
	"context"
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
//	Passages  those touched, by what became of them
type Followed struct {
	Marks, Joined, Moved int
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

// reach is how far beyond a range a passage can run: a crossing of the disc.
const reach = 16 * 24 * time.Hour

// TrackFollow joins marks to passages by following them from day to day, as one
// operation that can be undone. The observer's own joins stay, and so do the names
// of passages. Marks beyond the range keep their passages.
func (k Keeper) TrackFollow(ctx context.Context, opts FollowOptions) (Followed, error) {
	var done Followed
	op, err := k.Store.Update(ctx, k.change("track follow"), func(tx *store.Tx) error {
		from, to, ok, err := opts.span(&tx.View)
		if err != nil || !ok {
			return err
		}
		t := tracker{tx: tx, from: from, to: to}
		if err := t.read(); err != nil {
			return err
		}
		if err := t.follow(); err != nil {
			return err
		}
		if err := t.keep(); err != nil {
			return err
		}
		done = t.done
		if opts.DryRun {
			return errDryRun
		}
		return nil
	})
	if err == errDryRun { //nolint:errorlint // nobody wraps it on the way
		return done, nil
	}
	done.Operation = op
	return done, err
}

// span is the range to follow, and whether there is anything to do.
func (o FollowOptions) span(v *store.View) (from, to time.Time, ok bool, err error) {
	if o.All || !o.From.IsZero() || !o.To.IsZero() {
		return o.From, o.To, true, nil
	}
	from, to, ok, err = v.UnfollowedSpan()
	return from, to.Add(time.Second), ok, err
}

// tracker follows the marks of one range.
type tracker struct {
	tx       *store.Tx
	from, to time.Time

	entries  []catalog.Entry
	within   []bool // the entry lies in the range, and not just near it
	refused  map[catalog.MarkID]map[catalog.PassageID]bool
	proposed map[[2]int64]catalog.Join // by mark and passage
	result   follow.Result
	changes  map[catalog.PassageID]*PassageChange
	done     Followed
}

// read gets the marks that can be followed, with those of a crossing on either side.
func (t *tracker) read() error {
	var q store.Query
	if !t.from.IsZero() {
		q.From = t.from.Add(-reach)
	}
	if !t.to.IsZero() {
		q.To = t.to.Add(reach)
	}
	err := t.tx.EachEntry(q, func(e catalog.Entry) error {
		if _, ok := sightingOf(e); ok {
			t.entries = append(t.entries, e)
			at := e.Position.UTC
			t.within = append(t.within, !at.Before(t.from) && (t.to.IsZero() || at.Before(t.to)))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return t.readRefused()
}

// readRefused gets the joins that the observer refused.
func (t *tracker) readRefused() error {
	joins, err := t.tx.RefusedJoins()
	if err != nil {
		return err
	}
	t.refused = map[catalog.MarkID]map[catalog.PassageID]bool{}
	for _, j := range joins {
		if t.refused[j.Mark] == nil {
			t.refused[j.Mark] = map[catalog.PassageID]bool{}
		}
		t.refused[j.Mark][j.Passage] = true
	}
	return nil
}

// follow runs the follower over the marks.
func (t *tracker) follow() error {
	// A passage into which the observer put a mark is his: what is in it stays
	// together, or his mark would follow a passage that is no more.
	his := map[catalog.PassageID]bool{}
	for _, e := range t.entries {
		if e.Join != nil && e.Join.By == catalog.ByObserver {
			his[e.Join.Passage] = true
		}
	}
	sightings := make([]follow.Sighting, len(t.entries))
	for i, e := range t.entries {
		s, _ := sightingOf(e)
		s.ID = e.Mark.ID.String()
		if j := e.Join; j != nil && (his[j.Passage] || !t.within[i]) {
			s.Pinned = j.Passage.String()
		}
		sightings[i] = s
	}
	var err error
	t.result, err = follow.Follow(sightings, follow.Options{})
	if err != nil {
		return fmt.Errorf("following %d marks: %w", len(sightings), err)
	}
	t.done.Marks = len(sightings)
	return nil
}

// odds are the program's that a mark belongs with the rest of its passage.
func (t *tracker) odds(passage, member int) *float64 { return nil }
