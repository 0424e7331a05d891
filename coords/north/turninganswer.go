package north

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/mat"

	"limbwatch/coords"
)

// twins are the two ways in which all pairs can lie together.
type twins [2]turnedTogether

// turnedTogether is one of them: which frames are mirrored, where solar north points in each,
// with the covariance of these directions, and how probable the whole is.
type turnedTogether struct {
	mirrored []bool
	solar    []coords.Angle
	known    []bool
	cov      *mat.SymDense
	evidence float64      // of the pairs that the twin uses, too
	pattern  float64      // of the same pairs alone, all else left out
	joint    saidByPairs  // evidence of each pair used
	alone    saidByPairs  // the same when all else is left out
	misfit   float64      // of all, in squared errors
	held     float64      // of the claim that the camera was not touched
	touched  float64      // by how much that claim makes the whole fit worse
	spread   coords.Angle // of what should stay put, before that claim
	pinned   []pinnedMiss
	used     []*turnedPair
}

// saidByPairs is the evidence of each pair.
type saidByPairs map[*turnedPair]float64

// twins are all frames under both of the root's fits. What they weigh is over the same
// pairs: one that fits nowhere under one of them, or is left out there, says nothing.
//
// A lasting motion enters all pairs of its feature: they are worth as many independent
// ones as values whose correlation is lastingPart.
func (t *turn) twins(root *turnedPair) (both twins) {
	for k := range both {
		both[k] = t.together(root, k)
	}
	var shared []*turnedPair
	for _, p := range t.pairs {
		if both[0].uses(p) && both[1].uses(p) {
			shared = append(shared, p)
		}
	}
	worth := 1 / (1 + lastingPart*float64(max(0, len(shared)-1)))
	for k := range both {
		for _, p := range shared {
			both[k].evidence += worth * both[k].joint[p]
			both[k].pattern += worth * both[k].alone[p]
		}
	}
	return both
}

// uses says that a pair has a say, with all else that is known and without.
func (u *turnedTogether) uses(p *turnedPair) bool {
	_, joint := u.joint[p]
	_, alone := u.alone[p]
	return joint && alone
}

// pinnedMiss is by how much an answer misses a north that is known otherwise, squared and
// in standard errors.
type pinnedMiss struct {
	pin
	chi2    float64
	byPairs coords.Angle // where the pairs by themselves have it
}

// answer joins the pairs.
func (t *turn) answer(ctx context.Context) (Turning, error) {
	out, best, err := t.joined()
	if best == nil {
		return out, err
	}
	odd := t.oddHour(ctx, best)
	if odd == nil {
		return out, err
	}
	// What was taken at another hour than it says has no say about the others.
	for _, p := range t.pairs {
		if (p.Old == odd.Frame || p.Now == odd.Frame) && p.Refused == "" {
			p.Refused = fmt.Sprintf("the time of picture %d does not fit the others'", odd.Frame+1)
		}
	}
	out, _, err = t.joined()
	out.Hours = []OddHour{*odd}
	if refused, ok := errors.AsType[*TurningIndecisiveError](err); ok {
		refused.Turning.Hours = out.Hours
	}
	return out, err
}

// joined joins the pairs, and gives the better of the twins as they lie.
func (t *turn) joined() (Turning, *turnedTogether, error) {
	out := Turning{}
	for _, p := range t.pairs {
		out.Pairs = append(out.Pairs, p.TurningPair)
	}
	root := t.strongest()
	if root == nil {
		return out, nil, &TurningIndecisiveError{t.whyNone(), out}
	}
	both := t.twins(root)
	for i, known := range both[0].known {
		if !known {
			out.Apart = append(out.Apart, i)
		}
	}
	odds, clues := t.odds(both)
	order := []int{0, 1}
	if odds[1] > odds[0] {
		order = []int{1, 0}
		for k := range clues {
			clues[k].Odds = 1 - clues[k].Odds
		}
	}
	out.Clues = clues
	best := both[order[0]]
	if held := t.mostHeld(); held > 1 && best.touched > touchedChi2+touchedMore*float64(held-2) {
		return out, &best, &TurningIndecisiveError{fmt.Sprintf("the camera was touched between the pictures: what should stay put differs by %.1f° in them", best.spread.Degrees()), out}
	}
	for _, k := range order {
		for _, p := range both[k].pinned {
			// A north that somebody set is of one parity, and so stands in one answer alone; a
			// drift line is in both.
			if p.chi2 > touchedChi2 && (k == order[0] || p.by == BySaid) {
				return out, &best, &TurningIndecisiveError{fmt.Sprintf("%s in picture %d does not go with how the Sun turned: north at %.1f° against %.1f°",
					p.by, p.frame+1, p.north.Angle.Degrees(), p.byPairs.Degrees()), out}
			}
		}
	}
	for _, k := range order {
		if odds[k] > 0 {
			out.Answers = append(out.Answers, TurningAnswer{Odds: odds[k], Norths: t.norths(both[k])})
		}
	}
	if len(out.Answers) == 0 {
		return out, &best, &TurningIndecisiveError{"the parities that are known contradict each other", out}
	}
	out.Decided = out.Answers[0].Odds >= TurningOdds
	if out.Decided {
		out.Answers = out.Answers[:1]
	}
	return out, &best, nil
}

// strongest is the pair that the others are joined to.
func (t *turn) strongest() *turnedPair {
	var best *turnedPair
	for _, p := range t.pairs {
		if p.Refused == "" && (best == nil || p.fits[0].cov.xx < best.fits[0].cov.xx) {
			best = p
		}
	}
	return best
}

// whyNone is the reason of the pair that came nearest.
func (t *turn) whyNone() string {
	best := t.pairs[0]
	for _, p := range t.pairs {
		if p.Correlation > best.Correlation {
			best = p
		}
	}
	return fmt.Sprintf("pictures %d and %d: %s", best.Old+1, best.Now+1, best.Refused)
}

// under is the fit of a pair that agrees with the parities so far, or nil.
func (p *turnedPair) under(mirrored []bool, known []bool) *turningFit {
	for k := range p.fits {
		at := p.fits[k].pose
		if p.errs[k] == nil && (!known[p.Old] || at.oldMirrored == mirrored[p.Old]) && (!known[p.Now] || at.nowMirrored == mirrored[p.Now]) {
			return &p.fits[k]
		}
	}
	return nil
}

// together joins all frames under one of the root's two fits.
func (t *turn) together(root *turnedPair, twin int) turnedTogether {
	n := len(t.frames)
	u := turnedTogether{mirrored: make([]bool, n), solar: make([]coords.Angle, n), known: make([]bool, n)}
	if root.errs[twin] != nil {
		// The twin's pattern fits nowhere; it stands where geometry has it, with no evidence.
		u.begin(root, root.fits[0].pose.twin())
	} else {
		u.begin(root, root.fits[twin].pose)
	}
	for joined := true; joined; {
		joined = false
		for _, p := range t.pairs {
			if p.Refused != "" || u.known[p.Old] == u.known[p.Now] {
				continue
			}
			if fit := p.under(u.mirrored, u.known); fit != nil {
				u.begin(p, fit.pose)
				joined = true
			}
		}
	}
	u.spread = t.spread(&u)
	alone := u
	alone.solar = slices.Clone(u.solar)
	t.solve(&alone, true)
	t.solve(&u, false)
	u.alone = alone.joint
	u.touched = u.misfit - alone.misfit
	// Held against what the pairs say by themselves: a sure north pulls the joint fit to it.
	byPairs := t.norths(alone)
	for i, p := range u.pinned {
		if n := byPairs[p.frame]; n != nil {
			off := float64((p.north.Angle - n.Angle).Wrap180())
			u.pinned[i].byPairs = n.Angle
			u.pinned[i].chi2 = off * off / (p.north.Sigma.Squared() + n.Sigma.Squared())
		}
	}
	return u
}

// touchedChi2 is the misfit from which the camera is not believed to have been untouched
// between two pictures; each further one is allowed touchedMore.
const (
	touchedChi2 = 12.0
	touchedMore = 3.0
)

// mostHeld is how many pictures are said to be of one untouched camera.
func (t *turn) mostHeld() (most int) {
	for _, g := range t.groups() {
		most = max(most, len(g))
	}
	return most
}

// spread is by how much that differs in the frames which should stay put.
func (t *turn) spread(u *turnedTogether) (most coords.Angle) {
	for _, group := range t.groups() {
		first := -1
		for _, i := range group {
			switch {
			case !u.known[i]:
			case first < 0:
				first = i
			default:
				most = max(most, (t.stays(u, i) - t.stays(u, first)).Wrap180().Abs())
			}
		}
	}
	return most
}

func (u *turnedTogether) begin(p *turnedPair, at pose) {
	for _, f := range []struct {
		frame    int
		solar    coords.Angle
		mirrored bool
	}{{p.Old, at.old, at.oldMirrored}, {p.Now, at.now, at.nowMirrored}} {
		if !u.known[f.frame] {
			u.known[f.frame], u.solar[f.frame], u.mirrored[f.frame] = true, f.solar, f.mirrored
		}
	}
}

// hand is the sense in which position angles grow in a frame, +1 counter-clockwise.
func (u *turnedTogether) hand(i int) float64 {
	if u.mirrored[i] {
		return -1
	}
	return 1
}

// solve finds the directions that fit all pairs best, by least squares, alone or with all
// else that is known. A pair that contradicts the others is left out, the worst first.
func (t *turn) solve(u *turnedTogether, alone bool) {
	for _, p := range t.pairs {
		if p.Refused == "" && u.known[p.Old] && u.known[p.Now] && p.under(u.mirrored, u.known) != nil {
			u.used = append(u.used, p)
		}
	}
	for {
		worst, at := t.adjust(u, alone)
		if worst <= apartSigmas*apartSigmas || len(u.used) < 3 {
			return
		}
		u.used = append(u.used[:at:at], u.used[at+1:]...)
	}
}
