package observe

import (
	"fmt"
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords/ephemeris"
)

// What is taken for another scale (common practice, no source): discs of one set-up
// agree better, whatever the seeing; what is engraved on a telescope is rounded.
const (
	sameScale     = 0.03
	promisedScale = 0.12
)

// oddScale tells what is odd about the scale that a disc found in a picture gives it:
// no earlier disc of the set-up has it, or, for the first one, focal length and pixel
// promise another. Something round may cut the disc, so that the limb is not what was
// found; or the picture was scaled. Empty when nothing is odd.
func oddScale(v *store.View, f catalog.Frame, d catalog.Disc, setup catalog.SetupID) (string, error) {
	if setup == 0 || d.Method != catalog.DiscFitted {
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
	const told = "the disc's radius, %.1f px, is %.0f %% %s than %s: does something round cut the Sun, or was the picture scaled? See the disc before you trust it"
	switch {
	case nearest != 0 && math.Abs(off) > sameScale:
		return fmt.Sprintf(told, d.Limb.RadiusPx, 100*math.Abs(off), compared(off), "that of "+nearest.String()+", the nearest of this set-up’s"), nil
	case nearest != 0:
		return "", nil
	}
	s, err := v.Setup(setup)
	if err != nil {
		return "", err
	}
	i, err := v.Instrument(s.Instrument)
	if err != nil {
		return "", err
	}
	promised, known := catalog.ScaleArcsec(i, s)
	if off = promised/scale - 1; known && math.Abs(off) > promisedScale {
		return fmt.Sprintf(told, d.Limb.RadiusPx, 100*math.Abs(off), compared(off), "focal length and pixel of the set-up promise"), nil
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
