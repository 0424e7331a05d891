package store

import (
	"database/sql"
	"errors"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var warnings = kept(field.Warning)

func init() { register(&warnings.table) }

// Warning reads one warning.
func (v *View) Warning(id catalog.WarningID) (catalog.Warning, error) { return get(v, &warnings, id) }

// WarningsOf lists the warnings of a frame, settled ones too, in the order in which they
// arose.
func (v *View) WarningsOf(id catalog.FrameID) ([]catalog.Warning, error) {
	return find(v, &warnings, "t.frame_id = ? ORDER BY t.id", int64(id))
}

// Warnings lists all warnings, by frame.
func (v *View) Warnings() ([]catalog.Warning, error) {
	return find(v, &warnings, "1 ORDER BY t.frame_id, t.id")
}

// OpenWarnings lists those that nobody has settled, by frame.
func (v *View) OpenWarnings() ([]catalog.Warning, error) {
	return find(v, &warnings, "t.settled_utc IS NULL ORDER BY t.frame_id, t.id")
}

// WarningKnown says whether a warning was ever kept here, in sight or not.
func (v *View) WarningKnown(identity uuid.UUID) (known bool, err error) {
	err = v.q.QueryRowContext(v.ctx, "SELECT count(*) > 0 FROM warnings WHERE uuid = ?", identity[:]).Scan(&known)
	return known, asBusy(err)
}

// SetWarning keeps a warning: a new one, or a changed one when it has an id.
func (tx *Tx) SetWarning(w catalog.Warning) (catalog.Warning, error) {
	if w.ID != 0 {
		return edit(tx, &warnings, w)
	}
	return add(tx, &warnings, w)
}

// RemoveWarning takes a warning out of sight.
func (tx *Tx) RemoveWarning(id catalog.WarningID, revision int64) error {
	return remove(tx, &warnings, id, revision)
}

// picturesTouched says which frames with a picture may deserve other warnings once rows
// of a table were touched.
var picturesTouched = []struct{ table, frames string }{
	{"frames", "SELECT f.id FROM frames f WHERE f.id BETWEEN ? AND ?"},
	{"discs", "SELECT d.frame_id FROM discs d WHERE d.id BETWEEN ? AND ?"},
	{"norths", "SELECT n.frame_id FROM norths n WHERE n.id BETWEEN ? AND ?"},
	{"sittings", "SELECT f.id FROM frames f WHERE f.sitting_id BETWEEN ? AND ?"},
	{"sites", "SELECT f.id FROM frames f JOIN sittings s ON s.id = f.sitting_id WHERE s.site_id BETWEEN ? AND ?"},
}

// TouchedPictures lists the frames in sight, with a picture, whose time, site, disc or
// north this operation touched so far; others says whether it touched any instrument.
func (tx *Tx) TouchedPictures() (ids []catalog.FrameID, instruments bool, err error) {
	seen := map[catalog.FrameID]bool{}
	for _, touched := range picturesTouched {
		for _, how := range []touch{inserted, changed, restored, removed} {
			for _, s := range joined(tx.touched[touchKey{touched.table, how}]) {
				query := "SELECT id FROM frames WHERE removed = 0 AND sha256 IS NOT NULL AND id IN (" + touched.frames + ") ORDER BY id"
				err := tx.each(query, []any{s[0], s[1]}, func(scan scanner) error {
					var id catalog.FrameID
					err := scan(&id)
					if !seen[id] {
						seen[id], ids = true, append(ids, id)
					}
					return err
				})
				if err != nil {
					return nil, false, err
				}
			}
		}
	}
	for _, table := range []string{"setups", "instruments"} {
		instruments = instruments || len(tx.touched[touchKey{table, changed}]) > 0
	}
	return ids, instruments, nil
}

// Compared tells with which norths and discs a frame's picture was last held against its
// neighbours'; empty when it never was.
func (v *View) Compared(id catalog.FrameID) (basis string, err error) {
	err = v.q.QueryRowContext(v.ctx, "SELECT basis FROM norths_compared WHERE frame_id = ?", int64(id)).Scan(&basis)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return basis, asBusy(err)
}

// SetCompared notes it. It stands in no history: what is compared once is compared,
// whatever is taken back.
func (tx *Tx) SetCompared(id catalog.FrameID, basis string) error {
	return tx.exec("INSERT OR REPLACE INTO norths_compared (frame_id, basis) VALUES (?, ?)", int64(id), basis)
}
