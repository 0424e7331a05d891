package north

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Feature is something marked in the picture whose place on the Sun is known.
//
//	Pixel, SigmaPx  the mark and its standard error along either axis
//	Place           where it is at the time of the picture, with its error: read
//	                from a list and turned to that time
//	Height          above the photosphere; it moves the mark along the radius and so
//	                hardly matters but for telling a wrong match
type Feature struct {
	Pixel   coords.Pixel
	SigmaPx float64
	Place   coords.Measured
	Height  disc.Height
}

// Solution is the north that known features give.
//
//	Other     the best north of the other parity
//	Used      how many of the features agree with it
//	Rejected  the features (by index) that do not, or that are not on the near side
//	RMS       scatter of the used ones about it, as an angle at the disc's centre
type Solution struct {
	Found
	Other    coords.North
	Used     int
	Rejected []int
	RMS      coords.Angle
}

// ErrTooFew reports fewer than two features that tell anything.
var ErrTooFew = errors.New("known features: need at least 2 that tell the angle")

// UndecidedError reports features that fit a straight and a mirrored picture
// about equally well. With a parity given, one of the two is the answer.
type UndecidedError struct {
	Straight, Mirrored coords.North
	// PStraight is the probability that the picture is not mirrored.
	PStraight float64
}

func (e *UndecidedError) Error() string {
	return fmt.Sprintf("known features: they do not tell the parity: %.2f deg not mirrored (probability %.2f) or %.2f deg mirrored (%.2f)",
		e.Straight.Angle.Degrees(), e.PStraight, e.Mirrored.Angle.Degrees(), 1-e.PStraight)
}

// WrongParityError reports features that contradict the parity given.
type WrongParityError struct {
	Given Parity
	Other coords.North
	// Probability of the parity that was not given.
	Probability float64
}

func (e *WrongParityError) Error() string {
	return fmt.Sprintf("known features: given as %s, but they fit a picture that is %s, north at %.2f deg (probability %.4f)",
		Handed(e.Given == MirrorImage), Handed(e.Given != MirrorImage), e.Other.Angle.Degrees(), e.Probability)
}

// The limits of what is answered.
const (
	decided      = 0.95 // probability at which a parity counts as told
	contradicted = 0.99 // and at which it overrules the one given
	widestSigma  = 3 * coords.Degree
	alone        = 0.9 // least probability in the peak that is answered
)

// FromFeatures finds north from marks whose places on the Sun are known, by least
// squares made robust against marks matched to the wrong place. The view gives
// limb, layer and face; its north is not used.
//
// Both parities are tried. When known is Either the better one is given
// with its probability, or an UndecidedError; else the known one is, or a
// WrongParityError when the features speak plainly against it. It refuses fewer
// than two features, ones that do not agree, and ones so few or so close to the
// disc's centre that north would be more than 3° uncertain.
func FromFeatures(view disc.View, features []Feature, known Parity) (Solution, error) {
	clues, unseen, err := cluesOf(view, features)
	if err != nil {
		return Solution{}, err
	}
	if len(clues) < 2 {
		return Solution{}, fmt.Errorf("%w: %d of %d do", ErrTooFew, len(clues), len(features))
	}
	straight, mirrored := weigh(clues, false), weigh(clues, true)
	total := straight.evidence + mirrored.evidence
	if !(total > 0) {
		return Solution{}, fmt.Errorf("known features: they fit no north at all")
	}
	pMirrored := mirrored.evidence / total
	best, other := straight, mirrored
	if !known.allows(false) || known.allows(true) && pMirrored > 0.5 {
		best, other = mirrored, straight
	}
	p := best.evidence / total
	if known != Either && 1-p > contradicted && other.sound() == nil {
		return Solution{}, &WrongParityError{Given: known, Other: other.north(view), Probability: 1 - p}
	}
	if err := best.sound(); err != nil {
		return Solution{}, err
	}
	if known == Either && p < decided {
		return Solution{}, &UndecidedError{Straight: straight.north(view), Mirrored: mirrored.north(view), PStraight: 1 - pMirrored}
	}
	s := best.solution(view, unseen)
	s.Other = other.north(view)
	if known == Either {
		s.Parity = p
	}
	s.Why = best.why(s, known, p)
	return s, nil
}

// why puts a solution in words.
func (b belief) why(s Solution, known Parity, p float64) string {
	var w strings.Builder
	fmt.Fprintf(&w, "%d known features, scatter %.2f°: celestial north at %.2f° ± %.2f°, %s",
		s.Used, s.RMS.Degrees(), s.Angle.Degrees(), s.Sigma.Degrees(), Handed(s.Mirrored))
	if known == Either {
		fmt.Fprintf(&w, " (odds %s to 1)", odds(p))
	} else {
		fmt.Fprintf(&w, " as given (the features say so with probability %.2f)", p)
	}
	for i, r := range s.Rejected {
		if i == 0 {
			w.WriteString("; left out: feature")
		}
		fmt.Fprintf(&w, " %d", r+1)
	}
	return w.String()
}

// odds writes a probability as odds to 1; beyond 1000 the figure means nothing.
func odds(p float64) string {
	if o := p / (1 - p); o < 1000 {
		return fmt.Sprintf("%.3g", o)
	}
	return "over 1000"
}

// WithFeatures tells the parity of a drift by marks whose places on the Sun are
// known; here one may be enough, as the angle is known for either parity. It
// refuses marks that fit neither, and gives an UndecidedError when they fit both.
func (d DriftLine) WithFeatures(view disc.View, features []Feature) (Found, error) {
	clues, _, err := cluesOf(view, features)
	if err != nil {
		return Found{}, err
	}
	if len(clues) == 0 {
		return Found{}, fmt.Errorf("drift: none of the %d known features tells a direction", len(features))
	}
	for i := range clues {
		clues[i].turnSigma = math.Hypot(clues[i].turnSigma, d.Straight.Sigma.Radians())
	}
	straight := likelihood(clues, d.Straight.Angle, false)
	mirrored := likelihood(clues, d.Mirrored.Angle, true)
	isMirrored := mirrored > straight
	p := max(straight, mirrored) / (straight + mirrored)
	if p < decided {
		return Found{}, &UndecidedError{Straight: d.Straight, Mirrored: d.Mirrored, PStraight: straight / (straight + mirrored)}
	}
	chosen := belief{mirrored: isMirrored, clues: clues, peak: d.side(isMirrored).Angle}
	nearest := math.Inf(1)
	for _, c := range clues {
		nearest = min(nearest, math.Abs(chosen.missSigmas(c)))
	}
	if nearest > 4 {
		return Found{}, fmt.Errorf("drift: no known feature is where either parity has it; the nearest misses by %.0f standard errors", nearest)
	}
	return Found{
		North:  d.side(isMirrored),
		Method: MethodDrift,
		Parity: p,
		Why:    fmt.Sprintf("%s; known features say %s (odds %s to 1)", d.why, Handed(isMirrored), odds(p)),
	}, nil
}
