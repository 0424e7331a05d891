package follow

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/mat"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// HeightReading is a place of a feature as it is read on the photosphere, without
// correction for height.
type HeightReading struct {
	UTC  time.Time
	Face coords.Face
	Flat coords.Measured
}

// HeightOptions steer the fit. The zero value fits rate and height freely.
//
//	Rate         what is known of the rate beforehand; nil: nothing, it is fitted from
//	             the readings alone
//	CentreSigma  how far the marked middle strays from the feature's, each time anew;
//	             0: 0.7°, that of a filament
type HeightOptions struct {
	Rate        *rotation.Prior
	CentreSigma coords.Angle
}

// HeightFit is a feature's rate and height, found together.
//
//	HeightMm, SigmaMm         above the photosphere
//	RateDegPerDay, SigmaRate  sidereal
//	FlatRateDegPerDay         the rate that the readings give as on the photosphere: too
//	                          fast for what stands high
//	Correlation               of height and rate: near −1, the two are hard to tell apart
//	Lat                       of the feature, with its error
//	SigmaLat
//	Readings, SpanDays        used
//	Scatter                   rms of the readings about the fit in units of their errors;
//	                          above 1 the errors given have been raised by it
type HeightFit struct {
	HeightMm, SigmaMm        float64
	RateDegPerDay, SigmaRate float64
	FlatRateDegPerDay        float64
	Correlation              float64
	Lat, SigmaLat            coords.Angle
	Readings                 int
	SpanDays                 float64
	Scatter                  float64
}

// HeightError says why no height is given, with what the fit has if it got so far.
type HeightError struct {
	Reason string
	Fit    HeightFit
}

func (e *HeightError) Error() string { return "height refused: " + e.Reason }

const (
	heightReachDeg   = 78 // farther from the meridian a middle is no middle
	fewestReadings   = 4
	shortestSpanDays = 3.0
	// widestHeightMm is the error with which a height says nothing: filaments stand 10
	// to 60 Mm high.
	widestHeightMm = 15.0
)

// The unknowns of the fit.
const (
	atLat    = iota // radians
	atLon           // radians, at the middle of the time
	atRate          // radians a day in Carrington longitude
	atHeight        // radii
	heightUnknowns
)

// FitHeight finds a feature's rate and height together from where it seemed to stand
// day by day: what stands high is displaced toward the limb, by an amount that
// changes as it crosses the disc, and so seems to turn too fast, the more the
// farther from the meridian (simultaneous determination of rotation rate and tracer
// height: Vršnak et al. 1999, Solar Physics 185, 207). Least squares of latitude and
// longitude with their covariances; latitude, and the rate, are taken as constant.
//
// The error is a *HeightError where the readings do not tell.
func FitHeight(readings []HeightReading, opts HeightOptions) (HeightFit, error) {
	f, err := newHeightProblem(readings, opts)
	if err != nil {
		return HeightFit{}, err
	}
	flat, _, _, ok := f.solve(false)
	if !ok {
		return HeightFit{}, &HeightError{Reason: "the readings fit no steady motion"}
	}
	x, cov, chi2, ok := f.solve(true)
	if !ok {
		return HeightFit{}, &HeightError{Reason: "rate and height cannot be told apart"}
	}
	dof := float64(2*len(f.readings) - heightUnknowns)
	fit := HeightFit{Readings: len(f.readings), SpanDays: f.span, Scatter: math.Sqrt(chi2 / dof)}
	scale := math.Max(1, fit.Scatter)
	sigma := func(u int) float64 { return scale * math.Sqrt(cov.At(u, u)) }
	perDay := func(rate float64) float64 { return rate*180/math.Pi + ephemeris.CarringtonDegPerDay }
	fit.HeightMm, fit.SigmaMm = x[atHeight]*coords.SolarRadiusMm, sigma(atHeight)*coords.SolarRadiusMm
	fit.RateDegPerDay, fit.SigmaRate = perDay(x[atRate]), sigma(atRate)*180/math.Pi
	fit.FlatRateDegPerDay = perDay(flat[atRate])
	fit.Correlation = cov.At(atHeight, atRate) / math.Sqrt(cov.At(atHeight, atHeight)*cov.At(atRate, atRate))
	fit.Lat, fit.SigmaLat = coords.Angle(x[atLat]), coords.Angle(sigma(atLat))
	switch {
	case fit.Scatter > 3:
		return fit, &HeightError{fmt.Sprintf("the readings scatter %.1f times their errors about a steady motion", fit.Scatter), fit}
	case fit.SigmaMm > widestHeightMm:
		return fit, &HeightError{fmt.Sprintf("its error would be %.0f Mm; readings on more days, farther to both sides of the meridian, are needed", fit.SigmaMm), fit}
	case fit.HeightMm < -2*fit.SigmaMm:
		return fit, &HeightError{fmt.Sprintf("it comes out below the photosphere, at %.0f ± %.0f Mm: the middle was not the same each day", fit.HeightMm, fit.SigmaMm), fit}
	}
	return fit, nil
}

// middleSigmaMm is how far the part of a cloud that is marked as its middle, the
// darkest one, may stand above or below the half of its height (common practice, no
// source).
const middleSigmaMm = 5

// Tempered is the height with what is known of its kind folded in, each by its error: a
// rough fit says little, and what is weighed must not hang on it.
func (f HeightFit) Tempered(prior rotation.Prior) coords.Layer {
	own, usual := 1/(coords.Square(f.SigmaMm)+coords.Square(middleSigmaMm)), 1/coords.Square(prior.HeightSigmaMm)
	return coords.Layer{
		HeightMm: max(1, (own*f.HeightMm+usual*prior.HeightMm)/(own+usual)),
		SigmaMm:  math.Sqrt(1 / (own + usual)),
	}
}

// heightProblem is the readings made ready.
type heightProblem struct {
	readings []heightEquation
	span     float64
	rate     float64 // prior, radians a day
	rateVar  float64 // 0: none
}

// heightEquation is a reading: its days from the middle of the time, what was read
// (latitude, and longitude unwrapped), and the inverse of its covariance.
type heightEquation struct {
	view     disc.View
	days     float64
	lat, lon float64
	weight   [2][2]float64
}

func newHeightProblem(readings []HeightReading, opts HeightOptions) (*heightProblem, error) {
	centre := opts.CentreSigma
	if centre == 0 {
		centre = 0.7 * coords.Degree
	}
	f := new(heightProblem)
	var used []HeightReading
	for i, r := range readings {
		if r.UTC.IsZero() || !(r.Flat.Cov.BB > 0) || !(r.Flat.Cov.LL > 0) {
			return nil, fmt.Errorf("height: reading %d has no time, or no error", i+1)
		}
		if r.Face.CMD(r.Flat.Heliographic).Abs() <= heightReachDeg*coords.Degree {
			used = append(used, r)
		}
	}
	if len(used) == 0 {
		return nil, &HeightError{Reason: fmt.Sprintf("no reading within %d° of the meridian", heightReachDeg)}
	}
	first, last := used[0].UTC, used[0].UTC
	for _, r := range used {
		if r.UTC.Before(first) {
			first = r.UTC
		}
		if r.UTC.After(last) {
			last = r.UTC
		}
	}
	f.span = rotation.Days(first, last)
	if len(used) < fewestReadings || f.span < shortestSpanDays {
		return nil, &HeightError{Reason: fmt.Sprintf("%d readings over %.1f days; at least %d over %.0f are needed", len(used), f.span, fewestReadings, shortestSpanDays)}
	}
	for _, r := range used {
		e := heightEquation{view: disc.View{Face: r.Face}, days: rotation.Days(first, r.UTC) - f.span/2}
		e.lat = r.Flat.B.Radians()
		e.lon = used[0].Flat.L.Radians() + (r.Flat.L - used[0].Flat.L).Wrap180().Radians()
		cosB := max(r.Flat.B.Cos(), 0.05)
		c := r.Flat.Cov.Plus(coords.Covariance{BB: coords.Square(centre.Radians()), LL: coords.Square(centre.Radians() / cosB)})
		det := c.BB*c.LL - c.BL*c.BL
		e.weight = [2][2]float64{{c.LL / det, -c.BL / det}, {-c.BL / det, c.BB / det}}
		f.readings = append(f.readings, e)
	}
	if p := opts.Rate; p != nil {
		lat := used[len(used)/2].Flat.B
		f.rate = degrees(p.Law.CarringtonDriftDegPerDay(lat)).Radians()
		f.rateVar = coords.Square(degrees(math.Hypot(p.RateSigmaDegPerDay, p.Law.SigmaDegPerDay(lat))).Radians())
	}
	return f, nil
}

// seems is where a feature seems to stand, read as on the photosphere.
func (e *heightEquation) seems(x [heightUnknowns]float64) (lat, lon float64) {
	at := coords.Heliographic{B: coords.Angle(x[atLat]), L: coords.Angle(x[atLon] + x[atRate]*e.days)}
	p := e.view.ProjectPolar(at, x[atHeight]*coords.SolarRadiusMm)
	// A place that seems to lie beyond the limb is read at the limb.
	q := e.view.PlacePolar(p.PositionAngle, min(p.R, 0.99999), 0, disc.Height{}).Photosphere
	return q.B.Radians(), at.L.Radians() + (q.L - at.L).Wrap180().Radians()
}

// solve fits by Gauss and Newton's method; without height the feature is taken to lie
// on the photosphere.
func (f *heightProblem) solve(height bool) (x [heightUnknowns]float64, cov *mat.SymDense, chi2 float64, ok bool) {
	n := heightUnknowns
	if !height {
		n--
	}
	for _, e := range f.readings {
		x[atLat] += e.lat / float64(len(f.readings))
		x[atLon] += e.lon / float64(len(f.readings))
	}
	steps := [heightUnknowns]float64{atLat: 1e-4, atLon: 1e-4, atRate: 1e-5, atHeight: 1e-4}
	for range 30 {
		a, y := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		chi2 = 0
		if f.rateVar > 0 {
			a.SetSym(atRate, atRate, 1/f.rateVar)
			y.SetVec(atRate, (f.rate-x[atRate])/f.rateVar)
			chi2 += coords.Square(f.rate-x[atRate]) / f.rateVar
		}
		for i := range f.readings {
			chi2 += f.readings[i].addTo(a, y, x, steps, n)
		}
		var chol mat.Cholesky
		if !chol.Factorize(a) || chol.Cond() > 1e14 {
			return x, nil, 0, false
		}
		var d mat.VecDense
		if err := chol.SolveVecTo(&d, y); err != nil {
			return x, nil, 0, false
		}
		moved := 0.0
		for u := range n {
			// No step of more than a tenth of a radius or radian at once.
			step := max(-0.1, min(0.1, d.AtVec(u)))
			x[u] += step
			moved = max(moved, math.Abs(step))
		}
		x[atHeight] = max(-0.2, min(0.5, x[atHeight]))
		if moved < 1e-9 {
			cov = new(mat.SymDense)
			return x, cov, chi2, chol.InverseTo(cov) == nil
		}
	}
	return x, nil, 0, false
}

// addTo adds a reading to the normal equations and gives its part of chi squared.
func (e *heightEquation) addTo(a *mat.SymDense, y *mat.VecDense, x, steps [heightUnknowns]float64, n int) float64 {
	lat, lon := e.seems(x)
	left := [2]float64{e.lat - lat, e.lon - lon}
	var per [2][heightUnknowns]float64
	for u := range n {
		up, down := x, x
		up[u] += steps[u]
		down[u] -= steps[u]
		latUp, lonUp := e.seems(up)
		latDown, lonDown := e.seems(down)
		per[0][u], per[1][u] = (latUp-latDown)/(2*steps[u]), (lonUp-lonDown)/(2*steps[u])
	}
	chi2 := 0.0
	for p := range 2 {
		for q := range 2 {
			w := e.weight[p][q]
			chi2 += left[p] * w * left[q]
			for u := range n {
				y.SetVec(u, y.AtVec(u)+per[p][u]*w*left[q])
				for v := u; v < n; v++ {
					a.SetSym(u, v, a.At(u, v)+per[p][u]*w*per[q][v])
				}
			}
		}
	}
	return chi2
}
