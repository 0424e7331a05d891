package main

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// northOf is what a frame's north has become.
func northOf(t *testing.T, frame string) object {
	t.Helper()
	return asJSON[object](t, "frame", "show", frame).object(t, "north")
}

func TestNorthSaidInItsWays(t *testing.T) {
	folder := aDay(t)
	for _, n := range []string{"2026-03-14T162310Z.png", "2026-03-15T152310Z.png"} {
		at, err := time.Parse("2006-01-02T150405Z", n[:18])
		require.NoError(t, err)
		scene := paintedScene(at)
		path, _ := painted(t, folder, n, n, scene)
		done(t, "frame", "add", path, "--setup", "single")
	}
	done(t, "north", "set", "F1", "--north", "12.4", "--sigma-north-deg", "0.3", "--mirrored")
	done(t, "north", "set", "F2", "--last")
	same := northOf(t, "F2")
	assert.InDelta(t, 12.4, same.number(t, "north_deg"), 1e-9)
	assert.InDelta(t, 0.3, same.number(t, "sigma_north_deg"), 1e-9, "the camera was not touched within the sitting")
	assert.Equal(t, true, same["mirrored"])
	done(t, "north", "set", "F2", "--flip")
	assert.InDelta(t, -167.6, northOf(t, "F2").number(t, "north_deg"), 1e-9)
	got := done(t, "north", "set", "F3", "--last")
	other := northOf(t, "F3")
	assert.Greater(t, other.number(t, "sigma_north_deg"), 0.3, "a camera angle belongs to one sitting")
	assert.Contains(t, got, "a camera put back", "and that is said")

	// Solar north up: celestial north is P away, P −24.33° that day.
	done(t, "north", "set", "F1", "--solar-north", "0")
	assert.InDelta(t, -ephemeris.At(paintedAt).P.Degrees(), northOf(t, "F1").number(t, "north_deg"), 1e-9)
	assert.Equal(t, false, northOf(t, "F1")["mirrored"])

	for _, c := range []struct {
		code int
		says string
		args []string
	}{
		{exitMisused, "want --north, --solar-north, --zenith, --last or --flip", nil},
		{exitMisused, "--flip and --north at once", []string{"--north", "1", "--flip"}},
		{exitMisused, "want -360 to 360", []string{"--north", "NaN"}},
		{exitMisused, "want -360 to 360", []string{"--solar-north", "1e9"}},
		{exitMisused, "an error is more than 0", []string{"--north", "1", "--sigma-north-deg", "0"}},
		{exitMisused, `--north "up": want a number of degrees`, []string{"--north", "up"}},
		{exitMisused, "take parity and error", []string{"--last", "--mirrored"}},
	} {
		refused(t, c.code, c.says, append([]string{"north", "set", "F1"}, c.args...)...)
	}
	done(t, "north", "remove", "F1")
	assert.Nil(t, asJSON[object](t, "frame", "show", "F1")["north"])
	done(t, "undo")
	assert.NotNil(t, asJSON[object](t, "frame", "show", "F1")["north"])
}

func TestNorthFromALevelCamera(t *testing.T) {
	folder := newCatalogue(t)
	// testdata/published/altaz.csv, row of 1990-06-27T05:03:20Z (Astropy 5.2.1): the
	// position angle of the zenith is −152.0827° from celestial north through east.
	// The zenith 3° left of up is thus 3° = north − 152.0827° (mirrored: + 152.0827°).
	const paZenith = -152.082685
	path, _ := ordinary(t, folder)
	done(t, "frame", "add", path, "--at", "1990-06-27T05:03:20Z")
	done(t, "north", "set", "F1", "--zenith", "3")
	assert.Contains(t, done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", "280,250"), "the sitting has no site", "no north without a site, and so no place")
	done(t, "site", "add", "Yard", "--lat", "-20.1282", "--lon", "82.9927")
	done(t, "sitting", "edit", "S1", "--site", "Yard")
	n := northOf(t, "F1")
	assert.InDelta(t, 3-paZenith, n.number(t, "north_deg"), 0.01, "the Earth's turn in a second is 0.004°")
	assert.NotNil(t, asJSON[object](t, "mark", "show", "M1")["lat_deg"], "marks follow the sitting's site")
	done(t, "north", "set", "F1", "--zenith", "3", "--mirrored")
	assert.InDelta(t, 3+paZenith, northOf(t, "F1").number(t, "north_deg"), 0.01)
}

// driftFrames adds painted frames of a Sun that drifts due west at the Earth's rate
// of turning, 15.0411″ a second times the cosine of the declination.
func driftFrames(t *testing.T, folder string, mirrored bool, seconds ...float64) {
	t.Helper()
	sun := ephemeris.SunAt(paintedAt)
	scene := paintedScene(paintedAt)
	scene.Sun = paint.Sun{}
	scene.Camera.North = coords.North{Angle: paintedNorth, Mirrored: mirrored}
	arcsecPerPx := sun.Face.Semidiameter.Arcseconds() * (1 + scene.Band.Layer.HeightMm/coords.SolarRadiusMm) / scene.Camera.Limb.RadiusPx
	west := paintedNorth - 90*coords.Degree // counter-clockwise from up
	if mirrored {
		west = paintedNorth + 90*coords.Degree
	}
	start := coords.Pixel{X: 283 + 40*west.Sin(), Y: 256 + 40*west.Cos()}
	for i, s := range seconds {
		px := 15.0411 * sun.Dec.Cos() * s / arcsecPerPx
		scene.Camera.Limb.Centre = coords.Pixel{X: start.X - px*west.Sin(), Y: start.Y - px*west.Cos()}
		scene.Seed = uint64(100 + i)
		called := fmt.Sprintf("drift %v %v", s, mirrored)
		path, _ := painted(t, folder, fmt.Sprintf("drift%d.png", i), called, scene)
		done(t, "frame", "add", path, "--at", paintedAt.Add(time.Duration(s*float64(time.Second))).Format(time.RFC3339Nano))
	}
}

func TestNorthFromADrift(t *testing.T) {
	folder := newCatalogue(t)
	driftFrames(t, folder, false, 0, 10, 20)
	got := refused(t, exitFailed, "", "north", "solve", "F1", "--drift", "F1,F2,F3")
	assert.Contains(t, got.stderr, "--not-mirrored", "a line alone has no parity")
	assert.Nil(t, asJSON[object](t, "frame", "show", "F1")["north"], "and none is kept")

	done(t, "north", "solve", "F3", "--drift", "F1,F2,F3", "--not-mirrored")
	n := northOf(t, "F3")
	off, sigma := n.number(t, "north_deg")-paintedNorth.Degrees(), n.number(t, "sigma_north_deg")
	assert.LessOrEqual(t, math.Abs(off), 4*sigma, "north off by %.3f°, quoted %.3f°", off, sigma)
	assert.Less(t, sigma, 1.0)
	assert.Contains(t, n.text(t, "method"), "drift")

	// One spot whose place is known tells the parity as well.
	spot := paintedSun(paintedAt).Spots[0].At
	cmd := (spot.L - ephemeris.At(paintedAt).L0).Wrap180().Degrees()
	found := asJSON[object](t, "frame", "show", "F1").object(t, "disc")
	view := disc.View{Face: ephemeris.At(paintedAt), North: coords.North{Angle: paintedNorth}, Limb: coords.Limb{
		Centre: coords.Pixel{X: found.number(t, "centre_x_px"), Y: found.number(t, "centre_y_px")}, RadiusPx: found.number(t, "radius_px")}}
	p, _ := view.Project(spot, 0)
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", xy(p))
	place := fmt.Sprintf("M1=N%04.1fE%04.1f", spot.B.Degrees(), -cmd)
	done(t, "north", "solve", "F1", "--drift", "F1,F2,F3", "--known", place)
	assert.Equal(t, false, northOf(t, "F1")["mirrored"])
	refused(t, exitMisused, "told once", "north", "solve", "F1", "--drift", "F1,F3", "--known", place, "--mirrored")
	done(t, "undo")

	// A step toward celestial north moves the Sun's image south, which tells parity:
	// the disc goes away from north in the picture.
	down := coords.Pixel{X: 283 + 60*paintedNorth.Sin(), Y: 256 + 60*paintedNorth.Cos()}
	done(t, "north", "solve", "F1", "--drift", "F1,F3", "--step-from", "283,256", "--step-to", xy(down), "--pushed", "north")
	assert.Equal(t, false, northOf(t, "F1")["mirrored"])
	assert.InDelta(t, paintedNorth.Degrees(), northOf(t, "F1").number(t, "north_deg"), 4*northOf(t, "F1").number(t, "sigma_north_deg"))

	refused(t, exitMisused, "--pushed", "north", "solve", "F1", "--drift", "F1,F3", "--step-from", "283,256", "--step-to", xy(down), "--pushed", "up")
	refused(t, exitMisused, "--step-from and --step-to go together: --step-to not given", "north", "solve", "F1", "--drift", "F1,F3", "--step-from", "283,256")
	refused(t, exitFailed, "need at least 2", "north", "solve", "F1", "--drift", "F1", "--mirrored")
	refused(t, exitFailed, "no frame F9", "north", "solve", "F1", "--drift", "F1,F9", "--mirrored")
	refused(t, exitMisused, "want --drift, --known, --list or --reference", "north", "solve", "F1")
}

func TestNorthFromADriftOfAMirroredPicture(t *testing.T) {
	folder := newCatalogue(t)
	driftFrames(t, folder, true, 0, 20)
	down := coords.Pixel{X: 283 + 60*paintedNorth.Sin(), Y: 256 + 60*paintedNorth.Cos()}
	done(t, "north", "solve", "F1", "--drift", "F1,F2", "--step-from", "283,256", "--step-to", xy(down))
	n := northOf(t, "F1")
	assert.Equal(t, true, n["mirrored"])
	assert.InDelta(t, paintedNorth.Degrees(), n.number(t, "north_deg"), 4*n.number(t, "sigma_north_deg"))
}

func TestNorthFromKnownFeatures(t *testing.T) {
	folder := aDay(t)
	_, truth := ordinary(t, folder)
	for _, label := range []string{"north", "south", "bright"} {
		kind := map[bool]string{true: "plage", false: "sunspot"}[label == "bright"]
		done(t, "mark", "add", kind, "--frame", "F1", "--point", xy(featureOf(t, truth, label).Pixel), "--label", label)
	}
	known := func(sign float64) []string {
		args := []string{"north", "solve", "F1", "--sigma-deg", "0.3"}
		for i, label := range []string{"north", "south", "bright"} {
			at := featureOf(t, truth, label).At
			cmd := sign * (at.L - ephemeris.At(paintedAt).L0).Wrap180().Degrees()
			ew := map[bool]string{true: "E", false: "W"}[cmd < 0]
			ns := map[bool]string{true: "S", false: "N"}[at.B < 0]
			args = append(args, "--known", fmt.Sprintf("M%d=%s%04.1f%s%04.1f", i+1, ns, math.Abs(at.B.Degrees()), ew, math.Abs(cmd)))
		}
		return args
	}
	done(t, known(1)...)
	n := northOf(t, "F1")
	assert.InDelta(t, paintedNorth.Degrees(), n.number(t, "north_deg"), 4*n.number(t, "sigma_north_deg"))
	assert.Equal(t, false, n["mirrored"], "both parities were tried")
	assert.Less(t, n.number(t, "sigma_north_deg"), 2.0)

	refused(t, exitMisused, "--known", "north", "solve", "F1", "--known", "M1")
	refused(t, exitMisused, "", "north", "solve", "F1", "--known", "M1=N98E14")
	refused(t, exitFailed, "no mark M9", "north", "solve", "F1", "--known", "M9=N08E14", "--known", "M1=N12E25")
	assert.Equal(t, n, northOf(t, "F1"))
}

// A picture of the same hour from elsewhere, whose north is known, gives that of one's
// own by the marks that both share, mirror and all; its own error is in the result.
func TestNorthFromAReferencePicture(t *testing.T) {
	folder := newCatalogue(t)
	elsewhere, there := ordinary(t, folder)
	done(t, "frame", "add", elsewhere, "--reference")
	done(t, "north", "set", "F1", "--north", "12.4", "--sigma-north-deg", "0.4")
	later := paintedAt.Add(40 * time.Minute)
	scene := paintedScene(later)
	scene.Sun = paintedSun(paintedAt) // it has turned since
	scene.Camera.North = coords.North{Angle: -70 * coords.Degree, Mirrored: true}
	own, here := painted(t, folder, "2026-03-14T160310Z.png", "mirrored and turned", scene)
	done(t, "frame", "add", own)
	for frame, truth := range map[string]paint.Truth{"F1": there, "F2": here} {
		for _, label := range []string{"north", "south"} {
			done(t, "mark", "add", "sunspot", "--frame", frame, "--point", xy(featureOf(t, truth, label).Pixel), "--label", label)
		}
	}
	assert.Contains(t, done(t, "north", "solve", "F2", "--reference", "F1"), "frame F1 shares")
	n := northOf(t, "F2")
	assert.Equal(t, true, n["mirrored"])
	assert.InDelta(t, -70, n.number(t, "north_deg"), 4*n.number(t, "sigma_north_deg"))
	assert.Greater(t, n.number(t, "sigma_north_deg"), 0.4)
	assert.Equal(t, "reference picture", n["method"])
	refused(t, exitFailed, "", "north", "solve", "F1", "--reference", "F9")
}

func TestAParityUnlikeTheSetupsIsTold(t *testing.T) {
	newCatalogue(t)
	done(t, "instrument", "add", "Garden 60", "--setup", "single")
	for i, at := range []string{"2026-03-01T12:00:00Z", "2026-05-01T12:00:00Z"} {
		done(t, "mark", "add", "sunspot", "--at", at, "--place", "N08E14")
		done(t, "disc", "set", "F"+string(rune('1'+i)), "--circle", "400,400,300")
	}
	assert.NotContains(t, limbwatch(t, "", "north", "set", "F1", "--north", "12", "--mirrored").stderr, "note: F1")
	got := limbwatch(t, "", "north", "set", "F2", "--north", "12")
	require.Equal(t, exitDone, got.code, "the observer's word stands")
	assert.Contains(t, got.stderr, "note: F2: it is not mirrored, and the set-up single is mirrored by the north of frame F1: mirrored would fit")
}
