package limb

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/paint"
	"limbwatch/coords/picture"
	"limbwatch/testdata"
)

func pictureOf(t testing.TB, f *paint.Frame) *picture.Picture {
	p, err := picture.New(f.Width, f.Height, f.Grey, picture.Depth{Bits: f.Bits})
	require.NoError(t, err)
	return p
}

// tally gathers errors of one condition.
type tally struct {
	shown, accepted      int
	centre, radius, pull []float64
	pulls                [3][]float64
}

func (t *tally) add(truth coords.Limb, f Fit) {
	dx, dy, dr := f.Limb.Centre.X-truth.Centre.X, f.Limb.Centre.Y-truth.Centre.Y, f.Limb.RadiusPx-truth.RadiusPx
	t.accepted++
	t.centre = append(t.centre, math.Hypot(dx, dy))
	t.radius = append(t.radius, math.Abs(dr))
	for i, p := range []float64{dx / math.Sqrt(f.Limb.Cov.XX), dy / math.Sqrt(f.Limb.Cov.YY), dr / f.Limb.Cov.SigmaRadiusPx()} {
		t.pulls[i] = append(t.pulls[i], p)
		t.pull = append(t.pull, p)
	}
}

const tableHead = "%-28s %3s %3s | %5s %5s %5s | %5s %5s %5s | %4s %4s %4s %4s"

// row is one line of the table: pictures and how many were accepted; error of the
// centre and of the radius in px (median, 95 %, largest); spread of the pulls in x, y
// and radius, and the largest.
func (t *tally) row(name string) string {
	return fmt.Sprintf("%-28s %3d %3d | %5.3f %5.3f %5.2f | %5.3f %5.3f %5.2f | %4.2f %4.2f %4.2f %4.1f", name, t.shown, t.accepted,
		quantile(t.centre, .5), quantile(t.centre, .95), quantile(t.centre, 1),
		quantile(t.radius, .5), quantile(t.radius, .95), quantile(t.radius, 1),
		spread(t.pulls[0]), spread(t.pulls[1]), spread(t.pulls[2]), largest(t.pull))
}

// spread is the root mean square.
func spread(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

func largest(v []float64) float64 {
	w := 0.0
	for _, x := range v {
		w = max(w, math.Abs(x))
	}
	return w
}

// quantile by linear interpolation between the ordered values.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(values))
	at := q * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-1)
	j := min(i+1, len(sorted)-1)
	return sorted[i] + (at-float64(i))*(sorted[j]-sorted[i])
}

// TestPaintedSet finds the limb in painted pictures, whose truth the painter knows,
// and prints a table by condition. What is asked is what the product promises:
// ordinary pictures to a small fraction of a pixel, the others refused or answered
// with errors that are true. The bounds are those of the product's own statement
// of accuracy (no outside source); three seeds are too few for the statistics.
func TestPaintedSet(t *testing.T) {
	seeds, ordinaryR, hardR := 30, 900.0, 450.0
	full := testdata.Thorough() && !testing.Short() && !raced
	if !full {
		seeds, ordinaryR, hardR = 3, 300, 300
	}
	if raced {
		seeds = 1
	}
	sums := make([]tally, len(conditions))
	t.Run("conditions", func(t *testing.T) {
		for i, c := range conditions {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				radius := hardR
				if c.ordinary {
					radius = ordinaryR
				}
				for seed := range seeds {
					c.paintAndFind(t, uint64(seed)+1, radius, &sums[i])
				}
				assert.Less(t, largest(sums[i].pull), 5.0, "no error beyond five of the quoted")
				if full {
					assert.Less(t, spread(sums[i].pull), 1.4, "spread of the pulls: errors are not quoted too small")
				}
				if full && c.ordinary {
					assert.GreaterOrEqual(t, float64(sums[i].accepted), 0.98*float64(seeds), "accepted of %d", seeds)
					assert.Less(t, max(largest(sums[i].centre), largest(sums[i].radius)), 1.0, "largest error of centre or radius, px")
				}
			})
		}
	})
	var ordinary, hard tally
	t.Logf(tableHead, "condition", "n", "acc", "c.50", "c.95", "c.max", "r.50", "r.95", "r.max", "px", "py", "pr", "max")
	for i, c := range conditions {
		if sums[i].shown == 0 {
			continue // not asked for by -run
		}
		t.Log(sums[i].row(c.name))
		if c.ordinary {
			ordinary.join(sums[i])
		} else {
			hard.join(sums[i])
		}
	}
	t.Log(ordinary.row("all ordinary"))
	t.Log(hard.row("all hard"))
	if !full || ordinary.shown+hard.shown < seeds*len(conditions) {
		return
	}
	for name, v := range map[string][]float64{"centre": ordinary.centre, "radius": ordinary.radius} {
		assert.LessOrEqual(t, quantile(v, 0.5), 0.05, "ordinary pictures: median error of the %s, px", name)
		assert.LessOrEqual(t, quantile(v, 0.95), 0.3, "ordinary pictures: 95th percentile of the error of the %s, px", name)
	}
	for k, name := range []string{"centre x", "centre y", "radius"} {
		s := spread(hard.pulls[k])
		assert.True(t, s > 0.7 && s < 1.4, "hard pictures: spread of the pulls of %s is %.2f, allowed 0.7 to 1.4", name, s)
	}
}

// paintAndFind paints one picture and counts what is found in it.
func (c condition) paintAndFind(t *testing.T, seed uint64, radiusPx float64, sum *tally) {
	s, r := sceneFor(seed, radiusPx)
	if !c.texture {
		s.Sun.Mottling, s.Sun.Plages = paint.Mottling{}, nil
	}
	c.alter(&s, r)
	frame, err := paint.Paint(s)
	require.NoError(t, err)
	sum.shown++
	f, err := Find(pictureOf(t, frame), Options{})
	if err != nil {
		require.ErrorAs(t, err, new(*RefusedError))
		return
	}
	truth := frame.Truth.Limb
	if c.either && math.Abs(f.Limb.RadiusPx-frame.Truth.PhotospherePx) < math.Abs(f.Limb.RadiusPx-truth.RadiusPx) {
		truth.RadiusPx = frame.Truth.PhotospherePx
	}
	sum.add(truth, f)
}

func (t *tally) join(o tally) {
	t.shown += o.shown
	t.accepted += o.accepted
	t.centre = append(t.centre, o.centre...)
	t.radius = append(t.radius, o.radius...)
	t.pull = append(t.pull, o.pull...)
	for k := range t.pulls {
		t.pulls[k] = append(t.pulls[k], o.pulls[k]...)
	}
}
