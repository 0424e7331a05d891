package observe_test

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// sixDays is an invented record: two spots that turn as spots do (14.38 − 2.7 sin² B
// degrees a day sidereal), seen on six days, and one seen once.
func sixDays() string {
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,lon_deg,label,sigma_deg\n")
	for day := range 6 {
		at := time.Date(2026, 3, 10+day, 12, 0, 0, 0, time.UTC)
		fmt.Fprintf(&csv, "sunspot,%s,12,%.2f,a,0.3\n", at.Format(time.RFC3339), 120+0.08*float64(day))
		fmt.Fprintf(&csv, "sunspot,%s,-18,%.2f,b,0.3\n", at.Format(time.RFC3339), 100-0.06*float64(day))
	}
	csv.WriteString("sunspot,2026-03-12T12:00:00Z,30,150,c,0.3\n")
	return csv.String()
}

func openKeeper(t *testing.T) observe.Keeper {
	t.Helper()
	k, err := observe.Open(context.Background(), filepath.Join(t.TempDir(), "c.db"), catalog.Terminal, time.Now)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, k.Close()) })
	return k
}

// passagesByLabel gives the passage of each label, in the order of the marks.
func passagesByLabel(t *testing.T, k observe.Keeper) map[string][]string {
	t.Helper()
	entries, err := k.Store.Read(context.Background()).Entries(store.Query{})
	require.NoError(t, err)
	found := map[string][]string{}
	for _, e := range entries {
		found[e.Mark.Label] = append(found[e.Mark.Label], e.PassageName)
	}
	return found
}

// mixedKinds are twelve marks of an invented observer in which passages of one kind meet
// marks of another: a plage that may be the spot inside it.
const mixedKinds = `kind,utc,lat_deg,lon_deg,sigma_deg
sunspot,1990-09-30T10:15:00Z,-9.58,14.66,0.5
filament,1990-09-30T10:15:00Z,6.35,241.16,0.5
sunspot,1990-10-01T13:59:00Z,-12.53,359.77,0.5
sunspot,1990-10-02T13:53:00Z,-9.62,14.80,0.5
filament,1990-10-02T13:53:00Z,5.71,239.42,0.5
plage,1990-10-02T13:53:00Z,-5.86,336.77,0.5
sunspot,1990-10-03T13:13:00Z,-9.41,14.17,0.5
filament,1990-10-03T13:13:00Z,5.98,239.12,0.5
plage,1990-10-03T13:13:00Z,-5.39,336.24,0.5
sunspot,1990-10-05T12:17:00Z,-10.27,14.40,0.5
filament,1990-10-05T12:17:00Z,3.49,230.28,0.5
sunspot,1990-10-05T12:17:00Z,-5.75,337.76,0.5
`

// TestKindsThatMeetAreFollowed: every odds that is kept is a chance, and the spot that
// was seen four times is one passage.
func TestKindsThatMeetAreFollowed(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	_, err := k.ImportPositions(ctx, strings.NewReader(mixedKinds), observe.ImportOptions{})
	require.NoError(t, err)
	done, err := k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	assert.Equal(t, 12, done.Marks)
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	spot := map[string]int{}
	for _, e := range entries {
		require.NotNil(t, e.Join, "mark %s is in no passage", e.Mark.ID)
		if odds := e.Join.Odds; odds != nil {
			assert.True(t, *odds >= 0 && *odds <= 1, "odds %g of mark %s", *odds, e.Mark.ID)
		}
		if place, _ := e.Position.Reading(); math.Abs(place.L.Degrees()-14.5) < 1 {
			spot[e.PassageName]++
		}
	}
	assert.Len(t, spot, 1, "passages of the spot at 14.5°: %v", spot)
}

func TestFollowJoinsWhatBelongsTogether(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	_, err := k.ImportPositions(ctx, strings.NewReader(sixDays()), observe.ImportOptions{})
	require.NoError(t, err)

	dry, err := k.TrackFollow(ctx, observe.FollowOptions{DryRun: true})
	require.NoError(t, err)
	assert.Equal(t, 13, dry.Joined)
	assert.Equal(t, []string{"", "", "", "", "", ""}, passagesByLabel(t, k)["a"], "a dry run keeps nothing")

	done, err := k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	assert.Equal(t, 13, done.Joined)
	assert.Equal(t, 3, done.New)
	found := passagesByLabel(t, k)
	for _, label := range []string{"a", "b"} {
		for _, name := range found[label] {
			assert.Equal(t, found[label][0], name, "all sightings of %s are one passage", label)
		}
	}
	assert.NotEqual(t, found["a"][0], found["b"][0])
	assert.Regexp(t, `^2026-spot-\d+$`, found["a"][0])

	again, err := k.TrackFollow(ctx, observe.FollowOptions{All: true})
	require.NoError(t, err)
	assert.Zero(t, again.Joined+again.Moved+again.New+again.Ended, "following twice changes nothing")
	assert.Equal(t, found, passagesByLabel(t, k), "names stay")

	_, err = k.Undo(ctx)
	require.NoError(t, err)
	assert.Equal(t, "", passagesByLabel(t, k)["a"][0], "one undo takes it all back")
}

// A law that is tried turns everything this once, and leaves no trace in what the record
// has taught.
func TestALawIsTriedOnce(t *testing.T) {
	k := openKeeper(t)
	csv := "kind,utc,lat_deg,lon_deg,sigma_deg\nsunspot,2026-03-10T12:00:00Z,5,120,0.3\n" + // five days after, where spots go, and 1.2° a day faster
		"sunspot,2026-03-15T12:00:00Z,5,121,0.3\nsunspot,2026-03-15T12:00:00Z,5,126.1,0.3\n"
	_, err := k.ImportPositions(ctx, strings.NewReader(csv), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	before, _, _, err := k.Store.Read(ctx).Habits()
	require.NoError(t, err)
	changes := func(o observe.FollowOptions) int {
		done, err := k.TrackFollow(ctx, o)
		require.NoError(t, err)
		return done.Joined + done.Moved + done.Reweighed + done.New
	}
	require.Zero(t, changes(observe.FollowOptions{All: true, DryRun: true}))
	fast, err := rotation.Parse("15.4")
	require.NoError(t, err)
	assert.Positive(t, changes(observe.FollowOptions{All: true, Law: &fast}), "another spot is where it must be then")
	after, _, _, err := k.Store.Read(ctx).Habits()
	require.NoError(t, err)
	assert.Equal(t, before, after)
	assert.Positive(t, changes(observe.FollowOptions{All: true}), "without it all is as it was")
	assert.Zero(t, changes(observe.FollowOptions{All: true}))
}

func TestTheObserversWordStands(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	_, err := k.ImportPositions(ctx, strings.NewReader(sixDays()), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	v := k.Store.Read(ctx)
	entries, err := v.Entries(store.Query{Label: "c"})
	require.NoError(t, err)
	single := entries[0]
	target, err := v.PassageNamed(passagesByLabel(t, k)["a"][0])
	require.NoError(t, err)

	oddsOf := func() (odds []*float64) {
		entries, err := v.Entries(store.Query{Label: "a"})
		require.NoError(t, err)
		for _, e := range entries {
			odds = append(odds, e.Join.Odds)
		}
		return odds
	}
	before := oddsOf()
	require.NotNil(t, before[1])
	require.NoError(t, k.JoinMarks(ctx, target.ID, []catalog.MarkID{single.Mark.ID}))
	_, err = k.TrackFollow(ctx, observe.FollowOptions{All: true})
	require.NoError(t, err)
	assert.Equal(t, before, oddsOf(), "what the program said of the others stays")
	assert.Equal(t, target.Name, passagesByLabel(t, k)["c"][0], "however unlikely")
	_, err = v.PassageNamed(single.PassageName)
	assert.Error(t, err, "the passage that it left is empty, and gone")

	last := passagesByLabel(t, k)["b"]
	entries, err = v.Entries(store.Query{Label: "b"})
	require.NoError(t, err)
	require.NoError(t, k.RefuseJoin(ctx, entries[5].Mark.ID))
	_, err = k.TrackFollow(ctx, observe.FollowOptions{All: true})
	require.NoError(t, err)
	assert.NotEqual(t, last[0], passagesByLabel(t, k)["b"][5], "refused is refused")

	fresh, err := k.SplitPassage(ctx, entries[0].Join.Passage, []catalog.MarkID{entries[3].Mark.ID, entries[4].Mark.ID})
	require.NoError(t, err)
	found := passagesByLabel(t, k)["b"]
	assert.Equal(t, []string{fresh.Name, fresh.Name}, found[3:5])
	assert.Equal(t, last[0], found[0])
	_, err = k.SplitPassage(ctx, fresh.ID, []catalog.MarkID{entries[3].Mark.ID, entries[4].Mark.ID})
	assert.ErrorContains(t, err, "these are all the marks of passage "+fresh.Name)
	links, err := v.LinksOf(fresh.ID)
	require.NoError(t, err)
	require.Len(t, links, 1)
	assert.Equal(t, catalog.Split, links[0].Relation)
}

func TestOnlyWhatNeedsItIsFollowed(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	_, err := k.ImportPositions(ctx, strings.NewReader(sixDays()), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	nothing, err := k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	assert.Zero(t, nothing.Marks)

	late := "kind,utc,lat_deg,lon_deg,label,sigma_deg\nsunspot,2026-03-16T12:00:00Z,12,120.5,a,0.3\nsunspot,2027-01-01T12:00:00Z,5,10,z,0.3\n"
	_, err = k.ImportPositions(ctx, strings.NewReader(late), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	found := passagesByLabel(t, k)
	assert.Equal(t, found["a"][0], found["a"][6], "a day added later finds its passage")
	assert.Equal(t, "2027-spot-1", found["z"][0])
}

// TestAWrongHourIsTold: six spots of which all stand 11° too far in longitude on one
// day, as by a clock 20 hours behind (13.2° a day).
func TestAWrongHourIsTold(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,lon_deg,sigma_deg\n")
	l0 := ephemeris.At(time.Date(2026, 3, 13, 12, 0, 0, 0, time.UTC)).L0.Degrees()
	for day := range 7 {
		at := time.Date(2026, 3, 10+day, 12, 0, 0, 0, time.UTC)
		off := 0.0
		if day == 3 {
			off = 11
		}
		for spot := range 6 {
			fmt.Fprintf(&csv, "sunspot,%s,%d,%.2f,0.3\n", at.Format(time.RFC3339), 30-12*spot, math.Mod(l0-25+float64(spot*8)+off+360, 360))
		}
	}
	_, err := k.ImportPositions(ctx, strings.NewReader(csv.String()), observe.ImportOptions{})
	require.NoError(t, err)
	done, err := k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	require.Len(t, done.Shifted, 1)
	s := done.Shifted[0]
	assert.Equal(t, "2026-03-13T12:00:00Z", s.UTC.Format(time.RFC3339))
	assert.InDelta(t, 11, s.Deg, 0.5)
	assert.InDelta(t, 20, s.Hours, 1)
	assert.Equal(t, 6, s.Marks)
	assert.Equal(t, []catalog.FrameID{4}, s.Frames)
	assert.Equal(t, 6, done.New, "six spots all the same")
}
