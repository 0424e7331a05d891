package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/coords/rotation"
)

// turningDays paints an invented Sun on two days and adds the pictures, lying as told.
func turningDays(t *testing.T, called string, norths []coords.North) {
	t.Helper()
	start := time.Date(2026, 9, 8, 9, 0, 0, 0, time.UTC) // B0 is 7.2°
	law := func(name string) paint.Drift {
		l, err := rotation.Parse(name)
		require.NoError(t, err)
		return l.CarringtonDriftDegPerDay
	}
	sun := paint.Generate(11, start, 5, paint.Laws{Spot: law("newton-nunn"), Plage: law("mishra"), Filament: law("dazambuja"), Pattern: law("snodgrass-ulrich")})
	folder := newCatalogue(t)
	done(t, "observer", "add", "Wren Holloway")
	done(t, "instrument", "add", "Garden 60", "--setup", "single", "--passband", "0.7", "--stacked", "1")
	for i, n := range norths {
		at := start.Add(time.Duration(i) * 25 * time.Hour)
		camera := paint.Centred(440, 420, 180)
		camera.North = n
		name := at.Format("2006-01-02T150405Z") + ".png"
		path, _ := painted(t, folder, name, called+name, paint.Scene{Sun: sun.At(at), Face: ephemeris.At(at), Band: paint.SingleStack(), Camera: camera, Seed: uint64(i)})
		done(t, "frame", "add", path, "--role", "surface")
	}
}

func upright(deg float64) coords.North {
	return coords.North{Angle: coords.Angle(deg) * coords.Degree}
}

func TestNorthFromTheSunsTurning(t *testing.T) {
	norths := []coords.North{upright(140), upright(-25)}
	turningDays(t, "free", norths)
	got := asJSON[object](t, "north", "rotation", "F1", "F2")
	require.Equal(t, false, got["decided"], "two frames of free rolls leave the twins")
	require.Nil(t, got["kept_answer"])
	answers := got["answers"].([]any)
	require.Len(t, answers, 2)
	right := -1
	sum := 0.0
	for k, a := range answers {
		sum += a.(map[string]any)["odds"].(float64)
		fits := true
		for i, n := range a.(map[string]any)["norths"].([]any) {
			row := object(n.(map[string]any))
			off := math.Abs((coords.Angle(row.number(t, "north_deg"))*coords.Degree - norths[i].Angle).Wrap180().Degrees())
			if row["mirrored"] == true || off > 3*row.number(t, "sigma_north_deg") {
				fits = false
			}
			assert.Less(t, row.number(t, "sigma_north_deg"), 3.0)
		}
		if fits {
			right = k
		}
	}
	assert.InDelta(t, 1, sum, 1e-9)
	require.GreaterOrEqual(t, right, 0, "one of the twins is as painted: %v", got)
	assert.Nil(t, asJSON[object](t, "frame", "show", "F1")["north"], "a twin is not kept by itself")

	// A mark on solar north's side is one clue of its own.
	sin, cos := (norths[0].Angle + ephemeris.At(time.Date(2026, 9, 8, 9, 0, 0, 0, time.UTC)).P).Sincos()
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", fmt.Sprintf("%.1f,%.1f", 220-90*sin, 210-90*cos))
	sided := asJSON[object](t, "north", "rotation", "F1", "F2", "--north-of-equator", "M1", "--dry-run")
	assert.Equal(t, false, sided["answers"].([]any)[0].(map[string]any)["norths"].([]any)[0].(map[string]any)["mirrored"])
	last := sided["clues"].([]any)[1].(map[string]any)
	assert.Equal(t, "a mark's hemisphere", last["by"])
	assert.InDelta(t, 0.98, last["odds_of_answer_1"], 0.001)

	// So is a list of positions, though nobody says which of them the mark is.
	list := filepath.Join(t.TempDir(), "list.csv")
	require.NoError(t, os.WriteFile(list, []byte("utc,lat_deg,cmd_deg\n2026-09-08T09:00:00Z,37.2,0\n2026-09-08T09:00:00Z,-15,40\n"), 0o600))
	listed := asJSON[object](t, "north", "rotation", "F1", "F2", "--list", list, "--dry-run")
	assert.Equal(t, false, listed["answers"].([]any)[0].(map[string]any)["norths"].([]any)[0].(map[string]any)["mirrored"])
	last = listed["clues"].([]any)[1].(map[string]any)
	assert.Equal(t, "a list of positions", last["by"])
	assert.Greater(t, last["odds_of_answer_1"], 0.9)
	refused(t, exitMisused, "named twice", "north", "rotation", "F1", "F2", "--north-of-equator", "M1", "--south-of-equator", "M1")
	refused(t, exitFailed, "has none", "north", "rotation", "F1", "F2", "--alt-az")

	done(t, "north", "rotation", "F1", "F2", "--take", string(rune('1'+right)))
	assert.InDelta(t, -25, northOf(t, "F2").number(t, "north_deg"), 3*northOf(t, "F2").number(t, "sigma_north_deg"))
	assert.Equal(t, "the Sun's turning", northOf(t, "F1")["method"])
	got2 := limbwatch(t, "", "north", "set", "F1", "--north", "140", "--sigma-north-deg", "0.1")
	assert.Contains(t, got2.stderr, "F2 follows, to -2")
	assert.InDelta(t, -25, northOf(t, "F2").number(t, "north_deg"), 3*northOf(t, "F2").number(t, "sigma_north_deg"))
	done(t, "undo")
	assert.Equal(t, "the Sun's turning", northOf(t, "F1")["method"], "the better one and what followed it are one step")
	done(t, "undo")
	assert.Nil(t, asJSON[object](t, "frame", "show", "F1")["north"], "one undo takes all of them back")
	assert.Nil(t, asJSON[object](t, "frame", "show", "F2")["north"])

	// The camera was touched: that it was not is refused.
	refused(t, exitFailed, "the camera was touched", "north", "rotation", "F1", "F2", "--same-roll")
	refused(t, exitMisused, "want 1 or 2", "north", "rotation", "F1", "F2", "--take", "3")
	refused(t, exitFailed, "named twice", "north", "rotation", "F1", "F1")
	refused(t, exitMisused, "", "north", "rotation", "F1")
}

func TestNorthFromTheSunsTurningIsDecidedByASameRoll(t *testing.T) {
	norths := []coords.North{{Angle: 77 * coords.Degree, Mirrored: true}, {Angle: 77 * coords.Degree, Mirrored: true}}
	turningDays(t, "same", norths)
	got := done(t, "north", "rotation", "F1", "F2", "--same-roll")
	assert.Contains(t, got, "kept: answer 1")
	for _, frame := range []string{"F1", "F2"} {
		n := northOf(t, frame)
		assert.Equal(t, true, n["mirrored"])
		assert.InDelta(t, 77, n.number(t, "north_deg"), 3*n.number(t, "sigma_north_deg"))
	}
}

// A day whose clock stood twelve hours off is told with the time that would fit, and gets
// no north.
func TestADayWhoseHourStandsOut(t *testing.T) {
	turningDays(t, "odd", []coords.North{upright(20), upright(100), upright(-60)})
	done(t, "frame", "edit", "F3", "--at", "2026-09-10T23:00:00Z")
	got := done(t, "north", "rotation", "F1", "F2", "F3")
	assert.Contains(t, got, "the time of F3 does not fit the others': it says 2026-09-10 23:00Z")
	assert.Contains(t, got, "see limbwatch frame edit F3 --at")
	assert.Contains(t, got, "F3 is joined to none of the others")
	hours := asJSON[object](t, "north", "rotation", "F1", "F2", "F3", "--dry-run")["odd_hours"].([]any)
	require.Len(t, hours, 1)
	assert.InDelta(t, -12, object(hours[0].(map[string]any)).number(t, "off_hours"), 4)
}
