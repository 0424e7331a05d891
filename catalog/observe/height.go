package observe

import (
	"context"
	"errors"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// ErrFlat says that a passage is of something that lies on the photosphere.
var ErrFlat = errors.New("it lies on the photosphere, from which heights count")

// PassageHeight finds how high above the photosphere a passage's feature stands, from
// how it moved across the disc (follow.FitHeight), with its rate held near that of its
// kind. Errors: ErrFlat, or a *follow.HeightError where its sightings do not tell.
func (k Keeper) PassageHeight(ctx context.Context, id catalog.PassageID) (follow.HeightFit, error) {
	v := k.Store.Read(ctx)
	p, err := v.Passage(id)
	if err != nil {
		return follow.HeightFit{}, err
	}
	if prior := rotation.PriorOf(p.Kind.String()); p.Kind == catalog.Other || prior.HeightMm == 0 && prior.HeightSigmaMm == 0 {
		return follow.HeightFit{}, ErrFlat
	}
	var readings []follow.HeightReading
	err = v.EachEntry(store.Query{Passage: id}, func(e catalog.Entry) error {
		if r, ok := flatReading(e); ok {
			readings = append(readings, r)
		}
		return nil
	})
	if err != nil {
		return follow.HeightFit{}, err
	}
	return fitHeight(p.Kind, readings)
}

// flatReading is a mark's place as read on the photosphere; false for what has none,
// and for prominences, whose place is the edge's.
func flatReading(e catalog.Entry) (follow.HeightReading, bool) {
	p := e.Position
	if p.Disc == nil || p.Reason != "" || e.Mark.Kind == catalog.Prominence {
		return follow.HeightReading{}, false
	}
	flat := p.Disc.Measured
	flat.Cov = withUnknown(flat)
	return follow.HeightReading{UTC: p.UTC, Face: ephemeris.At(p.UTC), Flat: flat}, true
}

// fitHeight fits the height of something of a kind.
func fitHeight(kind catalog.Kind, readings []follow.HeightReading) (follow.HeightFit, error) {
	prior := rotation.PriorOf(kind.String())
	if len(readings) == 0 {
		return follow.HeightFit{}, &follow.HeightError{Reason: "it was not seen on the disc"}
	}
	return follow.FitHeight(readings, follow.HeightOptions{Rate: &prior})
}

// HeightAtEdge is how high the top of a prominence of a passage was seen to stand.
type HeightAtEdge struct {
	Mark   catalog.MarkID
	Height coords.Layer
}

// HeightsAtEdge lists the heights above the photosphere at which the tops of what
// belongs to a passage were seen beyond the limb. A top is the highest part of a
// cloud, and its foot may lie behind the limb; the height that motion tells is that of
// its body.
func HeightsAtEdge(entries []catalog.Entry) (seen []HeightAtEdge) {
	for _, e := range entries {
		if edge := e.Position.Edge; edge != nil && !edge.WithinLimb && e.Mark.Kind == catalog.Prominence {
			seen = append(seen, HeightAtEdge{e.Mark.ID, coords.Layer{HeightMm: edge.HeightMm, SigmaMm: edge.SigmaMm}})
		}
	}
	return seen
}
