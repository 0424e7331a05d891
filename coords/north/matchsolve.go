package north

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"limbwatch/coords"
)

// The unknowns of a solution. The roll is what is asked for; all others are what
// moves the whole pattern without the picture being turned.
const (
	rolled      = iota // counter-clockwise, radians
	drifted            // to the west, radians
	sheared            // to the west, radians times the sine of the latitude
	differently        // to the west, radians times the square of that sine
	right              // of the disc's centre, cells
	down
	larger   // the radius, in parts of itself
	axis     // of the earlier picture, counter-clockwise, radians
	poleward // radians times the sine of the latitude
	unknowns
)

// pinned is the prior of what is known: the earlier picture's north, where it has one.
const pinned = 1e-7

// ownMotion is how far a feature strays by itself in some days, along the parallel and
// the meridian (radians, standard deviations): what a window is expected to show
// before it is asked. The Greenwich groups' residuals after 1, 3 and 6 days
// (rotation.PriorOf "sunspot": 0.71°, 1.33° and 2.04° in longitude, 0.44°, 0.59° and
// 0.89° in latitude) are a walk of 0.7° in the first day and a rate of 0.18° a day
// in longitude, a walk of 0.14° and a rate of 0.12° a day in latitude, and a
// part that does not grow: how a group's middle is defined.
func ownMotion(days float64) (lon, lat float64) {
	d := math.Abs(days)
	lon = math.Sqrt(0.1*0.1 + 0.7*0.7*d + 0.18*0.18*d*d)
	lat = math.Sqrt(0.1*0.1 + 0.14*0.14*d + steadyLatDeg*steadyLatDeg*d*d)
	return lon * math.Pi / 180, lat * math.Pi / 180
}

// steadyLatDeg is the rate, in degrees a day, with which a feature moves along the
// meridian day after day.
const steadyLatDeg = 0.12

// priors are the standard errors of the unknowns before the windows are asked. No law
// of rotation is exact: those of filaments and of magnetic features differ by 0.2° a
// day at 20° of latitude, 0.7° at 50°; what stands high seems to turn faster, by
// half a degree a day at 25 Mm.
func priors(days float64, old, now coords.Limb) [unknowns]float64 {
	days = math.Abs(days)
	centre := math.Hypot(old.Cov.SigmaCentrePx()/old.RadiusPx, now.Cov.SigmaCentrePx()/now.RadiusPx)
	radius := math.Hypot(old.Cov.SigmaRadiusPx()/old.RadiusPx, now.Cov.SigmaRadiusPx()/now.RadiusPx)
	p := [unknowns]float64{
		rolled: 3, drifted: math.Hypot(0.1, 0.3*days), sheared: math.Hypot(0.1, 0.3*days), differently: math.Hypot(0.1, days),
	}
	for i := rolled; i <= differently; i++ {
		p[i] *= math.Pi / 180
	}
	p[right] = math.Hypot(centre*cellsPerRadius, 0.05)
	p[down] = p[right]
	p[larger] = math.Hypot(radius, 0.0005)
	p[axis], p[poleward] = pinned, pinned
	return p
}

// solver weighs a turn of the picture against all that moves its pattern otherwise.
//
// A window lies off its place by what the unknowns say and by a motion of its own,
// Gaussian with standard deviations lon and lat times a scale that is found from all
// windows together; it may also show something else altogether. The most probable
// unknowns and scales are found by turns, as in the EM algorithm.
type solver struct {
	windows            []window
	least              int // windows, with fewer it does not answer
	lon, lat           float64
	prior              [unknowns]float64
	scaleLon, scaleLat float64
	theta              [unknowns]float64
}

const (
	astray     = 0.2 // chance that a window shows something else
	stillCells = 0.3 // how well a window's place is ever found
	priorCount = 6.0 // windows that the expected size of own motions counts as
)

// said is what a window says at the present solution: how much it belongs to it
// (0 to 1), the gradient of its log likelihood with its move, and minus the second
// derivative; its mean square motions of its own, in units of those expected; and the
// logarithm of its likelihood against that of a window that may show anything.
type said struct {
	belongs      float64
	evidence     float64
	pull         [2]float64
	bends        symmetric
	lonSq, latSq float64
	moves        [2][unknowns]float64
}

// moves is by how many cells (right, down) the window moves for each unknown.
func (w *window) moves() (a [2][unknowns]float64) {
	for k, along := range [2]float64{w.u, w.v} {
		a[k][drifted] = w.west[k]
		a[k][sheared] = w.west[k] * w.sinLat
		a[k][differently] = w.west[k] * w.sinLat * w.sinLat
		a[k][larger] = along * cellsPerRadius
	}
	a[0][rolled], a[1][rolled] = w.v*cellsPerRadius, -w.u*cellsPerRadius
	a[0][right], a[1][down] = 1, 1
	for k := range a {
		a[k][axis] = w.axis[k]
		a[k][poleward] = w.north[k] * w.sinLat
	}
	return a
}

// symmetric is a symmetric 2 × 2 matrix, of covariances or their inverse.
type symmetric struct{ xx, xy, yy float64 }

func (m symmetric) det() float64 { return m.xx*m.yy - m.xy*m.xy }

func (m symmetric) inverse() symmetric {
	det := m.det()
	return symmetric{m.yy / det, -m.xy / det, m.xx / det}
}

func (m symmetric) times(v [2]float64) [2]float64 {
	return [2]float64{m.xx*v[0] + m.xy*v[1], m.xy*v[0] + m.yy*v[1]}
}

// form is vᵀ M v.
func (m symmetric) form(x, y float64) float64 { return m.xx*x*x + 2*m.xy*x*y + m.yy*y*y }

// around is M C M.
func (m symmetric) around(c symmetric) symmetric {
	row := c.times([2]float64{m.xx, m.xy}) // C M's columns
	low := c.times([2]float64{m.xy, m.yy})
	a, b := m.times(row), m.times(low)
	return symmetric{a[0], a[1], b[1]}
}

// own is the covariance, in cells, of the motions that a window may have by itself.
func (w *window) own(lon, lat float64) symmetric {
	wx, wy, nx, ny := w.west[0]*lon, w.west[1]*lon, w.north[0]*lat, w.north[1]*lat
	return symmetric{wx*wx + nx*nx + stillCells*stillCells, wx*wy + nx*ny, wy*wy + ny*ny + stillCells*stillCells}
}

// motion is how a window has moved by itself, where mx, my is due to the unknowns and
// inverse is that of the covariance of motions: its mean, its mean squares, and its
// likelihood times the determinant's root.
func (w *window) motion(mx, my float64, inverse symmetric) (likely float64, mean [2]float64, squares symmetric) {
	for i, l := range w.likely {
		x, y := float64(i%windowSide-windowReach)-mx, float64(i/windowSide-windowReach)-my
		chi2 := inverse.form(x, y)
		if chi2 > 30 {
			continue
		}
		p := l * math.Exp(-chi2/2)
		likely += p
		mean[0], mean[1] = mean[0]+p*x, mean[1]+p*y
		squares.xx, squares.xy, squares.yy = squares.xx+p*x*x, squares.xy+p*x*y, squares.yy+p*y*y
	}
	if likely == 0 {
		return 0, mean, squares
	}
	mean[0], mean[1] = mean[0]/likely, mean[1]/likely
	return likely, mean, symmetric{squares.xx / likely, squares.xy / likely, squares.yy / likely}
}

// ask reads a window at the present solution.
func (s *solver) ask(w *window) said {
	out := said{moves: w.moves()}
	var mx, my float64
	for k, t := range s.theta {
		mx += out.moves[0][k] * t
		my += out.moves[1][k] * t
	}
	own := w.own(s.lon*s.scaleLon, s.lat*s.scaleLat)
	inverse := own.inverse()
	likely, mean, squares := w.motion(mx, my, inverse)
	out.evidence = math.Log(astray)
	if likely == 0 {
		return out
	}
	here := (1 - astray) * likely / (2 * math.Pi * math.Sqrt(own.det()))
	out.belongs = here / (here + astray)
	out.evidence = math.Log(here + astray)
	out.pull = inverse.times(mean)
	// Σ⁻¹ − Σ⁻¹ C Σ⁻¹, C being the covariance of the motion; a window that says nothing has C = Σ.
	less := inverse.around(symmetric{squares.xx - mean[0]*mean[0], squares.xy - mean[0]*mean[1], squares.yy - mean[1]*mean[1]})
	out.bends = symmetric{inverse.xx - less.xx, inverse.xy - less.xy, inverse.yy - less.yy}
	// Along the parallel and the meridian.
	d := w.west[0]*w.north[1] - w.west[1]*w.north[0]
	out.lonSq = squares.form(w.north[1]/d, -w.north[0]/d) / (s.lon * s.lon)
	out.latSq = squares.form(-w.west[1]/d, w.west[0]/d) / (s.lat * s.lat)
	return out
}

// Why a solution is none.
var (
	errLost = errors.New("the roll hangs on too little of the pattern")
	errFew  = errors.New("too little of the disc is seen in both pictures")
)

const (
	leastWindows = 5                   // with fewer there is nothing to average over
	farthest     = 2.5 * coords.Degree // from the best roll of the whole disc; a roll less certain than that is none
	rounds       = 25
)

// solve is the turn and its standard error: the larger of what the Gaussians say and of
// what is found by leaving out each window in turn.
func (s *solver) solve() (turn, sigma coords.Angle, err error) {
	answers, information, err := s.settle()
	if err != nil {
		return 0, 0, err
	}
	covariance, err := inverse(information)
	if err != nil {
		return 0, 0, err
	}
	turn = coords.Angle(s.theta[rolled])
	if turn.Abs() > farthest {
		return 0, 0, errLost
	}
	return turn, coords.Angle(math.Sqrt(max(covariance.At(rolled, rolled), s.scatter(answers, information).At(rolled, rolled)))), nil
}

// settle finds the most probable unknowns, with what the windows say there and the
// information about the unknowns.
func (s *solver) settle() (answers []said, information *mat.SymDense, err error) {
	if len(s.windows) < s.least {
		return nil, nil, errFew
	}
	s.scaleLon, s.scaleLat = 2, 2 // wide at first, not to be caught by a chance fit
	for range rounds {
		answers = answers[:0]
		for i := range s.windows {
			answers = append(answers, s.ask(&s.windows[i]))
		}
		var step []float64
		information, step, err = s.step(answers)
		if err != nil {
			return nil, nil, err
		}
		for k := range s.theta {
			s.theta[k] += step[k]
		}
		s.rescale(answers)
	}
	return answers, information, nil
}

// inverse of the information is the covariance, when every window is what it is
// believed to be.
func inverse(information *mat.SymDense) (*mat.SymDense, error) {
	var c mat.Cholesky
	covariance := new(mat.SymDense)
	if !c.Factorize(information) {
		return nil, errLost
	}
	if err := c.InverseTo(covariance); err != nil {
		return nil, errLost
	}
	return covariance, nil
}

// share is what a window adds to the information about the unknowns.
func (a *said) share(into *mat.SymDense, sign float64) {
	// A window torn between two places has no say along the line between them.
	xx, xy, yy := a.bends.xx, a.bends.xy, a.bends.yy
	mean, half := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	if mean-half < 0 {
		if mean+half <= 0 {
			return
		}
		k := (mean + half) / (2 * half)
		xx, xy, yy = k*(xx-(mean-half)), k*xy, k*(yy-(mean-half))
	}
	for i := range unknowns {
		for j := i; j < unknowns; j++ {
			v := a.moves[0][i]*(xx*a.moves[0][j]+xy*a.moves[1][j]) + a.moves[1][i]*(xy*a.moves[0][j]+yy*a.moves[1][j])
			into.SetSym(i, j, into.At(i, j)+sign*a.belongs*v)
		}
	}
}

// gradient is by how much the window's log likelihood grows with each unknown.
func (a *said) gradient() (g [unknowns]float64) {
	for k := range g {
		g[k] = a.belongs * (a.moves[0][k]*a.pull[0] + a.moves[1][k]*a.pull[1])
	}
	return g
}

// step is Newton's, toward the most probable unknowns, with the information (minus the
// second derivatives of the log probability) about them.
func (s *solver) step(answers []said) (*mat.SymDense, []float64, error) {
	m := mat.NewSymDense(unknowns, nil)
	g := mat.NewVecDense(unknowns, nil)
	for k, sigma := range s.prior {
		m.SetSym(k, k, 1/(sigma*sigma))
		g.SetVec(k, -s.theta[k]/(sigma*sigma))
	}
	for i := range answers {
		answers[i].share(m, 1)
		for k, v := range answers[i].gradient() {
			g.SetVec(k, g.AtVec(k)+v)
		}
	}
	var c mat.Cholesky
	if !c.Factorize(m) {
		return nil, nil, errLost
	}
	var step mat.VecDense
	if err := c.SolveVecTo(&step, g); err != nil {
		return nil, nil, errLost
	}
	return m, step.RawVector().Data, nil
}

// rescale fits the scale of own motions to what the windows show; what was expected of
// them counts as some windows, too.
func (s *solver) rescale(answers []said) {
	lon, lat, n := priorCount, priorCount, priorCount
	for i := range answers {
		lon += answers[i].belongs * answers[i].lonSq
		lat += answers[i].belongs * answers[i].latSq
		n += answers[i].belongs
	}
	s.scaleLon, s.scaleLat = math.Sqrt(lon/n), math.Sqrt(lat/n)
}

// scatter is the covariance of the unknowns by leaving out each window in turn (the
// jackknife, one Newton step from the solution each).
func (s *solver) scatter(answers []said, information *mat.SymDense) *mat.SymDense {
	sum := mat.NewSymDense(unknowns, nil)
	for i := range answers {
		m := mat.NewSymDense(unknowns, nil)
		m.CopySym(information)
		answers[i].share(m, -1)
		g := answers[i].gradient()
		var c mat.Cholesky
		var step mat.VecDense
		if !c.Factorize(m) || c.SolveVecTo(&step, mat.NewVecDense(unknowns, g[:])) != nil {
			for k := range unknowns {
				sum.SetSym(k, k, math.Inf(1))
			}
			return sum
		}
		sum.SymRankOne(sum, 1, &step)
	}
	return sum
}
