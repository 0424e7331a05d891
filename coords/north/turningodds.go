package north

import (
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// What tells the twins apart.
const (
	ByPattern    = "what the pictures show"
	ByHeld       = "the camera that was not touched"
	ByDrift      = "a drift of the Sun"
	BySaid       = "a north that is known"
	ByPlaces     = "known places"
	ByList       = "a list of positions"
	ByHemisphere = "a mark's hemisphere"
	BySetUp      = "the set-up's parity"
)

// TurningClue is what one thing says of the twins: the probability that the first answer
// is right if nothing else were known.
type TurningClue struct {
	By   string
	Odds float64
}

// SidedMark is a mark of which it is known on which side of the Sun's equator it lies.
type SidedMark struct {
	Pixel   coords.Pixel
	SigmaPx float64
	North   bool
}

// slippedSide is the chance that the side was taken for the other one (common practice, no
// source).
const slippedSide = 0.02

// twinWeight is what the evidence of patterns counts: windows overlap, and what moves
// one may move its neighbour. With it the odds are true on painted pictures.
const twinWeight = 0.5

// weights are the logarithms of what each clue says for the first of the twins against the
// second one.
func (t *turn) weights(both twins) (clues []string, weights []float64) {
	say := func(by string, w float64, spoke bool) {
		if spoke {
			clues, weights = append(clues, by), append(weights, max(-300, min(300, w)))
		}
	}
	say(ByPattern, twinWeight*(both[0].pattern-both[1].pattern), true)
	// What pulls the pairs from where they lie by themselves bears the cost.
	bent := twinWeight * (both[0].evidence - both[0].pattern - both[1].evidence + both[1].pattern)
	held := len(t.groups()) > 0
	say(ByHeld, bent+twinWeight*(both[1].held-both[0].held)/2, held)
	for _, by := range []string{ByDrift, BySaid} {
		var w float64
		spoke := false
		for k, sign := range []float64{1, -1} {
			for _, p := range both[k].pinned {
				if p.by == by {
					// Against a north that might be any.
					w, spoke = w+sign*(math.Log(math.Sqrt(2*math.Pi)/float64(p.north.Sigma))-min(p.chi2, mostPinned)/2), true
				}
			}
		}
		if spoke && !held {
			w, bent = w+bent, 0
		}
		say(by, w, spoke)
	}
	places, sides, anyPlace, anySide := t.markClues(both)
	say(ByPlaces, places, anyPlace)
	listed, anyListed := t.listClue(both)
	say(ByList, listed, anyListed)
	say(ByHemisphere, sides, anySide)
	one, other := t.knownParities(&both[0]), t.knownParities(&both[1])
	say(BySetUp, math.Log(max(one, 1e-300))-math.Log(max(other, 1e-300)), one != other)
	return clues, weights
}

// mostPinned is the most that a drift counts against an answer, squared standard errors:
// now and then one is of the wrong pictures.
const mostPinned = 12.0

// markClues are what known places and known sides of marks say.
func (t *turn) markClues(both twins) (places, sides float64, anyPlace, anySide bool) {
	for k, sign := range []float64{1, -1} {
		u := &both[k]
		norths := t.norths(*u)
		for i, f := range t.frames {
			if norths[i] == nil {
				continue
			}
			view := t.ready[i].viewAt(u.solar[i], u.mirrored[i])
			if clues, _, err := cluesOf(view, f.Known); err == nil && len(clues) > 0 {
				for c := range clues {
					clues[c].turnSigma = math.Hypot(clues[c].turnSigma, float64(norths[i].Sigma))
				}
				places, anyPlace = places+sign*math.Log(max(likelihood(clues, norths[i].Angle, u.mirrored[i]), 1e-300)), true
			}
			for _, m := range f.Sides {
				if p, ok := onSide(view, m, norths[i].Sigma); ok {
					sides, anySide = sides+sign*math.Log(p), true
				}
			}
		}
	}
	return places, sides, anyPlace, anySide
}

// listClue is what places say of which nobody knows the marks. Those of several frames are
// of the same features, and what agrees by chance in one does so in the next: they count
// as one frame does on the average.
func (t *turn) listClue(both twins) (weight float64, spoke bool) {
	frames := 0.0
	norths := [2][]*coords.North{t.norths(both[0]), t.norths(both[1])}
	for i, f := range t.frames {
		dots, places := dotsOf(f.Unoriented, f.Marks), project(f.Unoriented, f.Listed)
		if norths[0][i] == nil || norths[1][i] == nil || len(dots) == 0 || len(places) == 0 {
			continue
		}
		p := posteriorOf(dots, places, Either)
		weight += math.Log(p.near(*norths[0][i])) - math.Log(p.near(*norths[1][i]))
		frames++
	}
	return weight / max(1, frames), frames > 0
}

// near is the mean probability of the rolls about a north, as its error weighs them.
func (p posterior) near(n coords.North) float64 {
	rolls := p[0]
	if n.Mirrored {
		rolls = p[1]
	}
	sum, weights := 0.0, 0.0
	for k, v := range rolls {
		z := float64((coords.Angle(k)*2*math.Pi/markRolls - n.Angle).Wrap180() / n.Sigma)
		w := math.Exp(-z * z / 2)
		sum, weights = sum+w*v, weights+w
	}
	return max(sum/max(weights, 1e-300), 1e-300)
}

// onSide is how probable it is that a mark lies where it was said to, as the picture lies.
func onSide(view disc.View, m SidedMark, sigma coords.Angle) (float64, bool) {
	place := view.Place(m.Pixel, 0, disc.Height{})
	if place.Where != disc.OnDisc {
		return 0, false
	}
	u, v := view.Limb.Unit(m.Pixel)
	b := place.Photosphere.Heliographic.B
	error := math.Hypot(float64(sigma)*math.Hypot(u, v), m.SigmaPx/view.Limb.RadiusPx)
	z := float64(b) / error
	if !m.North {
		z = -z
	}
	there := math.Erfc(-z/math.Sqrt2) / 2
	return (1-slippedSide)*there + slippedSide*(1-there), true
}

// odds are the probabilities of the two, and what each clue says of the first.
func (t *turn) odds(both twins) (odds [2]float64, clues []TurningClue) {
	names, weights := t.weights(both)
	sum := 0.0
	for k, w := range weights {
		sum += w
		clues = append(clues, TurningClue{names[k], logistic(w)})
	}
	if t.knownParities(&both[0])+t.knownParities(&both[1]) == 0 {
		return odds, clues
	}
	return [2]float64{logistic(sum), logistic(-sum)}, clues
}

func logistic(w float64) float64 { return 1 / (1 + math.Exp(-w)) }

// knownParities is the probability of an answer's parities by what is known of them: a
// set-up has one say, however many of its frames there are.
func (t *turn) knownParities(u *turnedTogether) float64 {
	p, spoke := 1.0, map[int]bool{}
	for i, f := range t.frames {
		if !u.known[i] || f.Parity == Either || f.SetUp != 0 && spoke[f.SetUp] {
			continue
		}
		spoke[f.SetUp] = true
		right := 1.0
		if f.ParityOdds > 0 {
			right = f.ParityOdds
		}
		if !f.Parity.allows(u.mirrored[i]) {
			right = 1 - right
		}
		p *= right
	}
	return p
}

// norths are celestial north in each frame, with the errors of the directions.
func (t *turn) norths(u turnedTogether) []*coords.North {
	out := make([]*coords.North, len(t.frames))
	for i := range out {
		if !u.known[i] {
			continue
		}
		const floor = 0.05 * coords.Degree
		out[i] = &coords.North{
			Angle:    t.celestial(&u, i).Wrap180(),
			Mirrored: u.mirrored[i],
			Sigma:    coords.Angle(math.Hypot(math.Sqrt(max(0, u.cov.At(i, i))), float64(floor))),
		}
	}
	return out
}
