package north

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/paint"
	"limbwatch/testdata"
)

// turningTally counts what came of several runs. An answer that is decided is wrong when
// its parity is, or its axis.
type turningTally struct {
	tried, answered, axis, decided, wrong int
	one, two, frames                      int
	worst                                 float64
	reasons                               map[string]int
}

func (c *turningTally) add(out Turning, err error, truth []coords.North) {
	c.tried++
	if err != nil {
		if c.reasons == nil {
			c.reasons = map[string]int{}
		}
		var refused *TurningIndecisiveError
		if errors.As(err, &refused) {
			why := "other"
			if len(out.Pairs) > 0 {
				why = out.Pairs[0].Refused
				for i, r := range why {
					if r == ':' || r == 'b' && why[i:] == "by" {
						why = why[:i]
						break
					}
				}
			}
			c.reasons[why]++
		} else {
			c.reasons[err.Error()]++
		}
		return
	}
	c.answered++
	right := -1
	for k, a := range out.Answers {
		i := slices.IndexFunc(a.Norths, func(n *coords.North) bool { return n != nil })
		if a.Norths[i].Mirrored == truth[i].Mirrored {
			right = k
		}
	}
	if out.Decided {
		c.decided++
		if right < 0 {
			c.wrong++
			return
		}
	}
	if right < 0 {
		return
	}
	good := true
	for i, n := range out.Answers[right].Norths {
		if n == nil {
			continue
		}
		off := (n.Angle - truth[i].Angle).Wrap180().Abs().Degrees()
		sigma := n.Sigma.Degrees()
		c.frames++
		if off <= sigma {
			c.one++
		}
		if off <= 2*sigma {
			c.two++
		}
		c.worst = max(c.worst, off)
		if n.Mirrored != truth[i].Mirrored || off > max(3, 4*sigma) {
			good = false
		}
	}
	switch {
	case good:
		c.axis++
	case out.Decided:
		c.wrong++
	}
}

func (c *turningTally) String() string {
	f := float64(max(1, c.frames))
	return fmt.Sprintf("%d tried, %d answered, %d right axis, %d decided, %d of them wrong; %.2f within one error, %.2f within two; worst %.1f°; refused %v",
		c.tried, c.answered, c.axis, c.decided, c.wrong, float64(c.one)/f, float64(c.two)/f, c.worst, c.reasons)
}

// paintedTurn paints one invented Sun on several days, each picture turned (and all
// mirrored or not, unless free).
func paintedTurn(t testing.TB, seed uint64, start time.Time, days []float64, s sky, sameRoll bool) ([]TurningFrame, []coords.North) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 79))
	sun := restlessSun(t, seed, start, s.quiet)
	band := []paint.Band{paint.DoubleStack(), paint.SingleStack(), paint.WhiteLight()}[rng.IntN(3)]
	mirrored := rng.IntN(2) == 0
	roll := coords.Angle(rng.Float64() * 2 * math.Pi)
	var frames []TurningFrame
	var truth []coords.North
	for _, d := range days {
		at := start.Add(time.Duration(d * 24 * float64(time.Hour)))
		north := coords.North{Angle: roll, Mirrored: mirrored}
		if !sameRoll {
			north.Angle = coords.Angle(rng.Float64() * 2 * math.Pi)
		}
		f, limb := paintedLying(t, rng, sun.At(at), at, band, s, &north)
		frames = append(frames, TurningFrame{Unoriented: Unoriented{Picture: f.Picture(), Limb: limb, Layer: f.Truth.Layer, UTC: at}, SetUp: 1})
		truth = append(truth, north)
	}
	return frames, truth
}

// holdAll says that one camera took the frames and was not touched.
func holdAll(frames []TurningFrame) {
	for i := range frames {
		frames[i].Held = Held{Group: 1, Sigma: UntouchedSigma}
	}
}

func TestFromTurningOnPainted(t *testing.T) {
	type row struct {
		name     string
		month    time.Month // B0 is -7.2 in March, 0 in June, +7.2 in September
		days     []float64
		sameRoll bool
	}
	rows := []row{
		{"Sep, a day, free", time.September, []float64{0, 1}, false},
		{"Sep, a day, same roll", time.September, []float64{0, 1}, true},
		{"Jun, a day, same roll", time.June, []float64{0, 1}, true},
		{"Mar, two days, free", time.March, []float64{0, 2}, false},
		{"Sep, three days, free", time.September, []float64{0, 1, 2}, false},
	}
	each := 1
	if testdata.Thorough() && !testing.Short() {
		each = 4
	}
	tallies := make([]turningTally, len(rows))
	var all turningTally
	var mu sync.Mutex
	forEach(each*len(rows), func(i int) {
		r := rows[i%len(rows)]
		s := paintedSkies[i/len(rows)%len(paintedSkies)]
		frames, truth := paintedTurn(t, uint64(7000+i), time.Date(2026, r.month, 7, 9, 0, 0, 0, time.UTC), r.days, s, r.sameRoll)
		if r.sameRoll {
			holdAll(frames)
		}
		out, err := FromTurning(context.Background(), frames, TurningOptions{})
		var refused *TurningIndecisiveError
		if errors.As(err, &refused) {
			out = refused.Turning
		}
		mu.Lock()
		defer mu.Unlock()
		tallies[i%len(rows)].add(out, err, truth)
	})
	for i, r := range rows {
		t.Logf("%s: %v", r.name, &tallies[i])
		all.axis, all.tried, all.answered = all.axis+tallies[i].axis, all.tried+tallies[i].tried, all.answered+tallies[i].answered
		all.one, all.two, all.frames, all.wrong = all.one+tallies[i].one, all.two+tallies[i].two, all.frames+tallies[i].frames, all.wrong+tallies[i].wrong
	}
	assert.Zero(t, all.wrong, "decided for the wrong twin")
	assert.Equal(t, all.answered, all.axis, "each answer holds the right axis")
	assert.GreaterOrEqual(t, float64(all.axis), 0.8*float64(all.tried), "answered")
	// The frames of a run share most of their error: the bounds are wide for so few runs.
	assert.GreaterOrEqual(t, float64(all.one), 0.5*float64(all.frames), "within one standard error")
	assert.GreaterOrEqual(t, float64(all.two), 0.85*float64(all.frames), "within two")
}

// lyingAs are real pictures with solar north up, turned and mirrored so that they lie as told.
func lyingAs(t *testing.T, frames []realFrame, norths []coords.North) []TurningFrame {
	t.Helper()
	var in []TurningFrame
	for i, f := range frames {
		angle := norths[i].Angle - f.north().Angle
		if norths[i].Mirrored {
			angle = norths[i].Angle + f.north().Angle
		}
		in = append(in, TurningFrame{Unoriented: Unoriented{Picture: turned(t, f.open(t), f.limb, angle, norths[i].Mirrored), Limb: f.limb, Layer: f.layer, UTC: f.utc}})
	}
	return in
}

// Truth: the pictures have solar north up (their README). B0 is 3° then.
func TestFromTurningOnRealWhiteLight(t *testing.T) {
	frames := whiteLightFrames()
	var free, same turningTally
	var mu sync.Mutex
	days := []realFrame{frames[0], frames[1], frames[2], frames[3], frames[6], frames[7], frames[8], frames[9]}
	if !testdata.Thorough() {
		days = days[:5]
	}
	forEach(2*(len(days)-1), func(i int) {
		rng := rand.New(rand.NewPCG(uint64(i), 3))
		n := coords.North{Angle: coords.Angle(rng.Float64() * 2 * math.Pi), Mirrored: rng.IntN(2) == 0}
		truth, tally := []coords.North{n, n}, &same
		if i%2 == 0 {
			tally = &free
			truth[1] = coords.North{Angle: coords.Angle(rng.Float64() * 2 * math.Pi), Mirrored: rng.IntN(2) == 0}
		}
		in := lyingAs(t, days[i/2:i/2+2], truth)
		if i%2 == 1 {
			holdAll(in)
			in[0].SetUp, in[1].SetUp = 1, 1
		}
		out, err := FromTurning(context.Background(), in, TurningOptions{})
		mu.Lock()
		defer mu.Unlock()
		tally.add(out, err, truth)
	})
	t.Logf("lying anyhow: %v", &free)
	t.Logf("same roll: %v", &same)
	require.Positive(t, free.tried)
	for _, tally := range []turningTally{free, same} {
		assert.Zero(t, tally.wrong, "decided for the wrong twin")
		assert.Equal(t, tally.answered, tally.axis, "each answer holds the right axis")
		assert.GreaterOrEqual(t, float64(tally.axis), 0.8*float64(tally.tried), "answered a day apart")
	}
}

// Truth: solar north up to about 1° (their README). Half a day apart.
func TestFromTurningOnRealHAlpha(t *testing.T) {
	var tally turningTally
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 4))
		truth := make([]coords.North, 2)
		for i := range truth {
			truth[i] = coords.North{Angle: coords.Angle(rng.Float64() * 2 * math.Pi), Mirrored: rng.IntN(2) == 0}
		}
		out, err := FromTurning(context.Background(), lyingAs(t, halphaPair(), truth), TurningOptions{})
		tally.add(out, err, truth)
	}
	t.Logf("%v", &tally)
	assert.Zero(t, tally.wrong, "decided for the wrong twin")
	assert.Equal(t, tally.tried, tally.axis, "the right axis")
}
