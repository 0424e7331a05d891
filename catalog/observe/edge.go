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
//	Mark        the prominence; nil for one that was typed
//	Candidates  which filaments it may be, likeliest first: those of Edge
//	Top         height of the prominence's top above the photosphere, as if it stood just
//	            at the limb; nil: not measured
//	Err         why the mark cannot be weighed, when it is one of several: a
//	            *NotAtEdgeError, or a *store.NotFoundError; the rest is then empty
type EdgeAnswer struct {
	Mark       *catalog.Entry
	Candidates []EdgeCandidate
	Top        *coords.Layer
	Err        error
	follow.Edge
}

// EdgeCandidate is a filament that a prominence may be.
//
//	Passage  its passage
//	Height   above the photosphere, as its motion across the disc tells
//	         (follow.FitHeight); nil where it does not
type EdgeCandidate struct {
	Passage catalog.Passage
	Height  *coords.Layer
	follow.EdgeCandidate
}

// NotAtEdgeError says that a mark is no prominence at the edge.
type NotAtEdgeError struct {
	Mark   catalog.MarkID
	Kind   catalog.Kind
	Reason string
}

func (e *NotAtEdgeError) Error() string {
	return fmt.Sprintf("mark %s does not stand at the edge: %s", e.Mark, e.Reason)
}

// EdgeOfMark weighs which filament a marked prominence is.
func (k Keeper) EdgeOfMark(ctx context.Context, id catalog.MarkID) (EdgeAnswer, error) {
	answers, err := k.EdgeOfMarks(ctx, []catalog.MarkID{id})
	if err != nil {
		return EdgeAnswer{}, err
	}
	return answers[0], answers[0].Err
}

// EdgeOfMarks weighs which filament each of many marked prominences is: the answers
// that EdgeOfMark gives, in the order of ids, but with the catalogue read once for
// all that lie near one another in time. A mark that cannot be weighed has Err; the
// error beside the answers is for all of them.
func (k Keeper) EdgeOfMarks(ctx context.Context, ids []catalog.MarkID) ([]EdgeAnswer, error) {
	answers := make([]EdgeAnswer, len(ids))
	err := k.Store.View(ctx, func(v *store.View) error {
		entries, err := entriesOf(v, ids)
		if err != nil {
			return err
		}
		limbs := newBearingsReader(v)
		var checks []*edgeCheck
		for i, id := range ids {
			e, ok := entries[id]
			if !ok {
				answers[i].Err = &store.NotFoundError{Noun: "mark", ID: id.String()}
				continue
			}
			answers[i].Mark = &e
			at, err := edgeOfEntry(limbs, e)
			if err != nil {
				answers[i].Err = err
				continue
			}
			checks = append(checks, &edgeCheck{AtEdge: at, without: id, answer: &answers[i]})
		}
		return k.checkEdges(ctx, v, checks)
	})
	return answers, err
}

// EdgeAt weighs which filament a prominence is that was typed.
func (k Keeper) EdgeAt(ctx context.Context, e follow.AtEdge) (EdgeAnswer, error) {
	var answer EdgeAnswer
	err := k.Store.View(ctx, func(v *store.View) error {
		return k.checkEdges(ctx, v, []*edgeCheck{{AtEdge: e, answer: &answer}})
	})
	if err != nil {
		return EdgeAnswer{}, err
	}
	return answer, answer.Err
}

// entriesOf reads marks, those on reference frames too.
func entriesOf(v *store.View, ids []catalog.MarkID) (map[catalog.MarkID]catalog.Entry, error) {
	const chunk = 500 // names in one query
	found := make(map[catalog.MarkID]catalog.Entry, len(ids))
	for len(ids) > 0 {
		n := min(chunk, len(ids))
		err := v.EachEntry(store.Query{Marks: ids[:n], References: true}, func(e catalog.Entry) error {
			found[e.Mark.ID] = e
			return nil
		})
		if err != nil {
			return nil, err
		}
		ids = ids[n:]
	}
	return found, nil
}

// edgeOfEntry is a mark as a prominence at the edge.
func edgeOfEntry(limbs *bearingsReader, e catalog.Entry) (follow.AtEdge, error) {
	refuse := func(reason string) (follow.AtEdge, error) {
		return follow.AtEdge{}, &NotAtEdgeError{Mark: e.Mark.ID, Kind: e.Mark.Kind, Reason: reason}
	}
	edge := e.Position.Edge
	switch {
	case e.Mark.Kind != catalog.Prominence && e.Mark.Kind != catalog.Other:
		return refuse(fmt.Sprintf("it is marked as a %s, not as a prominence", e.Mark.Kind))
	case e.Position.Reason != "":
		return refuse(e.Position.Reason)
	case edge == nil:
		return refuse("it lies on the disc")
	}
	limb := e.Mark.Geometry.PolarLimb
	b, err := limbs.of(e.Mark.Frame)
	if err != nil {
		return follow.AtEdge{}, err
	}
	if b.Disc != nil {
		limb = b.Disc.Layer
	}
	return follow.AtEdge{
		UTC: e.Position.UTC, PA: edge.PA, SigmaPA: edge.SigmaPA, Width: (edge.To - edge.From).Wrap360(),
		TopMm: max(0, edge.HeightMm), SigmaTopMm: edge.SigmaMm, Limb: limb,
	}, nil
}

// edgeCheck is a prominence that is to be weighed against the passages that stood
// before the disc at some time, without its own mark.
type edgeCheck struct {
	follow.AtEdge
	without catalog.MarkID // 0: it was typed
	answer  *EdgeAnswer
}

// What an edge check looks at: filaments that may have gone round half a rotation
// before, or will come round half a rotation after. Whole days, so that all
// prominences of one day are weighed against the same passages.
const (
	edgeBefore = 34 * 24 * time.Hour
	edgeAfter  = 34 * 24 * time.Hour
)

func (c *edgeCheck) window() (from, to time.Time) {
	const day = 24 * time.Hour
	return c.UTC.Add(-edgeBefore).Truncate(day), c.UTC.Add(edgeAfter).Truncate(day).Add(day)
}

// weigh gives a check its answer.
func (c *edgeCheck) weigh(s edgeSurroundings, now time.Time) {
	heights := make([]coords.Layer, len(s.heights))
	for i, h := range s.heights {
		heights[i] = h.weighed
	}
	edge, err := follow.CheckEdge(c.AtEdge, s.passages, follow.EdgeOptions{Heights: heights, Returns: s.returns, Looks: s.looks, Until: now})
	c.answer.Edge, c.answer.Err = edge, err
	if c.TopMm > 0 {
		c.answer.Top = &coords.Layer{HeightMm: c.TopMm, SigmaMm: c.SigmaTopMm}
	}
	for _, candidate := range edge.Candidates {
		c.answer.Candidates = append(c.answer.Candidates, EdgeCandidate{
			s.kept[candidate.Passage], s.heights[candidate.Passage].told, candidate})
	}
}
