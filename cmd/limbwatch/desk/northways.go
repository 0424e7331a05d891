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
	"limbwatch/coords"
	"limbwatch/coords/north"
)

// northAsLast is the north of the nearest oriented frame of the sitting, and else the
// last of the same set-up, as "north set --last" takes it.
func (s *Server) northAsLast(ctx context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	found, from, err := s.keeper.LastNorth(ctx, v.frame.ID)
	if isMissing(err) {
		return found, 0, errors.New("no earlier picture of this set-up has a north")
	}
	return found, from, err
}

// patternDays is how far apart two pictures may lie to be compared: after that the
// pattern is another.
const patternDays = 4

// northByPattern compares the disc with that of the nearest oriented picture. It
// takes some seconds, so it is not tried before somebody asks for it.
func (s *Server) northByPattern(ctx context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	from, err := s.patternFrame(ctx, v)
	if err != nil {
		return north.Found{}, 0, err
	}
	found, _, err := s.keeper.SolveFromFrame(ctx, v.frame.ID, from, north.MatchOptions{})
	return found, from, err
}

// patternFrame is the picture to compare with.
func (s *Server) patternFrame(ctx context.Context, v viewed) (catalog.FrameID, error) {
	frames, err := s.oriented(ctx, v, patternDays)
	if err != nil {
		return 0, err
	}
	for _, f := range frames {
		if f.HasFile() && f.Role != catalog.RoleLimb {
			return f.ID, nil
		}
	}
	return 0, fmt.Errorf("no picture within %d days has a north to compare with", patternDays)
}

// northByFeatures matches marks of the frame with marks of another that carry the
// same labels.
func (s *Server) northByFeatures(ctx context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	frames, err := s.oriented(ctx, v, turnedReachDays)
	if err != nil {
		return north.Found{}, 0, err
	}
	why := errors.New("no other picture has a north and marks with the same labels")
	for _, f := range frames {
		solution, err := s.keeper.SolveReference(ctx, v.frame.ID, f.ID, north.Either)
		if err == nil {
			return solution.Found, f.ID, nil
		}
		if !errors.Is(err, north.ErrTooFew) {
			why = err
		}
	}
	return north.Found{}, 0, why
}

// oriented lists the other frames with a north within some days, nearest first.
func (s *Server) oriented(ctx context.Context, v viewed, days int) ([]catalog.Frame, error) {
	near, err := s.keeper.Store.Read(ctx).BearingsBetween(v.middle.AddDate(0, 0, -days), v.middle.AddDate(0, 0, days))
	if err != nil {
		return nil, err
	}
	apart := func(b catalog.Bearings) time.Duration { return b.Frame.Middle(b.ClockCorrectionS).Sub(v.middle).Abs() }
	slices.SortStableFunc(near, func(a, b catalog.Bearings) int { return cmp.Compare(apart(a), apart(b)) })
	var out []catalog.Frame
	for _, b := range near {
		if b.North != nil && b.Frame.ID != v.frame.ID {
			out = append(out, b.Frame)
		}
	}
	return out, nil
}

// driftWithin is how far apart in time the pictures of one drift lie.
const driftWithin = 10 * time.Minute

// northByDrift takes the pictures of the sitting near this one as a drift; the parity
// is that of the last north of the set-up.
func (s *Server) northByDrift(ctx context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	frames, err := s.driftFrames(ctx, v)
	if err != nil {
		return north.Found{}, 0, err
	}
	run := observe.DriftFrames{Frames: frames}
	last, _, err := s.northAsLast(ctx, v)
	if err != nil {
		return north.Found{}, 0, fmt.Errorf("a drift does not tell the parity, and %w", err)
	}
	run.Mirrored = &last.Mirrored
	found, err := s.keeper.SolveDrift(ctx, run)
	return found, 0, err
}

// driftFrames are the pictures of a sitting that may be a drift with one.
func (s *Server) driftFrames(ctx context.Context, v viewed) (run []catalog.FrameID, err error) {
	if v.frame.Sitting == 0 {
		return nil, errors.New("the picture belongs to no sitting")
	}
	frames, err := s.keeper.Store.Read(ctx).FramesOf(v.frame.Sitting)
	if err != nil {
		return nil, err
	}
	for _, f := range frames {
		if f.HasFile() && f.Middle(0).Sub(v.frame.Middle(0)).Abs() <= driftWithin {
			run = append(run, f.ID)
		}
	}
	if len(run) < 2 {
		return nil, errors.New("a drift needs two pictures or more within ten minutes")
	}
	return run, nil
}

// driftLine are they when they are one: a drift tells a line, if not the parity.
func (s *Server) driftLine(ctx context.Context, v viewed) []catalog.FrameID {
	run, err := s.driftFrames(ctx, v)
	if err != nil {
		return nil
	}
	_, err = s.keeper.SolveDrift(ctx, observe.DriftFrames{Frames: run})
	if _, line := errors.AsType[*observe.ParityNeededError](err); err != nil && !line {
		return nil
	}
	return run
}

// turnedSigma is how well a picture is turned that is called turned to the Sun's north
// (common practice, no source; as "north set --solar-north" takes it).
const turnedSigma = 0.5 * coords.Degree

// northBySun takes the picture's up for the Sun's own north.
func (s *Server) northBySun(_ context.Context, v viewed) (north.Found, catalog.FrameID, error) {
	found, err := north.FromSolar(coords.North{Mirrored: v.North.Mirrored, Sigma: turnedSigma}, v.Face.P)
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
