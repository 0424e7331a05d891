package observe

import (
	"context"
	"encoding/json"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords/rotation"
)

// followPlan is following from reading to keeping. It reads one state of the catalogue,
// works without it, and keeps what it found in one short change, so that no other
// program waits for it.
//
//	seen    the newest entry of the history when it was read
//	learnt  the habits of the record; empty when they stay as they are
type followPlan struct {
	law      *rotation.Law
	seen     catalog.OperationID
	trackers []*tracker
	learnt   string
}

// read gets all that is to be followed.
func (p *followPlan) read(v *store.View, opts FollowOptions) (err error) {
	if p.seen, err = v.Newest(); err != nil {
		return err
	}
	stretches, habits, err := choose(v, opts)
	if err != nil {
		return err
	}
	for _, s := range stretches {
		t := &tracker{law: p.law, habits: habits, stretch: s}
		if err := t.read(v); err != nil {
			return err
		}
		p.trackers = append(p.trackers, t)
	}
	return nil
}

// follow runs the follower over it.
func (p *followPlan) follow(ctx context.Context) error {
	for _, t := range p.trackers {
		if err := t.follow(ctx); err != nil {
			return err
		}
		if t.habits != nil || t.law != nil { // what is learnt by another law holds for that alone
			continue
		}
		learnt, err := json.Marshal(t.result.Habits)
		if err != nil {
			return err
		}
		p.learnt = string(learnt)
	}
	return nil
}

// keep writes what was found.
func (p *followPlan) keep(tx *store.Tx) (done Followed, err error) {
	if p.learnt != "" {
		if err := tx.SetHabits(p.learnt); err != nil {
			return done, err
		}
	}
	for _, t := range p.trackers {
		t.tx, t.done = tx, done
		t.done.Marks += len(t.entries)
		t.noteShifts()
		for _, step := range []func() error{t.keep, t.propose} {
			if err := step(); err != nil {
				return done, err
			}
		}
		tx.Followed(t.from, t.to)
		done = t.done
	}
	return done, nil
}
