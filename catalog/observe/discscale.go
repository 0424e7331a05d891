package observe

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/limb"
)

// How well a radius is known beforehand, as a share of it (common practice, no source):
// discs of one set-up agree to less than the two limbs of hydrogen and of the
// photosphere lie apart; what is engraved on a telescope is rounded. And from where on
// another scale is told.
const (
	sigmaConfirmed = 0.008
	sigmaPromised  = 0.025
	sameScale      = 0.03
	promisedScale  = 0.12
)

// knownRadius is what a set-up says of the Sun's radius in a picture.
//
//	from  which knowledge that is, as it follows "than"
//	told  difference from which on it is told, a share
type knownRadius struct {
	limb.Expected
	from string
	told float64
}

// radiusKnown gives the radius that the Sun should have in a frame, by the discs of the
// set-up that a person confirmed, in pictures of the same size, else by focal length and
// pixel. A disc that was only found counts for nothing here, or one mistaken stop would
// outvote all later Suns; and a picture of another size may have another scale. The
// radius is 0 when nothing is known, or the confirmed discs do not agree.
func radiusKnown(v *store.View, f catalog.Frame, setup catalog.SetupID) (knownRadius, error) {
	if setup == 0 {
		return knownRadius{}, nil
	}
	others, err := newestBearings(v, setup)
	if err != nil {
		return knownRadius{}, err
	}
	now := ephemeris.At(f.Middle(0)).Semidiameter
	type seen struct {
		frame    catalog.FrameID
		radiusPx float64
	}
	var confirmed []seen
	for _, o := range others {
		if o.Frame.ID == f.ID || o.Disc == nil || !o.Disc.Confirmed() || o.Frame.WidthPx != f.WidthPx || o.Frame.HeightPx != f.HeightPx {
			continue
		}
		confirmed = append(confirmed, seen{o.Frame.ID, o.Disc.Limb.RadiusPx * float64(now/ephemeris.At(o.Frame.Middle(0)).Semidiameter)})
	}
	if len(confirmed) > 0 {
		slices.SortFunc(confirmed, func(a, b seen) int { return cmp.Compare(a.radiusPx, b.radiusPx) })
		middle := confirmed[len(confirmed)/2]
		if confirmed[len(confirmed)-1].radiusPx > (1+sameScale)*confirmed[0].radiusPx {
			return knownRadius{}, nil
		}
		return knownRadius{
			limb.Expected{RadiusPx: middle.radiusPx, SigmaPx: sigmaConfirmed * middle.radiusPx},
			fmt.Sprintf("that of %s, which you confirmed", middle.frame), sameScale,
		}, nil
	}
	s, err := v.Setup(setup)
	if err != nil {
		return knownRadius{}, err
	}
	i, err := v.Instrument(s.Instrument)
	if err != nil {
		return knownRadius{}, err
	}
	promised, known := catalog.ScaleArcsec(i, s)
	if !known {
		return knownRadius{}, nil
	}
	radius := now.Arcseconds() * (1 + usualLayer(s, f.Role).HeightMm/coords.SolarRadiusMm) / promised
	return knownRadius{
		limb.Expected{RadiusPx: radius, SigmaPx: sigmaPromised * radius},
		"focal length and pixel of the set-up promise", promisedScale,
	}, nil
}

// expect is the radius that is known for a frame that is in the catalogue.
func (k Keeper) expect(ctx context.Context, f catalog.Frame) (limb.Expected, error) {
	v := k.Store.Read(ctx)
	if f.Sitting == 0 {
		return limb.Expected{}, nil
	}
	sitting, err := v.Sitting(f.Sitting)
	if err != nil {
		return limb.Expected{}, err
	}
	known, err := radiusKnown(v, f, sitting.Setup)
	return known.Expected, err
}

// oddScale tells what is odd about the size of a disc that was found in a picture: the
// set-up's known radius is another, or, where none is known, none of its other discs has
// that scale. Something round may cut the disc, or a stop was found for the limb; or the
// picture was scaled. Empty when nothing is odd.
func oddScale(v *store.View, f catalog.Frame, d catalog.Disc, setup catalog.SetupID) (string, error) {
	if setup == 0 || d.Method != catalog.DiscFitted {
		return "", nil
	}
	const told = "the disc's radius, %.1f px, is %.0f %% %s than %s: does something round cut the Sun or stand about it, or was the picture scaled? See the disc before you trust it"
	known, err := radiusKnown(v, f, setup)
	if err != nil {
		return "", err
	}
	if known.RadiusPx > 0 {
		if off := d.Limb.RadiusPx/known.RadiusPx - 1; math.Abs(off) > known.told {
			return fmt.Sprintf(told, d.Limb.RadiusPx, 100*math.Abs(off), compared(off), known.from), nil
		}
		return "", nil
	}
	scale := d.ArcsecPerPx(ephemeris.At(f.Middle(0)).Semidiameter)
	nearest, off := catalog.FrameID(0), math.Inf(1)
	others, err := newestBearings(v, setup)
	if err != nil {
		return "", err
	}
	for _, o := range others {
		if o.Frame.ID == f.ID || o.Disc == nil {
			continue
		}
		other := o.Disc.ArcsecPerPx(ephemeris.At(o.Frame.Middle(0)).Semidiameter)
		if miss := other/scale - 1; math.Abs(miss) < math.Abs(off) {
			nearest, off = o.Frame.ID, miss
		}
	}
	if nearest != 0 && math.Abs(off) > sameScale {
		return fmt.Sprintf(told, d.Limb.RadiusPx, 100*math.Abs(off), compared(off), "that of "+nearest.String()+", the nearest of this set-up’s"), nil
	}
	return "", nil
}

// newestBearings are those of the frames that were last added with a set-up.
func newestBearings(v *store.View, setup catalog.SetupID) ([]catalog.Bearings, error) {
	const most = 50
	frames, err := v.FramesUsing(setup)
	if err != nil {
		return nil, err
	}
	var ids []catalog.FrameID
	for _, f := range frames[max(0, len(frames)-most):] {
		ids = append(ids, f.ID)
	}
	return v.BearingsOf(ids)
}

// compared says how a radius is that is off by a share.
func compared(off float64) string {
	if off < 0 {
		return "smaller"
	}
	return "larger"
}
