package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/north"
	"limbwatch/coords/rotation"
)

// northAsLast is the north of the nearest oriented frame of the sitting, before or
// after this one, and else the last of the same set-up.
func (s *Server) northAsLast(ctx context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	read := s.keeper.Store.Read(ctx)
	if v.frame.Sitting == 0 {
		return north.Found{}, 0, errors.New("the picture belongs to no sitting, so there is no last time of its set-up")
	}
	sitting, err := read.Sitting(v.frame.Sitting)
	if err != nil {
		return north.Found{}, 0, err
	}
	if found, from, ok, err := s.northOfSitting(ctx, v); ok || err != nil {
		return found, from, err
	}
	last, err := read.NorthBefore(sitting.Setup, v.bearings)
	if isMissing(err) {
		return north.Found{}, 0, errors.New("no earlier picture of this set-up has a north")
	}
	if err != nil {
		return north.Found{}, 0, err
	}
	from, err := read.Bearings(last.Frame)
	if err != nil {
		return north.Found{}, 0, err
	}
	then := view(from)
	if !then.northKnown {
		return north.Found{}, 0, fmt.Errorf("the north of %s cannot be used: %w", last.Frame, then.noNorth)
	}
	found, err := north.AsLastTime(then.North)
	return found, last.Frame, err
}

// northOfSitting is the north of the nearest other frame of the sitting that has one.
func (s *Server) northOfSitting(ctx context.Context, v viewed) (found north.Found, from catalog.FrameID, ok bool, err error) {
	frames, err := s.keeper.Store.Read(ctx).FramesOf(v.frame.Sitting)
	if err != nil {
		return found, 0, false, err
	}
	apart := func(f catalog.Frame) time.Duration { return f.Middle(0).Sub(v.frame.Middle(0)).Abs() }
	slices.SortFunc(frames, func(a, b catalog.Frame) int { return cmp.Compare(apart(a), apart(b)) })
	for _, f := range frames {
		if f.ID == v.frame.ID {
			continue
		}
		b, err := s.keeper.Store.Read(ctx).Bearings(f.ID)
		if err != nil {
			return found, 0, false, err
		}
		if other := view(b); other.northKnown {
			return north.Found{North: other.North, Method: "same sitting", Why: "the camera was not touched between", Parity: b.North.Parity}, f.ID, true, nil
		}
	}
	return found, 0, false, nil
}

// northByFeatures matches marks of the frame with marks of other days that carry the
// same label.
func (s *Server) northByFeatures(ctx context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	const reach = turnedReachDays
	entries, err := s.keeper.Store.Read(ctx).Entries(store.Query{From: v.middle.AddDate(0, 0, -reach), To: v.middle.AddDate(0, 0, reach), References: true})
	if err != nil {
		return north.Found{}, 0, err
	}
	known := map[string]catalog.Entry{}
	for _, e := range entries {
		if e.Mark.Frame != v.frame.ID && e.Mark.Label != "" && e.Position.Disc != nil {
			known[e.Mark.Kind.String()+" "+e.Mark.Label] = e
		}
	}
	var features []north.Feature
	for _, e := range entries {
		g := e.Mark.Geometry
		k, ok := known[e.Mark.Kind.String()+" "+e.Mark.Label]
		if e.Mark.Frame != v.frame.ID || !ok || g.Form() != catalog.FormPixels || g.Shape != catalog.Point {
			continue
		}
		prior := rotation.PriorOf(e.Mark.Kind.String())
		features = append(features, north.Feature{
			Pixel: g.Pixels[0], SigmaPx: g.SigmaClickPx,
			Place: prior.Carry(k.Position.Disc.Measured, rotation.Days(k.Position.UTC, v.middle)),
		})
	}
	if len(features) < 2 {
		return north.Found{}, 0, fmt.Errorf("%d of the picture's points carry the label of a mark of another day, at least 2 are needed", len(features))
	}
	solution, err := north.FromFeatures(v.View, features, north.Either)
	return solution.Found, 0, err
}

// driftWithin is how far apart in time the pictures of one drift lie.
const driftWithin = 10 * time.Minute

// northByDrift takes the pictures of the sitting near this one as a drift; the parity
// is that of the last north of the set-up.
func (s *Server) northByDrift(ctx context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	if v.frame.Sitting == 0 {
		return north.Found{}, 0, errors.New("the picture belongs to no sitting")
	}
	frames, err := s.keeper.Store.Read(ctx).FramesOf(v.frame.Sitting)
	if err != nil {
		return north.Found{}, 0, err
	}
	var run observe.DriftFrames
	for _, f := range frames {
		if f.HasFile() && f.Middle(0).Sub(v.frame.Middle(0)).Abs() <= driftWithin {
			run.Frames = append(run.Frames, f.ID)
		}
	}
	if len(run.Frames) < 2 {
		return north.Found{}, 0, errors.New("a drift needs two pictures or more within ten minutes")
	}
	last, _, err := s.northAsLast(ctx, v)
	if err != nil {
		return north.Found{}, 0, fmt.Errorf("a drift does not tell the parity, and %w", err)
	}
	run.Mirrored = &last.Mirrored
	found, err := s.keeper.SolveDrift(ctx, run)
	return found, 0, err
}

// levelSigma is how level a camera is that is called so (common practice, no source).
const levelSigma = 1 * coords.Degree

// northByLevel takes the picture's up for the zenith.
func (s *Server) northByLevel(_ context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	site := v.bearings.Site
	if site == nil {
		return north.Found{}, 0, errors.New("the sitting has no site")
	}
	found, err := north.FromLevel(v.middle, time.Duration(v.frame.SigmaS*float64(time.Second)),
		north.Site{Lat: coords.Angle(site.LatDeg) * coords.Degree, LonEast: coords.Angle(site.LonDeg) * coords.Degree},
		north.Level{Mirrored: v.North.Mirrored, Sigma: levelSigma})
	return found, 0, err
}
