package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

func TestAPictureIsAddedOnce(t *testing.T) {
	folder := newCatalogue(t)
	path, _ := ordinary(t, folder)
	first := limbwatch(t, "", "frame", "add", path)
	require.Equal(t, exitDone, first.code, first.stderr)
	assert.Contains(t, first.stderr, "new catalogue", "the first use says where it keeps things")
	refused(t, exitFailed, "is in the catalogue already, as frame F1", "frame", "add", path)

	same := filepath.Join(folder, "copy.png")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(same, data, 0o644))
	refused(t, exitFailed, "has the same content as", "frame", "add", same)

	require.NoError(t, os.Remove(path))
	assert.Contains(t, done(t, "frame", "add", same), "found again")
	assert.Equal(t, same, asJSON[object](t, "frame", "show", "F1")["path"])
	assert.Len(t, asJSON[[]object](t, "frame", "list"), 1)
	now, err := os.ReadFile(same)
	require.NoError(t, err)
	assert.Equal(t, data, now, "pictures are left as they are")
}

func TestTimesOfPictures(t *testing.T) {
	folder := newCatalogue(t)
	_, truth := ordinary(t, folder) // painted once, under many names
	named := func(name string) string {
		t.Helper()
		path, _ := painted(t, folder, name, "ordinary", paintedScene(paintedAt))
		return path
	}
	require.NotZero(t, truth.Limb.RadiusPx)

	got := refused(t, exitFailed, "no capture time", "frame", "add", named("sun.png"))
	assert.Contains(t, got.stderr, "--at 2026-03-14T15:23:10Z")
	got = refused(t, exitFailed, "has no zone", "frame", "add", named("2026-10-25 093000.png"))
	assert.Contains(t, got.stderr, "--zone", "the hint says how")
	refused(t, exitFailed, "there is no catalogue yet", "frame", "list") // what was refused is not kept

	// Great Britain put its clocks back on 25 October 2026 at 01:00 UTC (02:00 summer
	// time), so 01:30 came twice: EU directive 2000/84/EC, last Sunday of October.
	done(t, "site", "add", "Garden", "--lat", "50.9", "--lon", "-2.1", "--zone", "Europe/London")
	twice := named("2026-10-25 013000.png")
	got = refused(t, exitFailed, "occurs twice in Europe/London", "frame", "add", twice)
	assert.Contains(t, got.stderr, "--zone +01:00 or --zone +00:00")
	refused(t, exitFailed, "does not occur in Europe/London", "frame", "add", named("2026-03-29 013000.png"))
	refused(t, exitMisused, `time "2026-10-25 01:30" occurs twice`, "frame", "add", twice, "--at", "2026-10-25 01:30", "--zone", "Europe/London")
	refused(t, exitMisused, `never was in`, "frame", "add", twice, "--at", "2026-03-29 01:30", "--zone", "Europe/London")

	row := asJSON[[]object](t, "frame", "add", twice, "--zone", "+01:00")[0]
	assert.Equal(t, "2026-10-25T00:30:00Z", row["taken_utc"])
	done(t, "undo")
	row = asJSON[[]object](t, "frame", "add", twice, "--at", "2026-10-25 13:30", "--zone", "Europe/London", "--moment", "start", "--exposure", "30", "--sigma-time-s", "2")[0]
	assert.Equal(t, "2026-10-25T13:30:00Z", row["taken_utc"])
	assert.Equal(t, "2026-10-25T13:30:15Z", row["utc"], "half the exposure later")
	assert.Equal(t, "typed", row["time_source"])
	assert.InDelta(t, 2, row.number(t, "sigma_time_s"), 0)
	done(t, "undo")
	row = asJSON[[]object](t, "frame", "add", named("2026-07-14 130000.png"), "--role", "limb", "--note", "hot")[0]
	assert.Equal(t, "2026-07-14T12:00:00Z", row["taken_utc"], "summer time at the site")
	assert.Equal(t, "limb", row["role"])

	row = asJSON[object](t, "frame", "edit", row.text(t, "frame"), "--role", "both", "--note", "", "--at", "2026-07-14T12:00:05+01:00")
	assert.Equal(t, "2026-07-14T11:00:05Z", row["taken_utc"])
	assert.Equal(t, "both", row["role"])
	assert.Empty(t, row["note"])
}

func TestAFrameIsTakenOutOfSightAndBroughtBack(t *testing.T) {
	folder := aDay(t)
	_, truth := ordinary(t, folder)
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", xy(featureOf(t, truth, "north").Pixel))
	was := asJSON[[]object](t, "log")
	got := refused(t, exitFailed, "frame F1 has marks on it", "frame", "remove", "F1")
	assert.Contains(t, got.stderr, "hint")
	done(t, "frame", "remove", "F1", "--with-marks")
	assert.Empty(t, asJSON[[]object](t, "frame", "list"))
	refused(t, exitFailed, "frame F1 was removed", "frame", "show", "F1")
	assert.FileExists(t, filepath.Join(folder, "2026-03-14T152310Z.png"), "the picture is left alone")
	done(t, "undo")
	assert.Equal(t, was, asJSON[[]object](t, "log"))
}

// manyPictures puts some pictures of different content into a folder.
func manyPictures(t *testing.T, folder string) []string {
	t.Helper()
	scene := paintedScene(paintedAt)
	first, _ := painted(t, folder, "2026-03-14T152310Z.png", "ordinary", scene)
	scene.Seed = 8
	second, _ := painted(t, folder, "2026-03-14T152410Z.png", "another", scene)
	return []string{first, noSun(t, folder, "2026-03-14T152510Z.png"), second}
}

func TestManyPicturesOneOfThemBad(t *testing.T) {
	folder := newCatalogue(t)
	paths := manyPictures(t, folder)
	bad := filepath.Join(folder, "2026-03-14T152610Z.png")
	require.NoError(t, os.WriteFile(bad, []byte("\x89PNG\r\n\x1a\n and then nothing"), 0o644))
	got := refused(t, exitFailed, "2 of 5 pictures were not added", append([]string{"frame", "add", bad}, append(paths, filepath.Join(folder, "not-there.png"))...)...)
	assert.Contains(t, got.stderr, "2026-03-14T152610Z.png")
	assert.Contains(t, got.stderr, "not-there.png")
	rows := asJSON[[]object](t, "frame", "list")
	require.Len(t, rows, 3, "the rest went on")
	assert.Nil(t, rows[2]["disc"], "a sky without a Sun has no disc")
	assert.Contains(t, got.stdout, "disc    none: ", "and it is said why")
	assert.Contains(t, got.stdout, "limbwatch disc set F", "and what to do")

	again := limbwatch(t, "", append([]string{"frame", "add"}, paths...)...)
	assert.Equal(t, exitDone, again.code, "all of them are there already, which is told and no failure: %s", again.stderr)
	assert.Equal(t, 3, strings.Count(again.stderr, "is in the catalogue already"))
	refused(t, exitMisused, "--at gives one time", append([]string{"frame", "add", "--at", "2026-03-14T15:23:10Z"}, paths...)...)
}

// stopper cancels after some lines of output.
type stopper struct {
	stop  context.CancelFunc
	after string
}

func (s stopper) Write(p []byte) (int, error) {
	if strings.Contains(string(p), s.after) {
		s.stop()
	}
	return len(p), nil
}

func TestCtrlCAmongManyPictures(t *testing.T) {
	folder := newCatalogue(t)
	paths := manyPictures(t, folder)
	ctx, stop := context.WithCancel(context.Background())
	got := limbwatchUntil(t, ctx, stopper{stop, "F1 "}, "", append([]string{"frame", "add"}, paths...)...)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.stderr, "stopped: 1 of 3 pictures were added")
	assert.Len(t, asJSON[[]object](t, "frame", "list"), 1, "what was done is kept, and no half of the next")
	done(t, append([]string{"frame", "add"}, paths...)...)
	assert.Len(t, asJSON[[]object](t, "frame", "list"), 3)

	ctx, stop = context.WithCancel(context.Background())
	stop()
	got = limbwatchUntil(t, ctx, nil, "", "frame", "list")
	assert.Equal(t, exitFailed, got.code)
	assert.NotContains(t, got.stderr, "catalogue of limbwatch", "a stop is no fault of the file")
}

func TestADiscThatWasNotFoundIsTyped(t *testing.T) {
	folder := newCatalogue(t)
	path, truth := ordinary(t, folder)
	done(t, "frame", "add", path, "--no-disc", "--limb", "chromosphere")
	assert.Nil(t, asJSON[object](t, "frame", "show", "F1")["disc"])
	spot := featureOf(t, truth, "south")
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", xy(spot.Pixel))
	done(t, "north", "set", "F1", "--north", "12.4", "--sigma-north-deg", "0.1")

	var limb []string
	for _, deg := range []float64{10, 75, 140, 200, 262, 330} {
		up, left := (coords.Angle(deg) * coords.Degree).Cos(), (coords.Angle(deg) * coords.Degree).Sin()
		limb = append(limb, xy(coords.Pixel{X: truth.Limb.Centre.X - truth.Limb.RadiusPx*left, Y: truth.Limb.Centre.Y - truth.Limb.RadiusPx*up}))
	}
	row := asJSON[object](t, append([]string{"disc", "set", "F1", "--limb", "chromosphere"}, limb...)...)
	disc := row.object(t, "disc")
	assert.InDelta(t, truth.Limb.Centre.X, disc.number(t, "centre_x_px"), 0.01, "exact points on the limb")
	assert.InDelta(t, truth.Limb.RadiusPx, disc.number(t, "radius_px"), 0.01)
	assert.InDelta(t, 4350, disc.number(t, "limb_km"), 1e-6)
	agreesWith(t, "spot", asJSON[object](t, "mark", "show", "M1"), "", spot.At, 1)

	refused(t, exitMisused, "a circle needs three or more", "disc", "set", "F1", "1,1", "2,2")
	refused(t, exitFailed, "straight line", "disc", "set", "F1", "10,10", "20,20", "30,30")
	refused(t, exitMisused, `--circle "1,1,-5": radius -5 px: want 3 to 100000`, "disc", "set", "F1", "--circle", "1,1,-5")
	refused(t, exitMisused, "a circle and limb points at once", "disc", "set", "F1", "--circle", "1,1,5", "1,1")
	refused(t, exitMisused, "nothing to set", "disc", "set", "F1")
	refused(t, exitMisused, `--limb "corona"`, "disc", "set", "F1", "--limb", "corona")
	refused(t, exitMisused, "an error is more than 0", "disc", "set", "F1", "--circle", "1,1,5", "--sigma-px", "0")
	after := asJSON[object](t, "frame", "show", "F1").object(t, "disc")
	assert.Equal(t, disc, after, "what was refused changed nothing")

	done(t, "disc", "set", "F1", "--circle", "283.3,255.8,206.3", "--sigma-px", "0.2")
	assert.InDelta(t, 0.2, asJSON[object](t, "frame", "show", "F1").object(t, "disc").number(t, "sigma_radius_px"), 1e-9)
	refused(t, exitFailed, "no frame F9", "disc", "fit", "F9")
}
