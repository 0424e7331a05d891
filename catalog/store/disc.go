package store

import (
	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var discs = kept(field.Disc)

var norths = kept(field.North)

// Disc reads the disc of a frame; a *NotFoundError when it has none.
func (v *View) Disc(id catalog.FrameID) (catalog.Disc, error) {
	return findOne(v, &discs, "of frame "+id.String(), "t.frame_id = ?", int64(id))
}

// North reads the north of a frame; a *NotFoundError when it has none.
func (v *View) North(id catalog.FrameID) (catalog.North, error) {
	return findOne(v, &norths, "of frame "+id.String(), "t.frame_id = ?", int64(id))
}

// NorthsFrom lists the norths that were taken over from a frame.
func (v *View) NorthsFrom(id catalog.FrameID) ([]catalog.North, error) {
	return find(v, &norths, "t.from_frame_id = ? ORDER BY t.frame_id", int64(id))
}

// NorthBefore finds the newest north on a frame of the set-up not after the one of
// b: what "as last time" means. Norths that were themselves taken over count too.
func (v *View) NorthBefore(setup catalog.SetupID, b catalog.Bearings) (catalog.North, error) {
	return findOne(v, &norths, "before frame "+b.Frame.ID.String(), `t.id = (
		SELECT n.id FROM norths n
		JOIN frames f ON f.id = n.frame_id JOIN sittings s ON s.id = f.sitting_id
		WHERE n.removed = 0 AND f.removed = 0 AND f.reference = 0 AND s.setup_id IS ? AND f.id <> ? AND f.middle_utc <= ?
		ORDER BY f.middle_utc DESC, f.id DESC LIMIT 1)`,
		orNullID(setup), int64(b.Frame.ID), instant(b.Frame.Middle(b.ClockCorrectionS)))
}

// SetDisc keeps a frame's disc, new or changed: its ID and revision are those of
// the disc that was read, or zero when the frame had none.
func (tx *Tx) SetDisc(d catalog.Disc) (catalog.Disc, error) {
	if d.ID != 0 {
		return edit(tx, &discs, d)
	}
	return addOnly(tx, &discs, d, int64(d.Frame))
}

// SetNorth keeps a frame's north, new or changed, as SetDisc does.
func (tx *Tx) SetNorth(n catalog.North) (catalog.North, error) {
	if n.ID != 0 {
		return edit(tx, &norths, n)
	}
	return addOnly(tx, &norths, n, int64(n.Frame))
}

// RemoveDisc takes a disc out of sight; what is marked in pixels loses its place.
func (tx *Tx) RemoveDisc(id catalog.DiscID, revision int64) error {
	return remove(tx, &discs, id, revision)
}

// RemoveNorth takes a north out of sight.
func (tx *Tx) RemoveNorth(id catalog.NorthID, revision int64) error {
	return remove(tx, &norths, id, revision)
}

// addOnly adds the one row that a frame may have; when someone else has given it
// one meanwhile, that is a stale edit.
func addOnly[T validated, ID ~int64](tx *Tx, n *noun[T, ID], row T, frame int64) (T, error) {
	present, err := find(&tx.View, n, "t.frame_id = ?", frame)
	if err != nil {
		return row, err
	}
	if len(present) > 0 {
		return row, refuseStale(n, present[0], row, 0)
	}
	return add(tx, n, row)
}
