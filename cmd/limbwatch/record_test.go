package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPeopleSitesAndInstruments(t *testing.T) {
	emptyCatalogue(t)
	assert.Contains(t, done(t, "observer", "list"), "no observer yet")
	done(t, "observer", "add", "Wren Holloway", "--code", "WH")
	done(t, "observer", "add", "Ada Fenn")
	done(t, "observer", "edit", "Ada Fenn", "--default", "--note", "evenings")
	observers := asJSON[[]object](t, "observer", "list")
	require.Len(t, observers, 2)
	for _, o := range observers {
		assert.Equal(t, o["name"] == "Ada Fenn", o["default"], "one is meant when none is named")
	}
	refused(t, exitFailed, `there is an observer "Ada Fenn" already`, "observer", "add", "Ada Fenn")
	refused(t, exitMisused, "without a name", "observer", "add", "")
	refused(t, exitFailed, `no observer "Nobody"`, "observer", "edit", "Nobody", "--note", "x")
	done(t, "observer", "remove", "O1")
	assert.Len(t, asJSON[[]object](t, "observer", "list"), 1)
	done(t, "undo")
	assert.Len(t, asJSON[[]object](t, "observer", "list"), 2)

	done(t, "site", "add", "Pell Garden", "--lat", "50.91", "--lon", "-2.13", "--zone", "Europe/London")
	done(t, "site", "edit", "Pell Garden", "--lon", "-2.131", "--name", "Pell")
	assert.InDelta(t, -2.131, asJSON[[]object](t, "site", "list")[0].number(t, "lon_deg"), 0)
	refused(t, exitMisused, "want an IANA name", "site", "add", "Elsewhere", "--lat", "1", "--lon", "1", "--zone", "Europe/Nowhere")
	refused(t, exitMisused, "latitude 150", "site", "add", "Elsewhere", "--lat", "150", "--lon", "1")
	refused(t, exitMisused, "longitude NaN", "site", "add", "Elsewhere", "--lat", "15", "--lon", "NaN")
	refused(t, exitMisused, "--lat and --lon: not given", "site", "add", "Elsewhere")

	done(t, "instrument", "add", "Garden 60", "--aperture", "60", "--focal", "400", "--setup", "single", "--passband", "0.7", "--stacked", "1", "--pixel", "2.9", "--reflections", "0")
	done(t, "instrument", "add", "Garden 60", "--setup", "double", "--passband", "0.45", "--stacked", "2", "--surface-limb", "chromosphere")
	setups := asJSON[[]object](t, "instrument", "list")
	require.Len(t, setups, 2)
	assert.Equal(t, setups[0]["instrument"], setups[1]["instrument"], "two set-ups of one telescope")
	for _, s := range setups {
		if s["setup_name"] == "single" {
			assert.InDelta(t, 206.265*2.9/400, s.number(t, "arcsec_per_px"), 1e-3, "206265″ in a radian: pixel over focal length")
			assert.InDelta(t, 0, s.number(t, "reflections"), 0, "none is known, not unknown")
			assert.Equal(t, false, s["mirrored"], "an even number of them")
			assert.InDelta(t, 0.9, s.number(t, "mirrored_odds"), 1e-9)
		} else {
			assert.Nil(t, s["reflections"])
			assert.Nil(t, s["mirrored"])
			assert.InDelta(t, 4350, s.number(t, "surface_limb_km"), 1e-6)
		}
	}
	refused(t, exitMisused, "would change it", "instrument", "add", "Garden 60", "--setup", "third", "--aperture", "61")
	refused(t, exitMisused, "aperture -5", "instrument", "add", "Other", "--aperture", "-5")
	refused(t, exitMisused, "passband NaN", "instrument", "add", "Other", "--passband", "NaN")
	refused(t, exitMisused, ": say which", "instrument", "edit", "Garden 60", "--note", "x")
	done(t, "instrument", "edit", "Garden 60/double", "--passband", "0.5", "--default")
	done(t, "instrument", "remove", "U2")
	assert.Len(t, asJSON[[]object](t, "instrument", "list"), 1)
}

func TestSittingsSayWhatWasLookedFor(t *testing.T) {
	newCatalogue(t)
	done(t, "observer", "add", "Wren Holloway")
	done(t, "sitting", "add", "2026-03-14", "--looked", "sunspot,filament", "--none-seen", "prominence", "--seeing", "2 Kiepenheuer steadiness", "--tuning", "blue edge")
	s := asJSON[[]object](t, "sitting", "list")[0]
	assert.Equal(t, "Wren Holloway", s["observer"])
	looked := s.object(t, "looked")
	assert.Equal(t, "none", looked["prominence"], "none seen is not the same as not looked for")
	assert.NotContains(t, looked, "plage")
	assert.Equal(t, "Kiepenheuer steadiness", s["seeing_scale"])
	done(t, "sitting", "edit", "S1", "--not-looked", "filament", "--seeing", "", "--clock", "-38")
	s = asJSON[[]object](t, "sitting", "list")[0]
	assert.NotContains(t, s.object(t, "looked"), "filament")
	assert.Empty(t, s["seeing"])
	assert.InDelta(t, -38, s.number(t, "clock_correction_s"), 0)
	refused(t, exitMisused, "has no scale", "sitting", "edit", "S1", "--seeing", "2")
	refused(t, exitMisused, `kind "spots"`, "sitting", "edit", "S1", "--looked", "spots")
	refused(t, exitMisused, "clock correction NaN", "sitting", "edit", "S1", "--clock", "NaN")
	refused(t, exitMisused, "want a UT day", "sitting", "add", "14.3.2026")
	refused(t, exitMisused, `sitting "F1"`, "sitting", "edit", "F1", "--note", "x")
	assert.Equal(t, s, asJSON[[]object](t, "sitting", "list")[0])
	done(t, "sitting", "remove", "S1")
	done(t, "undo")
	assert.Len(t, asJSON[[]object](t, "sitting", "list"), 1)
}

const goodRows = `kind,utc,lat_deg,cmd_deg,label,colour
sunspot,2026-03-14T09:12:05Z,8,-14,one,red
filament,2026-03-14 09:12:05,-22.5,40,two,
`

const badRows = goodRows + `sunspot,never,8,-14,three,
plage,2026-03-14T09:12:05Z,95,-14,four,
`

func TestPositionsAreImported(t *testing.T) {
	folder := newCatalogue(t)
	good, bad := filepath.Join(folder, "good.csv"), filepath.Join(folder, "bad.csv")
	require.NoError(t, os.WriteFile(good, []byte(goodRows), 0o644))
	require.NoError(t, os.WriteFile(bad, []byte(badRows), 0o644))
	rejects := filepath.Join(folder, "rejects.csv")

	got := limbwatch(t, "", "import", "positions", bad)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.stderr, `line 4: utc "never"`)
	assert.Contains(t, got.stderr, "line 5: latitude 95")
	refused(t, exitFailed, "there is no catalogue yet", "log") // a bad row keeps all out
	refused(t, exitMisused, "--rejects goes with --keep-good", "import", "positions", bad, "--rejects", rejects)
	assert.NoFileExists(t, rejects)
	refused(t, exitFailed, "no such file", "import", "positions", filepath.Join(folder, "none.csv"), "--keep-good", "--rejects", rejects)
	refused(t, exitFailed, "empty file", "import", "positions", "-", "--keep-good", "--rejects", rejects)
	assert.NoFileExists(t, rejects, "where nothing was kept nothing was turned away")
	refused(t, exitFailed, "there is no catalogue yet", "history")

	got = refused(t, exitFailed, "2 of 4 rows", "import", "positions", bad, "--dry-run", "--json")
	var dry object
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &dry))
	assert.InDelta(t, 4, asJSON[object](t, "import", "positions", bad, "--dry-run", "--keep-good").number(t, "rows"), 0, "which would be done")
	assert.InDelta(t, 4, dry.number(t, "rows"), 0)
	assert.InDelta(t, 2, dry.number(t, "bad_rows"), 0)
	assert.Equal(t, []any{"colour"}, dry["ignored_columns"])
	refused(t, exitFailed, "there is no catalogue yet", "log")

	got = limbwatch(t, "", "import", "positions", bad, "--keep-good", "--rejects", rejects)
	require.Equal(t, exitDone, got.code, got.stderr)
	rows := asJSON[[]object](t, "log")
	require.Len(t, rows, 2)
	assert.InDelta(t, 8, rows[0].number(t, "lat_deg"), 1e-9)
	assert.InDelta(t, -14, rows[0].number(t, "cmd_deg"), 1e-9)
	text, err := os.ReadFile(rejects)
	require.NoError(t, err)
	assert.Contains(t, string(text), "never")
	refused(t, exitFailed, "is there already", "import", "positions", bad, "--keep-good", "--rejects", rejects)
	done(t, "undo")
	assert.Empty(t, asJSON[[]object](t, "log"), "one import is one change")

	got = limbwatch(t, goodRows, "import", "positions", "-")
	require.Equal(t, exitDone, got.code, got.stderr)
	assert.Contains(t, got.stderr, "colour")
	assert.Contains(t, got.stdout, "2 of 2 rows kept")
}

// slowRows gives rows without end, and stops the import after some of them.
type slowRows struct {
	stop context.CancelFunc
	sent int
}

func (s *slowRows) Read(p []byte) (int, error) {
	if s.sent++; s.sent == 200 {
		s.stop()
	}
	if s.sent == 1 {
		return copy(p, "kind,utc,lat_deg,cmd_deg\n"), nil
	}
	return copy(p, strings.Repeat("sunspot,2026-03-14T09:12:05Z,8,-14\n", min(20, len(p)/40))), nil
}

func TestCtrlCInTheMiddleOfAnImport(t *testing.T) {
	emptyCatalogue(t)
	done(t, "observer", "list")
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	var stdout, stderr strings.Builder
	code := run(ctx, []string{"import", "positions", "-"}, &slowRows{stop: stop}, &stdout, &stderr)
	assert.Equal(t, exitFailed, code)
	assert.Contains(t, stderr.String(), "limbwatch: stopped before it was done: nothing of it was kept\n")
	assert.NotContains(t, stderr.String(), "cancel")
	assert.Empty(t, asJSON[[]object](t, "log"), "none of it is kept")
	assert.Empty(t, asJSON[[]object](t, "history"))
}

func TestASpotIsFollowedFromDayToDay(t *testing.T) {
	emptyCatalogue(t)
	assert.Contains(t, done(t, "track", "follow"), "nothing to change")
	// Newton and Nunn 1951, recurrent spots: 14.38 − 2.96 sin² B degrees a day,
	// sidereal; Carrington's system turns by 14.1844. Three days of cloud.
	for i, day := range []int{0, 1, 2, 6} {
		when := paintedAt.AddDate(0, 0, day).Format(time.RFC3339)
		lon := func(start, sinSquared float64) string {
			return fmt.Sprintf("%.3f", start+float64(day)*(14.38-2.96*sinSquared-14.1844))
		}
		args := []string{"mark", "add", "sunspot", "--at", when, "--sigma-deg", "0.3"}
		done(t, append(args, "--lat", "15", "--carrington", lon(50, 0.067))...)
		if i < 3 {
			done(t, append(args, "--lat", "-20", "--carrington", lon(80, 0.117))...)
		}
	}
	dry := asJSON[object](t, "track", "follow", "--dry-run")
	assert.InDelta(t, 2, dry.number(t, "new_passages"), 0)
	assert.Empty(t, asJSON[[]object](t, "track", "list"), "a dry run keeps nothing")
	done(t, "track", "follow")
	passages := asJSON[[]object](t, "track", "list")
	require.Len(t, passages, 2)
	if passages[0].number(t, "marks") < passages[1].number(t, "marks") {
		passages[0], passages[1] = passages[1], passages[0]
	}
	assert.InDelta(t, 4, passages[0].number(t, "marks"), 0, "found again behind the clouds")
	assert.InDelta(t, 3, passages[1].number(t, "marks"), 0)
	name := passages[0].text(t, "passage")
	story := done(t, "track", "show", name)
	assert.Contains(t, story, "4 marks from 2026-03-14 15:23Z to 2026-03-20 15:23Z")
	assert.Len(t, asJSON[[]object](t, "log", "--passage", name), 4)

	done(t, "mark", "edit", "M1", "--lat", "15.1", "--carrington", "50.1")
	assert.NotEmpty(t, asJSON[[]object](t, "track", "list", "--stale"), "a position has changed since")
	done(t, "track", "follow")
	assert.Equal(t, name, asJSON[object](t, "mark", "show", "M1")["passage"], "a name, once given, stays")
	refused(t, exitFailed, `no passage "nobody's"`, "track", "show", "nobody's")
	refused(t, exitFailed, "no passage P99", "track", "show", "P99")
	refused(t, exitMisused, "--all and a range at once", "track", "follow", "--all", "--from", "2026-03-01")
	refused(t, exitMisused, "is not before", "track", "follow", "--from", "2026-03-02", "--to", "2026-03-01")
}

func TestRejectsHaveTheirHeaderWhateverComesFirst(t *testing.T) {
	folder := newCatalogue(t)
	bad, rejects := filepath.Join(folder, "bad.csv"), filepath.Join(folder, "rejects.csv")
	header, tooNorth := goodRows[:strings.Index(goodRows, "\n")+1], "plage,2026-03-14T09:12:05Z,95,-14,four,\n"
	require.NoError(t, os.WriteFile(bad, []byte(goodRows+"sun\"spot,2026-03-14T09:12:05Z,8,-14,three,\n"+tooNorth), 0o644))
	done(t, "import", "positions", bad, "--keep-good", "--rejects", rejects)
	text, err := os.ReadFile(rejects)
	require.NoError(t, err)
	// Each with its reason; a line that is no row of CSV stands there by its reason alone.
	want := strings.TrimSuffix(header, "\n") + ",rejected_because\n" + strings.Repeat(",", strings.Count(header, ",")+1) +
		"\"line 4: bare \"\" in non-quoted-field\"\n" + strings.TrimSuffix(tooNorth, "\n") + ",line 5: latitude 95: want -90 to 90 degrees\n"
	assert.Equal(t, want, string(text))
}
