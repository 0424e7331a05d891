package north

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/rotation"
)

// turningFit is what the windows of a pair say about how its two pictures lie.
//
//	pose      the most probable one of these parities
//	cov       covariance of the two directions of solar north (old, now), square radians
//	lasting   part of it that proper motions add which last for days, the same in
//	          all pairs of the same features
//	evidence  logarithm of the probability of the windows under these parities, but
//	          for what is the same for the twin
//	west      by how much the pattern stands farther west than its time has it, radians,
//	          with its standard error
//	features  number of independent windows that the answer rests upon
type turningFit struct {
	pose      pose
	cov       symmetric
	lasting   float64
	evidence  float64
	west      float64
	sigmaWest float64
	features  float64
}

const (
	widestTurn  = 15 * coords.Degree // how far a scan's pose may be off
	turnRounds  = 4
	enoughTurn  = 0.3 * coords.Degree // a smaller correction needs no further round
	oneFeature  = 1.6                 // windows that count: fewer are one feature
	lastingPart = 0.7                 // of the variance of motions (common practice, no source)

	// What plage, filaments and the mottling may drift along the meridian day after day,
	// beside what spots do: 0.2° a day together (common practice, no source).
	driftingLat = 0.16 * coords.Degree // a day
)

var errOneFeature = errors.New("all rests on a single feature")

// pairFit is the work on one pair.
type pairFit struct {
	old, now   *turningFrame
	law        rotation.Law
	marks      []markedPair
	marksAlone bool
	westward   bool // how far west the pattern stands is asked for: nothing is believed of it
}

// fit refines a pose. The windows are laid anew after each correction, as the
// pattern that is expected bends with it; the smallest lead there, all cuts have a say
// in the end.
func (f *pairFit) fit(start pose) (turningFit, error) {
	at := start
	for round := 0; ; round++ {
		fit, err := f.once(at, cuts[:1])
		if err != nil {
			return fit, err
		}
		if (fit.pose.old-start.old).Wrap180().Abs() > widestTurn || (fit.pose.now-start.now).Wrap180().Abs() > widestTurn {
			return fit, errLost
		}
		moved := max((fit.pose.old - at.old).Wrap180().Abs(), (fit.pose.now - at.now).Wrap180().Abs())
		at = fit.pose
		if moved < enoughTurn || round == turnRounds {
			return f.once(at, cuts)
		}
	}
}

// once solves for the pose near one. Each cut of the disc gives an answer; theirs is
// the mean, its error the worst of theirs with their scatter added.
func (f *pairFit) once(at pose, cuts []cut) (turningFit, error) {
	old, now, law := f.old, f.now, f.law
	days := rotation.Days(old.UTC, now.UTC)
	carried := &carriedDisc{old: old.pattern, oldView: old.viewAt(at.old, at.oldMirrored), newView: now.viewAt(at.now, at.nowMirrored), law: law, days: days}
	var expected *pattern
	if !f.marksAlone {
		expected = carried.expected(carried.newView.North)
	}
	lon, lat := ownMotion(days)
	lat = math.Hypot(lat, driftingLat.Radians()*days)
	prior := turningPriors(days, old.Limb, now.Limb)
	if f.westward {
		prior[drifted] = westReach.Radians()
	}
	fit := turningFit{pose: at, features: math.Inf(1)}
	var answers [][2]float64
	for _, k := range cuts {
		s := solver{windows: carried.windowsOf(f.marks), least: leastMarks, lon: lon, lat: lat, prior: prior}
		if !f.marksAlone {
			s.windows, s.least = append(s.windows, k.look(carried.newView, expected, now.pattern)...), leastWindows
		}
		for i := range s.windows {
			s.windows[i].axis = carried.moveWithAxis(&s.windows[i])
		}
		said, information, err := s.settle()
		if err != nil {
			return fit, err
		}
		cov, err := inverse(information)
		if err != nil {
			return fit, err
		}
		loose := s.scatter(said, information)
		widen := max(1, loose.At(axis, axis)/cov.At(axis, axis), loose.At(rolled, rolled)/cov.At(rolled, rolled))
		fit.widen(cov, widen)
		fit.features = min(fit.features, rests(said))
		fit.evidence += s.evidence(said, information) / float64(len(cuts))
		fit.west += s.theta[drifted] / float64(len(cuts))
		fit.sigmaWest = max(fit.sigmaWest, math.Sqrt(cov.At(drifted, drifted)*widen))
		answers = append(answers, [2]float64{s.theta[axis], s.theta[rolled]})
	}
	if fit.features < oneFeature {
		return fit, errOneFeature
	}
	fit.take(answers)
	fit.lasting = lastingPart * fit.cov.xx
	return fit, nil
}

// viewAt is the view of the picture when solar north points there.
func (f *turningFrame) viewAt(solar coords.Angle, mirrored bool) disc.View {
	v := disc.View{Limb: f.Limb, Layer: f.Layer, Face: f.face, North: coords.North{Angle: at(solar, f.face.P, mirrored).Wrap360(), Mirrored: mirrored}}
	v.Layer.SigmaMm, v.Limb.Cov = 0, coords.LimbCovariance{}
	return v
}

// moveWithAxis is by how many cells what is expected at a window moves when solar
// north in the earlier picture is turned counter-clockwise by a radian.
func (c *carriedDisc) moveWithAxis(w *window) (move [2]float64) {
	const d = 1e-4
	here := c.newView.Place(c.newView.Limb.At(w.u, w.v), 0, disc.Height{})
	px, _ := c.oldView.Project(c.law.Carry(here.Photosphere.Heliographic, -c.days), 0)
	turned := c.oldView
	turned.North.Angle += d
	then := turned.Place(px, 0, disc.Height{})
	if then.Where != disc.OnDisc {
		return move
	}
	q, _ := c.newView.Project(c.law.Carry(then.Photosphere.Heliographic, c.days), 0)
	u, v := c.newView.Limb.Unit(q)
	return [2]float64{(u - w.u) / d * cellsPerRadius, (v - w.v) / d * cellsPerRadius}
}

// turningPriors are the standard errors of the unknowns when the earlier picture's
// north is one of them. Features of a hemisphere may drift toward its pole together, by
// 10 to 15 m/s, 0.1° a day (Javaraiah 2010, as TRADE.md 4.3 has it).
func turningPriors(days float64, old, now coords.Limb) [unknowns]float64 {
	p := priors(days, old, now)
	days = math.Abs(days)
	p[axis], p[rolled] = widestTurn.Radians(), widestTurn.Radians()
	p[poleward] = math.Hypot(0.05, 0.1*days) * math.Pi / 180
	return p
}

// widen takes the larger of two covariances of the directions.
func (f *turningFit) widen(cov *mat.SymDense, by float64) {
	c := symmetric{cov.At(axis, axis) * by, cov.At(axis, rolled) * by, cov.At(rolled, rolled) * by}
	if c.xx > f.cov.xx {
		f.cov = c
	}
}

// take moves the pose to the mean of the answers and adds their scatter.
func (f *turningFit) take(answers [][2]float64) {
	var mean [2]float64
	n := float64(len(answers))
	for _, a := range answers {
		mean[0], mean[1] = mean[0]+a[0]/n, mean[1]+a[1]/n
	}
	for _, a := range answers {
		x, y := a[0]-mean[0], a[1]-mean[1]
		f.cov.xx, f.cov.xy, f.cov.yy = f.cov.xx+x*x/max(1, n-1), f.cov.xy+x*y/max(1, n-1), f.cov.yy+y*y/max(1, n-1)
	}
	f.pose.old = (f.pose.old + coords.Angle(mean[0])).Wrap360()
	f.pose.now = (f.pose.now + coords.Angle(mean[1])).Wrap360()
}

// evidence is the logarithm of the probability of the windows (Laplace's
// approximation over the unknowns), against windows that show anything.
func (s *solver) evidence(answers []said, information *mat.SymDense) float64 {
	sum := 0.0
	for i := range answers {
		sum += answers[i].evidence
	}
	for k, sigma := range s.prior {
		sum -= s.theta[k] * s.theta[k] / (2 * sigma * sigma)
		sum -= math.Log(sigma)
	}
	var c mat.Cholesky
	if c.Factorize(information) {
		sum -= c.LogDet() / 2
	}
	return sum
}

// rests is by how many equal windows the axis would be known as well: the square of
// the sum of what they add to the information about it over the sum of squares.
func rests(answers []said) float64 {
	var sum, squares float64
	for i := range answers {
		one := mat.NewSymDense(unknowns, nil)
		answers[i].share(one, 1)
		// The direction in which the axis is least known: both pictures turned alike.
		v := one.At(axis, axis) + 2*one.At(axis, rolled) + one.At(rolled, rolled)
		sum, squares = sum+v, squares+v*v
	}
	if squares == 0 {
		return 0
	}
	return sum * sum / squares
}
