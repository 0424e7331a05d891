package north

import (
	"context"
	"fmt"
	"hash/fnv"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/testdata"
)

// lastingMotion gives each feature a drift of its own that lasts, degrees a day (rms).
func lastingMotion(sun paint.Sun, seed uint64, days, rate float64) paint.Sun {
	drift := func(name string, salt uint64) (lon, lat float64) {
		h := fnv.New64a()
		h.Write([]byte(name))
		rng := rand.New(rand.NewPCG(seed^h.Sum64(), salt))
		return rate * rng.NormFloat64() * days, rate * rng.NormFloat64() * days
	}
	for i := range sun.Spots {
		lon, lat := drift(sun.Spots[i].Label, 1)
		sun.Spots[i].At = moved(sun.Spots[i].At, lon, lat)
	}
	for i := range sun.Plages {
		lon, lat := drift(sun.Plages[i].Label, 1)
		sun.Plages[i].At = moved(sun.Plages[i].At, lon, lat)
	}
	for i := range sun.Filaments {
		lon, lat := drift(sun.Filaments[i].Label, 1)
		spine := slices.Clone(sun.Filaments[i].Spine)
		for k := range spine {
			spine[k] = moved(spine[k], lon, lat)
		}
		sun.Filaments[i].Spine = spine
	}
	return sun
}

// only leaves of the Sun what is asked for.
func only(sun paint.Sun, what string) paint.Sun {
	switch what {
	case "spots":
		sun.Plages, sun.Filaments = nil, nil
	case "plage and filaments":
		sun.Spots = nil
	case "mottling":
		sun.Spots, sun.Plages, sun.Filaments = nil, nil, nil
	}
	return sun
}

// featuresSeen counts what stands apart from the rest by 6° and is seen within 60° of
// the middle of the disc at both instants. White light shows spots alone.
func featuresSeen(sun paint.Sun, whiteLight bool, first, last time.Time) int {
	var places []coords.Heliographic
	add := func(h coords.Heliographic) {
		for _, at := range []time.Time{first, last} {
			f := ephemeris.At(at)
			if h.B.Sin()*f.B0.Sin()+h.B.Cos()*f.B0.Cos()*(h.L-f.L0).Cos() < 0.5 {
				return
			}
		}
		for _, p := range places {
			if h.B.Sin()*p.B.Sin()+h.B.Cos()*p.B.Cos()*(h.L-p.L).Cos() > math.Cos(6*math.Pi/180) {
				return
			}
		}
		places = append(places, h)
	}
	for _, s := range sun.Spots {
		add(s.At)
	}
	if whiteLight {
		return len(places)
	}
	for _, p := range sun.Plages {
		add(p.At)
	}
	for _, f := range sun.Filaments {
		add(f.Spine[len(f.Spine)/2])
	}
	return len(places)
}

// What the Suns of the table may show, and how fast their features drift for days; the
// months go round with them, all else is of chance.
var (
	turningShows = []string{"all", "spots", "all", "plage and filaments", "mottling"}
	turningRates = []float64{0.1, 0.2, 0.3} // degrees a day

	turningMonths = []time.Month{time.September, time.May, time.March, time.June, time.November} // B0 7.3, -3.5, -7.3, 0.1, 3.8
)

// turningSun is one Sun of the table on several days, before one camera: untouched but for
// what a mount lets it wander. One may be told so or not: the pairs are looked at all the
// same.
type turningSun struct {
	turn     *turn
	truth    []coords.North
	names    []string
	features func(first, last int) int
}

func newTurningSun(t *testing.T, k int, seed uint64, days []float64) turningSun {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 80))
	start := time.Date(2026, turningMonths[k%len(turningMonths)], 7, 9, 0, 0, 0, time.UTC)
	s, show, rate := paintedSkies[rng.IntN(len(paintedSkies))], turningShows[rng.IntN(len(turningShows))], turningRates[rng.IntN(len(turningRates))]
	s.radiusPx, s.cloudy = 160, rng.IntN(4) == 0
	sun := restlessSun(t, seed, start, s.quiet)
	seenAt := sun.At
	if s.calm {
		seenAt = sun.Population.At
	}
	b := rng.IntN(3)
	if show == "plage and filaments" {
		b %= 2 // white light shows none
	}
	band, whiteLight := []paint.Band{paint.DoubleStack(), paint.SingleStack(), paint.WhiteLight()}[b], b == 2
	n := coords.North{Angle: coords.Angle(rng.Float64() * 2 * math.Pi), Mirrored: rng.IntN(2) == 0}
	out := turningSun{names: []string{"shown " + show, fmt.Sprintf("drifting %.1f deg a day", rate), fmt.Sprintf("calm %v", s.calm), fmt.Sprintf("quiet %v", s.quiet), fmt.Sprintf("cloudy %v", s.cloudy), fmt.Sprintf("phone %v", s.phone),
		"light " + []string{"double stack", "single stack", "white"}[b]}}
	var frames []TurningFrame
	for _, d := range days {
		at := start.Add(time.Duration(d * 24 * float64(time.Hour)))
		lies := n
		lies.Angle += UntouchedSigma / math.Sqrt2 * coords.Angle(rng.NormFloat64())
		f, limb := paintedLying(t, rng, only(lastingMotion(seenAt(at), seed, d, rate), show), at, band, s, &lies)
		frames = append(frames, TurningFrame{Unoriented: Unoriented{Picture: f.Picture(), Limb: limb, Layer: f.Truth.Layer, UTC: at}, SetUp: 1})
		out.truth = append(out.truth, lies)
	}
	out.features = func(first, last int) int {
		return featuresSeen(only(seenAt(frames[first].UTC), show), whiteLight, frames[first].UTC, frames[last].UTC)
	}
	var err error
	out.turn, err = newTurn(context.Background(), frames, TurningOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// answer is what some of the frames give, which share the pairs that were looked at.
func (s turningSun) answer(which []int, held bool) (Turning, []coords.North, error) {
	t := &turn{opts: s.turn.opts, law: s.turn.law}
	var truth []coords.North
	for _, i := range which {
		t.frames, t.ready, truth = append(t.frames, s.turn.frames[i]), append(t.ready, s.turn.ready[i]), append(truth, s.truth[i])
	}
	if held {
		holdAll(t.frames)
	}
	for _, p := range s.turn.pairs {
		old, now := slices.Index(which, p.Old), slices.Index(which, p.Now)
		if old >= 0 && now >= 0 {
			q := *p
			q.Old, q.Now = old, now
			t.pairs = append(t.pairs, &q)
		}
	}
	if len(t.pairs) == 0 {
		return Turning{}, truth, &TurningIndecisiveError{Reason: "no two of the pictures are near enough in time"}
	}
	out, _, err := t.joined()
	return out, truth, err
}

// circumstances are what the table goes by.
type circumstances struct {
	b0       float64 // size, rounded
	pictures int
	days     float64 // from the first to the last
	held     bool
}

// circumstanceTable counts what came of each.
type circumstanceTable map[circumstances]*turningTally

// String is the table as the README has it: of how many the axis was found, and in
// brackets of how many the parity was decided, in percent.
func (c circumstanceTable) String() string {
	sizes := []float64{0, 4, 7}
	var out strings.Builder
	out.WriteString("\n| pictures |")
	for _, b0 := range sizes {
		fmt.Fprintf(&out, " B0 %.0f°, free | same roll |", b0)
	}
	out.WriteString("\n|---|" + strings.Repeat("---|", 2*len(sizes)))
	for pictures := 2; pictures <= 5; pictures++ {
		for days := pictures - 1; days <= 4; days++ {
			row := fmt.Sprintf("%d over %d days", pictures, days)
			if pictures == 2 {
				row = fmt.Sprintf("2, %d days apart", days)
			}
			fmt.Fprintf(&out, "\n| %s |", row)
			for _, b0 := range sizes {
				for _, held := range []bool{false, true} {
					n := c[circumstances{b0, pictures, float64(days), held}]
					if n == nil {
						n = new(turningTally)
					}
					tried := float64(max(1, n.tried))
					fmt.Fprintf(&out, " %.0f (%.0f) |", 100*float64(n.axis)/tried, 100*float64(n.decided)/tried)
				}
			}
		}
	}
	return out.String()
}

// How often the axis is found, and the parity decided, by B0, gap, number of days and
// rolls. LIMBWATCH_LONG says of how many Suns, LIMBWATCH_SEED where they begin; each is
// seen on five days, and all choices of two to five of them are tried, the camera known to
// be untouched or not. Without it a few are run, on two days unless
// thoroughly.
func TestTurningByItsCircumstances(t *testing.T) {
	suns, err := strconv.Atoi(os.Getenv("LIMBWATCH_LONG"))
	long := err == nil
	first, _ := strconv.Atoi(os.Getenv("LIMBWATCH_SEED"))
	days := []float64{0, 1, 2, 3, 4}
	switch {
	case !long && testdata.Thorough() && !testing.Short():
		suns = 6
	case !long:
		suns, days = 3, days[:2]
	}
	table, tallies := circumstanceTable{}, map[string]*turningTally{}
	var all turningTally
	for k := first; k < first+suns; k++ {
		seed := uint64(60000 + k)
		sun := newTurningSun(t, k, seed, days)
		b0 := math.Abs(math.Round(sun.turn.ready[0].face.B0.Degrees()))
		for choice := range 1 << len(days) {
			var which []int
			for i := range days {
				if choice>>i&1 == 1 {
					which = append(which, i)
				}
			}
			if len(which) < 2 {
				continue
			}
			last := which[len(which)-1]
			for _, held := range []bool{false, true} {
				out, truth, err := sun.answer(which, held)
				at := circumstances{b0, len(which), days[last] - days[which[0]], held}
				if table[at] == nil {
					table[at] = &turningTally{}
				}
				table[at].add(out, err, truth)
				names := sun.names
				if at.pictures == 2 && at.days == 1 && !held {
					names = append(slices.Clone(names), fmt.Sprintf("a day apart, three features or more %v", sun.features(which[0], last) >= 3))
				}
				for _, name := range names {
					if tallies[name] == nil {
						tallies[name] = &turningTally{}
					}
					tallies[name].add(out, err, truth)
				}
				wrong := all.wrong
				all.add(out, err, truth)
				if all.wrong > wrong {
					t.Logf("decided wrongly: seed %d, %v, held %v, %v: odds %.4f", seed, which, held, names, out.Answers[0].Odds)
				}
			}
		}
		t.Logf("%d Suns: %v", k+1-first, &all)
	}
	for _, name := range slices.Sorted(maps.Keys(tallies)) {
		t.Logf("%s: %v", name, tallies[name])
	}
	t.Log(table)
	assert.LessOrEqual(t, all.wrong, 1+all.decided/500, "decided wrongly")
	if day := tallies["a day apart, three features or more true"]; long && suns >= 10 && day != nil {
		assert.GreaterOrEqual(t, float64(day.axis), 0.8*float64(day.tried), "the axis, a day apart, of three features or more")
		// The answers of a Sun share most of their error: a run of few Suns strays.
		assert.GreaterOrEqual(t, float64(all.one), (0.68-0.3/math.Sqrt(float64(suns)))*float64(all.frames), "within one standard error")
		assert.GreaterOrEqual(t, float64(all.two), (0.95-0.15/math.Sqrt(float64(suns)))*float64(all.frames), "within two")
	}
}

// A pair of pictures of 6.3 megapixels, without the reading of the files.
func BenchmarkTurningOfLargePictures(b *testing.B) {
	frames, truth := largePair(b, 31)
	for b.Loop() {
		out, err := FromTurning(context.Background(), frames, TurningOptions{})
		if err != nil {
			b.Fatal(err)
		}
		var tally turningTally
		tally.add(out, nil, truth)
		if tally.axis != 1 {
			b.Fatalf("%v", &tally)
		}
	}
}

// largePair are two pictures of 6.3 megapixels a day apart.
func largePair(t testing.TB, seed uint64) ([]TurningFrame, []coords.North) {
	t.Helper()
	return paintedTurn(t, seed, time.Date(2026, time.September, 7, 9, 0, 0, 0, time.UTC), []float64{0, 1}, sky{radiusPx: 1090}, false)
}

func TestFromTurningOfLargePictures(t *testing.T) {
	if testing.Short() {
		t.Skip("painting pictures of 6.3 megapixels takes its time; without -short it runs")
	}
	frames, truth := largePair(t, 32)
	assert.InDelta(t, 6.3e6, float64(len(frames[0].Picture.Grey)), 0.1e6)
	out, err := FromTurning(context.Background(), frames, TurningOptions{})
	var tally turningTally
	tally.add(out, err, truth)
	t.Logf("%v", &tally)
	assert.Equal(t, 1, tally.axis, "%v", err)
}
