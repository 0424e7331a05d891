package observe_test

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/limb"
	"limbwatch/coords/north"
)

// paintedFrame writes a picture of a plain disc, whose file differs from all others,
// and adds it.
func paintedFrame(t *testing.T, k observe.Keeper, at time.Time, centre coords.Pixel) observe.AddedFrame {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 400, 400))
	for y := range 400 {
		for x := range 400 {
			r := math.Hypot(float64(x)-centre.X, float64(y)-centre.Y)
			edge := max(0, min(1, 150-r+0.5)) // a pixel wide
			mu := math.Sqrt(max(0, 1-r*r/22500))
			noise := math.Sin(float64(x*12+y*31)) + math.Sin(float64(x*y%17))
			img.SetGray(x, y, color.Gray{Y: uint8(12 + edge*(90+90*mu) + 2*noise)})
		}
	}
	path := filepath.Join(t.TempDir(), fmt.Sprintf("sun_%d.png", at.UnixNano()))
	file, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, png.Encode(file, img))
	require.NoError(t, file.Close())
	added, err := k.AddFrame(ctx, observe.NewFrame{Path: path, Taken: at, SigmaS: 1})
	require.NoError(t, err)
	require.NotNil(t, added.Disc, "refused: %v", added.DiscRefused)
	return added
}

var middle = coords.Pixel{X: 200, Y: 190}

func TestNorthAsLastTimeIsWiderInAnotherSitting(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	morning := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	first := paintedFrame(t, k, morning, middle)
	_, err := k.NorthAsLast(ctx, first.Frame.ID, 0)
	assert.ErrorContains(t, err, "no north before frame F1")
	_, err = k.SetNorth(ctx, catalog.North{Frame: first.Frame.ID, Angle: deg(20), Sigma: deg(0.3), Mirrored: true}, 0)
	require.NoError(t, err)

	later := paintedFrame(t, k, morning.Add(time.Hour), coords.Pixel{X: 190, Y: 200})
	same, err := k.NorthAsLast(ctx, later.Frame.ID, 0)
	require.NoError(t, err)
	assert.Equal(t, first.Frame.Sitting, later.Frame.Sitting)
	assert.InDelta(t, 0.3, same.Sigma.Degrees(), 1e-9)
	assert.True(t, same.Mirrored)
	assert.Equal(t, first.Frame.ID, same.From)

	nextDay := paintedFrame(t, k, morning.Add(24*time.Hour), coords.Pixel{X: 195, Y: 205})
	other, err := k.NorthAsLast(ctx, nextDay.Frame.ID, 0)
	require.NoError(t, err)
	assert.NotEqual(t, first.Frame.Sitting, nextDay.Frame.Sitting)
	assert.InDelta(t, math.Hypot(0.3, north.ReuseSigma.Degrees()), other.Sigma.Degrees(), 1e-9)
	assert.Equal(t, later.Frame.ID, other.From, "the last, not the first")
	assert.Contains(t, other.Note, "as last time")

	flipped, err := k.FlipNorth(ctx, nextDay.Frame.ID, other.Revision)
	require.NoError(t, err)
	assert.InDelta(t, 180, math.Abs((flipped.Angle - other.Angle).Wrap180().Degrees()), 1e-9)
	_, err = k.FlipNorth(ctx, nextDay.Frame.ID, other.Revision)
	_, stale := errors.AsType[*store.StaleError](err)
	assert.True(t, stale, "%v", err)
}

func TestAFrameDoesNotTellItsOwnNorth(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	id := paintedFrame(t, k, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), middle).Frame.ID
	_, err := k.SetNorth(ctx, catalog.North{Frame: id, Angle: deg(20), Sigma: deg(0.3)}, 0)
	require.NoError(t, err)
	_, _, err = k.SolveFromFrame(ctx, id, id, north.MatchOptions{})
	assert.ErrorContains(t, err, "frame F1 cannot tell its own north")
}

func TestNorthFromTheZenithFollowsSiteAndTime(t *testing.T) {
	k := keeper(t)
	_, site, _ := yard(t, k)
	added := paintedFrame(t, k, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), middle)
	_, err := k.SetNorth(ctx, catalog.North{Frame: added.Frame.ID, Toward: catalog.TowardZenith, Sigma: deg(1)}, 0)
	require.NoError(t, err)
	mark, err := k.AddMark(ctx, catalog.Mark{Frame: added.Frame.ID, Kind: catalog.Sunspot, Geometry: catalog.Geometry{
		Shape: catalog.Point, Pixels: []coords.Pixel{{X: middle.X, Y: middle.Y - 75}}}})
	require.NoError(t, err)
	upIs := func() float64 {
		p, err := k.Store.Read(ctx).Position(mark.ID)
		require.NoError(t, err)
		require.NotNil(t, p.Polar, p.Reason)
		return p.Polar.PA.Degrees()
	}
	// The mark stands above the centre, toward the zenith: its position angle is the
	// parallactic angle (Meeus, Astronomical Algorithms, ch. 14; checked against
	// altaz.csv in coords/ephemeris).
	q := func(s catalog.Site, at time.Time) float64 {
		return ephemeris.FromSite(at, deg(s.LatDeg), deg(s.LonDeg)).Parallactic.Wrap360().Degrees()
	}
	assert.InDelta(t, q(site, added.Frame.Taken), upIs(), 0.1)
	site.LatDeg, site.LonDeg = -33, 18
	site, err = k.EditSite(ctx, site)
	require.NoError(t, err)
	assert.InDelta(t, q(site, added.Frame.Taken), upIs(), 0.1)
	frame := added.Frame
	frame.Taken = frame.Taken.Add(2 * time.Hour)
	_, err = k.EditFrame(ctx, frame)
	require.NoError(t, err)
	assert.InDelta(t, q(site, frame.Taken), upIs(), 0.1)
}

// Two frames of a camera at rest: the Sun drifts 15 arcsec a second to the west. Here
// that is straight to the right, so that in a picture that is not mirrored, where
// east is left of north, north is up.
func TestNorthByDriftNeedsAParity(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	at := time.Date(2026, 3, 20, 11, 0, 0, 0, time.UTC) // declination near 0
	before := paintedFrame(t, k, at, coords.Pixel{X: 170, Y: 200})
	// 15.04 arcsec/s over 7 s, in pixels of a 150 px radius of 964 arcsec: 16.4 px.
	after := paintedFrame(t, k, at.Add(7*time.Second), coords.Pixel{X: 170 + 15.0*7/964*150, Y: 200})
	run := observe.DriftFrames{Frames: []catalog.FrameID{before.Frame.ID, after.Frame.ID}}
	_, err := k.SolveDrift(ctx, run)
	line, ok := errors.AsType[*observe.ParityNeededError](err)
	require.True(t, ok, "%v", err)
	assert.InDelta(t, 0, line.Line.Straight.Angle.Degrees(), 2)
	straight := false
	run.Mirrored = &straight
	found, err := k.SolveDrift(ctx, run)
	require.NoError(t, err)
	kept, err := k.KeepNorth(ctx, before.Frame.ID, found, 0, 0)
	require.NoError(t, err)
	assert.Equal(t, "drift", kept.Method)
	assert.InDelta(t, 0, kept.Angle.Degrees(), 2)

	// Once a frame of the set-up has told its parity, a drift of another day needs none.
	next := at.AddDate(0, 0, 1)
	one := paintedFrame(t, k, next, coords.Pixel{X: 170, Y: 201})
	other := paintedFrame(t, k, next.Add(7*time.Second), coords.Pixel{X: 170 + 15.0*7/964*150, Y: 201})
	found, err = k.SolveDrift(ctx, observe.DriftFrames{Frames: []catalog.FrameID{one.Frame.ID, other.Frame.ID}})
	require.NoError(t, err)
	assert.False(t, found.Mirrored)
	assert.Contains(t, found.Why, "the set-up is not mirrored by the north of frame "+before.Frame.ID.String())
}

// Frames that contradict the others are told, and sittings count alike however many
// frames they have.
func TestTheParityOfASetupFollowsFromItsFrames(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	setup, err := k.Store.Read(ctx).DefaultSetup()
	require.NoError(t, err)
	none, err := k.ParityOfSetup(ctx, setup.ID)
	require.NoError(t, err)
	assert.False(t, none.Known)
	at := time.Date(2026, 3, 20, 11, 0, 0, 0, time.UTC)
	var last catalog.FrameID
	for day := range 3 {
		for i := range 2 {
			f := paintedFrame(t, k, at.AddDate(0, 0, day).Add(time.Duration(i)*time.Minute), coords.Pixel{X: 200 + float64(i), Y: 190 + float64(day)})
			_, err := k.SetNorth(ctx, catalog.North{Frame: f.Frame.ID, Angle: coords.Degree, Sigma: coords.Degree, Mirrored: day == 2}, store.Newest)
			require.NoError(t, err)
			last = f.Frame.ID
		}
	}
	p, err := k.ParityOfSetup(ctx, setup.ID)
	require.NoError(t, err)
	assert.True(t, p.Known)
	assert.False(t, p.Mirrored, "two sittings against one")
	assert.InDelta(t, 0.98, p.Odds, 1e-9, "two typed ones against one are worth one")
	assert.Len(t, p.Frames, 4)
	assert.Len(t, p.Against, 2)
	assert.Equal(t, last, p.Against[1])
	assert.Contains(t, p.Why, "against the north of 2 frames, the last "+last.String())
}

// Features whose places are known, a day old: the program must turn them to the
// frame's time. The truth is a view with north at 40 degrees, mirrored.
func TestNorthFromKnownFeaturesTurnsThemToTheTime(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	at := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	added := paintedFrame(t, k, at, middle)
	b, err := k.Store.Read(ctx).Bearings(added.Frame.ID)
	require.NoError(t, err)
	b.North = &catalog.North{Angle: deg(40), Mirrored: true, Sigma: deg(0.1)}
	view, err := observe.ViewOf(b)
	require.NoError(t, err)
	l0 := ephemeris.At(at).L0
	var known []observe.KnownFeature
	for _, p := range []struct{ lat, cmd float64 }{{15, -40}, {-12, 35}, {22, 20}, {-8, -10}} {
		now := coords.Heliographic{B: deg(p.lat), L: (l0 + deg(p.cmd)).Wrap360()}
		pixel, visible := view.Project(now, 0)
		require.True(t, visible)
		mark, err := k.AddMark(ctx, catalog.Mark{Frame: added.Frame.ID, Kind: catalog.Sunspot,
			Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{pixel}}})
		require.NoError(t, err)
		// A day before, by the law of sunspot groups 1964-2016, 14.47 - 2.66 sin² deg/day
		// (Poljančić Beljan 2017), against the 14.1844 of the Carrington frame.
		sin := math.Sin(p.lat * math.Pi / 180)
		drift := 14.47 - 2.66*sin*sin - 14.1844
		known = append(known, observe.KnownFeature{Mark: mark.ID, Epoch: at.Add(-24 * time.Hour), Sigma: deg(0.5),
			Place: coords.Heliographic{B: now.B, L: (now.L - deg(drift)).Wrap360()}})
	}
	found, err := k.SolveFeatures(ctx, added.Frame.ID, known, north.Either)
	require.NoError(t, err)
	assert.True(t, found.Mirrored)
	assert.InDelta(t, 40, found.Angle.Degrees(), 3*found.Sigma.Degrees())
	assert.Greater(t, found.Parity, 0.95)
	known[0].Sigma = 0
	_, err = k.SolveFeatures(ctx, added.Frame.ID, known, north.Either)
	assert.ErrorContains(t, err, "known feature 1: its place has no error")
}

// Spots followed for four days are foretold on the fifth, and found again by marks that
// nobody has named. The truth is a view with north at 40 degrees, mirrored.
func TestNorthFromMarksOfFollowedFeatures(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	at := time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
	added := paintedFrame(t, k, at, middle)
	b, err := k.Store.Read(ctx).Bearings(added.Frame.ID)
	require.NoError(t, err)
	b.North = &catalog.North{Angle: deg(40), Mirrored: true, Sigma: deg(0.1)}
	view, err := observe.ViewOf(b)
	require.NoError(t, err)
	l0 := ephemeris.At(at).L0
	var csv strings.Builder
	csv.WriteString("kind,utc,lat_deg,lon_deg,sigma_deg\n")
	var marks []catalog.MarkID
	for _, p := range []struct{ lat, cmd float64 }{{15, -40}, {-12, 35}, {22, 20}, {-8, -10}} {
		now := coords.Heliographic{B: deg(p.lat), L: (l0 + deg(p.cmd)).Wrap360()}
		sin := math.Sin(p.lat * math.Pi / 180)
		drift := 14.47 - 2.66*sin*sin - 14.1844 // Poljančić Beljan 2017, as above
		for day := 4; day > 0; day-- {
			fmt.Fprintf(&csv, "sunspot,%s,%.2f,%.2f,0.3\n", at.AddDate(0, 0, -day).Format(time.RFC3339), p.lat, (now.L - deg(drift*float64(day))).Wrap360().Degrees())
		}
		pixel, visible := view.Project(now, 0)
		require.True(t, visible)
		mark, err := k.AddMark(ctx, catalog.Mark{Frame: added.Frame.ID, Kind: catalog.Sunspot,
			Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{pixel}}})
		require.NoError(t, err)
		marks = append(marks, mark.ID)
	}
	_, err = k.ImportPositions(ctx, strings.NewReader(csv.String()), observe.ImportOptions{})
	require.NoError(t, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)

	found, err := k.SolveFromMarks(ctx, added.Frame.ID, nil, north.MatchOptions{})
	require.NoError(t, err)
	assert.True(t, found.Mirrored)
	assert.InDelta(t, 40, found.Angle.Degrees(), 3*found.Sigma.Degrees())
	assert.Less(t, found.Sigma.Degrees(), 1.5)
	kept, err := k.KeepNorth(ctx, added.Frame.ID, found, 0, 0)
	require.NoError(t, err)
	assert.Equal(t, observe.MethodForetold, kept.Method)

	_, err = k.SolveFromMarks(ctx, added.Frame.ID, marks[:1], north.MatchOptions{})
	refused, ok := errors.AsType[*north.MarksIndecisiveError](err)
	require.True(t, ok, "%v", err)
	assert.Contains(t, refused.Reason, "at least 2")
	_, err = k.SolveFromMarks(ctx, added.Frame.ID, []catalog.MarkID{marks[3] + 1}, north.MatchOptions{})
	assert.ErrorContains(t, err, "is not one in pixels of frame")
}

func TestDiscsAreFoundTypedNamedAndAccepted(t *testing.T) {
	k := keeper(t)
	_, _, setup := yard(t, k)
	added := paintedFrame(t, k, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), middle)
	id := added.Frame.ID
	assert.InDelta(t, middle.X, added.Disc.Limb.Centre.X, 0.3)
	assert.InDelta(t, 150, added.Disc.Limb.RadiusPx, 0.5)
	assert.Equal(t, catalog.LayerPrior, added.Disc.LayerFrom)

	d, err := k.SetDiscLayer(ctx, id, coords.Photosphere, added.Disc.Revision)
	require.NoError(t, err)
	assert.Equal(t, catalog.LayerNamed, d.LayerFrom)
	d, err = k.FitDisc(ctx, id, limb.Options{}, nil, d.Revision)
	require.NoError(t, err)
	assert.Equal(t, catalog.LayerNamed, d.LayerFrom, "what the observer named stays named")
	assert.Equal(t, coords.Photosphere, d.Layer)
	assert.Equal(t, added.Disc.ID, d.ID)
	_, err = k.SetCircle(ctx, id, coords.Limb{Centre: middle, RadiusPx: 151}, nil, added.Disc.Revision)
	_, stale := errors.AsType[*store.StaleError](err)
	assert.True(t, stale, "%v", err)
	d, err = k.AcceptDisc(ctx, id, store.Newest)
	require.NoError(t, err)
	assert.True(t, d.Accepted)

	setup.Surface = &coords.Layer{HeightMm: 1.5, SigmaMm: 0.4}
	_, err = k.EditSetup(ctx, setup)
	require.NoError(t, err)
	stays, err := k.Store.Read(ctx).Disc(id)
	require.NoError(t, err)
	assert.Equal(t, coords.Photosphere, stays.Layer, "named stays named")
	second := paintedFrame(t, k, time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC), coords.Pixel{X: 205, Y: 195})
	assert.Equal(t, catalog.LayerMeasured, second.Disc.LayerFrom, "measured for the set-up and the role")
	assert.InDelta(t, 1.5, second.Disc.Layer.HeightMm, 1e-12)

	frame := second.Frame
	frame.Role = catalog.RoleLimb
	_, err = k.EditFrame(ctx, frame)
	require.NoError(t, err)
	edge, err := k.Store.Read(ctx).Disc(frame.ID)
	require.NoError(t, err)
	assert.Equal(t, catalog.LayerPrior, edge.LayerFrom, "nothing was measured for that role")
	setup, err = k.Store.Read(ctx).Setup(setup.ID)
	require.NoError(t, err)
	setup.Edge = &coords.Layer{HeightMm: 5, SigmaMm: 0.3}
	_, err = k.EditSetup(ctx, setup)
	require.NoError(t, err)
	edge, err = k.Store.Read(ctx).Disc(frame.ID)
	require.NoError(t, err)
	assert.InDelta(t, 5, edge.Layer.HeightMm, 1e-12, "discs follow what is measured for their set-up")

	require.NoError(t, k.RemoveDisc(ctx, id, d.Revision))
	_, err = k.FitDisc(ctx, id, limb.Options{}, nil, 0)
	require.NoError(t, err)
}

// A frame may go from which the north of another was taken over: that stays as it is.
func TestANorthOutlivesTheFrameItWasTakenOverFrom(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	morning := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	first := paintedFrame(t, k, morning, middle)
	_, err := k.SetNorth(ctx, catalog.North{Frame: first.Frame.ID, Angle: deg(20), Sigma: deg(0.3)}, 0)
	require.NoError(t, err)
	later := paintedFrame(t, k, morning.Add(time.Hour), coords.Pixel{X: 190, Y: 200})
	before, err := k.NorthAsLast(ctx, later.Frame.ID, 0)
	require.NoError(t, err)
	require.Equal(t, first.Frame.ID, before.From)

	require.NoError(t, k.RemoveFrame(ctx, first.Frame.ID, first.Frame.Revision, true))
	after, err := k.Store.Read(ctx).North(later.Frame.ID)
	require.NoError(t, err)
	assert.Equal(t, before.Angle, after.Angle)
	assert.Equal(t, before.Sigma, after.Sigma)
	assert.Zero(t, after.From)
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	after, err = k.Store.Read(ctx).North(later.Frame.ID)
	require.NoError(t, err)
	assert.Equal(t, first.Frame.ID, after.From)
}

func TestAFrameGoesWithItsMarksOnlyWhenToldTo(t *testing.T) {
	k := keeper(t)
	yard(t, k)
	added := paintedFrame(t, k, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), middle)
	first, err := k.AddMark(ctx, catalog.Mark{Frame: added.Frame.ID, Kind: catalog.Filament, Geometry: catalog.Geometry{
		Shape: catalog.Line, Pixels: []coords.Pixel{{X: 200, Y: 150}, {X: 230, Y: 160}}}})
	require.NoError(t, err)
	assert.InDelta(t, observe.DefaultSigmaClickPx, first.Geometry.SigmaClickPx, 1e-12)
	second := first
	second.ID, second.UUID, second.SameAs = 0, [16]byte{}, first.ID
	_, err = k.AddMark(ctx, second)
	require.NoError(t, err)
	err = k.RemoveFrame(ctx, added.Frame.ID, added.Frame.Revision, false)
	_, used := errors.AsType[*store.InUseError](err)
	assert.True(t, used, "%v", err)
	require.NoError(t, k.RemoveFrame(ctx, added.Frame.ID, added.Frame.Revision, true))
	_, err = os.Stat(added.Frame.Path)
	require.NoError(t, err, "the file is left alone")
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	marks, err := k.Store.Read(ctx).MarksOn(added.Frame.ID)
	require.NoError(t, err)
	assert.Len(t, marks, 2)
	assert.Equal(t, first.ID, marks[1].SameAs)
	_, err = k.Store.Read(ctx).Disc(added.Frame.ID)
	assert.NoError(t, err)
}

// TestLastNorthTurnsWithTheSky: a level camera on an alt-azimuth mount keeps its zenith,
// so that celestial north turns in it by the parallactic angle between two frames of a
// sitting (Meeus, Astronomical Algorithms, 2nd ed., ch. 14): north stands at −q.
func TestLastNorthTurnsWithTheSky(t *testing.T) {
	ctx := context.Background()
	k := openKeeper(t)
	_, err := k.AddSite(ctx, catalog.Site{Name: "hill", LatDeg: 45, LonDeg: 5, Zone: "UTC"})
	require.NoError(t, err)
	_, _, err = k.AddInstrument(ctx, catalog.Instrument{Name: "scope"}, catalog.Setup{Name: "usual"})
	require.NoError(t, err)
	at := time.Date(2026, 6, 10, 9, 0, 0, 0, time.UTC)
	var ids []catalog.FrameID
	for _, when := range []time.Time{at, at.Add(40 * time.Minute)} {
		f, _, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: when}, []catalog.Mark{{Kind: catalog.Other,
			Geometry: catalog.Geometry{Shape: catalog.Point, Polar: []catalog.PolarPoint{{R: 0.1}}}}})
		require.NoError(t, err)
		ids = append(ids, f.ID)
	}
	_, err = k.SetNorth(ctx, catalog.North{Frame: ids[0], Toward: catalog.TowardZenith, Sigma: 0.3 * coords.Degree}, 0)
	require.NoError(t, err)
	found, from, err := k.LastNorth(ctx, ids[1])
	require.NoError(t, err)
	assert.Equal(t, ids[0], from)
	q := ephemeris.FromSite(at.Add(40*time.Minute), 45*coords.Degree, 5*coords.Degree).Parallactic
	assert.InDelta(t, -q.Degrees(), found.Angle.Wrap180().Degrees(), 0.01, "degrees counter-clockwise from up")
	before := ephemeris.FromSite(at, 45*coords.Degree, 5*coords.Degree).Parallactic
	assert.Greater(t, (q - before).Wrap180().Abs().Degrees(), 3.0, "the field has turned meanwhile")

	_, err = k.NorthAsLast(ctx, ids[1], 0)
	require.NoError(t, err)
	kept, err := k.Store.Read(ctx).North(ids[1])
	require.NoError(t, err)
	assert.Equal(t, catalog.TowardZenith, kept.Toward, "what is kept is the zenith, so that it follows the site")
}
