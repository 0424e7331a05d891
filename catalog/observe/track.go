package observe

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// FollowOptions choose what is followed. With a zero range that is what needs it:
// the time from the first to the last mark without a passage, or of a passage whose
// positions have changed, and what lies near enough to be the same feature.
//
//	All     everything, from the beginning
//	DryRun  say what would change, keep nothing
//	Law     the law by which everything turns, this once; nil: each kind by its own
type FollowOptions struct {
	From, To time.Time
	Law      *rotation.Law
	All      bool
	DryRun   bool
}

// Followed tells what following changed.
//
//	Marks      how many were looked at; Usual of them have a place on the disc of which
//	           latitude or longitude has no error: UnknownSigma stands for it
//	New        passages that were begun
//	Joined     marks that found a passage, new or old
//	Moved      marks that went from one passage to another
//	Reweighed  marks that stay, with other odds
//	Ended      passages that lost all their marks
//	Proposed   joins too doubtful to make, that were not proposed with these odds before
//	Withdrawn  joins that were proposed before, and are no more
//	Passages   those touched, by what became of them
//	Shifted    looks at which all places are off in longitude together, as by a wrong
//	           hour; what is joined heeds it, the places stay as they are
//	Norths     pictures whose norths do not go together; NotHeld counts those that were
//	           not held against their neighbours yet, which the next following does
type Followed struct {
	Marks, Joined, Moved int
	Usual                int
	Reweighed            int
	Proposed, Withdrawn  int
	New, Ended           int
	Passages             []PassageChange
	Shifted              []ShiftedLook
	Norths               []NorthContradiction
	NotHeld              int
	Operation            catalog.Operation
}

// ShiftedLook is a look whose clock seems wrong, with its frames.
type ShiftedLook struct {
	Frames []catalog.FrameID
	follow.Shift
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
	neighbours, left, err := k.holdNorths(ctx, opts.From, opts.To)
	if err != nil {
		return done, err
	}
	var op catalog.Operation
	for attempt := 1; ; attempt++ {
		plan := followPlan{law: opts.Law}
		if attempt <= followedBeside {
			if err := k.Store.View(ctx, func(v *store.View) error { return plan.read(v, opts) }); err != nil {
				return done, err
			}
			if err := plan.follow(ctx); err != nil {
				return done, err
			}
		}
		op, err = k.Store.Update(ctx, k.change("track follow"), func(tx *store.Tx) error {
			if attempt <= followedBeside {
				touched, err := tx.FollowingTouchedSince(plan.seen)
				if err != nil {
					return err
				}
				if touched {
					return errTouched
				}
			} else { // somebody is always faster: nobody is, meanwhile
				if err := plan.read(&tx.View, opts); err != nil {
					return err
				}
				if err := plan.follow(ctx); err != nil {
					return err
				}
			}
			if done, err = plan.keep(tx); err != nil {
				return err
			}
			if done.Norths, err = contradictions(tx, neighbours); err != nil {
				return err
			}
			done.NotHeld = left
			if opts.DryRun {
				return errDryRun
			}
			return heedAll(tx, neighbours)
		})
		if !errors.Is(err, errTouched) {
			break
		}
	}
	if errors.Is(err, errDryRun) {
		return done, nil
	}
	done.Operation = op
	return done, err
}

// followedBeside is how often following is begun anew because of what others changed
// meanwhile, before it keeps them waiting.
const followedBeside = 3

// errTouched says that what was read for following has changed since.
var errTouched = errors.New("what was followed has changed meanwhile")

// stretch is a part of the record that is followed anew, from ≤ t < to; zero times
// are its ends.
type stretch struct{ from, to time.Time }

// whole tells whether it is all of the record.
func (s stretch) whole() bool { return s.from.IsZero() && s.to.IsZero() }

// apart is how far in time two changes are followed together.
const apart = 60 * 24 * time.Hour

// stretchesOf gathers instants, in their order, to stretches.
func stretchesOf(instants []time.Time) (stretches []stretch) {
	for _, at := range instants {
		after := at.Add(time.Millisecond)
		if n := len(stretches); n > 0 && at.Sub(stretches[n-1].to) < apart {
			stretches[n-1].to = after
			continue
		}
		stretches = append(stretches, stretch{at, after})
	}
	return stretches
}

// window is what has to be followed anew for it.
func (s stretch) window() (from, to time.Time) {
	if !s.from.IsZero() {
		from, _ = follow.Window(s.from)
	}
	if !s.to.IsZero() {
		_, to = follow.Window(s.to)
	}
	return from, to
}

// counted is how far around the window marks are counted, so that a part of the record
// is followed to the very links and odds that the whole is: the densities of features,
// by which a sighting is weighed, are those of two solar rotations on both sides of it.
const counted = 45 * 24 * time.Hour

// tracker follows the marks of a record, one stretch after the other.
type tracker struct {
	law    *rotation.Law
	tx     *store.Tx
	habits *follow.Habits // of the whole record; nil: they are to be learnt from it
	stretch

	entries   []store.Sighted // a sighting is called by its place here
	sightings []follow.Sighting
	around    []follow.Glimpse
	unmade    map[joinKey]catalog.Join
	result    follow.Result
	passages  []catalog.PassageID // of the result's passages; 0: left alone
	changes   map[catalog.PassageID]*PassageChange
	done      Followed
}

// joinKey is a mark and a passage of which something was said.
type joinKey struct {
	mark    catalog.MarkID
	passage catalog.PassageID
}

// outgrown is how much a record grows until its habits are learnt anew.
const outgrown = 1.5

// choose finds what is to be followed. A part is followed only when the habits of the
// whole record are known, and it has not outgrown them.
func choose(v *store.View, opts FollowOptions) ([]stretch, *follow.Habits, error) {
	habits, learntFrom, err := habitsLearnt(v)
	if err != nil {
		return nil, nil, err
	}
	if opts.All || habits == nil {
		return []stretch{{}}, nil, nil
	}
	if !opts.From.IsZero() || !opts.To.IsZero() {
		return []stretch{{opts.From, opts.To}}, habits, nil
	}
	instants, err := v.Unfollowed()
	if err != nil || len(instants) == 0 {
		return nil, nil, err
	}
	last, err := v.LastMark()
	if err != nil {
		return nil, nil, err
	}
	if float64(last) > outgrown*float64(learntFrom) {
		return []stretch{{}}, nil, nil
	}
	return stretchesOf(instants), habits, nil
}

// habitsOf are the habits of the whole record; nil when it was never followed.
func habitsOf(v *store.View) (*follow.Habits, error) {
	habits, _, err := habitsLearnt(v)
	return habits, err
}

// habitsLearnt are the same, with the last mark there was when they were learnt.
func habitsLearnt(v *store.View) (*follow.Habits, catalog.MarkID, error) {
	learnt, last, known, err := v.Habits()
	if err != nil || !known {
		return nil, 0, err
	}
	habits := new(follow.Habits)
	if err := json.Unmarshal([]byte(learnt), habits); err != nil {
		return nil, 0, fmt.Errorf("habits of the record: %w", err)
	}
	return habits, last, nil
}

// read gets the marks that can be followed, with all that matter to them.
func (t *tracker) read(v *store.View) error {
	from, to := t.window()
	err := v.EachSighted(store.Query{From: from, To: to}, func(s store.Sighted) error {
		t.entries = append(t.entries, s)
		return nil
	})
	if err != nil {
		return err
	}
	unmade, err := v.UnmadeJoinsBetween(from, to)
	if err != nil {
		return err
	}
	t.unmade = make(map[joinKey]catalog.Join, len(unmade))
	for _, j := range unmade {
		t.unmade[joinKey{j.Mark, j.Passage}] = j
	}
	if err := t.sight(v); err != nil {
		return err
	}
	return t.glimpse(v, from, to)
}

// glimpse gets what was seen around a window.
func (t *tracker) glimpse(v *store.View, from, to time.Time) error {
	var sides []store.Query
	if !from.IsZero() {
		sides = append(sides, store.Query{From: from.Add(-counted), To: from})
	}
	if !to.IsZero() {
		sides = append(sides, store.Query{From: to, To: to.Add(counted)})
	}
	for _, q := range sides {
		seen, err := v.Glimpses(q)
		if err != nil {
			return err
		}
		for _, g := range seen {
			t.around = append(t.around, follow.Glimpse{
				UTC: g.UTC, Frame: g.Frame.String(), Kind: g.Kind, Lat: coords.Angle(g.LatDeg) * coords.Degree,
			})
		}
	}
	return nil
}

// follow runs the follower over the marks.
func (t *tracker) follow(ctx context.Context) (err error) {
	t.result, err = follow.Follow(ctx, t.sightings, follow.Options{Law: t.law, Habits: t.habits, Around: t.around})
	if err != nil {
		return fmt.Errorf("following %d marks: %w", len(t.entries), marksNamed(err, func(i int) catalog.MarkID { return t.entries[i].Mark }))
	}
	return nil
}

// noteShifts tells the shifted looks near what is followed.
func (t *tracker) noteShifts() {
	const near = 4 * 24 * time.Hour // looks that a change may tell a shift of
	for _, s := range t.result.Shifts {
		if !t.whole() && (!t.from.IsZero() && s.UTC.Before(t.from.Add(-near)) || !t.to.IsZero() && s.UTC.After(t.to.Add(near))) {
			continue
		}
		look := ShiftedLook{Shift: s}
		for _, e := range t.entries {
			if e.UTC.Equal(s.UTC) && !slices.Contains(look.Frames, e.Frame) {
				look.Frames = append(look.Frames, e.Frame)
			}
		}
		t.done.Shifted = append(t.done.Shifted, look)
	}
}

// sight makes the marks ready for the follower, under their places in entries. A
// passage into which the observer put a mark is his: what is in it stays together, or
// his mark would follow a passage that is no more.
func (t *tracker) sight(v *store.View) error {
	his := map[catalog.PassageID]bool{}
	for _, e := range t.entries {
		if e.Join != nil && e.Join.By == catalog.ByObserver {
			his[e.Join.Passage] = true
		}
	}
	t.sightings = make([]follow.Sighting, len(t.entries))
	var faces facesOf
	for i, e := range t.entries {
		s := sightingAt(e, faces.at(e.UTC))
		if !e.AtEdge && (e.Place.Cov.BB <= 0 || e.Place.Cov.LL <= 0) {
			t.done.Usual++
		}
		s.ID, s.Frame = strconv.Itoa(i), faces.frame(e.Frame)
		if e.Join != nil && his[e.Join.Passage] {
			s.Pinned = e.Join.Passage.String()
		}
		t.sightings[i] = s
	}
	return drawSighted(v, t.entries, t.sightings)
}

// entryOf is the place in entries of a sighting.
func entryOf(s follow.Sighting) int {
	i, _ := strconv.Atoi(s.ID) // as sightings wrote it
	return i
}

// touched tells whether a passage is one that a change in the range may have
// altered.
func (t *tracker) touched(p *follow.Passage) bool {
	if t.whole() {
		return true
	}
	nearest := t.from // instant of the stretch to the passage
	if first := p.Sightings[0].UTC; nearest.Before(first) {
		nearest = first
		if !t.to.IsZero() && t.to.Before(first) {
			nearest = t.to
		}
	}
	return p.Touches(nearest)
}
