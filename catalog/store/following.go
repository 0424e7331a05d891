package store

import (
	"database/sql"
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

// RefusedJoins lists the joins that the observer said are wrong.
func (v *View) RefusedJoins() ([]catalog.Join, error) {
	return find(v, &joins, "t.state = 'refused' AND t.voice = 'observer' ORDER BY t.id")
}

// PassageNames lists every name that a passage has now, removed ones too: a name
// is not given twice.
func (v *View) PassageNames() ([]string, error) {
	lines, err := v.q.QueryContext(v.ctx, "SELECT name FROM passages")
	if err != nil {
		return nil, asBusy(err)
	}
	defer lines.Close()
	var names []string
	for lines.Next() {
		var name string
		if err := lines.Scan(&name); err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return names, asBusy(lines.Err())
}
