package north

import (
	"context"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// How far a frame's time must stand out to be told, and how far off it is looked for: a
// zone is half a day at most, and so is a clock of twelve hours.
const (
	oddSigmas   = 4.0
	oddLeast    = 40 * time.Minute
	oddReach    = 14  // hours
	oddStep     = 2   // hours: the pattern's correlation falls off in three or four
	oddPartners = 3   // frames that one is held against, two at least
	oddChi2     = 9.0 // by which each of them may contradict the others about the hour
	framesFor   = 3   // of two nobody can tell whose time is wrong
	lawScatter  = 0.3
)

// perHour is how far a pattern moves in an hour, radians.
const perHour = 13.2 / 24 * math.Pi / 180

// oddHour finds the frame whose pattern stands where it would have stood at another hour,
// held against frames that agree with each other without it; nil where none stands out.
func (t *turn) oddHour(ctx context.Context, twin *turnedTogether) *OddHour {
	if len(t.frames) < framesFor {
		return nil
	}
	var best *OddHour
	most := 0.0
	for i := range t.frames {
		if ctx.Err() != nil {
			return nil
		}
		others := t.without(i, twin)
		if others == nil {
			continue
		}
		w := watch{t: t, frame: i, others: others, partners: t.partners(i, others)}
		hour, gain := w.scan()
		if hour == 0 || gain <= most {
			continue
		}
		if o, ok := w.measure(hour); ok && o.Off.Abs() > oddLeast && float64(o.Off.Abs()) > oddSigmas*float64(o.Sigma) {
			most, best = gain, &o
		}
	}
	return best
}

// without is how the other frames lie by their own pairs, under the parities of an answer.
func (t *turn) without(frame int, twin *turnedTogether) *turnedTogether {
	others := *t
	others.pairs = slices.DeleteFunc(slices.Clone(t.pairs), func(p *turnedPair) bool { return p.Old == frame || p.Now == frame })
	root := others.strongest()
	if root == nil {
		return nil
	}
	for k := range root.fits {
		u := others.together(root, k)
		if u.mirrored[root.Old] == twin.mirrored[root.Old] && u.mirrored[root.Now] == twin.mirrored[root.Now] || !twin.known[root.Old] {
			return &u
		}
	}
	return nil
}

// partners are the frames to hold one against, about a day and a half away first.
func (t *turn) partners(frame int, others *turnedTogether) (partners []int) {
	far := func(j int) float64 {
		return math.Abs(math.Log(math.Abs(rotation.Days(t.frames[frame].UTC, t.frames[j].UTC)) / 1.5))
	}
	for j, known := range others.known {
		if d := math.Abs(rotation.Days(t.frames[frame].UTC, t.frames[j].UTC)); known && j != frame && d > 0.02 && d < longestTurn {
			partners = append(partners, j)
		}
	}
	slices.SortStableFunc(partners, func(a, b int) int {
		if far(a) < far(b) {
			return -1
		}
		return 1
	})
	return partners[:min(len(partners), oddPartners)]
}

// watch is the work on one frame's hour. rolls are where it lies best at an hour, by its
// partners.
type watch struct {
	t        *turn
	frame    int
	others   *turnedTogether
	partners []int
}

// at is the frame as if it had been taken some hours later.
func (w *watch) at(hours float64) *turningFrame {
	f := *w.t.ready[w.frame]
	f.UTC = f.UTC.Add(time.Duration(hours * float64(time.Hour)))
	f.face = ephemeris.At(f.UTC)
	return &f
}

// scan finds the hour at which the frame's pattern goes best with its partners', one roll
// for all, and by how much better than at its own hour.
func (w *watch) scan() (hour float64, gain float64) {
	if len(w.partners) < 2 {
		return 0, 0
	}
	best, own := -1.0, 0.0
	for h := -oddReach; h <= oddReach; h += oddStep {
		c, _ := w.agree(float64(h))
		if h == 0 {
			own = c
		}
		if c > best {
			best, hour = c, float64(h)
		}
	}
	if !(best > turnAboveHiss*0.05*float64(len(w.partners))) {
		return 0, 0
	}
	return hour, best - own
}

// agree is the sum of the correlations with the partners at an hour, at the best roll and
// parity, and how the frame then lies.
func (w *watch) agree(hours float64) (float64, pose) {
	now := w.at(hours)
	var sums [2][scanRolls]float64
	fft := fourier.NewFFT(scanRolls)
	for _, j := range w.partners {
		old := w.t.ready[j]
		from := originsOf(old, now, w.t.law, rotation.Days(old.UTC, now.UTC))
		var at [2][scanRolls]float32
		correlateAlong(fft, from, old.coarse, now.polar, w.others.hand(j), w.others.solar[j], &at)
		for n := range at {
			// The later picture's solar north by its roll: the same for all partners.
			for k, c := range at[n] {
				sums[n][k] += float64(c)
			}
		}
	}
	best, lies := -1.0, pose{}
	same := w.t.frames[w.frame].SetUp
	for n := range sums {
		if j := w.partners[0]; same != 0 && same == w.t.frames[j].SetUp && w.others.mirrored[j] != (n == 1) {
			continue
		}
		for k, c := range sums[n] {
			if c > best {
				best, lies = c, pose{now: scanRoll(k), nowMirrored: n == 1}
			}
		}
	}
	return best, lies
}

// measure finds how far the frame's time is off, near an hour, by how far its pattern
// stands west there in all its pairs; false where they do not tell the same: then it is
// not this frame's hour that is wrong.
func (w *watch) measure(hours float64) (OddHour, bool) {
	_, lies := w.agree(hours)
	frame := w.at(hours)
	var sum, squares, weight, days float64
	for _, j := range w.partners {
		f := pairFit{old: w.t.ready[j], now: frame, law: w.t.law, westward: true}
		start := pose{old: w.others.solar[j], oldMirrored: w.others.mirrored[j], now: lies.now, nowMirrored: lies.nowMirrored}
		fit, err := f.fit(start)
		if err != nil || !(fit.sigmaWest > 0) {
			return OddHour{}, false
		}
		v := fit.sigmaWest * fit.sigmaWest
		sum, squares, weight = sum+fit.west/v, squares+fit.west*fit.west/v, weight+1/v
		days = max(days, math.Abs(rotation.Days(f.old.UTC, frame.UTC)))
	}
	if squares-sum*sum/weight > oddChi2*float64(len(w.partners)-1) {
		return OddHour{}, false
	}
	off := hours + sum/weight/perHour
	// The pattern turns by no law exactly, alike in all pairs.
	sigma := math.Hypot(math.Sqrt(1/weight), lawScatter*math.Pi/180*days) / perHour
	asTime := func(hours float64) time.Duration { return time.Duration(hours * float64(time.Hour)) }
	return OddHour{Frame: w.frame, Off: asTime(off), Sigma: asTime(sigma)}, true
}

// westReach is how far west or east a pattern may stand when its hour is asked for.
const westReach = 4 * coords.Degree
