package observe

import (
	"context"
	"fmt"
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/north"
	"limbwatch/coords/rotation"
)

// The methods of a north found by what was seen on other days; those of one day's
// pictures are named in coords/north.
const (
	MethodPattern  = "pattern of another day"
	MethodForetold = "marks where features are foretold"
)

// leastForetold is how likely a feature must be to live for its mark to be looked for.
const leastForetold = 0.3

// SolveFromMarks finds a frame's north from marks in its pixels of which nobody says
// what they are, and from where followed features are foretold at its time, without
// keeping it: KeepNorth does. No marks named means all of the frame's. The error is a
// *north.MarksIndecisiveError when they do not decide.
func (k Keeper) SolveFromMarks(ctx context.Context, id catalog.FrameID, ids []catalog.MarkID, opts north.MatchOptions) (north.Found, error) {
	v := k.Store.Read(ctx)
	b, err := v.Bearings(id)
	if err != nil {
		return north.Found{}, err
	}
	at := instantOf(b)
	switch {
	case at.err != nil:
		return north.Found{}, at.err
	case b.Disc == nil:
		return north.Found{}, fmt.Errorf("frame %s: %w", id, ErrNoDisc)
	}
	marks, err := unknownMarks(v, b, ids)
	if err != nil {
		return north.Found{}, err
	}
	features, err := foretold(v, at)
	if err != nil {
		return north.Found{}, err
	}
	now := north.Unoriented{Limb: b.Disc.Limb, Layer: b.Disc.Layer, UTC: at.utc, SigmaTime: at.sigma}
	m, err := north.FromMarks(now, marks, features, opts)
	if err != nil {
		return north.Found{}, fmt.Errorf("frame %s by %d marks and %d foretold features: %w", id, len(marks), len(features), err)
	}
	return north.Found{
		// A sum of many parts can end a bit above 1.
		North: m.North, Method: MethodForetold, Parity: min(1, m.ParityOdds),
		Why: fmt.Sprintf("%d of %d marks stand where features are foretold: north at %.2f° ± %.2f°; another roll has a probability of at most %.3f",
			len(m.Pairs), len(marks), m.North.Angle.Wrap180().Degrees(), m.North.Sigma.Degrees(), max(0.001, 1-m.Odds)),
	}, nil
}

// unknownMarks are marks in pixels of a frame by their middles; those that stand at the
// edge say nothing.
func unknownMarks(v *store.View, b catalog.Bearings, ids []catalog.MarkID) (marks []north.UnknownMark, err error) {
	named := map[catalog.MarkID]bool{}
	for _, id := range ids {
		m, err := v.Mark(id)
		if err != nil {
			return nil, err
		}
		if m.Frame != b.Frame.ID || len(m.Geometry.Pixels) == 0 {
			return nil, &store.InvalidError{Err: fmt.Errorf("mark %s is not one in pixels of frame %s", id, b.Frame.ID)}
		}
		named[id] = true
	}
	all, err := v.MarksOn(b.Frame.ID)
	if err != nil {
		return nil, err
	}
	for _, m := range all {
		g := m.Geometry
		if len(g.Pixels) == 0 || m.Kind == catalog.Prominence || m.Kind == catalog.Other || len(ids) > 0 && !named[m.ID] {
			continue
		}
		pixel := meanOf(g.Pixels)
		if g.Shape == catalog.Line {
			pixel = halfway(g.Pixels)
		}
		// What is taken for the middle is not the same each day.
		centre := rotation.PriorOf(m.Kind.String()).CentreSigma(0).Radians() * b.Disc.Limb.RadiusPx
		marks = append(marks, north.UnknownMark{Pixel: pixel, SigmaPx: math.Hypot(g.SigmaClickPx, centre), Sort: m.Kind.String()})
	}
	return marks, nil
}

// halfway is the point of a line at half its length in the picture.
func halfway(line []coords.Pixel) coords.Pixel {
	long := func(i int) float64 { return math.Hypot(line[i+1].X-line[i].X, line[i+1].Y-line[i].Y) }
	left := 0.0
	for i := range len(line) - 1 {
		left += long(i) / 2
	}
	for i := range len(line) - 1 {
		if l := long(i); l >= left && l > 0 {
			part := left / l
			return coords.Pixel{X: line[i].X + part*(line[i+1].X-line[i].X), Y: line[i].Y + part*(line[i+1].Y-line[i].Y)}
		}
		left -= long(i)
	}
	return line[0]
}

// foretold are the features followed up to an instant that should then stand on the
// disc. What is marked at the instant itself does not count: its places may hang on a
// north that is to be found.
func foretold(v *store.View, at moment) (features []north.Foretold, err error) {
	passages, kept, err := passagesSeen(v, at.utc.Add(-remembered), at.utc)
	if err != nil {
		return nil, err
	}
	for i := range passages {
		kind, coming := kept[i].Kind, passages[i].Coming(at.utc)
		if !coming.InView || coming.Alive < leastForetold || kind == catalog.Prominence || kind == catalog.Other {
			continue
		}
		height := rotation.PriorOf(kind.String()).HeightMm
		if h := kept[i].Height; h != nil {
			height = h.HeightMm
		}
		features = append(features, north.Foretold{Place: coming.Place, HeightMm: height, Sort: kind.String()})
	}
	return features, nil
}
