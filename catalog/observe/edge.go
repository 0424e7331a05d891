package observe

import (
	"context"
	"fmt"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// EdgeAnswer is what the check of a prominence at the edge found.
//
//	Mark      the prominence; nil for one that was typed
//	Passages  of the candidates, in their order
type EdgeAnswer struct {
	Mark     *catalog.Entry
	Passages []catalog.Passage
	follow.Edge
}

// What an edge check looks at: filaments that may have gone round half a rotation
// before, or will come round half a rotation after.
const (
	edgeBefore = 34 * 24 * time.Hour
	edgeAfter  = 34 * 24 * time.Hour
)

// EdgeOfMark weighs which filament a marked prominence is.
func (k Keeper) EdgeOfMark(ctx context.Context, id catalog.MarkID) (EdgeAnswer, error) {
	v := k.Store.Read(ctx)
	entries, err := v.Entries(store.Query{Marks: []catalog.MarkID{id}, References: true})
	if err != nil {
		return EdgeAnswer{}, err
	}
	if len(entries) == 0 {
		return EdgeAnswer{}, &store.NotFoundError{Noun: "mark", ID: id.String()}
	}
	e := entries[0]
	edge := e.Position.Edge
	if edge == nil {
		reason := "it lies on the disc"
		if e.Position.Reason != "" {
			reason = e.Position.Reason
		}
		return EdgeAnswer{}, fmt.Errorf("mark %s does not stand at the edge: %s", id, reason)
	}
	limb := e.Mark.Geometry.PolarLimb
	if b, err := v.Bearings(e.Mark.Frame); err != nil {
		return EdgeAnswer{}, err
	} else if b.Disc != nil {
		limb = b.Disc.Layer
	}
	answer, err := k.checkEdge(ctx, follow.AtEdge{
		UTC: e.Position.UTC, PA: edge.PA, SigmaPA: edge.SigmaPA, Width: (edge.To - edge.From).Wrap360(),
		TopMm: max(0, edge.HeightMm), SigmaTopMm: edge.SigmaMm, Limb: limb,
	}, id)
	answer.Mark = &e
	return answer, err
}

// EdgeAt weighs which filament a prominence is that was typed.
func (k Keeper) EdgeAt(ctx context.Context, e follow.AtEdge) (EdgeAnswer, error) {
	return k.checkEdge(ctx, e, 0)
}

// checkEdge weighs a prominence against the passages that stood before the disc at
// some time, without its own mark.
func (k Keeper) checkEdge(ctx context.Context, e follow.AtEdge, without catalog.MarkID) (EdgeAnswer, error) {
	var answer EdgeAnswer
	v := k.Store.Read(ctx)
	from, to := e.UTC.Add(-edgeBefore), e.UTC.Add(edgeAfter)
	var sightings []follow.Sighting
	var entries []catalog.Entry
	onDisc := map[string]bool{}
	err := v.EachEntry(store.Query{From: from, To: to, Kinds: []catalog.Kind{catalog.Filament, catalog.Prominence}}, func(entry catalog.Entry) error {
		s, ok := sightingOf(entry)
		if !ok || entry.Join == nil || entry.Mark.ID == without {
			return nil
		}
		s.ID, s.Pinned = entry.Mark.ID.String(), entry.Join.Passage.String()
		sightings, entries = append(sightings, s), append(entries, entry)
		if entry.Mark.Kind == catalog.Filament {
			onDisc[s.Pinned] = true
		}
		return nil
	})
	if err != nil {
		return answer, err
	}
	var filaments []follow.Sighting
	shapes := newShaper(v)
	for i, s := range sightings {
		if !onDisc[s.Pinned] {
			continue
		}
		if err := shapes.draw(entries[i], &s); err != nil {
			return answer, err
		}
		filaments = append(filaments, s)
	}
	result, err := follow.Follow(filaments, follow.Options{})
	if err != nil {
		return answer, err
	}
	kept := make([]catalog.Passage, len(result.Passages))
	heights := make([]coords.Layer, len(kept))
	for i, p := range result.Passages {
		id, err := catalog.ParsePassageID(p.Sightings[0].Pinned)
		if err != nil {
			return answer, err
		}
		if kept[i], err = v.Passage(id); err != nil {
			return answer, err
		}
		if kept[i].Height != nil {
			heights[i] = *kept[i].Height
		}
	}
	looks, err := filamentLooks(v, from, to)
	if err != nil {
		return answer, err
	}
	answer.Edge, err = follow.CheckEdge(e, result.Passages, follow.EdgeOptions{Heights: heights, Looks: looks, Until: k.Now()})
	for _, c := range answer.Candidates {
		answer.Passages = append(answer.Passages, kept[c.Passage])
	}
	return answer, err
}

// filamentLooks are the times at which the disc was looked over for filaments: the
// own frames that show the surface, of sittings that did not leave them out.
func filamentLooks(v *store.View, from, to time.Time) ([]time.Time, error) {
	frames, err := v.FramesBetween(from, to)
	if err != nil {
		return nil, err
	}
	var looks []time.Time
	skipped := map[catalog.SittingID]bool{}
	for _, f := range frames {
		if f.Reference || f.Role == catalog.RoleLimb {
			continue
		}
		if f.Sitting != 0 {
			if _, known := skipped[f.Sitting]; !known {
				s, err := v.Sitting(f.Sitting)
				if err != nil {
					return nil, err
				}
				skipped[f.Sitting] = len(s.Looked) > 0 && s.Looked[catalog.Filament] == catalog.NotLooked
			}
			if skipped[f.Sitting] {
				continue
			}
		}
		looks = append(looks, f.Taken)
	}
	return looks, nil
}
