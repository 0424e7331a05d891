package observe_test

import (
	"bytes"
	"context"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// oddsOfJoins gives the odds of each made join by its mark.
func oddsOfJoins(t *testing.T, k observe.Keeper) map[catalog.MarkID]float64 {
	t.Helper()
	joins, err := k.Store.Read(context.Background()).Joins()
	require.NoError(t, err)
	odds := map[catalog.MarkID]float64{}
	for _, j := range joins {
		if j.State == catalog.Made && j.Odds != nil {
			odds[j.Mark] = *j.Odds
		}
	}
	return odds
}

// TestWhatIsFollowedInPartsIsAsTheWhole adds days in any order to random records, takes
// marks away, moves some, joins some by the observer's word and undoes some of it all,
// following only what each needs: then following everything finds nothing to change.
func TestWhatIsFollowedInPartsIsAsTheWhole(t *testing.T) {
	ctx := context.Background()
	records := uint64(2)
	if testing.Short() {
		records = 1
	}
	parts := 0
	for seed := range records {
		r := rand.New(rand.NewPCG(9, seed))
		k := openKeeper(t)
		var csv bytes.Buffer
		start := time.Date(2019, 1, 1, 12, 0, 0, 0, time.UTC)
		spotRecord(&csv, r, start, 500, 6)
		lines := strings.SplitAfter(csv.String(), "\n")
		header, rows := lines[0], lines[1:len(lines)-1]
		var late []string // days
		var first strings.Builder
		first.WriteString(header)
		left := map[string]int{}
		for _, row := range rows {
			day := strings.Split(row, ",")[1]
			i, known := left[day]
			if !known {
				i = -1
				if r.Float64() < 0.04 {
					i = len(late)
					late = append(late, header)
				}
				left[day] = i
			}
			if i < 0 {
				first.WriteString(row)
			} else {
				late[i] += row
			}
		}
		_, err := k.ImportPositions(ctx, strings.NewReader(first.String()), observe.ImportOptions{})
		require.NoError(t, err)
		followed := func() observe.Followed {
			done, err := k.TrackFollow(ctx, observe.FollowOptions{})
			require.NoError(t, err)
			parts++
			return done
		}
		whole := followed()
		r.Shuffle(len(late), func(i, j int) { late[i], late[j] = late[j], late[i] })
		for i, day := range late {
			_, err := k.ImportPositions(ctx, strings.NewReader(day), observe.ImportOptions{})
			require.NoError(t, err)
			done := followed()
			assert.Less(t, done.Marks, whole.Marks*2/3, "only what is near is looked at")
			some, err := k.Store.Read(ctx).Entries(store.Query{})
			require.NoError(t, err)
			e := some[r.IntN(len(some))]
			switch i % 5 {
			case 0:
				require.NoError(t, k.RemoveMark(ctx, e.Mark.ID, store.Newest))
			case 1:
				e.Mark.Geometry.Places[0].B += 4 * coords.Degree
				_, err := k.EditMark(ctx, e.Mark)
				require.NoError(t, err)
			case 2:
				require.NoError(t, k.JoinMarks(ctx, e.Join.Passage, []catalog.MarkID{e.Mark.ID}))
			case 3:
				_, err := k.Undo(ctx) // of following
				require.NoError(t, err)
			case 4:
				_, err := k.Undo(ctx)
				require.NoError(t, err)
				_, err = k.Undo(ctx) // of the day
				require.NoError(t, err)
			}
			followed()
		}
		stood := oddsOfJoins(t, k)
		whole, err = k.TrackFollow(ctx, observe.FollowOptions{From: start.AddDate(-1, 0, 0), To: start.AddDate(3, 0, 0)})
		require.NoError(t, err)
		assert.Zero(t, whole.Joined+whole.Moved+whole.New+whole.Ended, "record %d: %+v", seed, whole.Passages)
		far := 0.0
		for mark, odds := range oddsOfJoins(t, k) {
			was, known := stood[mark]
			assert.True(t, known, "odds of %s, that has none", mark)
			far = max(far, odds-was, was-odds)
		}
		t.Logf("record %d: %d marks, odds off by %.4f at most", seed, whole.Marks, far)
		assert.Less(t, far, 0.01, "odds, which are kept to a hundredth")
		nothing := followed()
		assert.Zero(t, nothing.Marks)
	}
	t.Logf("%d times followed", parts)
}
