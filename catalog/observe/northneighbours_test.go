package observe_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// markedDay adds a picture of a plain disc and marks on it a few features where they stand
// that day; its north is the truth, whatever is kept for it later.
func markedDay(t *testing.T, k observe.Keeper, at time.Time, truth coords.North, places []coords.Heliographic) catalog.FrameID {
	t.Helper()
	added := paintedFrame(t, k, at, coords.Pixel{X: middle.X + float64(at.Day()), Y: middle.Y})
	view := disc.View{Limb: added.Disc.Limb, North: truth, Face: ephemeris.At(at)}
	law := rotation.PriorOf("sunspot").Law
	for _, h := range places {
		px, visible := view.Project(law.Carry(h, rotation.Days(firstDay, at)), 0)
		require.True(t, visible)
		_, err := k.AddMark(ctx, catalog.Mark{Frame: added.Frame.ID, Kind: catalog.Sunspot, Geometry: catalog.Geometry{
			Shape: catalog.Point, Pixels: []coords.Pixel{px}, SigmaClickPx: 0.5}})
		require.NoError(t, err)
	}
	return added.Frame.ID
}

var firstDay = time.Date(2026, 3, 12, 11, 0, 0, 0, time.UTC)

// spotsOf are places on the disc of the first day, without any symmetry.
func spotsOf() (places []coords.Heliographic) {
	l0 := ephemeris.At(firstDay).L0
	for _, p := range [][2]float64{{18, -35}, {-9, -18}, {25, 5}, {-22, -50}, {11, 12}, {-14, 2}} {
		places = append(places, coords.Heliographic{B: deg(p[0]), L: (l0 + deg(p[1])).Wrap360()})
	}
	return places
}

func keptNorth(t *testing.T, k observe.Keeper, id catalog.FrameID, n coords.North) []observe.NorthContradiction {
	t.Helper()
	tellings, err := k.NorthTellings(ctx, id)
	require.NoError(t, err)
	_, err = k.Heeding(tellings).SetNorth(ctx, catalog.North{Frame: id, Angle: n.Angle, Mirrored: n.Mirrored, Sigma: n.Sigma}, store.Newest)
	require.NoError(t, err)
	found, err := k.HoldNorth(ctx, id, tellings)
	require.NoError(t, err)
	return found
}

func TestNorthsOfNeighbouringDaysAreHeldAgainstEachOther(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	truth := coords.North{Angle: deg(20), Sigma: deg(0.3)}
	var ids []catalog.FrameID
	for day := range 3 {
		ids = append(ids, markedDay(t, k, firstDay.AddDate(0, 0, day), truth, spotsOf()))
	}
	assert.Empty(t, keptNorth(t, k, ids[0], truth), "there is nothing to hold against it yet")
	assert.Empty(t, keptNorth(t, k, ids[1], truth))
	assert.NotContains(t, warningsOf(t, k, ids[1]), catalog.CauseNorth)

	for name, c := range map[string]struct {
		said coords.North
		says string
	}{
		"half a turn":       {coords.North{Angle: deg(-160), Sigma: truth.Sigma}, "it is half a turn off; 20."},
		"the other parity":  {coords.North{Angle: deg(20), Sigma: truth.Sigma, Mirrored: true}, "it has east and west exchanged"},
		"more than allowed": {coords.North{Angle: deg(27), Sigma: truth.Sigma}, "7.0° off, more than the errors allow"},
	} {
		t.Run(name, func(t *testing.T) {
			found := keptNorth(t, k, ids[2], c.said)
			want := 1
			if c.said.Mirrored { // and unlike the set-up's others
				want = 2
			}
			require.Len(t, found, want)
			assert.Contains(t, found[0].Words, c.says)
			assert.Contains(t, northWords(t, k, ids[2]), c.says, "and stays with the picture")
			assert.Empty(t, keptNorth(t, k, ids[2], truth))
			assert.NotContains(t, warningsOf(t, k, ids[2]), catalog.CauseNorth, "put right, it goes")
		})
	}
	t.Run("one unlike both of its neighbours", func(t *testing.T) {
		found := keptNorth(t, k, ids[1], coords.North{Angle: deg(-160), Sigma: truth.Sigma})
		require.Len(t, found, 2)
		assert.Contains(t, found[0].Words, "unlike both of its neighbours")
	})
	t.Run("the neighbour is the odd one", func(t *testing.T) {
		last := markedDay(t, k, firstDay.AddDate(0, 0, 3), truth, spotsOf()[1:])
		assert.Empty(t, keptNorth(t, k, last, truth))
		found := keptNorth(t, k, ids[2], truth) // F2 lies half turned still, F4 rightly
		require.Len(t, found, 1)
		assert.Contains(t, found[0].Words, "does not go with that of F2, 1.0 days before: by the marks that one is half a turn off")
		assert.Equal(t, ids[1], found[0].Odd)
		assert.Contains(t, warningsOf(t, k, ids[1]), catalog.CauseNorth)
	})
	t.Run("all backwards", func(t *testing.T) {
		other := keeper(t)
		yard(t, other)
		a := markedDay(t, other, firstDay, truth, spotsOf())
		b := markedDay(t, other, firstDay.AddDate(0, 0, 1), truth, spotsOf())
		wrong := coords.North{Angle: truth.Angle, Sigma: truth.Sigma, Mirrored: true}
		assert.Empty(t, keptNorth(t, other, a, wrong))
		found := keptNorth(t, other, b, wrong)
		require.Len(t, found, 1)
		assert.Contains(t, found[0].Words, "the Sun would turn backwards or about another axis: north has east and west exchanged, in both")
	})
}

// northWords are the words of all open warnings about a frame's north.
func northWords(t *testing.T, k observe.Keeper, id catalog.FrameID) (words string) {
	t.Helper()
	all, err := k.Store.Read(ctx).WarningsOf(id)
	require.NoError(t, err)
	for _, w := range all {
		if w.Cause == catalog.CauseNorth && w.Open() {
			words += w.Words + "\n"
		}
	}
	return words
}

// Without a mark and months apart nothing but the set-up tells the parity.
func TestAParityUnlikeTheSetupsIsTold(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	var ids []catalog.FrameID
	for month := range 4 {
		ids = append(ids, paintedFrame(t, k, firstDay.AddDate(0, month, 0), coords.Pixel{X: middle.X + float64(month), Y: middle.Y}).Frame.ID)
	}
	upright, flipped := coords.North{Angle: deg(20), Sigma: deg(0.3)}, coords.North{Angle: deg(50), Sigma: deg(0.3), Mirrored: true}
	assert.Empty(t, keptNorth(t, k, ids[0], flipped), "it is the first")

	said, err := k.HoldSaid(ctx, ids[1], upright, nil)
	require.NoError(t, err)
	require.Len(t, said, 1, "before it is kept")
	assert.Contains(t, said[0].Words, "it is not mirrored, and the set-up single stack is mirrored by the north of frame F1: mirrored would fit")
	assert.Empty(t, northWords(t, k, ids[1]), "nothing is kept yet")

	assert.Equal(t, said, keptNorth(t, k, ids[1], upright))
	assert.Contains(t, northWords(t, k, ids[1]), "mirrored would fit", "and it stays with the picture")

	assert.Empty(t, keptNorth(t, k, ids[2], upright), "one says so and one the opposite: nothing is known")
	assert.Empty(t, keptNorth(t, k, ids[3], upright), "two against one")
	assert.Empty(t, northWords(t, k, ids[1]), "and so for that one too")
	assert.Contains(t, northWords(t, k, ids[0]), "it is mirrored, and the set-up single stack is not mirrored by the north of 3 frames, the last F4", "now the first is the odd one")

	assert.Empty(t, keptNorth(t, k, ids[0], upright))
	for _, id := range ids {
		assert.Empty(t, northWords(t, k, id), "put right, all agree")
	}
	found := keptNorth(t, k, ids[3], flipped)
	require.Len(t, found, 1)
	_, err = k.Settle(ctx, observe.Settling{Frame: ids[3], Why: "a diagonal since that day"})
	require.NoError(t, err)
	keptNorth(t, k, ids[3], coords.North{Angle: deg(51), Sigma: deg(0.3), Mirrored: true})
	assert.Empty(t, northWords(t, k, ids[3]), "what was settled is not asked again for another angle")
}

func TestFollowingHoldsTheNorthsAgainstEachOther(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	truth := coords.North{Angle: deg(20), Sigma: deg(0.3)}
	for day := range 3 {
		id := markedDay(t, k, firstDay.AddDate(0, 0, day), truth, spotsOf())
		said := truth
		if day == 1 {
			said.Angle = deg(-160)
		}
		_, err := k.SetNorth(ctx, catalog.North{Frame: id, Angle: said.Angle, Sigma: said.Sigma}, store.Newest)
		require.NoError(t, err)
	}
	done, err := k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	require.NotEmpty(t, done.Norths)
	assert.Contains(t, warningsOf(t, k, 2)[catalog.CauseNorth].Words, "half a turn off")
	again, err := k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	assert.Empty(t, again.Norths, "what was held once is not held again")
	assert.Contains(t, warningsOf(t, k, 2), catalog.CauseNorth)
}

func TestAsLastTimeIsNoOfferWithoutANamedSetupOrAcrossAYear(t *testing.T) {
	k := keeper(t)
	_, err := k.AddSite(ctx, catalog.Site{Name: "Yard", LatDeg: 50.1, LonDeg: 14.4})
	require.NoError(t, err)
	at := time.Date(2025, 3, 1, 11, 0, 0, 0, time.UTC)
	first := paintedFrame(t, k, at, middle).Frame
	_, err = k.SetNorth(ctx, catalog.North{Frame: first.ID, Angle: deg(20), Sigma: deg(0.3)}, 0)
	require.NoError(t, err)
	second := paintedFrame(t, k, at.AddDate(0, 0, 1), coords.Pixel{X: 195, Y: 195}).Frame
	_, _, err = k.LastNorth(ctx, second.ID)
	assert.ErrorContains(t, err, "names no set-up")

	_, u, err := k.AddInstrument(ctx, catalog.Instrument{Name: "60 mm"}, catalog.Setup{Name: "single"})
	require.NoError(t, err)
	for _, id := range []catalog.SittingID{first.Sitting, second.Sitting} {
		s, err := k.Store.Read(ctx).Sitting(id)
		require.NoError(t, err)
		s.Setup = u.ID
		_, err = k.EditSitting(ctx, s)
		require.NoError(t, err)
	}
	found, _, err := k.LastNorth(ctx, second.ID)
	require.NoError(t, err)
	assert.Contains(t, found.Why, "as last time, 1 day ago")
	late := paintedFrame(t, k, at.AddDate(1, 0, 9), coords.Pixel{X: 205, Y: 195}).Frame
	require.NoError(t, err)
	_, _, err = k.LastNorth(ctx, late.ID)
	assert.ErrorContains(t, err, "12 months old: nothing says that the camera still lies so")
}
