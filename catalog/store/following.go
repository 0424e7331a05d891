package store

import (
	"database/sql"
	"errors"
	"slices"
	"time"

	"limbwatch/catalog"
)

// Unfollowed lists the instants at which something that following sees has changed
// since it was followed (Tx.Followed), in their order: a mark came, went or moved, or
// was joined to a passage by someone's word.
func (v *View) Unfollowed() (instants []time.Time, err error) {
	err = v.each("SELECT utc FROM unfollowed ORDER BY utc", nil, func(scan scanner) error {
		var text string
		if err := scan(&text); err != nil {
			return err
		}
		at, err := parseInstant(text)
		instants = append(instants, at)
		return err
	})
	return instants, err
}

// Followed says that this operation followed what was seen in from ≤ t < to, on the
// positions as they stand when it ends; a zero time is as early, or late, as can be.
// The joins that it makes are the program's own, and nothing to follow.
func (tx *Tx) Followed(from, to time.Time) {
	r := instantRange{to: "9999"}
	if !from.IsZero() {
		r.from = instant(from)
	}
	if !to.IsZero() {
		r.to = instant(to)
	}
	tx.followed = append(tx.followed, r)
}

// instantRange is from ≤ t < to, as instants stand in the database.
type instantRange struct{ from, to string }

// unfollow notes the instants of the marks of which following sees something new.
// Where positions change, positionWriter does it.
func (tx *Tx) unfollow() error {
	const note = "INSERT OR IGNORE INTO unfollowed SELECT utc FROM positions WHERE mark_id IN "
	touched := []struct {
		table string
		how   []touch
		marks string
	}{
		{"marks", []touch{changed}, "(SELECT id FROM marks WHERE id BETWEEN ? AND ?)"},
		{"frames", []touch{changed}, "(SELECT id FROM marks WHERE frame_id BETWEEN ? AND ?)"},
		{"joins", []touch{inserted, changed, restored, removed}, "(SELECT mark_id FROM joins WHERE id BETWEEN ? AND ?)"},
	}
	for _, t := range touched {
		if t.table == "joins" && len(tx.followed) > 0 {
			continue
		}
		for _, how := range t.how {
			for _, s := range joined(tx.touched[touchKey{t.table, how}]) {
				if err := tx.exec(note+t.marks, s[0], s[1]); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// settle forgets what was followed. A passage is stale no more when nothing is left to
// follow at any of its marks.
func (tx *Tx) settle() error {
	for _, r := range tx.followed {
		if err := tx.exec("DELETE FROM unfollowed WHERE utc >= ? AND utc < ?", r.from, r.to); err != nil {
			return err
		}
	}
	if len(tx.followed) == 0 {
		return nil
	}
	return tx.exec(`
		UPDATE passages SET stale = 0 WHERE stale = 1 AND NOT EXISTS (
			SELECT 1 FROM joins j JOIN positions p ON p.mark_id = j.mark_id JOIN unfollowed u ON u.utc = p.utc
			WHERE j.passage_id = passages.id AND j.removed = 0 AND j.state = 'made')`)
}

// UnmadeJoins lists the joins that were proposed or refused.
func (v *View) UnmadeJoins() ([]catalog.Join, error) {
	return find(v, &joins, "t.state <> 'made' ORDER BY t.mark_id, t.id")
}

// UnmadeJoinsBetween lists those of marks whose frames lie in from ≤ t < to; a zero
// time is as early, or late, as can be.
func (v *View) UnmadeJoinsBetween(from, to time.Time) ([]catalog.Join, error) {
	if from.IsZero() && to.IsZero() {
		return v.UnmadeJoins()
	}
	condition, args := Query{From: from, To: to, References: true}.where()
	return find(v, &joins, "t.state <> 'made' AND t.mark_id IN"+
		" (SELECT t.id FROM marks t JOIN frames f ON f.id = t.frame_id WHERE "+condition+") ORDER BY t.mark_id, t.id", args...)
}

// Habits is what SetHabits kept, and the last mark there was then; false when nothing
// was learnt yet.
func (v *View) Habits() (learnt string, last catalog.MarkID, ok bool, err error) {
	err = v.q.QueryRowContext(v.ctx, "SELECT learnt, last_mark FROM habits WHERE id = 1").Scan(&learnt, &last)
	if errors.Is(err, sql.ErrNoRows) {
		return "", 0, false, nil
	}
	return learnt, last, err == nil, asBusy(err)
}

// SetHabits keeps the habits of the record, as JSON. They are derived from it, and
// stand in no history.
func (tx *Tx) SetHabits(learnt string) error {
	return tx.exec("INSERT OR REPLACE INTO habits (id, learnt, last_mark) SELECT 1, ?, coalesce(max(id), 0) FROM marks", learnt)
}

// LastMark is the newest mark ever made; 0 before there is one.
func (v *View) LastMark() (last catalog.MarkID, err error) {
	err = v.q.QueryRowContext(v.ctx, "SELECT coalesce(max(id), 0) FROM marks").Scan(&last)
	return last, asBusy(err)
}

// LastNumber is the largest N of all passages, removed ones too, that are or were
// named STEM-N: a name is not given twice. It is 0 when there is none.
func (v *View) LastNumber(stem string) (int, error) {
	var last sql.Null[int64]
	// From "STEM-" up to what follows it, so that the key is used.
	err := v.q.QueryRowContext(v.ctx, `
		SELECT max(CAST(substr(name, ?) AS INTEGER)) FROM passage_names WHERE name > ? AND name < ?`,
		len(stem)+2, stem+"-", stem+".").Scan(&last)
	return int(last.V), asBusy(err)
}

// besideFollowing are the tables of which following reads nothing, and with whose rows no
// mark moves (see movers).
var besideFollowing = []string{"observers", "instruments", "setups", "warnings", "counts"}

// FollowingTouchedSince says whether entries of the history after one have to do with
// what following reads: marks, where they lie, what joins them.
func (v *View) FollowingTouchedSince(after catalog.OperationID) (touched bool, err error) {
	err = v.each("SELECT d.changes FROM operations o JOIN operations d ON d.id = coalesce(o.of_id, o.id) WHERE o.id > ?",
		[]any{int64(after)}, func(scan scanner) error {
			var packed []byte
			if err := scan(&packed); err != nil || touched {
				return err
			}
			what, err := unpack(packed)
			if err != nil {
				return err
			}
			for table := range what.Inserted {
				touched = touched || !slices.Contains(besideFollowing, table)
			}
			for _, c := range what.Changed {
				touched = touched || !slices.Contains(besideFollowing, c.Table)
			}
			return nil
		})
	return touched, err
}
