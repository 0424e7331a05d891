package north

import (
	"context"
	"math"
	"math/cmplx"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// The scan looks at every direction of the axis in the first picture of a pair, and
// for each at every roll of the second one.
const (
	scanRings = 36
	scanRolls = 256 // steps of 1.4°
	scanBlur  = 4.0 // cells: what features move by themselves in a day, and half a step
)

func scanRadius(i int) float64 { return (float64(i) + 0.5) * outermost / scanRings }

func scanRoll(k int) coords.Angle { return coords.Angle(k) * 2 * math.Pi / scanRolls }

// scanAxes is how many directions of the axis are tried: a step moves no feature by more
// than scanStep, whatever the turn.
func scanAxes(turn float64) int {
	const fewest, most = 45, 240
	return max(fewest, min(most, int(math.Ceil(2*math.Pi*turn/scanStep.Radians()))))
}

const scanStep = 1.4 * coords.Degree

// turningFrame is a picture made ready for being compared with several others.
type turningFrame struct {
	Unoriented
	face    coords.Face
	pattern *pattern
	coarse  *pattern
	polar   *scanPolar // of coarse, by direction in the picture
}

// scanPolar holds the transforms, along each ring, of what is known of a pattern, of
// its values and of their squares.
type scanPolar [scanRings][3][]complex128

func newTurningFrame(u Unoriented) *turningFrame {
	f := &turningFrame{Unoriented: u, face: ephemeris.At(u.UTC), pattern: flatten(u.Picture, u.Limb)}
	f.coarse = &pattern{value: f.pattern.blurred(scanBlur), known: f.pattern.known}
	f.polar = new(scanPolar)
	fft := fourier.NewFFT(scanRolls)
	var ring scanRing
	for i := range f.polar {
		r := scanRadius(i)
		for k := range scanRolls {
			sin, cos := scanRoll(k).Sincos()
			ring.set(k, f.coarse, -r*sin, -r*cos)
		}
		ring.moments(fft, &f.polar[i])
	}
	return f
}

// scanRing is a pattern along one ring.
type scanRing struct{ value, known, square [scanRolls]float64 }

// set takes the nearest cell: the blur is wide against it.
func (r *scanRing) set(k int, p *pattern, u, v float64) {
	value, ok := p.nearest(u, v)
	if !ok {
		r.value[k], r.known[k], r.square[k] = 0, 0, 0
		return
	}
	r.value[k], r.known[k], r.square[k] = value, 1, value*value
}

// moments writes the transforms into out, which may be empty.
func (r *scanRing) moments(fft *fourier.FFT, out *[3][]complex128) {
	for k, of := range [3][]float64{r.known[:], r.value[:], r.square[:]} {
		if out[k] == nil {
			out[k] = make([]complex128, scanRolls/2+1)
		}
		fft.Coefficients(out[k], of)
	}
}

// origins tells where what stands on a ring about the disc's centre, so far from solar
// north through east, stood at the earlier time: radii to solar west and north. It
// depends on the two instants alone, and not on how the pictures lie.
type origins [scanRings][scanRolls]struct {
	west, north float64
	seen        bool
}

func originsOf(old, now *turningFrame, law rotation.Law, days float64) *origins {
	o := new(origins)
	then := disc.View{Layer: old.Layer, Face: old.face}
	view := disc.View{Layer: now.Layer, Face: now.face}
	view.Layer.SigmaMm, then.Layer.SigmaMm = 0, 0
	for i := range o {
		for k := range o[i] {
			place := view.PlacePolar(now.face.P+scanRoll(k), scanRadius(i), 0, disc.Height{})
			if place.Where != disc.OnDisc {
				continue
			}
			p := then.ProjectPolar(law.Carry(place.Photosphere.Heliographic, -days), 0)
			if !p.Visible || p.R > oldOutmost {
				continue
			}
			sin, cos := (p.PositionAngle - old.face.P).Sincos()
			o[i][k].west, o[i][k].north, o[i][k].seen = -p.R*sin, p.R*cos, true
		}
	}
	return o
}

// pose is how the two pictures of a pair lie: where solar north points in each,
// counter-clockwise from up, and which are mirrored.
type pose struct {
	old, now                 coords.Angle
	oldMirrored, nowMirrored bool
}

// twin is the pose that shows almost the same motions: north and south exchanged.
func (p pose) twin() pose {
	return pose{(p.old + math.Pi).Wrap360(), (p.now + math.Pi).Wrap360(), !p.oldMirrored, !p.nowMirrored}
}

// sameHands says that both poses mirror the same pictures.
func (p pose) sameHands(o pose) bool {
	return p.oldMirrored == o.oldMirrored && p.nowMirrored == o.nowMirrored
}

// scan is the correlation of a pair at all poses.
type scan struct {
	turn float64 // radians, by which the Sun turned
	at   [2][][2][scanRolls]float32
}

// axis is a direction that was tried.
func (s *scan) axis(k int) coords.Angle {
	return coords.Angle(k) * 2 * math.Pi / coords.Angle(len(s.at[0]))
}

// scanPair correlates a pair at all poses.
func scanPair(ctx context.Context, old, now *turningFrame, law rotation.Law) (*scan, error) {
	days := rotation.Days(old.UTC, now.UTC)
	s := &scan{turn: math.Abs(law.CMDMove(15*coords.Degree, old.UTC, now.UTC).Radians())}
	from := originsOf(old, now, law, days)
	var wait sync.WaitGroup
	for mirrored := range s.at {
		s.at[mirrored] = make([][2][scanRolls]float32, scanAxes(s.turn))
		wait.Go(func() {
			fft := fourier.NewFFT(scanRolls)
			for k := range s.at[mirrored] {
				if ctx.Err() != nil {
					return
				}
				s.along(fft, from, old.coarse, now.polar, mirrored, k)
			}
		})
	}
	wait.Wait()
	return s, ctx.Err()
}

// along fills in the correlations for one direction of the axis in the earlier picture.
func (s *scan) along(fft *fourier.FFT, from *origins, old *pattern, now *scanPolar, mirrored, k int) {
	hand := 1.0
	if mirrored == 1 {
		hand = -1
	}
	correlateAlong(fft, from, old, now, hand, s.axis(k), &s.at[mirrored][k])
}

// correlateAlong correlates a pair whose earlier picture has solar north at an angle, in
// the hand it has, at all rolls of the later one in both its parities.
func correlateAlong(fft *fourier.FFT, from *origins, old *pattern, now *scanPolar, hand float64, axis coords.Angle, out *[2][scanRolls]float32) {
	sin, cos := axis.Sincos()
	var sums [2][6][scanRolls/2 + 1]complex128 // of w, a, b, a², b², ab, by the second picture's parity
	var ring scanRing
	var a [3][]complex128
	for i := range from {
		for j := range from[i] {
			p := &from[i][j]
			if !p.seen {
				ring.value[j], ring.known[j], ring.square[j] = 0, 0, 0
				continue
			}
			ring.set(j, old, -sin*p.north+hand*cos*p.west, -cos*p.north-hand*sin*p.west)
		}
		ring.moments(fft, &a)
		b := now[i]
		weight := complex(scanRadius(i), 0)
		for n, pair := range scanPairs {
			x, y := a[pair[0]], b[pair[1]]
			for f := range x {
				wy := weight * y[f]
				sums[0][n][f] += cmplx.Conj(x[f]) * wy
				sums[1][n][f] += x[f] * wy // read backwards: the transform's conjugate
			}
		}
	}
	for parity := range sums {
		var t [6][]float64
		for n := range t {
			t[n] = fft.Sequence(nil, sums[parity][n][:])
		}
		correlationsOf(&t, &out[parity])
	}
}

var scanPairs = [6][2]int{{0, 0}, {1, 0}, {0, 1}, {2, 0}, {0, 2}, {1, 1}}

// correlationsOf is the normalised correlation over what is known in both (Padfield
// 2012, IEEE Trans. Image Process. 21, 2706).
func correlationsOf(t *[6][]float64, out *[scanRolls]float32) {
	enough := 0.0
	for _, w := range t[0] {
		enough = max(enough, 0.15*w)
	}
	for k := range out {
		w, a, b := t[0][k], t[1][k], t[2][k]
		aa, bb, ab := t[3][k]-a*a/w, t[4][k]-b*b/w, t[5][k]-a*b/w
		if w > enough && aa > 0 && bb > 0 {
			out[k] = float32(ab / math.Sqrt(aa*bb))
		}
	}
}

// each calls f with every pose and its correlation.
func (s *scan) each(f func(p pose, correlation float64)) {
	for m := range s.at {
		for k := range s.at[m] {
			for n := range s.at[m][k] {
				for j, c := range s.at[m][k][n] {
					f(pose{s.axis(k), scanRoll(j), m == 1, n == 1}, float64(c))
				}
			}
		}
	}
}

// near says that two poses differ by so little that features stand nearly alike under
// both: another axis moves a feature by the turn times the difference.
func (s *scan) near(p, o pose) bool {
	reach := coords.Angle(max(12*math.Pi/180, min(math.Pi/2, 0.07/max(s.turn, 1e-3)))) + s.axis(1)
	return p.sameHands(o) && (p.old-o.old).Wrap180().Abs() < reach && (p.now-o.now).Wrap180().Abs() < reach+6*coords.Degree
}

// peaks are the best pose with what speaks against it.
//
//	best, twin   the two poses, as the scan has them, and their correlations
//	rival        the best correlation of any other pose
//	noise        rms correlation of all others
type peaks struct {
	best, twin             pose
	correlation, twinValue float64
	rival, noise           float64
}

// peaks finds them among the poses allowed.
func (s *scan) peaks(allowed func(pose) bool) peaks {
	p := peaks{correlation: -1, twinValue: -1, rival: -1}
	s.each(func(at pose, c float64) {
		if c > p.correlation && allowed(at) {
			p.best, p.correlation = at, c
		}
	})
	mirror := p.best.twin()
	sum, n := 0.0, 0
	s.each(func(at pose, c float64) {
		switch {
		case s.near(at, p.best):
		case s.near(at, mirror):
			if c > p.twinValue {
				p.twin, p.twinValue = at, c
			}
		default:
			if allowed(at) {
				p.rival = max(p.rival, c)
			}
			sum, n = sum+c*c, n+1
		}
	})
	p.noise = math.Sqrt(sum / float64(max(n, 1)))
	return p
}
