package store

import (
	"database/sql"
	"fmt"
	"time"

	"limbwatch/catalog"
)

var sittings = noun[catalog.Sitting, catalog.SittingID]{
	table: table{name: "sittings", noun: "sitting", letter: "S",
		columns: []string{"observer_id", "setup_id", "site_id", "day",
			"sunspots", "plages", "filaments", "prominences",
			"seeing", "seeing_scale", "transparency", "transparency_scale",
			"clock_correction_s", "tuning", "note"},
		refs: []reference{{"observer_id", "observers"}, {"setup_id", "setups"}, {"site_id", "sites"}}},
	values: func(s catalog.Sitting) []any {
		values := []any{orNullID(s.Observer), orNullID(s.Setup), orNullID(s.Site), s.Day.UTC().Format(dayLayout)}
		for _, kind := range lookedKinds {
			var look any
			if l := s.Looked[kind]; l != catalog.NotLooked {
				look = l.String()
			}
			values = append(values, look)
		}
		return append(values, orNull(s.Seeing.Value), orNull(s.Seeing.Scale),
			orNull(s.Transparency.Value), orNull(s.Transparency.Scale), s.ClockCorrectionS, s.Tuning, s.Note)
	},
	scan: scanSitting,
	head: func(s *catalog.Sitting) (*catalog.SittingID, *catalog.Record) { return &s.ID, &s.Record },
}

// lookedKinds are the kinds of the columns sunspots, plages, filaments, prominences.
var lookedKinds = []catalog.Kind{catalog.Sunspot, catalog.Plage, catalog.Filament, catalog.Prominence}

func scanSitting(scan scanner) (s catalog.Sitting, err error) {
	var observer, setup, site sql.Null[int64]
	var day string
	var looks [4]sql.Null[string]
	var seeing, seeingScale, transparency, transparencyScale sql.Null[string]
	err = scan(&s.ID, &s.UUID, &s.Revision, &observer, &setup, &site, &day,
		&looks[0], &looks[1], &looks[2], &looks[3],
		&seeing, &seeingScale, &transparency, &transparencyScale, &s.ClockCorrectionS, &s.Tuning, &s.Note)
	if err != nil {
		return s, err
	}
	s.Observer, s.Setup, s.Site = catalog.ObserverID(observer.V), catalog.SetupID(setup.V), catalog.SiteID(site.V)
	s.Seeing = catalog.Rating{Value: seeing.V, Scale: seeingScale.V}
	s.Transparency = catalog.Rating{Value: transparency.V, Scale: transparencyScale.V}
	for i, look := range looks {
		if look.Valid {
			if s.Looked == nil {
				s.Looked = map[catalog.Kind]catalog.Look{}
			}
			if s.Looked[lookedKinds[i]], err = catalog.ParseLook(look.V); err != nil {
				return s, err
			}
		}
	}
	if s.Day, err = time.Parse(dayLayout, day); err != nil {
		return s, fmt.Errorf("day %q in the catalogue: %w", day, err)
	}
	return s, nil
}

// Sitting reads one sitting.
func (v *View) Sitting(id catalog.SittingID) (catalog.Sitting, error) { return get(v, &sittings, id) }

// SittingsBetween lists the sittings of the UT days from and to, both included, in
// their order.
func (v *View) SittingsBetween(from, to time.Time) ([]catalog.Sitting, error) {
	return find(v, &sittings, "t.day BETWEEN ? AND ? ORDER BY t.day, t.id",
		from.UTC().Format(dayLayout), to.UTC().Format(dayLayout))
}

// SittingNear finds the sitting of an observer at a set-up and site that has a
// frame within reach of an instant, the nearest in time; a *NotFoundError when
// there is none.
func (v *View) SittingNear(observer catalog.ObserverID, setup catalog.SetupID, site catalog.SiteID,
	at time.Time, reach time.Duration) (catalog.Sitting, error) {
	var id int64
	err := v.q.QueryRowContext(v.ctx, `
		SELECT s.id FROM frames f JOIN sittings s ON s.id = f.sitting_id
		WHERE f.removed = 0 AND s.removed = 0 AND f.middle_utc BETWEEN ? AND ?
		  AND s.observer_id IS ? AND s.setup_id IS ? AND s.site_id IS ?
		ORDER BY abs(julianday(f.middle_utc) - julianday(?)), f.id LIMIT 1`,
		instant(at.Add(-reach)), instant(at.Add(reach)),
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
