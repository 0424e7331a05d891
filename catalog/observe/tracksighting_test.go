package observe_test

import (
	"context"
	"errors"
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

// A mark that is made with the word "this is it" is one step: it joins, and one undo
// takes mark and join back; an earlier mark without a passage begins one with it.
func TestASightingJoinsByTheObserversWord(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	_, err := k.ImportPositions(ctx, strings.NewReader(sixDays()), observe.ImportOptions{})
	require.NoError(t, err)
	v := k.Store.Read(ctx)
	entries, err := v.Entries(store.Query{Label: "a"})
	require.NoError(t, err)
	first, last := entries[0], entries[len(entries)-1]
	seen := catalog.Mark{
		Frame: last.Mark.Frame, Kind: catalog.Sunspot, MarkedAt: time.Date(2026, 3, 16, 0, 0, 0, 0, time.UTC),
		Geometry: catalog.Geometry{Shape: catalog.Point, Places: []catalog.PlacePoint{{B: 12 * coords.Degree, Lon: 120 * coords.Degree}}},
	}

	begun, err := k.AddSighting(ctx, seen, observe.SightingOf{Mark: first.Mark.ID})
	require.NoError(t, err)
	joins, err := v.JoinsOf(begun.ID)
	require.NoError(t, err)
	require.Len(t, joins, 1)
	assert.Equal(t, catalog.Made, joins[0].State)
	assert.Equal(t, catalog.ByObserver, joins[0].By)
	members, err := v.JoinsTo(joins[0].Passage)
	require.NoError(t, err)
	assert.Len(t, members, 2, "the earlier mark begins the passage")

	again, err := k.AddSighting(ctx, seen, observe.SightingOf{Passage: joins[0].Passage})
	require.NoError(t, err)
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	_, err = v.Mark(again.ID)
	_, gone := errors.AsType[*store.NotFoundError](err)
	assert.True(t, gone, "one undo takes the mark back too")

	_, err = k.AddSighting(ctx, seen, observe.SightingOf{Passage: 99})
	_, missing := errors.AsType[*store.NotFoundError](err)
	assert.True(t, missing)
	_, err = k.AddSighting(ctx, catalog.Mark{Frame: last.Mark.Frame}, observe.SightingOf{Passage: joins[0].Passage})
	_, invalid := errors.AsType[*store.InvalidError](err)
	assert.True(t, invalid, "what cannot be is named so: %v", err)
}
