package chart

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"limbwatch/catalog/chart/canvas"
)

// scattered are labels in clusters, as active regions come.
func scattered(n int, seed uint64) []label {
	rng := rand.New(rand.NewPCG(seed, seed))
	var out []label
	x, y := 0.0, 0.0
	for i := range n {
		if i%5 == 0 {
			x, y = 80+540*rng.Float64(), 80+540*rng.Float64()
		}
		out = append(out, label{
			Text: fmt.Sprintf("P%d %s", i, []string{"", "Long South", "leader"}[rng.IntN(3)]),
			Type: canvas.Type{Size: 11.5}, Reach: 4,
			At: canvas.Point{X: x + 25*rng.NormFloat64(), Y: y + 15*rng.NormFloat64()},
		})
	}
	return out
}

func TestLabelsDoNotOverlap(t *testing.T) {
	sheet := canvas.Rect{Width: 700, Height: 700}
	taken := []canvas.Rect{{X: 300, Y: 300, Width: 90, Height: 60}, {X: 0, Y: 650, Width: 700, Height: 50}}
	for seed := range uint64(20) {
		p := placer{Taken: taken, Allowed: func(r canvas.Rect) bool {
			return r.X >= 0 && r.Y >= 0 && r.Right() <= sheet.Width && r.Bottom() <= sheet.Height
		}}
		out := p.place(scattered(60, seed))
		found := 0
		for i, a := range out {
			if !a.Found {
				continue
			}
			found++
			assert.True(t, p.Allowed(a.Box), "seed %d: %s stays on the sheet", seed, a.Text)
			for _, r := range taken {
				assert.False(t, a.Box.Overlaps(r), "seed %d: %s lies on what is taken", seed, a.Text)
			}
			for _, b := range out[:i] {
				assert.False(t, b.Found && a.Box.Overlaps(b.Box), "seed %d: %q lies on %q", seed, a.Text, b.Text)
			}
			w := canvas.TextWidth(a.Text, 11.5, false)
			assert.InDelta(t, w, a.Box.Width, 1e-9)
		}
		assert.Equal(t, len(out), found, "seed %d: there is room for all of them", seed)
	}
}

// Where there is no room a label is left out, and said to be.
func TestLabelWithoutRoomIsLeftOut(t *testing.T) {
	p := placer{Allowed: func(canvas.Rect) bool { return false }}
	out := p.place(scattered(3, 1))
	for _, l := range out {
		assert.False(t, l.Found)
	}
	assert.Empty(t, p.place(nil))
}

func TestALoneLabelStaysBesideItsPoint(t *testing.T) {
	out := placer{}.place([]label{{Text: "P1", Type: canvas.Type{Size: 11}, At: canvas.Point{X: 100, Y: 100}, Reach: 5}})
	near := nearestOn(out[0].Box, canvas.Point{X: 100, Y: 100})
	assert.True(t, out[0].Found)
	assert.False(t, out[0].Leader)
	assert.InDelta(t, 8, distance(near, canvas.Point{X: 100, Y: 100}), 3)
	assert.False(t, inside(out[0].Box, canvas.Point{X: 100, Y: 100}))
}

func TestCrossing(t *testing.T) {
	r := canvas.Rect{X: 10, Y: 10, Width: 10, Height: 10}
	p := func(x, y float64) canvas.Point { return canvas.Point{X: x, Y: y} }
	assert.True(t, crosses(p(0, 0), p(30, 30), r), "through it")
	assert.True(t, crosses(p(15, 0), p(15, 15), r), "into it")
	assert.True(t, crosses(p(12, 12), p(18, 18), r), "within it")
	assert.False(t, crosses(p(0, 0), p(9, 9), r), "short of it")
	assert.False(t, crosses(p(0, 21), p(30, 25), r), "past it")
	assert.False(t, crosses(p(5, 0), p(5, 30), r), "beside it")
}

func distance(a, b canvas.Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

type canvasPoint = canvas.Point

func point(x, y float64) canvas.Point { return canvas.Point{X: x, Y: y} }

// As the map of a rotation with two thousand spots: most names find no room.
func BenchmarkLabelsOfACrowdedMap(b *testing.B) {
	p := placer{Allowed: func(r canvas.Rect) bool { return r.X >= 0 && r.Y >= 0 && r.Right() <= 1000 && r.Bottom() <= 500 }}
	labels := scattered(2000, 1)
	for b.Loop() {
		p.place(labels)
	}
}
