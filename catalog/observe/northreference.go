package observe

import (
	"context"
	"fmt"
	"math"
	"slices"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/north"
)

// SolveReference finds a frame's north from marks with the same label and kind on
// another frame that is oriented, as a picture of the same hour from elsewhere,
// without keeping it. The other frame's own error of north turns all its places
// together, so it is added to the result and not to the features.
func (k Keeper) SolveReference(ctx context.Context, id, reference catalog.FrameID, parity north.Parity) (north.Solution, error) {
	v := k.Store.Read(ctx)
	from, err := v.Bearings(reference)
	if err != nil {
		return north.Solution{}, err
	}
	if from.North == nil {
		return north.Solution{}, fmt.Errorf("frame %s: %w", reference, ErrNoNorth)
	}
	own, exact := from.North.Sigma, *from.North
	exact.Sigma = 0
	from.North = &exact
	theirs, err := v.MarksOn(reference)
	if err != nil {
		return north.Solution{}, err
	}
	here, err := v.MarksOn(id)
	if err != nil {
		return north.Solution{}, err
	}
	places := Derive(from, theirs)
	var known []KnownFeature
	for _, m := range here {
		i := slices.IndexFunc(theirs, func(t catalog.Mark) bool { return t.Label == m.Label && t.Kind == m.Kind })
		if m.Label == "" || i < 0 || places[i].Disc == nil {
			continue
		}
		at := places[i].Disc
		known = append(known, KnownFeature{Mark: m.ID, Place: at.Heliographic, Epoch: places[i].UTC,
			Sigma: sigmaOnSun(coords.Measured{Heliographic: at.Heliographic, Cov: withUnknown(at.Measured)})})
	}
	if len(known) < 2 {
		return north.Solution{}, fmt.Errorf("frames %s and %s share %d labelled marks of one kind on the disc: %w", id, reference, len(known), north.ErrTooFew)
	}
	found, err := k.SolveFeatures(ctx, id, known, parity)
	if err != nil {
		return found, err
	}
	found.Sigma = coords.Angle(math.Hypot(float64(found.Sigma), float64(own)))
	found.Lasting = from.North.Lasting
	found.Method = north.MethodReference
	found.Why = fmt.Sprintf("by marks that frame %s shares, whose own north is known to %.2f°: %s", reference, own.Degrees(), found.Why)
	return found, nil
}

// FeaturesByLabel pairs the marks on a frame with known places by label or alias.
func (k Keeper) FeaturesByLabel(ctx context.Context, id catalog.FrameID, list map[string]KnownFeature) ([]KnownFeature, error) {
	marks, err := k.Store.Read(ctx).MarksOn(id)
	if err != nil {
		return nil, err
	}
	var known []KnownFeature
	for _, m := range marks {
		for _, name := range append([]string{m.Label}, m.Aliases...) {
			if place, ok := list[name]; ok && name != "" {
				place.Mark = m.ID
				known = append(known, place)
				break
			}
		}
	}
	return known, nil
}
