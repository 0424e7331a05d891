package store

import (
	"database/sql"
	"errors"
	"time"

	"limbwatch/catalog"
)

// UnfollowedSpan is the stretch of time that holds every mark without a passage and
// every mark of a stale passage; ok is false when there is none. Reference frames
// do not count.
func (v *View) UnfollowedSpan() (from, to time.Time, ok bool, err error) {
	var first, last sql.Null[string]
	err = v.q.QueryRowContext(v.ctx, `
		SELECT min(f.middle_utc), max(f.middle_utc)
		FROM marks t
		JOIN frames f ON f.id = t.frame_id AND f.removed = 0 AND f.reference = 0
		JOIN positions p ON p.mark_id = t.id AND p.reason = ''
		LEFT JOIN joins j ON j.mark_id = t.id AND j.removed = 0 AND j.state = 'made'
		LEFT JOIN passages pa ON pa.id = j.passage_id
		WHERE t.removed = 0 AND (j.id IS NULL OR pa.stale = 1)`).Scan(&first, &last)
	if err != nil || !first.Valid {
		return from, to, false, asBusy(err)
	}
	if from, err = parseInstant(first.V); err != nil {
		return from, to, false, err
	}
	to, err = parseInstant(last.V)
	return from, to, err == nil, err
}

// UnmadeJoins lists the joins that were proposed or refused.
func (v *View) UnmadeJoins() ([]catalog.Join, error) {
	return find(v, &joins, "t.state <> 'made' ORDER BY t.mark_id, t.id")
}

// Habits is what SetHabits kept; false when nothing was learnt yet.
func (v *View) Habits() (learnt string, ok bool, err error) {
	err = v.q.QueryRowContext(v.ctx, "SELECT learnt FROM habits WHERE id = 1").Scan(&learnt)
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, nil
	}
	return learnt, err == nil, asBusy(err)
}

// SetHabits keeps the habits of the record, as JSON. They are derived from it, and
// stand in no history.
func (tx *Tx) SetHabits(learnt string) error {
	return tx.exec("INSERT OR REPLACE INTO habits (id, learnt) VALUES (1, ?)", learnt)
}

// LastNumber is the largest N of all passages, removed ones too, that are named
// STEM-N: a name is not given twice. It is 0 when there is none.
func (v *View) LastNumber(stem string) (int, error) {
	var last sql.Null[int64]
	// From "STEM-" up to what follows it, so that the index is used.
	err := v.q.QueryRowContext(v.ctx, `
		SELECT max(CAST(substr(name, ?) AS INTEGER)) FROM passages WHERE name > ? AND name < ?`,
		len(stem)+2, stem+"-", stem+".").Scan(&last)
	return int(last.V), asBusy(err)
}
