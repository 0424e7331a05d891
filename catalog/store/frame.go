package store

import (
	"database/sql"
	"time"

	"limbwatch/catalog"
)

var frames = noun[catalog.Frame, catalog.FrameID]{
	table: table{name: "frames", noun: "frame", letter: "F",
		columns: []string{"sitting_id", "path", "sha256", "channel", "role", "taken_utc", "moment",
			"exposure_s", "sigma_s", "time_source", "zone", "width_px", "height_px", "reference", "note"},
		derived: []string{"middle_utc"},
		refs:    []reference{{"sitting_id", "sittings"}}},
	values: func(f catalog.Frame) []any {
		return []any{orNullID(f.Sitting), orNull(f.Path), orNull(f.SHA256), f.Channel, orNull(f.Role.String()),
			instant(f.Taken), orNull(f.Moment.String()), orNull(f.ExposureS), orNull(f.SigmaS),
			f.TimeSource, f.Zone, orNull(int64(f.WidthPx)), orNull(int64(f.HeightPx)), flag(f.Reference), f.Note}
	},
	// The sitting's clock correction comes in when what is derived is refreshed.
	derivedValues: func(f catalog.Frame) []any { return []any{instant(f.Middle(0))} },
	scan:          scanFrame,
	head:          func(f *catalog.Frame) (*catalog.FrameID, *catalog.Record) { return &f.ID, &f.Record },
}

func scanFrame(scan scanner) (f catalog.Frame, err error) {
	var sitting sql.Null[int64]
	var path, sha256, role, moment sql.Null[string]
	var exposure, sigma sql.Null[float64]
	var width, height sql.Null[int]
	var taken string
	err = scan(&f.ID, &f.UUID, &f.Revision, &sitting, &path, &sha256, &f.Channel, &role, &taken, &moment,
		&exposure, &sigma, &f.TimeSource, &f.Zone, &width, &height, &f.Reference, &f.Note)
	if err != nil {
		return f, err
	}
	f.Sitting = catalog.SittingID(sitting.V)
	f.Path, f.SHA256 = path.V, sha256.V
	f.ExposureS, f.SigmaS = exposure.V, sigma.V
	f.WidthPx, f.HeightPx = width.V, height.V
	if f.Role, err = catalog.ParseRole(role.V); err != nil {
		return f, err
	}
	if f.Moment, err = catalog.ParseMoment(moment.V); err != nil {
		return f, err
	}
	f.Taken, err = parseInstant(taken)
	return f, err
}

// Frame reads one frame.
func (v *View) Frame(id catalog.FrameID) (catalog.Frame, error) { return get(v, &frames, id) }

// FrameByContent finds the frame of a file by what it holds; a *NotFoundError when
// the file is not in the catalogue.
func (v *View) FrameByContent(sha256 string) (catalog.Frame, error) {
	return findOne(v, &frames, "with SHA-256 "+sha256, "t.sha256 = ?", sha256)
}

// FramesBetween lists the frames whose middle lies in from ≤ t < to, in time order.
func (v *View) FramesBetween(from, to time.Time) ([]catalog.Frame, error) {
	return find(v, &frames, "t.middle_utc >= ? AND t.middle_utc < ? ORDER BY t.middle_utc, t.id",
		instant(from), instant(to))
}

// NewestFrame is the one of the latest middle before an instant, references left out; a
// *NotFoundError when there is none.
func (v *View) NewestFrame(before time.Time) (catalog.Frame, error) {
	return findOne(v, &frames, "before "+instant(before), "t.reference = 0 AND t.middle_utc < ? ORDER BY t.middle_utc DESC, t.id DESC", instant(before))
}

// FramesOf lists the frames of a sitting in time order.
func (v *View) FramesOf(id catalog.SittingID) ([]catalog.Frame, error) {
	return find(v, &frames, "t.sitting_id = ? ORDER BY t.middle_utc, t.id", int64(id))
}

// FramesUsing lists the frames taken with a set-up, by id.
func (v *View) FramesUsing(id catalog.SetupID) ([]catalog.Frame, error) {
	return find(v, &frames, "t.sitting_id IN (SELECT id FROM sittings WHERE setup_id = ?) ORDER BY t.id", int64(id))
}

// AddFrame keeps a new frame.
func (tx *Tx) AddFrame(f catalog.Frame) (catalog.Frame, error) { return add(tx, &frames, f) }

// AddFrames keeps many at once, quickly.
func (tx *Tx) AddFrames(f []catalog.Frame) ([]catalog.Frame, error) { return addAll(tx, &frames, f) }

// EditFrame keeps a changed frame; what is marked on it follows its time.
func (tx *Tx) EditFrame(f catalog.Frame) (catalog.Frame, error) { return edit(tx, &frames, f) }

// RemoveFrame takes a frame out of sight, with its disc and its north. One with
// marks is refused: they go first.
func (tx *Tx) RemoveFrame(id catalog.FrameID, revision int64) error {
	b, err := tx.Bearings(id)
	if err != nil {
		return err
	}
	if b.Disc != nil {
		if err := remove(tx, &discs, b.Disc.ID, Newest); err != nil {
			return err
		}
	}
	if b.North != nil {
		if err := remove(tx, &norths, b.North.ID, Newest); err != nil {
			return err
		}
	}
	return remove(tx, &frames, id, revision)
}
