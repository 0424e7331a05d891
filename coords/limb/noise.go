package limb

import "math"

// Neighbouring points of a limb agree on a wrong place: seeing bends the limb
// over degrees, texture and prominences push it. So residuals are taken as the
// sum of white noise and noise that is correlated along the limb, with a
// correlation exp(−Δ/length), and the circle is fitted by generalised least
// squares. The two variances and the length come from the residuals themselves,
// by restricted maximum likelihood (Patterson & Thompson 1971, Biometrika 58,
// 545), which knows what the fit has taken out of them; that matters on a short arc.

// sample is a stretch of limb for the fit: the angle along the limb in radians, in
// growing order, a row of the design, the departure, and how many points are in it.
type sample struct {
	angle, rho float64
	row        []float64
	weight     float64
}

// estimate is the outcome of a generalised least-squares fit.
//
//	x, cov      unknowns and their covariance
//	lengthRad   correlation length along the limb
//	share       part of the variance that is correlated
//	sigma       standard deviation of one point
type estimate struct {
	x          []float64
	cov        [][]float64
	lengthRad  float64
	share      float64
	sigma      float64
	likelihood float64
}

// fitCorrelated fits samples. It is false when they do not determine the unknowns.
func fitCorrelated(samples []sample) (estimate, bool) {
	if len(samples) < len(samples[0].row)+3 {
		return estimate{}, false
	}
	span := samples[len(samples)-1].angle - samples[0].angle
	pitch := span / float64(len(samples)-1)
	best := estimate{likelihood: math.Inf(-1)}
	for length := 0.7 * pitch; length < span/2; length *= 2 {
		for _, share := range [...]float64{0, 0.1, 0.25, 0.45, 0.65, 0.8, 0.9, 0.96} {
			if share == 0 && length > pitch {
				continue
			}
			e, ok := whiten(samples, length, share)
			if ok && e.likelihood > best.likelihood {
				best = e
			}
		}
	}
	return best, !math.IsInf(best.likelihood, -1)
}

// whiten turns the samples into independent ones by a Kalman filter on the
// correlated part (an Ornstein–Uhlenbeck process, exact for any gaps), and solves.
func whiten(samples []sample, length, share float64) (estimate, bool) {
	p := len(samples[0].row)
	white := 1 - share
	nominal := 0.0
	for _, s := range samples {
		nominal += s.weight
	}
	nominal /= float64(len(samples))
	mean := make([]float64, p+1) // filtered state of each column, the last is rho
	column := make([]float64, p+1)
	variance := share
	logDet, square := 0.0, 0.0
	s := newNormal(p)
	last := samples[0].angle
	for _, sample := range samples {
		φ := math.Exp(-(sample.angle - last) / length)
		last = sample.angle
		variance = φ*φ*variance + share*(1-φ*φ)
		spread := variance + white*nominal/sample.weight
		gain := variance / spread
		root := 1 / math.Sqrt(spread)
		for j := range column {
			v := sample.rho
			if j < p {
				v = sample.row[j]
			}
			mean[j] *= φ
			innovation := v - mean[j]
			mean[j] += gain * innovation
			column[j] = innovation * root
		}
		variance *= 1 - gain
		logDet += math.Log(spread)
		s.add(column[:p], column[p])
		square += column[p] * column[p]
	}
	logInfo := logDeterminant(s.a)
	x, inv, ok := s.solve(0)
	if !ok {
		return estimate{}, false
	}
	rss := square
	for i, b := range s.b {
		rss -= x[i] * b
	}
	free := float64(len(samples) - p)
	rss = max(rss, 1e-18*square+1e-300)
	e := estimate{x: x, cov: inv, lengthRad: length, share: share}
	scale := rss / free
	e.sigma = math.Sqrt(scale)
	for i := range inv {
		for j := range inv {
			inv[i][j] *= scale
		}
	}
	e.likelihood = -0.5 * (logDet + logInfo + free*math.Log(scale))
	return e, !math.IsNaN(e.likelihood)
}

// logDeterminant of a symmetric positive definite matrix (see cholesky); not a number
// when it is singular.
func logDeterminant(a [][]float64) float64 {
	l, ok := cholesky(a)
	if !ok {
		return math.NaN()
	}
	sum := 0.0
	for i := range l {
		sum += 2 * math.Log(l[i][i])
	}
	return sum
}
