package store

import (
	"database/sql"

	"limbwatch/catalog"
)

var discs = noun[catalog.Disc, catalog.DiscID]{
	table: table{name: "discs", noun: "disc", letter: "D",
		columns: []string{"frame_id", "x_px", "y_px", "radius_px", "flattening", "short_axis_deg",
			"cov_xx", "cov_yy", "cov_rr", "cov_xy", "cov_xr", "cov_yr",
			"layer_mm", "layer_sigma_mm", "layer_from", "method",
			"rms_px", "width_px", "arc_deg", "points", "rejected", "accepted", "note"},
		refs: []reference{{"frame_id", "frames"}}},
	values: func(d catalog.Disc) []any {
		l := d.Limb
		return []any{int64(d.Frame), l.Centre.X, l.Centre.Y, l.RadiusPx, l.Flattening, l.ShortAxis.ExactDegrees(),
			l.Cov.XX, l.Cov.YY, l.Cov.RR, l.Cov.XY, l.Cov.XR, l.Cov.YR,
			d.Layer.HeightMm, d.Layer.SigmaMm, d.LayerFrom.String(), d.Method.String(),
			orNull(d.RMSPx), orNull(d.WidthPx), orNull(d.ArcDeg), orNull(int64(d.Points)), orNull(int64(d.Rejected)),
			flag(d.Accepted), d.Note}
	},
	scan: scanDisc,
	head: func(d *catalog.Disc) (*catalog.DiscID, *catalog.Record) { return &d.ID, &d.Record },
}

func scanDisc(scan scanner) (d catalog.Disc, err error) {
	var axis float64
	var layerFrom, method string
	var rms, width, arc sql.Null[float64]
	var points, rejected sql.Null[int]
	l := &d.Limb
	err = scan(&d.ID, &d.UUID, &d.Revision, &d.Frame, &l.Centre.X, &l.Centre.Y, &l.RadiusPx, &l.Flattening, &axis,
		&l.Cov.XX, &l.Cov.YY, &l.Cov.RR, &l.Cov.XY, &l.Cov.XR, &l.Cov.YR,
		&d.Layer.HeightMm, &d.Layer.SigmaMm, &layerFrom, &method,
		&rms, &width, &arc, &points, &rejected, &d.Accepted, &d.Note)
	if err != nil {
		return d, err
	}
	l.ShortAxis = angle(axis)
	d.RMSPx, d.WidthPx, d.ArcDeg, d.Points, d.Rejected = rms.V, width.V, arc.V, points.V, rejected.V
	if d.LayerFrom, err = catalog.ParseLayerSource(layerFrom); err != nil {
		return d, err
	}
	d.Method, err = catalog.ParseDiscMethod(method)
	return d, err
}

var norths = noun[catalog.North, catalog.NorthID]{
	table: table{name: "norths", noun: "north", letter: "N",
		columns: []string{"frame_id", "angle_deg", "toward", "mirrored", "sigma_deg", "method",
			"parity_odds", "from_frame_id", "note"},
		refs: []reference{{"frame_id", "frames"}, {"from_frame_id", "frames"}}},
	values: func(n catalog.North) []any {
		return []any{int64(n.Frame), n.Angle.ExactDegrees(), n.Toward.String(), flag(n.Mirrored), n.Sigma.ExactDegrees(), n.Method,
			orNull(n.Parity), orNullID(n.From), n.Note}
	},
	scan: func(scan scanner) (n catalog.North, err error) {
		var turn, sigma float64
		var toward string
		var parity sql.Null[float64]
		var from sql.Null[int64]
		err = scan(&n.ID, &n.UUID, &n.Revision, &n.Frame, &turn, &toward, &n.Mirrored, &sigma, &n.Method,
			&parity, &from, &n.Note)
		if err != nil {
			return n, err
		}
		n.Angle, n.Sigma, n.Parity, n.From = angle(turn), angle(sigma), parity.V, catalog.FrameID(from.V)
		n.Toward, err = catalog.ParseToward(toward)
		return n, err
	},
	head: func(n *catalog.North) (*catalog.NorthID, *catalog.Record) { return &n.ID, &n.Record },
}

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
