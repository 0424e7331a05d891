package observe

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/limb"
	"limbwatch/coords/north"
	"limbwatch/coords/picture"
	"limbwatch/coords/picture/capture"
)

// NewFrame is a picture to be added. Zero fields mean what the picture says, or the
// defaults.
//
//	Zone       of times that come without one; nil: that of the site
//	Taken      the time, typed: the middle of the exposure unless Moment says else
//	SigmaS     standard error of a typed time, seconds
//	Layer      which limb the picture shows; nil: see layerOf
//	WithoutDisc  leave the disc to be found later
//	Reference  a picture from elsewhere, for north only
type NewFrame struct {
	Path          string
	Channel       picture.Channel
	Role          catalog.Role
	Circumstances Circumstances
	Zone          *time.Location
	Taken         time.Time
	Moment        catalog.Moment
	ExposureS     float64
	SigmaS        float64
	Layer         *coords.Layer
	WithoutDisc   bool
	Reference     bool
	Note          string
}

// AddedFrame tells what became of a picture.
//
//	Moved        the picture was known under another path, which had gone: nothing
//	             was added but the new path
//	DiscRefused  why no disc was found, nil when one was or none was sought
//	Warnings     what seemed odd about time, header or the disc's size; they stay with
//	             the frame until somebody settles them (Settle)
//	Picture      as it was read
type AddedFrame struct {
	Frame       catalog.Frame
	Sitting     catalog.Sitting
	Disc        *catalog.Disc
	North       *catalog.North
	Moved       bool
	DiscRefused error
	Warnings    []string
	Picture     *picture.Picture
	Header      *picture.Header
}

// DuplicateError says that a picture is in the catalogue already, and where.
type DuplicateError struct {
	Path  string
	Frame catalog.Frame
}

func (e *DuplicateError) Error() string {
	if e.Path == e.Frame.Path {
		return fmt.Sprintf("%s is in the catalogue already, as frame %s", e.Path, e.Frame.ID)
	}
	return fmt.Sprintf("%s has the same content as %s, frame %s", e.Path, e.Frame.Path, e.Frame.ID)
}

// UnreadableError says that a file cannot be read as a picture; Err, of
// picture.Open, says why, and its text is this one's.
type UnreadableError struct {
	Path string
	Err  error
}

func (e *UnreadableError) Error() string { return e.Err.Error() }
func (e *UnreadableError) Unwrap() error { return e.Err }

// AddFrame reads a picture, finds its time, its sitting and its disc, and keeps
// what it found; the file itself stays where it is, untouched.
//
// A picture whose disc is not found is kept without. Errors: *DuplicateError;
// *UnreadableError; those of capture.Found.Resolve when the time or its zone is not
// known.
func (k Keeper) AddFrame(ctx context.Context, n NewFrame) (AddedFrame, error) {
	path, err := filepath.Abs(n.Path)
	if err != nil {
		return AddedFrame{}, err
	}
	pic, header, err := picture.Open(path, picture.Options{Channel: n.Channel})
	if err != nil {
		return AddedFrame{}, &UnreadableError{Path: path, Err: err}
	}
	added := AddedFrame{Picture: pic, Header: header, Warnings: header.Warnings}
	if known, err := k.known(ctx, path, header.SHA256, &added); known || err != nil {
		return added, err
	}
	if err := k.describe(ctx, n, path, &added); err != nil {
		return added, fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	var found limb.Fit
	if header.WCS == nil || header.WCS.Limb == nil {
		if !n.WithoutDisc {
			opts := limb.Options{}
			if !n.Reference {
				c, err := n.Circumstances.filled(k.Store.Read(ctx))
				if err != nil {
					return added, err
				}
				known, err := radiusKnown(k.Store.Read(ctx), added.Frame, c.Setup)
				if err != nil {
					return added, err
				}
				opts.Expected = known.Expected
			}
			found, added.DiscRefused = limb.Find(pic, opts)
		}
	}
	err = k.update(ctx, "frame add", func(tx *store.Tx) error { return n.keep(tx, &added, found) })
	if err == nil {
		// Reports draw from it. What cannot be made now is made, or told, when it is asked for.
		_, _ = k.KeepPreview(added.Frame, pic)
	}
	if err != nil {
		return added, err
	}
	warnings, err := k.Store.Read(ctx).WarningsOf(added.Frame.ID)
	added.Warnings = nil
	for _, w := range warnings {
		if w.Cause != catalog.CauseLimb { // which DiscRefused tells
			added.Warnings = append(added.Warnings, w.Words)
		}
	}
	return added, err
}

// known finds a picture that is in the catalogue already. One whose file has gone
// from where it was has moved, and gets its new path.
func (k Keeper) known(ctx context.Context, path, sha256 string, added *AddedFrame) (bool, error) {
	f, err := k.Store.Read(ctx).FrameByContent(sha256)
	if missing(err) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if _, err := os.Stat(f.Path); f.Path == path || !errors.Is(err, fs.ErrNotExist) {
		return true, &DuplicateError{Path: path, Frame: f}
	}
	f.Path = path
	added.Moved = true
	added.Frame, err = save(ctx, k, "frame moved", f, (*store.Tx).EditFrame, frameID)
	return true, err
}

// describe fills in the frame from the picture's header and what was typed.
func (k Keeper) describe(ctx context.Context, n NewFrame, path string, added *AddedFrame) error {
	f := catalog.Frame{
		Path: path, SHA256: added.Header.SHA256, WidthPx: added.Picture.Width, HeightPx: added.Picture.Height,
		Role: n.Role, Reference: n.Reference, Note: n.Note,
		Taken: n.Taken, Moment: n.Moment, ExposureS: n.ExposureS, SigmaS: n.SigmaS, TimeSource: "typed", Zone: "UTC",
	}
	if n.Channel != picture.Auto {
		f.Channel = n.Channel.String()
	}
	if n.Taken.IsZero() {
		zone, err := k.zone(ctx, n)
		if err != nil {
			return err
		}
		c, err := added.Header.Capture(capture.Options{Zone: zone})
		if err != nil {
			return err
		}
		f.Taken, f.Moment = c.UTC, catalog.Moment(c.Moment)
		f.ExposureS, f.SigmaS, f.TimeSource, f.Zone = c.ExposureS, c.SigmaS, c.Source.String(), c.Zone
		added.Warnings = append(added.Warnings, c.Warnings...)
	}
	added.Frame = f
	return f.Validate()
}

// zone is that of times without one: given, or the site's; nil when nobody says.
func (k Keeper) zone(ctx context.Context, n NewFrame) (*time.Location, error) {
	if n.Zone != nil || n.Reference { // a picture from elsewhere has another site
		return n.Zone, nil
	}
	v := k.Store.Read(ctx)
	c, err := n.Circumstances.filled(v)
	if err != nil || c.Site == 0 {
		return nil, err
	}
	site, err := v.Site(c.Site)
	if err != nil || site.Zone == "" {
		return nil, err
	}
	return site.Location()
}

// keep writes frame, sitting, disc and north.
func (n NewFrame) keep(tx *store.Tx, added *AddedFrame, found limb.Fit) (err error) {
	if !n.Reference {
		c, err := n.Circumstances.filled(&tx.View)
		if err != nil {
			return err
		}
		if added.Sitting, err = sittingFor(tx, c, added.Frame.Middle(0)); err != nil {
			return err
		}
		added.Frame.Sitting = added.Sitting.ID
	}
	if added.Frame, err = tx.AddFrame(added.Frame); err != nil {
		return err
	}
	tx.SetTitle("frame add %s", added.Frame.ID)
	for _, words := range added.Warnings {
		if err := warn(tx, catalog.Warning{Frame: added.Frame.ID, Cause: catalog.CauseFile, Words: words, Basis: words}); err != nil {
			return err
		}
	}
	if err := n.keepDisc(tx, added, found); err != nil {
		return err
	}
	if wcs := added.Header.WCS; wcs != nil && wcs.North != nil {
		kept, err := tx.SetNorth(catalog.North{
			Frame: added.Frame.ID, Toward: catalog.TowardSolar, Method: north.MethodHeader,
			Angle: wcs.North.Angle, Mirrored: wcs.North.Mirrored, Sigma: wcs.North.Sigma,
		})
		if err != nil {
			return err
		}
		added.North = &kept
	}
	return nil
}

func (n NewFrame) keepDisc(tx *store.Tx, added *AddedFrame, found limb.Fit) error {
	d := discOf(found)
	header := added.Header.WCS
	switch {
	case header != nil && header.Limb != nil:
		d = catalog.Disc{Limb: *header.Limb, Method: catalog.DiscHeader, Note: header.Source}
		added.DiscRefused = nil
	case added.DiscRefused != nil:
		return warn(tx, catalog.Warning{Frame: added.Frame.ID, Cause: catalog.CauseLimb, Words: added.DiscRefused.Error(), Basis: "no disc"})
	case n.WithoutDisc:
		return nil
	}
	d.Frame = added.Frame.ID
	if header != nil && header.Layer != nil && d.Method == catalog.DiscHeader && n.Layer == nil {
		d.Layer, d.LayerFrom = *header.Layer, catalog.LayerHeader
	} else if err := setLayer(tx, &d, n.Layer, added.Frame); err != nil {
		return err
	}
	kept, err := tx.SetDisc(d)
	added.Disc = &kept
	return err
}

// OpenFrame reads the picture of a frame, with its header, by its path.
func (k Keeper) OpenFrame(ctx context.Context, id catalog.FrameID) (*picture.Picture, *picture.Header, error) {
	f, err := k.Store.Read(ctx).Frame(id)
	if err != nil {
		return nil, nil, err
	}
	return openFrame(f)
}

// ChangedFileError says that the file of a frame no longer holds what it did.
type ChangedFileError struct{ Frame catalog.Frame }

func (e *ChangedFileError) Error() string {
	return fmt.Sprintf("%s no longer holds the picture of frame %s", e.Frame.Path, e.Frame.ID)
}

func openFrame(f catalog.Frame) (*picture.Picture, *picture.Header, error) {
	if !f.HasFile() {
		return nil, nil, &store.InvalidError{Err: fmt.Errorf("frame %s has no picture", f.ID)}
	}
	channel := picture.Auto
	if f.Channel != "" {
		var err error
		if channel, err = picture.ParseChannel(f.Channel); err != nil {
			return nil, nil, err
		}
	}
	pic, header, err := picture.Open(f.Path, picture.Options{Channel: channel})
	if err == nil && header.SHA256 != f.SHA256 {
		err = &ChangedFileError{Frame: f}
	}
	if err != nil {
		return nil, nil, fmt.Errorf("frame %s: %w", f.ID, err)
	}
	return pic, header, nil
}

// EditFrame keeps a changed frame: its time, role, note. Its marks follow; so does
// the limb of its disc where that is known by the role; and a frame whose time turns
// out to be of another day goes to the sitting of that day.
func (k Keeper) EditFrame(ctx context.Context, f catalog.Frame) (catalog.Frame, error) {
	return save(ctx, k, "frame edit", f, func(tx *store.Tx, f catalog.Frame) (catalog.Frame, error) {
		before, err := tx.Frame(f.ID)
		if err != nil {
			return f, err
		}
		if f, err = tx.EditFrame(f); err != nil {
			return f, err
		}
		if f.Sitting != 0 && f.Sitting == before.Sitting && !f.Taken.Equal(before.Taken) {
			if f, err = refile(tx, f); err != nil {
				return f, err
			}
		}
		return f, relayer(tx, []catalog.Frame{f})
	}, frameID)
}

// RemoveFrame takes a frame out of sight, with its disc, its north and, when
// withMarks, its marks; otherwise a frame with marks is refused by a
// *store.InUseError. The file is left alone. A north that was taken over from it holds
// on, and only forgets from where it is.
func (k Keeper) RemoveFrame(ctx context.Context, id catalog.FrameID, revision int64, withMarks bool) error {
	return drop(ctx, k, "frame", id, revision, func(tx *store.Tx, id catalog.FrameID, revision int64) error {
		if withMarks {
			marks, err := tx.MarksOn(id)
			if err != nil {
				return err
			}
			for _, m := range marks {
				if err := tx.RemoveMark(m.ID, store.Newest); err != nil {
					return err
				}
			}
		}
		if err := disown(tx, id); err != nil {
			return err
		}
		warnings, err := tx.WarningsOf(id)
		if err != nil {
			return err
		}
		for _, w := range warnings {
			if err := tx.RemoveWarning(w.ID, store.Newest); err != nil {
				return err
			}
		}
		return tx.RemoveFrame(id, revision)
	})
}

// disown lets the norths of other frames that were taken over from one stand by themselves.
func disown(tx *store.Tx, id catalog.FrameID) error {
	norths, err := tx.NorthsFrom(id)
	if err != nil {
		return err
	}
	for _, n := range norths {
		n.From = 0
		if _, err := tx.SetNorth(n); err != nil {
			return err
		}
	}
	return nil
}

func frameID(f catalog.Frame) string { return f.ID.String() }
