package north

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// TurningFrame is one of several pictures, none of which has its north.
//
//	Parity      when something is known of it
//	ParityOdds  probability that Parity is right; 0 where it is certain
//	SetUp       frames of one set-up have one parity; 0 is no set-up, whose parity is free
//	Held        when the camera was not touched between this frame and others
//	Drift       the line of a drift that was taken as this frame was; nil when there is none
//	Said        celestial north, when it is known otherwise, with its error; nil when not
//	Known       marks whose places on the Sun are known
//	Sides       marks of which the hemisphere is known
//	Marks       marks of which nobody knows what they are, to be held against Listed
//	Listed      places of features at the time of the picture, no one knows of which marks
type TurningFrame struct {
	Unoriented
	Parity     Parity
	ParityOdds float64
	SetUp      int
	Held       Held
	Drift      *DriftLine
	Said       *coords.North
	Known      []Feature
	Sides      []SidedMark
	Marks      []UnknownMark
	Listed     []Foretold
}

// TurningOptions steer FromTurning. The zero value is right for most pictures.
//
//	Law        how the pattern turns; zero: as in MatchOptions
//	Same       features that were marked on several frames
//	Progress   is called with the number of pairs done and of all; may be nil
type TurningOptions struct {
	Law      rotation.Law
	Same     []SameFeature
	Progress func(done, all int)
}

// UntouchedSigma is how far celestial north wanders on a polar-aligned mount whose
// camera stays, UprightSigma how far the zenith does on an alt-azimuth one, whose foot is
// a degree askew (both common practice, no source).
const (
	UntouchedSigma = 0.3 * coords.Degree
	UprightSigma   = 1.5 * coords.Degree
)

// Turning is the axis on which the Sun turned between several pictures.
//
// Features move along parallels, in a known sense and at a known rate; so pictures of
// different days show where the axis lies in each. North and south exchanged, each
// picture's east and west kept, is a twin that shows nearly the same motions: with B0
// of 0 just the same. Hence there are two answers, unless they can be told apart.
//
//	Decided  the first answer stands alone: its odds are at least TurningOdds
//	Answers  the more probable first; one where Decided
//	Clues    what speaks for the first answer, or against it
//	Pairs    what each pair of frames gave
//	Apart    frames that no pair joins to the others, by index
//	Hours    frames whose time stands out against the others'
type Turning struct {
	Decided bool
	Answers []TurningAnswer
	Clues   []TurningClue
	Pairs   []TurningPair
	Apart   []int
	Hours   []OddHour
}

// TurningAnswer is one of the twins: celestial north in each frame, in the order in
// which they were given, nil where a frame is Apart.
type TurningAnswer struct {
	Odds   float64
	Norths []*coords.North
}

// TurningPair is what two frames gave.
//
//	Old, Now     the frames, by index
//	Correlation  of the patterns at the best pose, Twin at its twin, Rival at any other
//	Noise        rms correlation at all others
//	Features     number of independent pieces of pattern that the axis rests upon
//	ByMarks      the pattern did not tell, the features marked on both did
//	Refused      why it was not used; empty when it was
type TurningPair struct {
	Old, Now                        int
	Days                            float64
	Correlation, Twin, Rival, Noise float64
	Features                        float64
	ByMarks                         bool
	Refused                         string
}

// OddHour is a frame whose time does not fit the others': its pattern stands where it
// would have stood by Off later (or earlier, when negative).
type OddHour struct {
	Frame      int
	Off, Sigma time.Duration
}

// TurningOdds is the probability from which one of the twins stands alone.
const TurningOdds = 0.995

// What the pairs must show. Between a quarter of a day and a day features move too
// little for a good axis, but enough for one. Of pairs four days apart one in ten gave an
// axis, on painted pictures, and half of these missed it by more than two errors.
const (
	shortestTurn  = 0.2 // days
	longestTurn   = 3.5 // days
	turnAboveHiss = 5.5 // the best correlation, in units of the noise
	turnRival     = 0.7 // the rival's correlation, in parts of the best one
	mostPairs     = 12  // of many frames
	widestAxis    = 6 * coords.Degree
	apartSigmas   = 5.0 // how far a pair's pose may lie from the others'
)

// TurningIndecisiveError says why no axis is given. Turning holds what was found.
type TurningIndecisiveError struct {
	Reason  string
	Turning Turning
}

func (e *TurningIndecisiveError) Error() string {
	return "north from the Sun's turning refused: " + e.Reason
}

// FromTurning finds north in pictures of different days, none of them oriented, by
// the motion of what they show. Only the differences of their times are tested: an
// hour that is wrong in all of them moves nothing.
//
// Proper motions set a floor to the error, motion / turn / root of the number of
// features, which more days do not lower where the motion lasts.
//
// The error is a *TurningIndecisiveError when the patterns do not decide the axis.
func FromTurning(ctx context.Context, frames []TurningFrame, opts TurningOptions) (Turning, error) {
	if err := validateTurning(frames); err != nil {
		return Turning{}, err
	}
	t, err := newTurn(ctx, frames, opts)
	if err != nil {
		return Turning{}, err
	}
	return t.answer(ctx)
}

func validateTurning(frames []TurningFrame) error {
	if len(frames) < 2 {
		return fmt.Errorf("north from the Sun's turning needs two pictures or more, given %d", len(frames))
	}
	for i, f := range frames {
		name := fmt.Sprintf("picture %d", i+1)
		switch {
		case f.Picture == nil || len(f.Picture.Grey) == 0:
			return fmt.Errorf("%s is empty", name)
		case !(f.Limb.RadiusPx >= 40):
			return fmt.Errorf("%s has a disc of radius %.1f px, at least 40 are needed", name, f.Limb.RadiusPx)
		case f.UTC.IsZero():
			return fmt.Errorf("%s has no time", name)
		}
	}
	return nil
}

// turn is the work of FromTurning.
type turn struct {
	frames []TurningFrame
	opts   TurningOptions
	law    rotation.Law
	ready  []*turningFrame
	pairs  []*turnedPair
}

// turnedPair is a pair with its two fits: the best pose's and its twin's.
type turnedPair struct {
	TurningPair
	fits [2]turningFit
	errs [2]error
}

func newTurn(ctx context.Context, frames []TurningFrame, opts TurningOptions) (*turn, error) {
	t := &turn{frames: frames, opts: opts, law: MatchOptions{Law: opts.Law}.law(), ready: make([]*turningFrame, len(frames))}
	t.choosePairs()
	if len(t.pairs) == 0 {
		return nil, &TurningIndecisiveError{Reason: fmt.Sprintf("no two of the pictures are between %.0f hours and %.1f days apart", shortestTurn*24, longestTurn)}
	}
	var group errgroup.Group
	group.SetLimit(2)
	for i := range frames {
		group.Go(func() error {
			if ctx.Err() == nil {
				t.ready[i] = newTurningFrame(frames[i].Unoriented)
			}
			return ctx.Err()
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	for i, p := range t.pairs {
		if err := t.look(ctx, p); err != nil {
			return nil, err
		}
		if opts.Progress != nil {
			opts.Progress(i+1, len(t.pairs))
		}
	}
	return t, nil
}

// choosePairs takes the pairs within reach, those about a day and a half apart first.
func (t *turn) choosePairs() {
	for i := range t.frames {
		for j := range t.frames {
			days := rotation.Days(t.frames[i].UTC, t.frames[j].UTC)
			if days < shortestTurn || days > longestTurn {
				continue
			}
			t.pairs = append(t.pairs, &turnedPair{TurningPair: TurningPair{Old: i, Now: j, Days: days}})
		}
	}
	slices.SortStableFunc(t.pairs, func(a, b *turnedPair) int {
		x, y := math.Abs(math.Log(a.Days/1.5)), math.Abs(math.Log(b.Days/1.5))
		switch {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	t.pairs = t.pairs[:min(len(t.pairs), mostPairs)]
}

// look finds the poses of a pair.
func (t *turn) look(ctx context.Context, p *turnedPair) error {
	old, now := t.frames[p.Old], t.frames[p.Now]
	s, err := scanPair(ctx, t.ready[p.Old], t.ready[p.Now], t.law)
	if err != nil {
		return err
	}
	allowed := func(at pose) bool {
		return old.SetUp == 0 || old.SetUp != now.SetUp || at.oldMirrored == at.nowMirrored
	}
	marks := t.marksOf(p)
	starts := [2]pose{}
	starts[0], starts[1], p.Refused = p.fromPattern(s.peaks(allowed))
	if p.Refused != "" && len(marks) > 0 {
		best, err := scanMarks(t.ready[p.Old], t.ready[p.Now], marks, s, t.law, allowed)
		if err != nil {
			p.Refused += "; " + err.Error()
		} else {
			starts, p.Refused, p.ByMarks = [2]pose{best, best.twin()}, "", true
		}
	}
	if p.Refused != "" {
		return nil
	}
	var group errgroup.Group
	for k, start := range starts {
		group.Go(func() error {
			f := pairFit{old: t.ready[p.Old], now: t.ready[p.Now], law: t.law, marks: marks, marksAlone: p.ByMarks}
			p.fits[k], p.errs[k] = f.fit(start)
			return nil
		})
	}
	_ = group.Wait()
	if p.errs[0] != nil {
		p.Refused = p.errs[0].Error()
		return nil
	}
	p.Features = p.fits[0].features
	if sigma := coords.Angle(math.Sqrt(p.fits[0].cov.xx)); sigma > widestAxis {
		p.Refused = fmt.Sprintf("the axis is uncertain by %.0f°: too short a time, or too few features", sigma.Degrees())
	}
	return ctx.Err()
}

// fromPattern is where the pattern has the pair lie, with the twin, or why it does not tell.
func (p *turnedPair) fromPattern(found peaks) (best, twin pose, refused string) {
	p.Correlation, p.Twin, p.Rival, p.Noise = found.correlation, found.twinValue, found.rival, found.noise
	best, twin = found.best, found.twin
	switch {
	case !(found.correlation > turnAboveHiss*found.noise):
		refused = fmt.Sprintf("no axis stands out: the best correlates by %.2f, chance gives %.2f", found.correlation, found.noise)
	case found.rival > turnRival*found.correlation:
		refused = fmt.Sprintf("another axis fits nearly as well: correlation %.2f against %.2f", found.rival, found.correlation)
	case found.twinValue < 0:
		twin = best.twin()
	}
	return best, twin, refused
}
