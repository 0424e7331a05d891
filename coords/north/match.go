package north

import (
	"fmt"
	"math"
	"sync"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
	"limbwatch/coords/rotation"
)

// Oriented is an earlier (or later) picture that has its north; Lasting is the part of
// that north's error which a match repeats (see Match).
type Oriented struct {
	Picture *picture.Picture
	View    disc.View
	UTC     time.Time
	Lasting coords.Angle
}

// Unoriented is a picture whose limb is known, and its north not.
//
//	Layer      which height above the photosphere the limb is
//	SigmaTime  standard error of UTC
type Unoriented struct {
	Picture   *picture.Picture
	Limb      coords.Limb
	Layer     coords.Layer
	UTC       time.Time
	SigmaTime time.Duration
}

// MatchOptions steer a match. The zero value is right for most pictures.
//
//	Law     how the pattern turns between the pictures; zero: the law of small
//	        magnetic features, which carry the pattern of the whole disc
//	Parity  when the observer knows it
//	MaxSigma  a roll with a larger error is refused; 0: all that is decided is taken,
//	        with the error that it has
type MatchOptions struct {
	Law      rotation.Law
	Parity   Parity
	MaxSigma coords.Angle
}

func (o MatchOptions) maxSigma() coords.Angle {
	if o.MaxSigma > 0 {
		return min(o.MaxSigma, farthest)
	}
	return farthest
}

func (o MatchOptions) law() rotation.Law {
	if o.Law != (rotation.Law{}) {
		return o.Law
	}
	law, err := rotation.Parse("howard")
	if err != nil {
		panic("north: " + err.Error()) // a published law
	}
	return law
}

// Match is a north found by comparing a picture with an earlier one.
//
//	North        where celestial north points, with its error
//	Lasting      the part of that error which matches repeat, so that from picture to
//	             picture it grows with their number and not with its root; negative
//	             when it came of going back in time
//	Days         from the earlier picture to this one
//	Correlation  of the two patterns at that roll, −1 to 1
//	Rival        the best correlation at another roll of the same parity, farther
//	             than RivalFrom from it
//	Mirror       the best correlation of the other parity; 0 when it was ruled out
//	Noise        rms correlation at all other rolls: what chance gives
//	Odds         probability that this roll and parity is right
//	ParityOdds   probability that the parity is right
type Match struct {
	North                      coords.North
	Lasting                    coords.Angle
	Days                       float64
	Correlation, Rival, Mirror float64
	Noise                      float64
	Odds, ParityOdds           float64
}

// RivalFrom is how far from the best roll another one counts as a rival.
const RivalFrom = 6 * coords.Degree

// IndecisiveError says why a match is refused: a wrong north is worse than none.
// Match holds what was found, for showing; its North must not be used.
type IndecisiveError struct {
	Reason string
	Match  Match
}

func (e *IndecisiveError) Error() string { return "north from another picture refused: " + e.Reason }

// What a match must show to be believed. Among painted and real pairs of 0.2 to 7
// days, wrong peaks reached 3.7 times the noise, and had rivals of 0.75 of themselves
// and more.
const (
	longestDays    = 5.0  // beyond, hardly anything of the disc is seen in both
	leastAboveHiss = 5.0  // the best correlation, in units of Noise
	mostRival      = 0.62 // the rival's correlation, in parts of the best one
	leastOdds      = 0.99
	mostPieces     = 400 // of pattern on the disc: cells of 2° or so
)

// FromPicture finds the north and the parity of a picture by its own pattern: the
// disc of an oriented one, turned by the Sun's rotation to the new time, is
// compared with it at all rolls and in both parities.
//
// Large shades and the darkening to the limb are taken out first, and only the
// disc within 65° of its middle counts. The best roll is then refined by parts of
// the disc, each of which may have moved by itself (matchsolve.go); how much they
// differ gives its error, to which that of the earlier north is added.
//
// The error is an *IndecisiveError when the pattern does not decide.
func FromPicture(old Oriented, now Unoriented, opts MatchOptions) (Match, error) {
	if err := validatePair(old, now); err != nil {
		return Match{}, err
	}
	m := Match{Days: rotation.Days(old.UTC, now.UTC)}
	if math.Abs(m.Days) > longestDays {
		return m, &IndecisiveError{fmt.Sprintf("the pictures are %.1f days apart, %.0f at most make sense", math.Abs(m.Days), longestDays), m}
	}
	var carried *carriedDisc
	var pattern *pattern
	var seen, fresh *polarPattern
	var both sync.WaitGroup
	both.Go(func() { carried = newCarriedDisc(old, now, opts.law()); seen = carried.polar() })
	both.Go(func() { pattern = flatten(now.Picture, now.Limb); fresh = pattern.polar() })
	both.Wait()
	m.judge(correlate(seen, fresh), opts.Parity)
	if err := m.doubt(); err != nil {
		return m, err
	}
	if err := m.refine(carried, carried.expected(m.North), pattern, opts.maxSigma()); err != nil {
		return m, err
	}
	m.chain(old.View.North.Sigma, old.Lasting)
	return m, nil
}

func validatePair(old Oriented, now Unoriented) error {
	for _, p := range []struct {
		name string
		pic  *picture.Picture
		limb coords.Limb
		utc  time.Time
	}{{"earlier", old.Picture, old.View.Limb, old.UTC}, {"new", now.Picture, now.Limb, now.UTC}} {
		switch {
		case p.pic == nil || len(p.pic.Grey) == 0:
			return fmt.Errorf("%s picture is empty", p.name)
		case !(p.limb.RadiusPx >= 40):
			return fmt.Errorf("%s picture has a disc of radius %.1f px, at least 40 are needed", p.name, p.limb.RadiusPx)
		case p.utc.IsZero():
			return fmt.Errorf("%s picture has no time", p.name)
		}
	}
	if !(old.View.Face.Semidiameter > 0) {
		return fmt.Errorf("earlier picture has no semidiameter of the Sun")
	}
	return nil
}

// judge finds the best roll and its rivals.
func (m *Match) judge(c correlations, known Parity) {
	m.Correlation = math.Inf(-1)
	for _, mirrored := range []bool{false, true} {
		if !known.allows(mirrored) {
			continue
		}
		for k, rho := range c.of(mirrored) {
			if rho > m.Correlation {
				m.Correlation = rho
				m.North = coords.North{Angle: betweenRolls(c.of(mirrored), k), Mirrored: mirrored}
			}
		}
	}
	sum, n := 0.0, 0
	for _, mirrored := range []bool{false, true} {
		for k, rho := range c.of(mirrored) {
			near := mirrored == m.North.Mirrored && (rollOf(k)-m.North.Angle).Wrap180().Abs() < RivalFrom
			if near {
				continue
			}
			sum, n = sum+rho*rho, n+1
			switch {
			case !known.allows(mirrored):
			case mirrored == m.North.Mirrored:
				m.Rival = max(m.Rival, rho)
			default:
				m.Mirror = max(m.Mirror, rho)
			}
		}
	}
	m.Noise = math.Sqrt(sum / float64(n))
	m.weigh(c, known)
}

// betweenRolls is the top of the parabola through the best roll and its neighbours.
// Windows tell whole cells best: what is expected should lie no farther off than that.
func betweenRolls(c []float64, k int) coords.Angle {
	before, here, after := c[(k+rolls-1)%rolls], c[k], c[(k+1)%rolls]
	bend := before - 2*here + after
	if !(bend < 0) {
		return rollOf(k)
	}
	return rollOf(k) + coords.Angle(max(-0.5, min(0.5, (before-after)/(2*bend))))*rollOf(1)
}

// weigh turns correlations into probabilities. For n independent pieces of
// pattern the likelihood of a correlation ρ goes as (1 − ρ²)^(−n/2). n is read
// off the noise, 1/n being the mean square of a chance correlation, and bounded:
// a pattern of a few strong spots has fewer pieces than that.
func (m *Match) weigh(c correlations, known Parity) {
	pieces := math.Min(mostPieces, 1/(m.Noise*m.Noise))
	// In parts of the best roll's: of a picture held against itself it is a number too
	// large to be written.
	logLikelihood := func(rho float64) float64 {
		rho = max(0, min(rho, 0.999))
		return -pieces / 2 * math.Log1p(-rho*rho)
	}
	best := logLikelihood(m.Correlation)
	var here, parity, all float64
	for _, mirrored := range []bool{false, true} {
		if !known.allows(mirrored) {
			continue
		}
		for k, rho := range c.of(mirrored) {
			l := math.Exp(logLikelihood(rho) - best)
			all += l
			if mirrored != m.North.Mirrored {
				continue
			}
			parity += l
			if (rollOf(k) - m.North.Angle).Wrap180().Abs() < RivalFrom {
				here += l
			}
		}
	}
	m.Odds, m.ParityOdds = here/all, parity/all
}

// doubt says why the match cannot be believed, or nil.
func (m *Match) doubt() error {
	rival := max(m.Rival, m.Mirror)
	switch {
	case !(m.Correlation > leastAboveHiss*m.Noise):
		return &IndecisiveError{fmt.Sprintf("no roll stands out: the best correlates by %.2f, chance gives %.2f (a blank Sun, or too long a gap)", m.Correlation, m.Noise), *m}
	case m.Mirror > mostRival*m.Correlation && m.Mirror > m.Rival:
		return &IndecisiveError{fmt.Sprintf("the mirror image fits nearly as well: correlation %.2f against %.2f", m.Mirror, m.Correlation), *m}
	case rival > mostRival*m.Correlation:
		return &IndecisiveError{fmt.Sprintf("another roll fits nearly as well: correlation %.2f against %.2f", m.Rival, m.Correlation), *m}
	case m.Odds < leastOdds:
		return &IndecisiveError{fmt.Sprintf("the odds of the best roll are %.2f, %.2f are wanted", m.Odds, leastOdds), *m}
	}
	return nil
}

// viewOf is the view of a picture with its north as given.
func (u Unoriented) viewOf(n coords.North) disc.View {
	return disc.View{Limb: u.Limb, Layer: u.Layer, North: n, Face: ephemeris.At(u.UTC), SigmaTime: u.SigmaTime}
}
