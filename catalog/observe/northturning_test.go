package observe_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/north"
)

// labelledDays are plain discs of several days, each lying as it likes, on which the same
// features are marked by their labels.
func labelledDays(t *testing.T, k observe.Keeper, truth []coords.North) (ids []catalog.FrameID) {
	t.Helper()
	for day, n := range truth {
		id := markedDay(t, k, firstDay.Add(time.Duration(day)*24*time.Hour), n, spotsOf())
		marks, err := k.Store.Read(ctx).MarksOn(id)
		require.NoError(t, err)
		for i, m := range marks {
			m.Label = string(rune('A' + i))
			_, err := k.EditMark(ctx, m)
			require.NoError(t, err)
		}
		ids = append(ids, id)
	}
	return ids
}

func northsOf(t *testing.T, k observe.Keeper, ids []catalog.FrameID) (norths []catalog.North) {
	t.Helper()
	for _, id := range ids {
		n, err := k.Store.Read(ctx).North(id)
		require.NoError(t, err)
		norths = append(norths, n)
	}
	return norths
}

// liesAs says that a north that was kept is the true one within its error.
func liesAs(t *testing.T, n catalog.North, truth coords.North, what string) {
	t.Helper()
	assert.Equal(t, truth.Mirrored, n.Mirrored, "%s: %s", n.Frame, what)
	assert.LessOrEqual(t, (n.Angle - truth.Angle).Wrap180().Abs(), 3*n.Sigma, "%s: %s", n.Frame, what)
}

// Features that are marked alike tell the axis of days whose patterns tell nothing; a
// better north of one of them, or another parity, is followed by the others, and one step
// takes all back.
func TestFramesOfOneAxisFollowABetterNorth(t *testing.T) {
	truth := []coords.North{{Angle: deg(20)}, {Angle: deg(-100)}, {Angle: deg(60)}}
	for _, wrongTwin := range []bool{false, true} {
		k := keeper(t)
		yard(t, k)
		ids := labelledDays(t, k, truth)
		found, err := k.SolveTurning(ctx, observe.TurningRequest{Frames: ids})
		require.NoError(t, err)
		require.False(t, found.Decided, "marks have no preference that is worth its name")
		require.Len(t, found.Answers, 2)
		right := 0
		if found.Answers[0].Norths[0].Mirrored {
			right = 1
		}
		taken := right
		if wrongTwin {
			taken = 1 - right
		}
		require.NoError(t, k.KeepTurning(ctx, ids, found, taken))
		before := northsOf(t, k, ids)
		for i, n := range before {
			if !wrongTwin {
				liesAs(t, n, truth[i], "as taken")
			}
			assert.Equal(t, north.MethodTurning, n.Method)
		}

		parity, err := k.ParityOfFrame(ctx, ids[1])
		require.NoError(t, err)
		assert.True(t, parity.Known, "what was taken of the first is expected of others of its set-up")
		assert.Equal(t, before[0].Mirrored, parity.Mirrored)
		assert.Len(t, parity.Frames, 1, "all that hangs together has one say")

		better := coords.North{Angle: truth[1].Angle + deg(0.05), Sigma: deg(0.1)}
		_, err = k.SetNorth(ctx, catalog.North{Frame: ids[1], Angle: better.Angle, Sigma: better.Sigma}, store.Newest)
		require.NoError(t, err)
		after := northsOf(t, k, ids)
		for i, n := range after {
			liesAs(t, n, truth[i], "followed")
			if i != 1 {
				assert.Less(t, n.Sigma, before[i].Sigma, "%s is better known now", n.Frame)
				assert.Equal(t, ids[1], n.From)
			}
		}

		// A still better one, and one that is worse.
		_, err = k.SetNorth(ctx, catalog.North{Frame: ids[1], Angle: truth[1].Angle, Sigma: deg(5)}, store.Newest)
		require.NoError(t, err)
		assert.Equal(t, after[0].Angle, northsOf(t, k, ids)[0].Angle, "nobody follows a worse one")
		_, err = k.Undo(ctx)
		require.NoError(t, err)

		_, err = k.Undo(ctx)
		require.NoError(t, err)
		for i, n := range northsOf(t, k, ids) {
			assert.Equal(t, before[i].Angle, n.Angle, "one step takes back all")
			assert.Equal(t, before[i].Mirrored, n.Mirrored)
		}
	}
}

// A north that a frame has of another way stands, and the others are held to it.
func TestTheTurningIsHeldToANorthThatIsKnown(t *testing.T) {
	truth := []coords.North{{Angle: deg(20), Mirrored: true}, {Angle: deg(-100), Mirrored: true}}
	k := keeper(t)
	yard(t, k)
	ids := labelledDays(t, k, truth)
	known, err := k.SetNorth(ctx, catalog.North{Frame: ids[1], Angle: truth[1].Angle, Mirrored: true, Sigma: deg(0.2), Parity: 0.999}, store.Newest)
	require.NoError(t, err)
	found, err := k.SolveTurning(ctx, observe.TurningRequest{Frames: ids})
	require.NoError(t, err)
	require.NoError(t, k.KeepTurning(ctx, ids, found, 0))
	norths := northsOf(t, k, ids)
	liesAs(t, norths[0], truth[0], "held to the other's")
	assert.Equal(t, known.Revision, norths[1].Revision, "the one that was known stays as it is")
	assert.Equal(t, ids[1], norths[0].From)
}

// What else is known decides between the twins: a drift, the side of a mark, a place.
func TestCluesOfTheCatalogueDecide(t *testing.T) {
	truth := []coords.North{{Angle: deg(20)}, {Angle: deg(-100)}}
	k := keeper(t)
	yard(t, k)
	ids := labelledDays(t, k, truth)
	b, err := k.Store.Read(ctx).Bearings(ids[0])
	require.NoError(t, err)
	// 15.0 arcsec a second to the west, where position angle 270 degrees is seen.
	sin, cos := (truth[0].Angle + deg(270)).Sincos()
	const way = 15.0 * 7 / 964 * 150
	from := b.Disc.Limb.Centre
	drifted := paintedFrame(t, k, firstDay.Add(7*time.Second), coords.Pixel{X: from.X - way*sin, Y: from.Y - way*cos})
	marks, err := k.Store.Read(ctx).MarksOn(ids[0])
	require.NoError(t, err)
	spot := spotsOf()[0] // at 18 north, 35 east
	var list []observe.ListedPlace
	for _, at := range spotsOf()[1:] {
		place := observe.KnownFeature{Place: at, Sigma: deg(1), Epoch: firstDay}
		// Another of that name, a rotation ago: the nearest in time counts.
		before := place
		before.Place.B, before.Epoch = -at.B, firstDay.AddDate(0, 0, -27)
		name := fmt.Sprint(at.B)
		list = append(list, observe.ListedPlace{Name: name, KnownFeature: place}, observe.ListedPlace{Name: name, KnownFeature: before})
	}
	for name, r := range map[string]observe.TurningRequest{
		"list":  {Listed: list},
		"drift": {Drift: []catalog.FrameID{drifted.Frame.ID, ids[0]}},
		"side":  {Sides: map[catalog.MarkID]bool{marks[0].ID: true, marks[3].ID: false}},
		"place": {Known: []observe.KnownFeature{{Mark: marks[0].ID, Place: spot, Sigma: deg(1), Epoch: firstDay}}},
	} {
		r.Frames = ids
		found, err := k.SolveTurning(ctx, r)
		require.NoError(t, err, name)
		t.Logf("%s: %v", name, found.Clues)
		assert.True(t, found.Decided, name)
		for i, n := range found.Answers[0].Norths {
			liesAs(t, catalog.North{Frame: ids[i], Angle: n.Angle, Mirrored: n.Mirrored, Sigma: n.Sigma}, truth[i], name)
		}
	}
	bare := []catalog.FrameID{markedDay(t, k, firstDay.AddDate(0, 0, 6), truth[0], nil), markedDay(t, k, firstDay.AddDate(0, 0, 7), truth[0], nil)}
	_, err = k.SolveTurning(ctx, observe.TurningRequest{Frames: bare, Listed: list})
	assert.ErrorContains(t, err, "no marks to hold the list")
	_, err = k.SolveTurning(ctx, observe.TurningRequest{Frames: ids, Drift: []catalog.FrameID{drifted.Frame.ID, drifted.Frame.ID + 1}})
	assert.ErrorContains(t, err, "none of the frames of the drift")
	other := markedDay(t, k, firstDay.AddDate(0, 0, 3), truth[0], spotsOf()[:1])
	foreign, err := k.Store.Read(ctx).MarksOn(other)
	require.NoError(t, err)
	_, err = k.SolveTurning(ctx, observe.TurningRequest{Frames: ids, Sides: map[catalog.MarkID]bool{foreign[0].ID: true}})
	assert.ErrorContains(t, err, "is not one in pixels of the frames named")
}

// The reflections that are kept with a set-up have a say about its parity, a smaller one
// than a north.
func TestReflectionsTellTheParity(t *testing.T) {
	for mirrors, mirrored := range map[int]bool{0: false, 1: true, 2: false} {
		k := keeper(t)
		yard(t, k)
		setups, err := k.Store.Read(ctx).Setups()
		require.NoError(t, err)
		setup := setups[0]
		setup.Reflections, setup.ReflectionsKnown = mirrors, true
		_, err = k.EditSetup(ctx, setup)
		require.NoError(t, err)
		p, err := k.ParityOfSetup(ctx, setup.ID)
		require.NoError(t, err)
		assert.True(t, p.Known)
		assert.Equal(t, mirrored, p.Mirrored, "%d mirrors", mirrors)
		assert.InDelta(t, 0.9, p.Odds, 1e-9)
		assert.Contains(t, p.Why, "its reflections")

		id := markedDay(t, k, firstDay, coords.North{}, nil)
		_, err = k.SetNorth(ctx, catalog.North{Frame: id, Mirrored: !mirrored, Sigma: deg(1)}, store.Newest)
		require.NoError(t, err)
		p, err = k.ParityOfSetup(ctx, setup.ID)
		require.NoError(t, err)
		assert.Equal(t, !mirrored, p.Mirrored, "a north says more")
		assert.Contains(t, p.Why, "against the number of its reflections")
	}
}

// Marks that carry no label are named as the same, in any order of frames.
func TestMarksNamedAsTheSame(t *testing.T) {
	truth := []coords.North{{Angle: deg(-70), Mirrored: true}, {Angle: deg(130), Mirrored: true}}
	k := keeper(t)
	yard(t, k)
	var ids []catalog.FrameID
	same := make([][]catalog.MarkID, len(spotsOf()))
	for day, n := range truth {
		id := markedDay(t, k, firstDay.Add(time.Duration(day)*24*time.Hour), n, spotsOf())
		ids = append(ids, id)
		marks, err := k.Store.Read(ctx).MarksOn(id)
		require.NoError(t, err)
		for i, m := range marks {
			same[i] = append(same[i], m.ID)
		}
	}
	_, err := k.SolveTurning(ctx, observe.TurningRequest{Frames: ids})
	_, refused := errors.AsType[*north.TurningIndecisiveError](err)
	assert.True(t, refused, "plain discs tell nothing: %v", err)
	_, err = k.SolveTurning(ctx, observe.TurningRequest{Frames: ids, Same: same[:2]})
	_, refused = errors.AsType[*north.TurningIndecisiveError](err)
	assert.True(t, refused, "two features tell no axis: %v", err)
	_, err = k.SolveTurning(ctx, observe.TurningRequest{Frames: ids, Same: [][]catalog.MarkID{same[0][:1]}})
	assert.ErrorContains(t, err, "one mark alone")
	found, err := k.SolveTurning(ctx, observe.TurningRequest{Frames: []catalog.FrameID{ids[1], ids[0]}, Same: same})
	require.NoError(t, err)
	right := 0
	if !found.Answers[0].Norths[0].Mirrored {
		right = 1
	}
	for i, n := range found.Answers[right].Norths {
		liesAs(t, catalog.North{Frame: ids[1-i], Angle: n.Angle, Mirrored: n.Mirrored, Sigma: n.Sigma}, truth[1-i], "by marks named as the same")
	}
}
