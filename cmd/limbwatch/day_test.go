package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

func xy(p coords.Pixel) string { return fmt.Sprintf("%.3f,%.3f", p.X, p.Y) }

func several(points []coords.Pixel) string {
	var texts []string
	for _, p := range points {
		texts = append(texts, xy(p))
	}
	return strings.Join(texts, " ")
}

// aDay adds the ordinary picture and sets its north.
func aDay(t *testing.T) (folder string) {
	t.Helper()
	folder = newCatalogue(t)
	done(t, "observer", "add", "Wren Holloway")
	done(t, "site", "add", "Pell Garden", "--lat", "50.91", "--lon", "-2.13", "--zone", "Europe/London")
	done(t, "instrument", "add", "Garden 60", "--setup", "single", "--passband", "0.7", "--stacked", "1", "--aperture", "60", "--focal", "400", "--pixel", "4.8")
	path, _ := ordinary(t, folder)
	done(t, "frame", "add", path, "--role", "surface")
	done(t, "north", "set", "F1", "--north", "12.4", "--sigma-north-deg", "0.1")
	return folder
}

// agreesWith checks a place of a JSON row against a painted one, in units of its
// own quoted errors: the chance of going beyond four of them is 6 in 100 000.
func agreesWith(t *testing.T, what string, row object, prefix string, truth coords.Heliographic, atMostDeg float64) {
	t.Helper()
	for _, q := range []struct {
		value, sigma string
		want         coords.Angle
	}{{"lat_deg", "sigma_lat_deg", truth.B}, {"lon_deg", "sigma_lon_deg", truth.L}} {
		got, sigma := row.number(t, prefix+q.value), row.number(t, prefix+q.sigma)
		off := (coords.Angle(got)*coords.Degree - q.want).Wrap180().Degrees()
		assert.LessOrEqualf(t, math.Abs(off), 4*sigma, "%s: %s%s %.3f, painted %.3f, quoted error %.3f", what, prefix, q.value, got, q.want.Degrees(), sigma)
		assert.LessOrEqualf(t, math.Abs(off), atMostDeg, "%s: %s%s %.3f, painted %.3f: too far, whatever is quoted", what, prefix, q.value, got, q.want.Degrees())
	}
}

func TestAPaintedDayBecomesPositions(t *testing.T) {
	folder := aDay(t)
	_, truth := ordinary(t, folder)

	frame := asJSON[object](t, "frame", "show", "F1")
	disc := frame.object(t, "disc")
	assert.InDelta(t, truth.Limb.Centre.X, disc.number(t, "centre_x_px"), 0.3)
	assert.InDelta(t, truth.Limb.Centre.Y, disc.number(t, "centre_y_px"), 0.3)
	assert.Equal(t, "2026-03-14T15:23:10Z", frame["utc"])
	assert.Equal(t, "file name", frame["time_source"])

	north, south, plage := featureOf(t, truth, "north"), featureOf(t, truth, "south"), featureOf(t, truth, "bright")
	filament, edge := featureOf(t, truth, "dark"), featureOf(t, truth, "edge")
	require.NotNil(t, edge.Beyond)
	out := done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", xy(north.Pixel), "--group", "--spots", "7", "--label", "north", "--alias", "13664")
	assert.Contains(t, out, "M1  sunspot on F1")
	done(t, "mark", "add", "sunspot", "--frame", "f1", "--point", xy(south.Pixel), "--single", "--note", "=note, with \"quotes\"")
	done(t, "mark", "add", "plage", "--frame", "F1", "--outline", several(plage.Outline))
	done(t, "mark", "add", "filament", "--frame", "F1", "--line", several(filament.Spine), "--height", fmt.Sprintf("%.1f,1", filament.HeightMm))
	done(t, "mark", "add", "prominence", "--frame", "F1", "--line", several([]coords.Pixel{edge.Beyond.FromPixel, edge.Beyond.Top, edge.Beyond.ToPixel}))

	rows := asJSON[[]object](t, "log")
	require.Len(t, rows, 5)
	agreesWith(t, "north spot", rows[0], "", north.At, 1)
	agreesWith(t, "south spot", rows[1], "", south.At, 1)
	agreesWith(t, "plage", rows[2], "", plage.At, 3)
	agreesWith(t, "filament at its height", rows[3], "corrected_", filament.At, 2)
	assert.Greater(t, math.Abs(rows[3].number(t, "cmd_deg")), math.Abs(rows[3].number(t, "corrected_cmd_deg")),
		"read as on the photosphere, what stands high seems to lie farther out")
	p := rows[4]
	assert.Nil(t, p["lat_deg"], "a prominence has no place on the disc")
	assert.Equal(t, false, p["on_disc"])
	middle := edge.Beyond.From + (edge.Beyond.To-edge.Beyond.From).Wrap360()/2
	off := (coords.Angle(p.number(t, "pa_deg"))*coords.Degree - middle).Wrap180().Degrees()
	assert.InDelta(t, 0, off, 4*p.number(t, "sigma_pa_deg"), "position angle of the prominence")
	assert.InDelta(t, 1000*edge.Beyond.TopHeightMm, p.number(t, "height_km"), 4*p.number(t, "sigma_height_km"), "height of its top")

	t.Run("place gives the same digits", func(t *testing.T) {
		number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
		got := done(t, "place", "--at", frame.text(t, "utc"),
			"--disc", number(disc.number(t, "centre_x_px"))+","+number(disc.number(t, "centre_y_px"))+","+number(disc.number(t, "radius_px")),
			"--north", number(frame.object(t, "north").number(t, "north_deg")), "--limb", number(disc.number(t, "limb_km")/1000),
			"--csv", xy(north.Pixel), xy(south.Pixel))
		placed, logged := readColumns(t, got), readColumns(t, done(t, "log", "--csv"))
		for i := range placed {
			for _, name := range []string{"lat_deg", "cmd_deg", "lon_deg", "mu"} {
				assert.InDeltaf(t, asFloat(t, logged[i][name]), asFloat(t, placed[i][name]), 1e-10, "%s of M%d", name, i+1)
			}
		}
	})

	t.Run("the log in its forms", func(t *testing.T) {
		table := done(t, "log")
		assert.Contains(t, table, "E24.9")
		assert.Contains(t, table, "at the edge")
		text := done(t, "log", "--csv")
		header, _, _ := strings.Cut(text, "\n")
		// The names are place's, and those of the log; so a script reads both alike.
		place, _, _ := strings.Cut(done(t, "place", "--at", "2026-03-14T15:23:10Z", "--disc", "9,9,9", "--north", "0", "--csv", "9,9"), "\n")
		for _, name := range append(strings.Split(place, ","), "mark", "kind", "passage", "label", "note") {
			if name != "x" && name != "y" && !strings.HasPrefix(name, "where") && !strings.HasPrefix(name, "near") {
				assert.Containsf(t, strings.Split(header, ","), name, "column of the log")
			}
		}
		assert.Equal(t, `'=note, with "quotes"`, readColumns(t, text)[1]["note"], "no spreadsheet runs what somebody typed")
		assert.Equal(t, strings.Count(header, ","), strings.Count(strings.SplitN(done(t, "log", "--tsv"), "\n", 2)[0], "\t"))
		assert.Equal(t, `=note, with "quotes"`, rows[1]["note"], "JSON has what was typed")
		for _, row := range readColumns(t, text) {
			assert.True(t, strings.HasSuffix(row["utc"], "Z"))
		}
		assert.Len(t, readColumns(t, done(t, "log", "--csv", "--kind", "filament,prominence")), 2)
		assert.Len(t, readColumns(t, done(t, "log", "--csv", "--label", "13664")), 1, "an alias is found")
		assert.Empty(t, readColumns(t, done(t, "log", "--csv", "--from", "2026-03-15")))
		assert.Len(t, readColumns(t, done(t, "log", "--csv", "--from", "2026-03-14", "--to", "2026-03-14")), 5, "the last day counts whole")
		assert.Equal(t, "[]\n", strings.ReplaceAll(done(t, "log", "--json", "--to", "2026-03-13"), "[\n]", "[]"))
	})
	assert.Contains(t, done(t, "mark", "show", "M1"), "label           north")
	shown := done(t, "mark", "show", "M4")
	assert.Contains(t, shown, "at its height")
	assert.Contains(t, done(t, "frame", "list"), "283.3, 255.8")
}

func TestMarksFollowWhatTheyHangOn(t *testing.T) {
	folder := aDay(t)
	_, truth := ordinary(t, folder)
	spot := featureOf(t, truth, "north")
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", xy(spot.Pixel))
	mark := func() object { return asJSON[object](t, "mark", "show", "M1") }
	first := mark()
	agreesWith(t, "spot", first, "", spot.At, 1)

	// The Carrington longitude of the centre falls by 360° in 27.2753 days
	// (Carrington's mean synodic rotation): 0.55° an hour.
	done(t, "frame", "edit", "F1", "--at", "2026-03-14T16:23:10Z")
	later := mark()
	assert.InDelta(t, -360/27.2753/24, later.number(t, "lon_deg")-first.number(t, "lon_deg"), 0.01)
	assert.InDelta(t, first.number(t, "cmd_deg"), later.number(t, "cmd_deg"), 0.05)
	done(t, "sitting", "edit", "S1", "--clock", "-3600")
	assert.InDelta(t, first.number(t, "lon_deg"), mark().number(t, "lon_deg"), 1e-6, "a clock that was an hour fast")

	done(t, "north", "set", "F1", "--north", "192.4", "--sigma-north-deg", "0.1")
	assert.Greater(t, mark().number(t, "cmd_deg"), 0.0, "upside down, east is west")
	done(t, "disc", "set", "F1", "--circle", fmt.Sprintf("%s,205", xy(spot.Pixel)))
	middle := mark()
	assert.InDelta(t, 1, middle.number(t, "mu"), 1e-4, "a disc drawn about the spot has it in its middle")
	done(t, "disc", "remove", "F1")
	assert.Equal(t, "the frame has no disc yet", mark()["no_position_because"])
	assert.Nil(t, mark()["lat_deg"], "better none than a wrong one")

	for range 5 {
		done(t, "undo")
	}
	back := mark()
	for _, name := range []string{"lat_deg", "lon_deg", "sigma_lat_deg", "sigma_lon_deg"} {
		assert.Equal(t, first[name], back[name], "%s after all was taken back", name)
	}
	done(t, "disc", "set", "F1", "--limb", "photosphere")
	assert.Greater(t, mark().number(t, "mu"), 0.0)
	done(t, "disc", "fit", "F1", "--circle")
	done(t, "disc", "accept", "F1")
	assert.Equal(t, true, asJSON[object](t, "frame", "show", "F1").object(t, "disc")["accepted"])
	refused(t, exitFailed, "nothing to redo", "redo") // something else was done since
}

func TestNothingStaysDoneThatWasUndone(t *testing.T) {
	emptyCatalogue(t)
	refused(t, exitFailed, "nothing to undo", "undo")
	refused(t, exitFailed, "nothing to redo", "redo")
	when := []string{"--at", "2026-03-14T15:23:10Z"}
	done(t, append([]string{"mark", "add", "sunspot", "--place", "N08E14"}, when...)...)
	done(t, append([]string{"mark", "add", "filament", "--place", "S22W40"}, when...)...)
	done(t, "mark", "edit", "M1", "--label", "one")
	assert.Contains(t, done(t, "undo"), "mark edit M1")
	assert.Contains(t, done(t, "undo"), "mark add M2")
	refused(t, exitFailed, "mark M2 was removed", "mark", "show", "M2")
	assert.Contains(t, done(t, "redo"), "mark add M2")
	assert.Contains(t, done(t, "redo"), "mark edit M1")
	assert.Equal(t, "one", asJSON[object](t, "mark", "show", "M1")["label"])

	done(t, "mark", "remove", "M1", "M2")
	refused(t, exitFailed, "mark M1 was removed", "mark", "show", "M1")
	done(t, append([]string{"mark", "add", "plage", "--place", "N08E14"}, when...)...)
	assert.Len(t, asJSON[[]object](t, "log"), 1)
	assert.Equal(t, "M3", asJSON[[]object](t, "log")[0]["mark"], "a number is never given again")
	for range 3 {
		done(t, "undo")
	}
	assert.Len(t, asJSON[[]object](t, "log"), 2)

	history := asJSON[[]object](t, "history", "--limit", "3")
	require.Len(t, history, 3)
	assert.Equal(t, "undone", history[0]["act"])
	text := done(t, "history")
	assert.Contains(t, text, "(taken back)")
	assert.NotContains(t, text, "undo of undo")
	refused(t, exitMisused, "want 1 or more", "history", "--limit", "0")
}
