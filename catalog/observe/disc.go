package observe

import (
	"context"
	"errors"
	"fmt"
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/limb"
)

// discOf is a disc as it was found in a picture.
func discOf(f limb.Fit) catalog.Disc {
	return catalog.Disc{
		Limb: f.Limb, Method: catalog.DiscFitted, RMSPx: f.RMSPx, WidthPx: f.WidthPx,
		ArcDeg: min(f.ArcDeg, 360), Points: f.Points, Rejected: f.Rejected,
	}
}

// exposures are the roles of frames as the limb's prior knows them.
var exposures = map[catalog.Role]limb.Exposure{
	catalog.RoleSurface: limb.SurfaceExposure, catalog.RoleLimb: limb.LimbExposure, catalog.RoleBoth: limb.BothExposure,
}

// setLayer says which limb a disc is the edge of: the one named, else the one
// measured for the set-up and the role, else the prior of passband and role.
func setLayer(v interface {
	Sitting(catalog.SittingID) (catalog.Sitting, error)
	Setup(catalog.SetupID) (catalog.Setup, error)
}, d *catalog.Disc, named *coords.Layer, f catalog.Frame) error {
	if named != nil {
		d.Layer, d.LayerFrom = *named, catalog.LayerNamed
		return nil
	}
	var setup catalog.Setup
	if f.Sitting != 0 {
		sitting, err := v.Sitting(f.Sitting)
		if err != nil {
			return err
		}
		if sitting.Setup != 0 {
			if setup, err = v.Setup(sitting.Setup); err != nil {
				return err
			}
		}
	}
	if measured := setup.Limb(f.Role); measured != nil {
		d.Layer, d.LayerFrom = *measured, catalog.LayerMeasured
		return nil
	}
	d.Layer, d.LayerFrom = usualLayer(setup, f.Role), catalog.LayerPrior
	return nil
}

// usualLayer is the prior of a set-up's filter and of the role. A set-up without a
// wavelength is taken for one in H-alpha. What a narrow filter elsewhere shows, the
// continuum or another line, it does not say: then either limb is possible.
func usualLayer(s catalog.Setup, role catalog.Role) coords.Layer {
	elsewhere := s.WavelengthA > 0 && math.Abs(s.WavelengthA-catalog.HAlphaA) > catalog.LineReachA
	if elsewhere && s.PassbandA <= catalog.LineReachA {
		return limb.Prior(0, 0, limb.UnknownExposure)
	}
	return limb.Prior(s.PassbandA, s.Stacked, exposures[role])
}

// relayer lets the limbs of discs follow when the role of their frames or something
// of their set-up was put right. What the observer named, or a header wrote, stays.
func relayer(tx *store.Tx, frames []catalog.Frame) error {
	for _, f := range frames {
		d, err := tx.Disc(f.ID)
		if missing(err) {
			continue
		}
		if err != nil {
			return err
		}
		if d.LayerFrom != catalog.LayerPrior && d.LayerFrom != catalog.LayerMeasured {
			continue
		}
		if err := setLayer(tx, &d, nil, f); err != nil {
			return err
		}
		if _, err := tx.SetDisc(d); err != nil {
			return err
		}
	}
	return nil
}

// FitDisc finds the disc in a frame's picture (anew). revision is that of the disc
// that is to be replaced, as with all of these: 0 when the frame had none,
// store.Newest for whichever there is. layer names the limb, nil keeps what was
// named, measured or usual. The error is a *limb.RefusedError when the picture
// shows no limb that can be trusted.
func (k Keeper) FitDisc(ctx context.Context, id catalog.FrameID, opts limb.Options, layer *coords.Layer, revision int64) (catalog.Disc, error) {
	fit, err := k.findDisc(ctx, id, opts)
	if err != nil {
		return catalog.Disc{}, fmt.Errorf("frame %s: %w", id, err)
	}
	return k.putDisc(ctx, "disc fit", id, discOf(fit), layer, revision)
}

// findDisc finds the disc in a frame's picture, with what is known of its size.
func (k Keeper) findDisc(ctx context.Context, id catalog.FrameID, opts limb.Options) (limb.Fit, error) {
	f, err := k.Store.Read(ctx).Frame(id)
	if err != nil {
		return limb.Fit{}, err
	}
	pic, _, err := openFrame(f)
	if err != nil {
		return limb.Fit{}, err
	}
	if opts.Expected, err = k.expect(ctx, f); err != nil {
		return limb.Fit{}, err
	}
	return limb.Find(pic, opts)
}

// Circles are the round edges of a frame's picture that may be the Sun's, as they are
// numbered from 1, the smallest first; one where there is no question which.
func (k Keeper) Circles(ctx context.Context, id catalog.FrameID) ([]limb.Rival, error) {
	fit, err := k.findDisc(ctx, id, limb.Options{})
	if refused, ok := errors.AsType[*limb.RefusedError](err); ok && len(refused.Rivals) > 0 {
		return refused.Rivals, nil
	}
	if err != nil {
		return nil, fmt.Errorf("frame %s: %w", id, err)
	}
	if len(fit.Rivals) > 0 {
		return fit.Rivals, nil
	}
	return []limb.Rival{{Fit: fit}}, nil
}

// NoCircleError says that a picture has no circle of a number.
type NoCircleError struct {
	Number, Circles int
}

func (e *NoCircleError) Error() string {
	if e.Circles == 1 {
		return fmt.Sprintf("circle %d: the picture shows 1 round edge that may be the Sun's", e.Number)
	}
	return fmt.Sprintf("circle %d: the picture shows %d round edges that may be the Sun's", e.Number, e.Circles)
}

// TakeCircle makes one of a picture's circles, by its number in Circles, its disc: the
// observer says that it is the Sun. The error is a *NoCircleError when there is none of
// that number.
func (k Keeper) TakeCircle(ctx context.Context, id catalog.FrameID, number int, layer *coords.Layer, revision int64) (catalog.Disc, error) {
	all, err := k.Circles(ctx, id)
	if err != nil {
		return catalog.Disc{}, err
	}
	if number < 1 || number > len(all) {
		return catalog.Disc{}, &NoCircleError{Number: number, Circles: len(all)}
	}
	d := discOf(all[number-1].Fit)
	if d.Points == 0 { // the edge bears no fit: then it is the circle alone
		d = catalog.Disc{Limb: d.Limb, Method: catalog.DiscTyped}
	}
	d.Accepted = true
	return k.putDisc(ctx, "disc set", id, d, layer, revision)
}

// SetCircle keeps a disc that was typed, or dragged into place.
func (k Keeper) SetCircle(ctx context.Context, id catalog.FrameID, circle coords.Limb, layer *coords.Layer, revision int64) (catalog.Disc, error) {
	return k.putDisc(ctx, "disc set", id, catalog.Disc{Limb: circle, Method: catalog.DiscTyped, Accepted: true}, layer, revision)
}

// SetDiscLayer says which limb a frame's disc is the edge of.
func (k Keeper) SetDiscLayer(ctx context.Context, id catalog.FrameID, layer coords.Layer, revision int64) (catalog.Disc, error) {
	return k.editDisc(ctx, "disc limb", id, revision, func(d *catalog.Disc) {
		d.Layer, d.LayerFrom = layer, catalog.LayerNamed
	})
}

// AcceptDisc says that the observer looked at a frame's disc and found it right.
func (k Keeper) AcceptDisc(ctx context.Context, id catalog.FrameID, revision int64) (catalog.Disc, error) {
	return k.editDisc(ctx, "disc accept", id, revision, func(d *catalog.Disc) { d.Accepted = true })
}

// RemoveDisc takes a frame's disc out of sight: better none than a wrong one.
func (k Keeper) RemoveDisc(ctx context.Context, id catalog.FrameID, revision int64) error {
	return k.update(ctx, fmt.Sprintf("disc remove %s", id), func(tx *store.Tx) error {
		d, err := tx.Disc(id)
		if err != nil {
			return err
		}
		return tx.RemoveDisc(d.ID, revision)
	})
}

// putDisc keeps a disc in place of the one that the frame has. A limb that the
// observer once named stays named.
func (k Keeper) putDisc(ctx context.Context, title string, id catalog.FrameID, d catalog.Disc, layer *coords.Layer, revision int64) (catalog.Disc, error) {
	err := k.update(ctx, fmt.Sprintf("%s %s", title, id), func(tx *store.Tx) error {
		f, err := tx.Frame(id)
		if err != nil {
			return err
		}
		d.Frame = id
		present, err := tx.Disc(id)
		if err != nil && !missing(err) {
			return err
		}
		if err == nil {
			d.ID, d.UUID, d.Note = present.ID, present.UUID, present.Note
			if layer == nil && present.LayerFrom == catalog.LayerNamed {
				layer = &present.Layer
			}
		}
		d.Revision = revision
		if err := setLayer(tx, &d, layer, f); err != nil {
			return err
		}
		d, err = tx.SetDisc(d)
		return err
	})
	return d, err
}

func (k Keeper) editDisc(ctx context.Context, title string, id catalog.FrameID, revision int64, change func(*catalog.Disc)) (d catalog.Disc, err error) {
	err = k.update(ctx, fmt.Sprintf("%s %s", title, id), func(tx *store.Tx) (err error) {
		if d, err = tx.Disc(id); err != nil {
			return err
		}
		d.Revision = revision
		change(&d)
		d, err = tx.SetDisc(d)
		return err
	})
	return d, err
}
