package north

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// blankFrame is a frame of which only the disc and the time are used.
func blankFrame(at time.Time, limb coords.Limb) *turningFrame {
	return &turningFrame{Unoriented: Unoriented{Limb: limb, UTC: at}, face: ephemeris.At(at)}
}

// Features that were marked on both frames tell the axis, one of the twins being the truth,
// at all dates, gaps, rolls and parities; two of them tell none.
func TestAxisOfMarks(t *testing.T) {
	t.Parallel()
	law := MatchOptions{}.law()
	found, right, within := 0, 0, 0
	const times = 150
	for seed := range uint64(times) {
		rng := rand.New(rand.NewPCG(seed, 82))
		start := time.Date(2026, 1, 1, 9, 0, 0, 0, time.UTC).AddDate(0, 0, rng.IntN(365))
		days := 0.8 + 2.4*rng.Float64()
		limb := coords.Limb{Centre: coords.Pixel{X: 600, Y: 500}, RadiusPx: 400}
		old, now := blankFrame(start, limb), blankFrame(start.Add(time.Duration(days*24*float64(time.Hour))), limb)
		turn := math.Abs(law.CMDMove(15*coords.Degree, old.UTC, now.UTC).Radians())
		s := &scan{turn: turn}
		for m := range s.at {
			s.at[m] = make([][2][scanRolls]float32, scanAxes(turn))
		}
		truth := pose{old: coords.Angle(rng.Float64() * 2 * math.Pi), now: coords.Angle(rng.Float64() * 2 * math.Pi), oldMirrored: rng.IntN(2) == 0}
		truth.nowMirrored = truth.oldMirrored
		before, after := old.viewAt(truth.old, truth.oldMirrored), now.viewAt(truth.now, truth.nowMirrored)
		lon, lat := 0.4*math.Sqrt(days), 0.2*math.Sqrt(days) // degrees that each strays by itself
		var marks []markedPair
		n := 5 + rng.IntN(4)
		for tries := 0; len(marks) < n && tries < 400; tries++ {
			h := coords.Heliographic{B: coords.Angle(60*rng.Float64()-30) * coords.Degree, L: old.face.L0 + coords.Angle(90*rng.Float64()-60)*coords.Degree}
			a, seen := before.Project(h, 0)
			strayed := law.Carry(moved(h, lon*rng.NormFloat64(), lat*rng.NormFloat64()), days)
			b, still := after.Project(strayed, 0)
			if !seen || !still || math.Hypot(b.X-limb.Centre.X, b.Y-limb.Centre.Y) > 0.9*limb.RadiusPx {
				continue
			}
			marks = append(marks, markedPair{MarkedAt{0, a, 2}, MarkedAt{1, b, 2}})
		}
		allowed := func(p pose) bool { return p.oldMirrored == p.nowMirrored }
		_, err := scanMarks(old, now, marks[:2], s, law, allowed)
		assert.ErrorContains(t, err, "at least 3 are needed")
		at, err := scanMarks(old, now, marks, s, law, allowed)
		if err != nil {
			continue
		}
		found++
		if at.oldMirrored != truth.oldMirrored {
			at = at.twin()
		}
		// A turn of the axis moves what is seen by the turn of the Sun times it.
		if off := (at.old - truth.old).Wrap180().Abs(); off < 25*coords.Degree {
			right++
		}
		f := pairFit{old: old, now: now, law: law, marks: marks, marksAlone: true}
		old.Limb.Cov, now.Limb.Cov = coords.LimbCovariance{XX: 0.01, YY: 0.01, RR: 0.01}, coords.LimbCovariance{XX: 0.01, YY: 0.01, RR: 0.01}
		if fit, err := f.fit(at); err == nil && (fit.pose.old-truth.old).Wrap180().Abs().Radians() <= 2*math.Sqrt(fit.cov.xx) {
			within++
		}
	}
	t.Logf("%d of %d found, %d the right axis, %d within two errors", found, times, right, within)
	assert.GreaterOrEqual(t, found, times*6/10)
	assert.GreaterOrEqual(t, right, found*97/100)
	assert.GreaterOrEqual(t, within, found*88/100)
}

// A list of positions of which nobody knows the marks tells the twins apart, now and then
// not, and hardly ever for the wrong one: some of its features are not marked, some marks
// are of none of them, and the axis has its error.
func TestAListOfPositionsTellsTheTwinsApart(t *testing.T) {
	t.Parallel()
	const times = 600
	sure, wrong := 0, 0
	for seed := range uint64(times) {
		rng := rand.New(rand.NewPCG(seed, 84))
		start := time.Date(2026, 1, 1, 9, 0, 0, 0, time.UTC).AddDate(0, 0, rng.IntN(365))
		limb := coords.Limb{Centre: coords.Pixel{X: 600, Y: 500}, RadiusPx: 400}
		f := blankFrame(start, limb)
		work := &turn{frames: []TurningFrame{{Unoriented: f.Unoriented}}, ready: []*turningFrame{f}}
		solar, mirrored := coords.Angle(rng.Float64()*2*math.Pi), rng.IntN(2) == 0
		view := f.viewAt(solar, mirrored)
		place := func() (coords.Heliographic, coords.Pixel) {
			side := float64(2*rng.IntN(2) - 1)
			h := coords.Heliographic{B: coords.Angle(side*(5+25*rng.Float64())) * coords.Degree, L: f.face.L0 + coords.Angle(140*rng.Float64()-70)*coords.Degree}
			px, visible := view.Project(h, 0)
			require.True(t, visible)
			return h, px
		}
		for range 2 + rng.IntN(6) {
			h, px := place()
			const error = 1.5 // degrees, of the list and of what is called the middle
			listed := moved(h, error*rng.NormFloat64(), error*rng.NormFloat64())
			sigma := (error * coords.Degree).Squared()
			if rng.Float64() < 0.75 {
				work.frames[0].Listed = append(work.frames[0].Listed, Foretold{Place: coords.Measured{Heliographic: listed, Cov: coords.Covariance{BB: sigma, LL: sigma / coords.Square(h.B.Cos())}}})
			}
			if rng.Float64() < 0.75 {
				work.frames[0].Marks = append(work.frames[0].Marks, UnknownMark{Pixel: px, SigmaPx: 2})
			}
		}
		for range rng.IntN(3) {
			_, px := place()
			work.frames[0].Marks = append(work.frames[0].Marks, UnknownMark{Pixel: px, SigmaPx: 2})
		}
		var both twins
		off := coords.Angle(rng.NormFloat64()) * coords.Degree
		for k := range both {
			lies := pose{old: solar + off, oldMirrored: mirrored}
			if k == 1 {
				lies = lies.twin()
			}
			both[k] = turnedTogether{mirrored: []bool{lies.oldMirrored}, solar: []coords.Angle{lies.old}, known: []bool{true}, cov: mat.NewSymDense(1, []float64{(1 * coords.Degree).Squared()})}
		}
		weight, spoke := work.listClue(both)
		switch {
		case !spoke:
		case logistic(weight) >= TurningOdds:
			sure++
		case logistic(-weight) >= TurningOdds:
			sure++
			wrong++
		}
	}
	t.Logf("%d of %d sure, %d of them wrong", sure, times, wrong)
	assert.GreaterOrEqual(t, sure, times*6/10)
	assert.LessOrEqual(t, wrong, 2, "of those that are sure by odds of 0.995")
}
