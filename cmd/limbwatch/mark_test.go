package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/ephemeris"
)

// sketch is the time of a mark without a picture.
var sketch = []string{"--at", "2026-03-14T15:23:10Z"}

func add(kind string, figures ...string) []string {
	return append(append([]string{"mark", "add", kind}, sketch...), figures...)
}

func TestMarksWithoutAPicture(t *testing.T) {
	newCatalogue(t)
	l0 := ephemeris.At(paintedAt).L0.Degrees()
	for _, c := range []struct {
		name     string
		figures  []string
		lat, cmd float64
	}{
		// What the letters mean: trade's notation, latitude north or south, distance
		// from the central meridian east or west; west is positive here.
		{"as in the trade", []string{"--place", "N08E14"}, 8, -14},
		{"with decimals and small letters", []string{"--place", "s22.5w40"}, -22.5, 40},
		{"with blanks", []string{"--place", " N08 E14 "}, 8, -14},
		{"letters on their own flags", []string{"--lat", "S08.5", "--cmd", "W20"}, -8.5, 20},
		{"signs", []string{"--lat", "8.5", "--cmd", "-20"}, 8.5, -20},
		{"a minus as it is printed", []string{"--lat", "−8.5", "--cmd", "–20"}, -8.5, -20},
		{"a comma for a point, a degree sign", []string{"--lat", "8,5°", "--cmd", "20"}, 8.5, 20},
	} {
		t.Run(c.name, func(t *testing.T) {
			row := asJSON[object](t, add("sunspot", append(c.figures, "--sigma-deg", "1")...)...)
			assert.InDelta(t, c.lat, row.number(t, "lat_deg"), 1e-9)
			assert.InDelta(t, c.cmd, row.number(t, "cmd_deg"), 1e-9)
			off := row.number(t, "lon_deg") - l0 - c.cmd
			assert.InDelta(t, 0, min(abs(off), abs(off-360), abs(off+360)), 1e-9, "L = L0 + CMD")
			assert.InDelta(t, 1, row.number(t, "sigma_lat_deg"), 1e-6)
		})
	}
	row := asJSON[object](t, add("plage", "--lat", "-10", "--carrington", "70")...)
	assert.InDelta(t, 70, row.number(t, "lon_deg"), 1e-9)
	assert.InDelta(t, 70-l0, row.number(t, "cmd_deg"), 1e-9)
	assert.Nil(t, row["sigma_lat_deg"], "nobody gave an error")
	assert.Len(t, asJSON[[]object](t, "frame", "list"), 1, "one instant is one frame")
	assert.Contains(t, done(t, "frame", "list"), "(no picture)")

	// Position angle and radius: the same figures through place.
	polar := asJSON[object](t, add("sunspot", "--pa", "252", "--r", "0.7", "--sigma-r", "0.002", "--sigma-pa-deg", "0.2")...)
	placed := readColumns(t, limbwatch(t, "utc,pa_deg,r\n2026-03-14T15:23:10Z,252,0.7\n", "place", "--sigma-r", "0.002", "--sigma-north-deg", "0.2").stdout)[0]
	for _, name := range []string{"lat_deg", "cmd_deg", "lon_deg", "mu", "sigma_lat_deg", "sigma_lon_deg"} {
		assert.InDeltaf(t, asFloat(t, placed[name]), polar.number(t, name), 1e-6, name)
	}
	edge := asJSON[object](t, add("prominence", "--pa", "250,252,254", "--r", "1.00,1.04,1.00")...)
	assert.InDelta(t, 252, edge.number(t, "pa_deg"), 1e-6, "the middle of its base")
	assert.InDelta(t, 0.04*964.8, edge.number(t, "height_arcsec"), 0.1, "0.04 of the semidiameter, 964.8″ on that day (Astronomical Almanac's relation 959.63″/distance)")
	filament := asJSON[object](t, add("filament", "--place", "N30W60", "--height", "26,10")...)
	assert.Less(t, filament.number(t, "corrected_cmd_deg"), 60.0, "height pushes outward, so the place below it lies farther in")
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}

func TestMarksAreChanged(t *testing.T) {
	newCatalogue(t)
	done(t, add("sunspot", "--place", "N08E14", "--sigma-deg", "1", "--group", "--spots", "4")...)
	done(t, add("filament", "--place", "N20E14")...)
	row := asJSON[object](t, "mark", "edit", "M1", "--kind", "plage", "--note", "no spot in it", "--place", "N09E14", "--label", "a,b", "--alias", "x,y")
	assert.Equal(t, "plage", row["kind"])
	assert.Equal(t, []any{"x", "y"}, row["aliases"])
	assert.InDelta(t, 9, row.number(t, "lat_deg"), 1e-9)
	assert.InDelta(t, 1, row.number(t, "sigma_lat_deg"), 1e-6, "its error stays")
	assert.Nil(t, row["spots"], "plage has no count of spots")
	row = asJSON[object](t, "mark", "edit", "M1", "--sigma-deg", "2")
	assert.InDelta(t, 2, row.number(t, "sigma_lat_deg"), 1e-6, "the error alone, the figures stay")
	assert.InDelta(t, 9, row.number(t, "lat_deg"), 1e-9)
	refused(t, exitMisused, "--sigma-click-px goes with a mark in pixels", "mark", "edit", "M1", "--sigma-click-px", "1")
	refused(t, exitMisused, "only a sunspot has one", "mark", "edit", "M2", "--spots", "3")
	refused(t, exitMisused, "cannot be the same as itself", "mark", "edit", "M1", "--same-as", "M1")
	refused(t, exitFailed, "no mark M99", "mark", "edit", "M1", "--same-as", "M99")
	refused(t, exitMisused, "is named twice", "mark", "remove", "M1", "M1")
	refused(t, exitFailed, "no mark M99", "mark", "remove", "M1", "M99")
	assert.Len(t, asJSON[[]object](t, "log"), 2, "none was removed")
	assert.Equal(t, row, asJSON[object](t, "mark", "show", "M1"), "nothing of what was refused is kept")
}

func TestMarksThatCannotBe(t *testing.T) {
	aDay(t)
	before := asJSON[[]object](t, "history")
	frame := []string{"mark", "add", "sunspot", "--frame", "F1"}
	for _, c := range []struct {
		name string
		code int
		says string
		args []string
	}{
		{"no figures", exitMisused, "needs its figures", frame},
		{"empty point", exitMisused, "there is nothing in it", append(frame, "--point", "")},
		{"half a point", exitMisused, `point "5": want pixels as X,Y`, append(frame, "--point", "5")},
		{"not a number", exitMisused, `point "NaN,4"`, append(frame, "--point", "NaN,4")},
		{"infinite", exitMisused, `point "Inf,4"`, append(frame, "--point", "Inf,4")},
		{"off the picture", exitFailed, "lies outside of frame F1, which has 560 × 520 px", append(frame, "--point", "600,4")},
		{"huge", exitMisused, "point of the picture 1e+300: want -1e+06 to 1e+06 px", append(frame, "--point", "1e300,-1e300")},
		{"line of one", exitMisused, "want two or more", append(frame, "--line", "5,5")},
		{"outline of two", exitMisused, "want three or more", append(frame, "--outline", "5,5 6,6")},
		{"two ways at once", exitMisused, "--line and --point at once", append(frame, "--point", "5,5", "--line", "5,5 6,6")},
		{"no click error", exitMisused, "--sigma-click-px 0", append(frame, "--point", "5,5", "--sigma-click-px", "0")},
		{"error of another form", exitMisused, "--sigma-r goes with", append(frame, "--point", "5,5", "--sigma-r", "0.1")},
		{"limb of pixels", exitMisused, "--limb goes with", append(frame, "--point", "5,5", "--limb", "chromosphere")},
		{"unknown kind", exitMisused, `kind "spot"`, []string{"mark", "add", "spot", "--frame", "F1", "--point", "5,5"}},
		{"an id of another kind", exitMisused, `frame "M1": want F and a number`, []string{"mark", "add", "sunspot", "--frame", "M1", "--point", "5,5"}},
		{"no such frame", exitFailed, "no frame F9", []string{"mark", "add", "sunspot", "--frame", "F9", "--point", "5,5"}},
		{"an id without end", exitMisused, "want F and a number", []string{"mark", "add", "sunspot", "--frame", "F99999999999999999999", "--point", "5,5"}},
		{"frame and time", exitMisused, "--at and --frame at once", append(frame, "--point", "5,5", "--at", "2026-03-14T15:23:10Z")},
		{"neither", exitMisused, "want --frame or --at", []string{"mark", "add", "sunspot", "--point", "5,5"}},
		{"who, on a frame", exitMisused, "go with --at", append(frame, "--point", "5,5", "--observer", "Wren Holloway")},
		{"pixels without a picture", exitMisused, "pixels need a picture", add("sunspot", "--point", "5,5")},
		{"time without zone", exitMisused, "has no zone", []string{"mark", "add", "sunspot", "--at", "2026-03-14T15:23:10", "--place", "N08E14"}},
		{"a time no ephemeris reaches", exitMisused, "want a year from 1620 to 2200", []string{"mark", "add", "sunspot", "--at", "0001-01-01T05:00Z", "--place", "N08E14"}},
		{"latitude beyond the pole", exitMisused, "latitude 98", add("sunspot", "--place", "N98E14")},
		{"latitude without longitude", exitMisused, "--lat goes with", add("sunspot", "--lat", "8")},
		{"two longitudes", exitMisused, "--carrington and --cmd at once", add("sunspot", "--lat", "8", "--cmd", "4", "--carrington", "4")},
		{"a place that is none", exitMisused, "as in N08E14", add("sunspot", "--place", "N08")},
		{"letters crossed", exitMisused, "--lat", add("sunspot", "--lat", "E08", "--cmd", "4")},
		{"radius without angle", exitMisused, "--pa and --r go together: --pa not given", add("sunspot", "--r", "0.5")},
		{"more radii than angles", exitMisused, "want as many", add("sunspot", "--pa", "5", "--r", "0.5,0.6")},
		{"radius of nowhere", exitMisused, "want 0 to 10 radii", add("prominence", "--pa", "5", "--r", "1e300")},
		{"angle of nowhere", exitMisused, "position angle", add("prominence", "--pa", "1e30", "--r", "1.05")},
		{"not a number of radii", exitMisused, "is not a number", add("prominence", "--pa", "5", "--r", "NaN")},
		{"negative height", exitMisused, "--height", add("filament", "--place", "N08E14", "--height", "-5")},
		{"height beyond reason", exitMisused, "height 1e+09", add("filament", "--place", "N08E14", "--height", "1e9")},
		{"spots below none", exitMisused, "-3 spots", add("sunspot", "--place", "N08E14", "--spots", "-3")},
		{"a group of one kind alone", exitMisused, "only a sunspot", add("filament", "--place", "N08E14", "--group")},
		{"group and single", exitMisused, "--group and --single at once", add("sunspot", "--place", "N08E14", "--group", "--single")},
		{"unknown observer", exitFailed, `no observer "Nobody"`, add("sunspot", "--place", "N08E14", "--observer", "Nobody")},
		{"unknown site", exitFailed, `no site "Nowhere"`, add("sunspot", "--place", "N08E14", "--site", "Nowhere")},
		{"unknown set-up", exitFailed, `no set-up "None"`, add("sunspot", "--place", "N08E14", "--setup", "None")},
	} {
		t.Run(c.name, func(t *testing.T) {
			refused(t, c.code, c.says, c.args...)
		})
	}
	assert.Empty(t, asJSON[[]object](t, "log"), "none was kept")
	assert.Equal(t, before, asJSON[[]object](t, "history"), "and nothing was done")
	assert.Len(t, asJSON[[]object](t, "frame", "list"), 1, "no frame was begun for it")
}

func TestASpotOffTheDiscIsKeptWhereItIsMeant(t *testing.T) {
	aDay(t)
	refused(t, exitMisused, "--force", "mark", "add", "sunspot", "--frame", "F1", "--point", "5,5")
	got := limbwatch(t, "", "mark", "add", "sunspot", "--frame", "F1", "--point", "5,5", "--force")
	require.Equal(t, exitDone, got.code)
	assert.Contains(t, got.stderr, "M1 lies off the disc, where no sunspot is seen")
	got = limbwatch(t, "", "mark", "add", "prominence", "--frame", "F1", "--point", "60,250")
	assert.Empty(t, got.stderr)
}

func TestOneThingOnTwoFramesIsOneSighting(t *testing.T) {
	folder := aDay(t)
	_, truth := ordinary(t, folder)
	scene := paintedScene(paintedAt)
	scene.Seed = 8
	second, _ := painted(t, folder, "2026-03-14T152410Z.png", "another", scene)
	done(t, "frame", "add", second, "--role", "limb")
	spot := xy(featureOf(t, truth, "north").Pixel)
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", spot)
	done(t, "north", "set", "F2", "--last")
	row := asJSON[object](t, "mark", "add", "sunspot", "--frame", "F2", "--point", spot, "--same-as", "M1")
	assert.Equal(t, "M2", row["mark"])
	followed := asJSON[object](t, "track", "follow")
	assert.InDelta(t, 1, followed.number(t, "new_passages"), 0, "two marks, one spot")
	assert.Len(t, asJSON[[]object](t, "log", "--passage", "2026-spot-1"), 2)
}
