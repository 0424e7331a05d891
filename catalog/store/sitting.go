package store

import (
	"database/sql"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var sittings = kept(field.Sitting)

// Sitting reads one sitting.
func (v *View) Sitting(id catalog.SittingID) (catalog.Sitting, error) { return get(v, &sittings, id) }

// SittingsBetween lists the sittings of the UT days from and to, both included, in
// their order.
func (v *View) SittingsBetween(from, to time.Time) ([]catalog.Sitting, error) {
	return find(v, &sittings, "t.day BETWEEN ? AND ? ORDER BY t.day, t.id",
		from.UTC().Format(dayLayout), to.UTC().Format(dayLayout))
}

// SittingNear finds the sitting of an observer at a set-up and site that has a frame
// within from ≤ t < to, the one nearest in time to an instant; a *NotFoundError when
// there is none.
func (v *View) SittingNear(observer catalog.ObserverID, setup catalog.SetupID, site catalog.SiteID,
	at, from, to time.Time) (catalog.Sitting, error) {
	var id int64
	err := v.q.QueryRowContext(v.ctx, `
		SELECT s.id FROM frames f JOIN sittings s ON s.id = f.sitting_id
		WHERE f.removed = 0 AND s.removed = 0 AND f.middle_utc >= ? AND f.middle_utc < ?
		  AND s.observer_id IS ? AND s.setup_id IS ? AND s.site_id IS ?
		ORDER BY abs(julianday(f.middle_utc) - julianday(?)), f.id LIMIT 1`,
		instant(from), instant(to),
		orNullID(observer), orNullID(setup), orNullID(site), instant(at)).Scan(&id)
	if err == sql.ErrNoRows {
		return catalog.Sitting{}, &NotFoundError{Noun: "sitting", ID: "near " + instant(at)}
	}
	if err != nil {
		return catalog.Sitting{}, asBusy(err)
	}
	return v.Sitting(catalog.SittingID(id))
}

// AddSitting keeps a new sitting.
func (tx *Tx) AddSitting(s catalog.Sitting) (catalog.Sitting, error) { return add(tx, &sittings, s) }

// EditSitting keeps a changed sitting; a new clock correction moves its frames in
// time and what is marked on them.
func (tx *Tx) EditSitting(s catalog.Sitting) (catalog.Sitting, error) { return edit(tx, &sittings, s) }

// RemoveSitting takes a sitting without frames out of sight.
func (tx *Tx) RemoveSitting(id catalog.SittingID, revision int64) error {
	return remove(tx, &sittings, id, revision)
}
