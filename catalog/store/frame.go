package store

import (
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var frames = kept(field.Frame)

func init() {
	frames.derived = []string{"middle_utc"}
	// The sitting's clock correction comes in when what is derived is refreshed.
	frames.derivedValues = func(f catalog.Frame) []any { return []any{instant(f.Middle(0))} }
}

// Frame reads one frame.
func (v *View) Frame(id catalog.FrameID) (catalog.Frame, error) { return get(v, &frames, id) }

// FrameByContent finds the frame of a file by what it holds; a *NotFoundError when
// the file is not in the catalogue.
func (v *View) FrameByContent(sha256 string) (catalog.Frame, error) {
	return findOne(v, &frames, "with SHA-256 "+sha256, "t.sha256 = ?", sha256)
}

// FramePaths lists where the pictures of all frames lie, of removed ones too: an undo
// brings those back.
func (v *View) FramePaths() (paths []string, err error) {
	err = v.each("SELECT DISTINCT path FROM frames WHERE path IS NOT NULL", nil, func(scan scanner) error {
		paths = append(paths, "")
		return scan(&paths[len(paths)-1])
	})
	return paths, err
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
