package store

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// What is left of some spans is what lies in them and in no hole.
func TestSpansWithHoles(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	for range 3000 {
		some := func(n int) (spans []span) {
			for at := int64(1); n > 0; n-- {
				at += rng.Int64N(4)
				to := at + rng.Int64N(4)
				spans, at = append(spans, span{at, to}), to+1
			}
			return spans
		}
		spans, holes := joined(some(rng.IntN(4))), some(rng.IntN(4))
		within := func(list []span, id int64) bool {
			for _, s := range list {
				if s[0] <= id && id <= s[1] {
					return true
				}
			}
			return false
		}
		left := notIn(spans, holes)
		for id := range int64(40) {
			require.Equal(t, within(spans, id) && !within(holes, id), within(left, id), "%d in %v without %v: %v", id, spans, holes, left)
		}
	}
}
