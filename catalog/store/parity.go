package store

import (
	"limbwatch/catalog"
)

// NorthsOfSetup lists the norths of a set-up's own frames, but for those that were
// taken over from another frame of it or are held to one's, in the order of their frames'
// times.
func (v *View) NorthsOfSetup(setup catalog.SetupID) ([]catalog.North, error) {
	const frames = `(SELECT f.id FROM frames f JOIN sittings s ON s.id = f.sitting_id
		WHERE f.removed = 0 AND f.reference = 0 AND s.setup_id = ?1)`
	const ofSetup = `t.frame_id IN ` + frames + ` AND (t.from_frame_id IS NULL OR t.from_frame_id NOT IN ` + frames + `)
		ORDER BY (SELECT f.middle_utc FROM frames f WHERE f.id = t.frame_id), t.frame_id`
	return find(v, &norths, ofSetup, int64(setup))
}
