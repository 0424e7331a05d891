package observe

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/north"
	"limbwatch/coords/rotation"
)

// KnownFeature is something on a frame whose place on the Sun is known from
// elsewhere: typed, or read from a list.
//
//	Mark     the mark on the frame; or Pixel and its error, when nothing is marked
//	Kind     of the thing, for its rotation; the mark's own when zero
//	Place    as on the photosphere
//	Sigma    standard error of the place, along each direction
//	Epoch    the instant at which it was there: official lists hold for 24h UT
type KnownFeature struct {
	Mark    catalog.MarkID
	Pixel   coords.Pixel
	SigmaPx float64
	Kind    catalog.Kind
	Place   coords.Heliographic
	Sigma   coords.Angle
	Epoch   time.Time
}

// SolveFeatures finds a frame's north from known features, turned by the Sun's
// rotation from their epochs to the frame's time, without keeping it: KeepNorth
// does. Errors are those of north.FromFeatures.
func (k Keeper) SolveFeatures(ctx context.Context, id catalog.FrameID, known []KnownFeature, parity north.Parity) (north.Solution, error) {
	view, features, err := k.knownOn(ctx, id, known)
	if err != nil {
		return north.Solution{}, err
	}
	return north.FromFeatures(view, features, parity)
}

// knownOn carries known features to a frame's instant; its view has no north yet.
func (k Keeper) knownOn(ctx context.Context, id catalog.FrameID, known []KnownFeature) (disc.View, []north.Feature, error) {
	v := k.Store.Read(ctx)
	b, err := v.Bearings(id)
	if err != nil {
		return disc.View{}, nil, err
	}
	at := instantOf(b)
	switch {
	case at.err != nil:
		return disc.View{}, nil, at.err
	case b.Disc == nil:
		return disc.View{}, nil, fmt.Errorf("frame %s: %w", id, ErrNoDisc)
	}
	features := make([]north.Feature, len(known))
	for i, f := range known {
		if features[i], err = at.feature(v, id, f); err != nil {
			return disc.View{}, nil, fmt.Errorf("known feature %d: %w", i+1, err)
		}
	}
	return disc.View{Limb: b.Disc.Limb, Layer: b.Disc.Layer, Face: at.face, SigmaTime: at.sigma}, features, nil
}

// feature carries a known feature to an instant.
func (at moment) feature(v *store.View, frame catalog.FrameID, f KnownFeature) (north.Feature, error) {
	out := north.Feature{Pixel: f.Pixel, SigmaPx: f.SigmaPx}
	if f.Mark != 0 {
		m, err := v.Mark(f.Mark)
		if err != nil {
			return out, err
		}
		if m.Frame != frame || len(m.Geometry.Pixels) == 0 {
			return out, &store.InvalidError{Err: fmt.Errorf("mark %s is not one in pixels of frame %s", f.Mark, frame)}
		}
		out.Pixel, out.SigmaPx = m.Geometry.Pixels[0], m.Geometry.SigmaClickPx
		if m.Geometry.Shape != catalog.Point {
			out.Pixel = meanOf(m.Geometry.Pixels)
		}
		if f.Kind == 0 {
			f.Kind = m.Kind
		}
	}
	if out.SigmaPx == 0 {
		out.SigmaPx = DefaultSigmaClickPx
	}
	if !(f.Sigma > 0) {
		return out, &store.InvalidError{Err: errors.New("its place has no error")}
	}
	prior := rotation.PriorOf(f.Kind.String())
	// What one observer calls the middle of a thing is not what another does.
	sigma := coords.Angle(math.Hypot(float64(f.Sigma), float64(prior.CentreSigma(0))))
	measured := coords.Measured{Heliographic: f.Place, Cov: coords.Covariance{
		BB: sigma.Squared(), LL: (sigma / coords.Angle(max(f.Place.B.Cos(), 0.01))).Squared()}}
	out.Place = prior.Carry(measured, rotation.Days(f.Epoch, at.utc))
	return out, nil
}

// SolveFromFrame finds a frame's north by the pattern of another frame that has
// one, of an earlier day or from elsewhere, without keeping it. The error is a
// *north.IndecisiveError when the pattern does not decide.
func (k Keeper) SolveFromFrame(ctx context.Context, id, from catalog.FrameID, opts north.MatchOptions) (north.Found, north.Match, error) {
	if id == from {
		return north.Found{}, north.Match{}, &store.InvalidError{Err: fmt.Errorf("frame %s cannot tell its own north: it takes a frame of another time", id)}
	}
	now, nowBearings, err := k.unoriented(ctx, id)
	if err != nil {
		return north.Found{}, north.Match{}, err
	}
	old, err := k.oriented(ctx, from)
	if err != nil {
		return north.Found{}, north.Match{}, err
	}
	m, err := north.FromPicture(old, now, opts)
	if err != nil {
		return north.Found{}, m, fmt.Errorf("frame %s by %s: %w", nowBearings.Frame.ID, from, err)
	}
	when := "before"
	if m.Days < 0 {
		when = "after"
	}
	return north.Found{
		North: m.North, Method: MethodPattern, Parity: m.ParityOdds, Lasting: m.Lasting,
		Why: fmt.Sprintf("by the pattern of frame %s, %.2f days %s: north at %.2f° ± %.2f°, correlation %.2f (next best roll %.2f, other parity %.2f)",
			from, math.Abs(m.Days), when, m.North.Angle.Wrap180().Degrees(), m.North.Sigma.Degrees(), m.Correlation, m.Rival, m.Mirror),
	}, m, nil
}

func (k Keeper) unoriented(ctx context.Context, id catalog.FrameID) (north.Unoriented, catalog.Bearings, error) {
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return north.Unoriented{}, b, err
	}
	at := instantOf(b)
	if at.err != nil {
		return north.Unoriented{}, b, at.err
	}
	if b.Disc == nil {
		return north.Unoriented{}, b, fmt.Errorf("frame %s: %w", id, ErrNoDisc)
	}
	pic, _, err := openFrame(b.Frame)
	return north.Unoriented{Picture: pic, Limb: b.Disc.Limb, Layer: b.Disc.Layer, UTC: at.utc, SigmaTime: at.sigma}, b, err
}

func (k Keeper) oriented(ctx context.Context, id catalog.FrameID) (north.Oriented, error) {
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return north.Oriented{}, err
	}
	view, err := ViewOf(b)
	if err != nil {
		return north.Oriented{}, fmt.Errorf("frame %s: %w", id, err)
	}
	pic, _, err := openFrame(b.Frame)
	return north.Oriented{Picture: pic, View: view, UTC: instantOf(b).utc, Lasting: b.North.Lasting}, err
}
