package north

import (
	"context"
	"errors"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
	"limbwatch/coords/paint"
)

// What shows nothing, or one feature alone, or too short or too long a time, gives no
// axis; the reason says which.
func TestTurningThatTellsNothing(t *testing.T) {
	start := time.Date(2026, time.September, 7, 9, 0, 0, 0, time.UTC)
	full := restlessSun(t, 7, start, false)
	one := func(time.Time) paint.Sun {
		l0 := (TurningFrame{Unoriented: Unoriented{UTC: start}}).viewOf(coords.North{}).Face.L0
		return paint.Sun{Spots: []paint.Spot{{Label: "A", At: coords.Heliographic{B: 15 * coords.Degree, L: l0 - 20*coords.Degree}, UmbraMm: 8, PenumbraMm: 20, Umbra: 0.3, Penumbra: 0.8, Seed: 4}}}
	}
	for name, c := range map[string]struct {
		sun  func(time.Time) paint.Sun
		days float64
		says string
	}{
		"blank":          {func(time.Time) paint.Sun { return paint.Sun{} }, 1, ""},
		"a single spot":  {one, 1, ""},
		"an hour":        {full.At, 1. / 24, "no two of the pictures are between"},
		"more than days": {full.At, 6, "no two of the pictures are between"},
	} {
		rng := rand.New(rand.NewPCG(3, 83))
		var frames []TurningFrame
		for _, d := range []float64{0, c.days} {
			at := start.Add(time.Duration(d * 24 * float64(time.Hour)))
			f, limb := paintedLying(t, rng, c.sun(at), at, paint.WhiteLight(), sky{radiusPx: 120}, &coords.North{})
			frames = append(frames, TurningFrame{Unoriented: Unoriented{Picture: f.Picture(), Limb: limb, Layer: f.Truth.Layer, UTC: at}, SetUp: 1})
		}
		_, err := FromTurning(context.Background(), frames, TurningOptions{})
		_, refused := errors.AsType[*TurningIndecisiveError](err)
		assert.True(t, refused, "%s: %v", name, err)
		t.Logf("%s: %v", name, err)
		if c.says != "" {
			assert.ErrorContains(t, err, c.says, name)
		}
	}
}
