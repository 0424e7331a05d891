package north

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"limbwatch/testdata"
)

// A day whose hour stands out against the others is told with the hour that would fit, far
// off or near, first or last; when all are right none is.
func TestAnHourThatStandsOut(t *testing.T) {
	type row struct {
		seed  uint64
		days  []float64
		frame int
		off   float64 // hours by which its true time is later than it says
	}
	rows := []row{{81, []float64{0, 1, 2}, 1, 0}, {82, []float64{0, 1, 2}, 2, 10}, {83, []float64{0, 1.1, 2.2}, 0, -7}, {84, []float64{0, 1, 2, 3}, 1, 5}, {85, []float64{0, 1, 2}, 2, 12}, {86, []float64{0, 0.9, 2.1}, 1, 0}}
	switch {
	case testing.Short():
		rows = rows[:2]
	case !testdata.Thorough():
		rows = rows[:3]
	}
	told, off := 0, 0
	var mu sync.Mutex
	forEach(len(rows), func(k int) {
		r := rows[k]
		start := time.Date(2026, time.August, 7, 9, 0, 0, 0, time.UTC)
		frames, truth := paintedTurn(t, r.seed, start, r.days, sky{radiusPx: 160}, false)
		says := frames[r.frame].UTC.Add(-time.Duration(r.off * float64(time.Hour)))
		frames[r.frame].UTC = says
		out, err := FromTurning(context.Background(), frames, TurningOptions{})
		if refused, ok := errors.AsType[*TurningIndecisiveError](err); ok {
			out = refused.Turning
		}
		t.Logf("%+v: %v, apart %v, %v", r, out.Hours, out.Apart, err)
		if r.off == 0 {
			assert.Empty(t, out.Hours, "%+v", r)
			return
		}
		mu.Lock()
		defer mu.Unlock()
		off++
		if len(out.Hours) == 0 {
			return
		}
		told++
		o := out.Hours[0]
		assert.Equal(t, r.frame, o.Frame, "%+v", r)
		assert.InDelta(t, r.off, o.Off.Hours(), 3*o.Sigma.Hours(), "%+v", r)
		if !assert.NoError(t, err, "the others have a say without it") {
			return
		}
		assert.Contains(t, out.Apart, r.frame, "and it gets no north")
		for _, a := range out.Answers {
			for i, n := range a.Norths {
				if n != nil && n.Mirrored == truth[i].Mirrored {
					assert.LessOrEqual(t, (n.Angle - truth[i].Angle).Wrap180().Abs(), 4*n.Sigma, "%+v, picture %d", r, i+1)
				}
			}
		}
	})
	if !testing.Short() {
		assert.GreaterOrEqual(t, told, off*3/4, "of those that are off by five hours and more")
	}
}
